package report

import (
	"context"
	"fmt"

	"tautline/arrow"
	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// ExplainFigures draws what the brace height does, by topic, in one person's
// units.
func ExplainFigures(e workbench.Explanation, s notebook.Settings, system unit.System) map[string]figure.Figure {
	out := map[string]figure.Figure{}
	setting := system.SettingStyle()
	for _, t := range e.Topics {
		if len(t.Values) == 0 {
			continue
		}
		scale, symbol, digits := explainUnit(t.Unit, system)
		line := figure.Line{Name: "model", Kind: figure.Curve}
		for i, h := range e.Heights {
			line.X = append(line.X, figure.Number(setting.Unit.From(h)))
			line.Y = append(line.Y, figure.Number(scale*t.Values[i].Value))
			line.Low = append(line.Low, figure.Number(scale*t.Values[i].Low))
			line.High = append(line.High, figure.Number(scale*t.Values[i].High))
		}
		f := figure.Figure{
			Title: explainAxis[t.Key] + " against brace height", Finding: endToEnd(e, t, scale, symbol, digits, system),
			X:      figure.Axis{Label: "brace height", Unit: setting.Symbol(), Digits: setting.Unit.Digits()},
			Y:      figure.Axis{Label: explainAxis[t.Key], Unit: symbol, Digits: digits},
			Series: []figure.Line{line},
			Marks:  []figure.Mark{{At: setting.Unit.From(e.Now), Label: "as set up"}},
			Note:   "The band holds 90 % of the plausible bows.",
		}
		if r, ok := workbench.Range(s); ok {
			f.Spans = append(f.Spans, figure.Span{From: setting.Unit.From(r.Low - s.Riser.Offset.Value), To: setting.Unit.From(r.High - s.Riser.Offset.Value), Label: "limb maker's range, as this riser reads"})
		}
		out[t.Key] = f
	}
	return out
}

var explainAxis = map[string]string{"speed": "arrow speed", "time": "time on the string", "bend": "bends when it leaves", "left": "energy left behind"}

// explainUnit turns SI into the person's unit of a topic.
func explainUnit(si string, system unit.System) (scale float64, symbol string, digits int) {
	switch si {
	case "m/s":
		return system.SpeedStyle().Unit.From(1), system.SpeedStyle().Symbol(), 1
	case "s":
		return system.DurationStyle().Unit.From(1), system.DurationStyle().Symbol(), 2
	case "J":
		return system.EnergyStyle().Unit.From(1), system.EnergyStyle().Symbol(), 1
	}
	return 1, "", 3
}

// endToEnd says what the curve does over the range.
func endToEnd(e workbench.Explanation, t workbench.ExplainTopic, scale float64, symbol string, digits int, system unit.System) string {
	setting, n := system.SettingStyle(), len(t.Values)-1
	text := fmt.Sprintf("From %s at %s to %s", fixed(scale*t.Values[0].Value, digits, system), setting.Print(e.Heights[0]), fixed(scale*t.Values[n].Value, digits, system))
	if symbol != "" {
		text += " " + symbol
	}
	return text + " at " + setting.Print(e.Heights[n]) + "."
}

// explain is the page for the archer: what the brace height does on this bow.
func (m Maker) explain(ctx context.Context, actor, id notebook.ID, system unit.System) (Sheet, error) {
	s, err := m.Notebook.SetUps().Get(ctx, actor, id)
	if err != nil {
		return Sheet{}, err
	}
	bow, err := m.Notebook.Bows().Get(ctx, actor, s.Bow)
	if err != nil {
		return Sheet{}, err
	}
	drawn, err := m.Hand(ctx, actor, bow)
	if err != nil {
		return Sheet{}, err
	}
	hand := workbench.HandOf(drawn)
	e, err := m.explained(ctx, actor, s, hand)
	if err != nil {
		return Sheet{}, err
	}
	e.Topics = append(e.Topics, workbench.ExplainForgiveness(ctx, s.Settings, hand, nil))
	if ctx.Err() != nil {
		return Sheet{}, ctx.Err()
	}
	sheet := Sheet{Title: "What brace height does", Subtitle: bow.Name, Bow: bow.ID, Made: s.At, Source: "set-up " + string(s.ID), Cautions: always}
	sheet.Blocks = append(sheet.Blocks, Block{Text: fmt.Sprintf("%s, at %s.", map[bool]string{true: "Computed for this bow, fitted to its own readings", false: "Computed for this bow from what was entered; it was not fitted to readings"}[e.Fitted], unit.Both(e.Now, system.Decimal))})
	figures := ExplainFigures(e, s.Settings, system)
	for _, t := range e.Topics {
		text := t.Text
		if t.Why != "" {
			text = t.Why
		}
		sheet.Blocks = append(sheet.Blocks, Block{Heading: t.Title, Text: Said(text, system)})
	}
	if f, ok := figures["speed"]; ok { // one picture: the page is to stay one page
		sheet.Blocks = append(sheet.Blocks, Block{Figure: &f})
	}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "How sure", Text: Said(joined(e.Notes), system)})
	return sheet, nil
}

func joined(list []string) (out string) {
	for _, s := range list {
		if out != "" {
			out += " "
		}
		out += s
	}
	return out
}

// explained takes the latest fit of the set-up where one was kept, else the
// unfitted bow.
func (m Maker) explained(ctx context.Context, actor notebook.ID, s notebook.SetUp, hand arrow.Hand) (workbench.Explanation, error) {
	fits, err := notebook.Everything(ctx, m.Notebook.Fits(), actor, notebook.Query{Bow: s.Bow})
	if err != nil {
		return workbench.Explanation{}, err
	}
	for i := range fits {
		f := fits[len(fits)-1-i]
		if f.SetUp != s.ID {
			continue
		}
		bow, err := workbench.RestoreFit(ctx, workbench.FitAsk{Settings: s.Settings, Hand: hand}, f.Content)
		if err == nil {
			return bow.Explain(ctx, s.Settings, hand, nil)
		}
	}
	return workbench.Explain(ctx, s.Settings, hand, nil)
}
