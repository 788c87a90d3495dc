package report

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
	"tautline/workbench"
)

// VerdictFigures draws every measure of a verdict against brace height, each
// point with its interval and the smooth trend beside it; the speed with the
// model's curve.
func VerdictFigures(v workbench.BraceVerdict, p workbench.BracePlan, system unit.System) []figure.Figure {
	var out []figure.Figure
	mark := system.SettingStyle()
	for _, t := range v.Trends {
		f := figure.Figure{
			Title: t.Measure.Name() + " against brace height", Finding: Marked(trendFinding(t), system),
			X:     figure.Axis{Label: "brace height", Unit: mark.Symbol(), Digits: max(0, mark.Unit.Digits())},
			Y:     figure.Axis{Label: t.Measure.Name(), Unit: t.Measure.Unit(), Digits: 1},
			Spans: []figure.Span{{From: mark.Unit.From(p.Plan.Low), To: mark.Unit.From(p.Plan.High), Label: "limb maker's range"}},
			Marks: []figure.Mark{{At: mark.Unit.From(unit.Length(p.Now)), Label: "before"}},
			Note:  "Bars are 95 % intervals of the mean; the line is the smooth trend, spots left out.",
		}
		measured := figure.Line{Name: "measured", Kind: figure.Points}
		smooth := figure.Line{Name: "smooth trend", Kind: figure.Curve, Dashed: true}
		for _, q := range t.Points {
			x := figure.Number(mark.Unit.From(q.Brace.Value))
			measured.X, measured.Y = append(measured.X, x), append(measured.Y, figure.Number(q.Mean.Value))
			measured.Low, measured.High = append(measured.Low, bounded(q.Mean.Low)), append(measured.High, bounded(q.Mean.High))
			smooth.X, smooth.Y = append(smooth.X, x), append(smooth.Y, figure.Number(q.Smooth.Value))
		}
		f.Series = []figure.Line{measured, smooth}
		if len(v.Contrasts) > 0 { // two brace heights have no trend
			f.Series, f.Note = f.Series[:1], "Bars are 95 % intervals of a setting made so many times."
		}
		if t.Measure == trial.Speed {
			f.Series = append(f.Series, modelSpeed(v, mark))
		}
		out = append(out, f)
	}
	return out
}

// bounded leaves a gap where an interval has no end.
func bounded(x float64) figure.Number {
	if math.IsInf(x, 0) {
		return figure.Number(math.NaN())
	}
	return figure.Number(x)
}

func trendFinding(t trial.Trend) string {
	s := t.SlopePerCM
	switch {
	case t.Note != "":
		return t.Note
	case !s.Known() || !s.Bounded():
		return "The slope cannot be told yet."
	case t.Direction == "":
		return fmt.Sprintf("No slope can be told: %+.2f %s per cm (%+.2f to %+.2f).", s.Value, t.Measure.Unit(), s.Low, s.High)
	}
	return fmt.Sprintf("It %s by %.2f %s per cm (%.2f to %.2f).", t.Direction, math.Abs(s.Value), t.Measure.Unit(),
		math.Min(math.Abs(s.Low), math.Abs(s.High)), math.Max(math.Abs(s.Low), math.Abs(s.High)))
}

func modelSpeed(v workbench.BraceVerdict, mark unit.Style[unit.Length]) figure.Line {
	line := figure.Line{Name: "model, unfitted", Kind: figure.Curve}
	for _, p := range v.Model {
		line.X = append(line.X, figure.Number(mark.Unit.From(unit.Length(p.BraceHeight))))
		line.Y = append(line.Y, figure.Number(p.Speed))
		line.Low = append(line.Low, figure.Number(p.Interval["speed_mps"][0]))
		line.High = append(line.High, figure.Number(p.Interval["speed_mps"][1]))
	}
	return line
}

