package server

import (
	"fmt"
	"math"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// viewVerdict shows a verdict in one person's units.
func viewVerdict(v workbench.BraceVerdict, plan workbench.BracePlan, settings notebook.Settings, system unit.System) verdictView {
	out := verdictView{
		Outcome: string(v.Outcome), Text: v.Sentence(system.SettingStyle()), Candidates: []candidateView{}, Trends: []trendView{}, Repeats: []repeatView{},
		Choices: []choiceView{}, Figures: []figure.Figure{}, Stops: v.Stops, Arrows: v.Arrows,
		Assumptions: someText(v.Assumptions), Warnings: someText(v.Warnings), WouldChange: someText(v.WouldChange), Inputs: v.Inputs,
	}
	setting := system.SettingStyle()
	spots := map[int]string{} // by stop number
	for _, c := range v.Candidates {
		view := candidateView{Kind: string(c.Kind), Stop: c.Stop, Evidence: []string{},
			Brace: doubtedLength("brace_height", "brace height", c.Brace.Value, c.Brace.Low, c.Brace.High, setting)}
		for _, e := range c.Evidence {
			view.Evidence = append(view.Evidence, fmt.Sprintf("%s %s %s from the trend (%s to %s), p %s over %d shots",
				e.Measure.Name(), signedNumber(e.Size.Value, system), e.Measure.Unit(),
				signedNumber(e.Size.Low, system), signedNumber(e.Size.High, system), chance(e.P, system), e.Shots))
		}
		spots[c.Stop] = string(c.Kind)
		out.Candidates = append(out.Candidates, view)
	}
	for _, c := range v.Contrasts {
		out.Contrasts = append(out.Contrasts, fmt.Sprintf("%s %s %s (%s to %s), p %s over %d visits with %d shots", c.Measure.Name(),
			signedNumber(c.Difference.Value, system), c.Measure.Unit(), signedNumber(c.Difference.Low, system), signedNumber(c.Difference.High, system), chance(c.P, system), c.Visits, c.Shots))
	}
	for _, t := range v.Trends {
		out.Trends = append(out.Trends, trendView{
			Measure: string(t.Measure), Label: t.Measure.Name(), Unit: t.Measure.Unit(), Direction: t.Direction, Shots: t.Shots, Note: t.Note,
			SlopePerCM: finite(t.SlopePerCM.Value), SlopeLow: finite(t.SlopePerCM.Low), SlopeHigh: finite(t.SlopePerCM.High),
			P: finite(t.P), Detectable: finite(t.Detectable),
		})
	}
	for _, r := range v.Repeats {
		out.Repeats = append(out.Repeats, repeatView{r.Stop, Shown{float64(r.Brace), "m", setting.Print(r.Brace)}, r.Arrows, r.Reason})
	}
	for _, c := range v.Costs {
		out.Choices = append(out.Choices, choiceView{
			Stop: c.Stop, Brace: Shown{float64(c.BraceHeight), "m", setting.Print(c.BraceHeight)}, Turns: c.Turns,
			Spot: spots[plan.Plan.Stops[c.Stop].Index], Changes: viewChange(c.Change, system), Stale: someText(c.Stale),
		})
	}
	out.Figures = append(verdictFigures(v, settings, system), modelFigures(v, settings, system)...)
	return out
}

// chance prints a p-value; below a thousandth its digits say nothing more.
func chance(p float64, system unit.System) string {
	if p < 0.001 {
		return "below " + plainNumber(0.001, system)
	}
	return plainNumber(rounded(p, 3), system)
}

// signedNumber prints a departure; an end that the data do not bound is said.
func signedNumber(v float64, system unit.System) string {
	switch {
	case math.IsInf(v, 0) || math.IsNaN(v):
		return "not bounded"
	case v > 0:
		return "+" + plainNumber(rounded(v, 1), system)
	}
	return plainNumber(rounded(v, 1), system)
}

// verdictFigures draws every measure against brace height, with the smooth
// trend it is judged by.
func verdictFigures(v workbench.BraceVerdict, settings notebook.Settings, system unit.System) []figure.Figure {
	setting := system.SettingStyle()
	out := []figure.Figure{}
	for _, t := range v.Trends {
		points := figure.Line{Name: "measured", Kind: figure.Points}
		smooth := figure.Line{Name: "smooth trend, spots left out", Kind: figure.Curve, Dashed: true}
		for _, p := range t.Points {
			x := figure.Number(setting.Unit.From(p.Brace.Value))
			points.X, smooth.X = append(points.X, x), append(smooth.X, x)
			points.Y = append(points.Y, figure.Number(p.Mean.Value))
			points.Low, points.High = append(points.Low, figure.Number(p.Mean.Low)), append(points.High, figure.Number(p.Mean.High))
			smooth.Y = append(smooth.Y, figure.Number(p.Smooth.Value))
			smooth.Low, smooth.High = append(smooth.Low, figure.Number(p.Smooth.Low)), append(smooth.High, figure.Number(p.Smooth.High))
		}
		f := figure.Figure{
			Title: t.Measure.Name() + " against brace height", Finding: trendFinding(t.Measure.Name(), t.Direction, t.Note),
			X:      figure.Axis{Label: "brace height", Unit: setting.Symbol(), Digits: setting.Unit.Digits()},
			Y:      figure.Axis{Label: t.Measure.Name(), Unit: t.Measure.Unit(), Digits: 1},
			Series: []figure.Line{points, smooth},
			Note:   "Bars and band are 95 % intervals. Levels are relative to the session.",
		}
		if len(v.Contrasts) > 0 { // two brace heights have no trend
			f.Series, f.Note = f.Series[:1], "Bars are 95 % intervals of a setting made so many times. Levels are relative to the session."
		}
		markRange(&f, settings, setting)
		markSpots(&f, v, setting)
		out = append(out, f)
	}
	return out
}

func trendFinding(name, direction, note string) string {
	switch {
	case direction == "" && note != "":
		return name + ": " + note
	case direction == "":
		return "It cannot be told whether " + name + " rises or falls with brace height."
	}
	return name + " " + direction + " as the brace height rises."
}

// markSpots marks the spots that are claimed.
func markSpots(f *figure.Figure, v workbench.BraceVerdict, setting unit.Style[unit.Length]) {
	for _, c := range v.Candidates {
		f.Marks = append(f.Marks, figure.Mark{At: setting.Unit.From(c.Brace.Value), Label: string(c.Kind)})
	}
}

// modelFigures draws what the model says at the measured brace heights.
func modelFigures(v workbench.BraceVerdict, settings notebook.Settings, system unit.System) []figure.Figure {
	if len(v.Model) < 2 {
		return nil
	}
	var out []figure.Figure
	setting := system.SettingStyle()
	for _, q := range viewed {
		k := kinds[q.kind]
		line := figure.Line{Name: "model, unfitted", Kind: figure.Curve}
		for _, p := range sortedModel(v.Model) {
			span := p.Interval[q.key]
			line.X = append(line.X, figure.Number(setting.Unit.From(unit.Length(p.BraceHeight))))
			line.Y = append(line.Y, figure.Number(k.number(system, valueOf(p, q.key))))
			line.Low = append(line.Low, figure.Number(k.number(system, span[0])))
			line.High = append(line.High, figure.Number(k.number(system, span[1])))
		}
		f := figure.Figure{
			Title: q.label + " at the measured brace heights", Finding: "The model's " + q.label + " at each brace height that was measured.",
			X:      figure.Axis{Label: "brace height", Unit: setting.Symbol(), Digits: setting.Unit.Digits()},
			Y:      figure.Axis{Label: q.label, Unit: k.symbol(system), Digits: 1},
			Series: []figure.Line{line},
			Note:   "The band holds 90 % of the plausible bows. The model is unfitted: trust the slope more than the height.",
		}
		markRange(&f, settings, setting)
		out = append(out, f)
	}
	return out
}