// Judge gathers a trial's records from the notebook, listens to its
// recordings and gives the verdict. progress may be nil.
func (m Maker) Judge(ctx context.Context, actor, id notebook.ID, progress func(float64)) (workbench.BraceVerdict, workbench.BracePlan, notebook.Bow, error) {
	t, bow, plan, err := m.planOf(ctx, actor, id)
	if err != nil {
		return workbench.BraceVerdict{}, plan, bow, err
	}
	setup, err := m.Notebook.SetUps().Get(ctx, actor, t.SetUp)
	if err != nil {
		return workbench.BraceVerdict{}, plan, bow, err
	}
	readings, err := notebook.Everything(ctx, m.Notebook.Readings(), actor, notebook.Query{Trial: id})
	if err != nil {
		return workbench.BraceVerdict{}, plan, bow, err
	}
	recordings, err := notebook.Everything(ctx, m.Notebook.Recordings(), actor, notebook.Query{Trial: id})
	if err != nil {
		return workbench.BraceVerdict{}, plan, bow, err
	}
	var heard []workbench.Heard
	for i, r := range recordings {
		h, err := m.hear(ctx, actor, r)
		if err != nil {
			return workbench.BraceVerdict{}, plan, bow, err
		}
		heard = append(heard, h)
		if progress != nil {
			progress(float64(i+1) / float64(len(recordings)))
		}
	}
	v, err := workbench.JudgeBrace(ctx, setup.Settings, plan, readings, heard)
	return v, plan, bow, err
}

func (m Maker) hear(ctx context.Context, actor notebook.ID, r notebook.Recording) (h workbench.Heard, err error) {
	corrected, err := notebook.Everything(ctx, m.Notebook.Onsets(), actor, notebook.Query{Recording: r.ID})
	if err != nil {
		return h, err
	}
	h = workbench.Heard{Recording: r, Onsets: workbench.LatestOnsets(corrected, r.ID)}
	f, err := m.Notebook.Blobs().Open(ctx, r.Hash)
	if err != nil {
		return h, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	h.Hearing, err = workbench.Listen(ctx, f, workbench.ListenAsk{ToBale: r.ToBale.Value, SkipModes: true, Corrections: workbench.Corrections(h.Onsets)})
	return h, err
}

// trial is the sheet of a trial: the verdict first, then what it rests on.
func (m Maker) trial(ctx context.Context, actor, id notebook.ID, system unit.System) (Sheet, error) {
	if t, bow, p, ok, err := m.shooting(ctx, actor, id); err != nil {
		return Sheet{}, err
	} else if ok {
		return m.shootingVerdict(ctx, actor, t, bow, p, system)
	}
	v, plan, bow, err := m.Judge(ctx, actor, id, nil)
	if err != nil {
		return Sheet{}, err
	}
	t, err := m.Notebook.Trials().Get(ctx, actor, id)
	if err != nil {
		return Sheet{}, err
	}
	sheet := Sheet{Title: "Brace-height trial", Subtitle: bow.Name, Bow: bow.ID, Made: t.At, Source: "trial " + string(id), Cautions: always}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "Verdict", Text: Marked(v.Sentence(system.SettingStyle()), system)})
	for _, c := range v.Candidates {
		sheet.Blocks = append(sheet.Blocks, Block{Facts: []Fact{candidateFact(c, system)}})
	}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "Brace height, shots, arrow speed; the change of speed that choosing it would cost", Table: stopTable(v, plan, system)})
	if figures := VerdictFigures(v, plan, system); len(figures) > 0 {
		sheet.Blocks = append(sheet.Blocks, Block{Figure: &figures[0]})
	}
	sheet.Blocks = append(sheet.Blocks, Block{Heading: "It rests on", Text: Marked(sentences(v), system)})
	return sheet, nil
}

func sentences(v workbench.BraceVerdict) string {
	text := fmt.Sprintf("%d stops, %d counted arrows, %d settling shots.", v.Stops, v.Arrows, v.Settling)
	for _, list := range [][]string{v.Assumptions, v.Warnings} {
		for _, s := range list {
			text += " " + sentence(s)
		}
	}
	if len(v.WouldChange) > 0 {
		text += " What would change the verdict: " + strings.Join(v.WouldChange, "; ") + "."
	}
	return text
}

// sentence starts a clause with a capital and ends it with a stop.
func sentence(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(first)) + s[size:]
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") {
		s += "."
	}
	return s
}

func candidateFact(c trial.Candidate, system unit.System) Fact {
	f := Fact{Label: string(c.Kind) + " spot", Value: unit.Both(c.Brace.Value, system.Decimal), Doubt: "(" + system.SettingStyle().Range(c.Brace.Low, c.Brace.High) + ")"}
	for _, e := range c.Evidence {
		sign := func(v float64) string { return Signed(v, func(v float64) string { return fixed(v, 1, system) }) }
		f.Doubt += fmt.Sprintf("; %s %s %s off the trend (%s to %s), %s", e.Measure.Name(), sign(e.Size.Value), e.Measure.Unit(), sign(e.Size.Low), sign(e.Size.High), chance(e.P, system))
	}
	return f
}

func stopTable(v workbench.BraceVerdict, p workbench.BracePlan, system unit.System) *Table {
	mark, speed := system.SettingStyle(), system.SpeedStyle()
	t := &Table{
		Header: []string{"stop", "brace (" + mark.Symbol() + ")", "shots", "measured (" + speed.Symbol() + ")", "model (" + speed.Symbol() + ")", "change (" + speed.Symbol() + ")"},
		Wide:   map[int]float64{0: 0.4, 1: 1.1, 2: 0.5, 3: 1.2, 4: 1.8, 5: 1.8},
	}
	records := map[int]workbench.StopRecord{}
	for _, r := range v.Records {
		records[r.Stop] = r
	}
	for i, c := range v.Costs {
		m, change := v.Model[i], c.Change.Interval["speed_mps"]
		t.Rows = append(t.Rows, []string{
			fmt.Sprint(p.Plan.Stops[c.Stop].Index), mark.Number(c.BraceHeight), fmt.Sprint(len(records[c.Stop].Shots)), measuredSpeed(records[c.Stop].Speeds, speed),
			fmt.Sprintf("%s (%s–%s)", speed.Number(unit.Speed(m.Speed)), speed.Number(unit.Speed(m.Interval["speed_mps"][0])), speed.Number(unit.Speed(m.Interval["speed_mps"][1]))),
			fmt.Sprintf("%s (%s to %s)", signed(c.Change.Speed, speed), signed(change[0], speed), signed(change[1], speed)),
		})
	}
	return t
}

// signed gives a change without its unit, which the table's header has.
func signed(x float64, style unit.Style[unit.Speed]) string {
	return strings.TrimSpace(strings.TrimSuffix(style.Difference(unit.Speed(x)), style.Symbol()))
}

// measuredSpeed is the mean of a stop's chronograph readings with their count;
// one reading has no doubt of its own to give.
func measuredSpeed(speeds []float64, style unit.Style[unit.Speed]) string {
	if len(speeds) == 0 {
		return "–"
	}
	mean, square := 0.0, 0.0
	for _, x := range speeds {
		mean += x / float64(len(speeds))
	}
	for _, x := range speeds {
		square += (x - mean) * (x - mean)
	}
	if len(speeds) == 1 {
		return style.Number(unit.Speed(mean)) + " (1)"
	}
	n := float64(len(speeds))
	half := distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile(0.975) * math.Sqrt(square/(n-1)/n)
	return fmt.Sprintf("%s ± %s", style.Number(unit.Speed(mean)), style.Number(unit.Speed(half)))
}

// chance prints a p value, never as zero.
func chance(p float64, system unit.System) string {
	if p < 0.001 {
		return "p below " + fixed(0.001, 3, system)
	}
	return "p " + fixed(p, 3, system)
}
