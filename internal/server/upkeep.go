package server

import (
	"context"
	"fmt"
	"math"
	"time"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// upkeepView is what a bow's check readings say.
type upkeepView struct {
	Charts []chartView `json:"charts" nullable:"false" doc:"One for each kind that was ever checked."`
	Creep  creepView   `json:"creep"`
	String stringView  `json:"string"`
	Arrows []arrowView `json:"arrows" nullable:"false" doc:"Shots by the number on the shaft, as far as they were noted."`
}

// chartView is one control chart.
type chartView struct {
	Kind        notebook.Kind  `json:"kind" example:"brace_height"`
	Label       string         `json:"label" example:"brace height"`
	State       string         `json:"state" enum:"in control,shifted,drifting,too few readings"`
	Text        string         `json:"text"`
	Readings    int            `json:"readings" doc:"Points, readings of one sitting together."`
	Last        string         `json:"last,omitempty" doc:"The latest reading."`
	Centre      string         `json:"centre,omitempty"`
	Limits      string         `json:"limits,omitempty" doc:"Mean ± 3 standard deviations from the moving ranges."`
	Scatter     string         `json:"scatter,omitempty" doc:"One standard deviation of a reading."`
	Provisional bool           `json:"provisional,omitempty" doc:"Fewer than ten readings: the limits are rough."`
	Figure      *figure.Figure `json:"figure,omitempty"`
}

// creepView is creep told from a change.
type creepView struct {
	What string `json:"what" enum:"nothing,creep,step,cannot tell"`
	Text string `json:"text"`
}

type stringView struct {
	Since time.Time `json:"since,omitzero" doc:"When the present string was put on."`
	Shots int       `json:"shots" doc:"On it, as far as they were noted."`
	Said  int       `json:"said" doc:"Of these, as last written down in a set-up."`
	Text  string    `json:"text"`
}

type arrowView struct {
	Arrow string    `json:"arrow" example:"7"`
	Shots int       `json:"shots"`
	Bare  int       `json:"bare,omitempty" doc:"Of these, without fletching."`
	Last  time.Time `json:"last_shot_at"`
}

// charted are the kinds of check readings, in the order of the page.
var charted = []notebook.Kind{notebook.ReadBrace, notebook.ReadNockingPoint, notebook.ReadTiller, notebook.ReadSpeed, notebook.ReadButton, notebook.ReadDrawWeight}

func (s *server) getUpkeep(ctx context.Context, in *IDInput) (*found[upkeepView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	return onceTold(ctx, s, bow.ID, []any{"upkeep", bow.ID}, func() (*found[upkeepView], error) { return s.upkeep(ctx, bow, system) })
}

// upkeep reads a bow's check readings and counts its shots.
func (s *server) upkeep(ctx context.Context, bow notebook.Bow, system unit.System) (*found[upkeepView], error) {
	records, _, err := s.bowRecords(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	view := upkeepView{Charts: []chartView{}, Arrows: []arrowView{}}
	creep := records.StringCreep()
	view.Creep = creepView{creep.What, creep.Text}
	for _, kind := range charted {
		if c := records.Chart(kind); len(c.Points) > 0 {
			chart := viewChart(c, system)
			if kind == notebook.ReadBrace && creep.What != workbench.CreepCannotTell {
				addCreep(&chart, c, creep, system)
			}
			view.Charts = append(view.Charts, chart)
		}
	}
	counts := records.Counts()
	view.String = viewString(counts.String)
	for _, a := range counts.Arrows {
		view.Arrows = append(view.Arrows, arrowView{a.Arrow, a.Shots, a.Bare, a.Last})
	}
	return &found[upkeepView]{Body: view}, nil
}

func viewString(c workbench.StringCount) stringView {
	v := stringView{Since: c.Since, Shots: c.Said + c.Noted, Said: c.Said}
	switch {
	case v.Shots == 0:
		v.Text = "No shot on this string was noted yet: ends and the arrows of a session count, and a set-up may say how much is on it."
	case c.Said > 0:
		v.Text = fmt.Sprintf("%d shots on this string: %d as written in its set-up, %d noted since. What was not noted is not counted.", v.Shots, c.Said, c.Noted)
	default:
		v.Text = fmt.Sprintf("%d shots noted on this string. What was not noted is not counted.", v.Shots)
	}
	return v
}

// viewChart draws a chart in a person's units, days along.
func viewChart(c workbench.CheckChart, system unit.System) chartView {
	info, _ := c.Kind.Info()
	scale, symbol, digits := chartScale(c.Kind, system)
	say := func(v float64) string { return plainNumber(rounded(scale*v, digits), system) + symbolText(symbol) }
	last := c.Points[len(c.Points)-1]
	v := chartView{Kind: c.Kind, Label: info.Label, State: c.State, Readings: len(c.Points), Last: say(last.Value), Provisional: c.Provisional}
	if c.Ranges > 0 {
		v.Centre, v.Limits, v.Scatter = say(c.Centre), say(c.Low)+" to "+say(c.High), say(c.SD)
	}
	v.Text = chartText(c, info.Label, say)
	f := figure.Figure{
		Title: info.Label + ", check readings", Finding: v.Text,
		X:    figure.Axis{Label: "days since " + c.Points[0].At.Format("2 January 2006"), Unit: "", Digits: 0},
		Y:    figure.Axis{Label: info.Label, Unit: symbol, Digits: digits},
		Note: "Band: mean ± 3 standard deviations from the moving ranges; dashed: moving average with weight 0.3 (NIST/SEMATECH e-Handbook, 6.3.2.2 and 6.3.2.4).",
	}
	f.Series = chartLines(c, scale)
	f.Marks = stretchMarks(c)
	if len(c.Points) >= leastDrawn {
		v.Figure = &f
	}
	return v
}

// leastDrawn is how many readings make a picture worth its place.
const leastDrawn = 3

func symbolText(symbol string) string {
	if symbol == "" {
		return ""
	}
	return " " + symbol
}

// chartScale turns SI into the unit of the chart, one digit finer than usual.
func chartScale(kind notebook.Kind, system unit.System) (scale float64, symbol string, digits int) {
	switch kind {
	case notebook.ReadSpeed:
		return system.SpeedStyle().Unit.From(1), system.SpeedStyle().Symbol(), 1
	case notebook.ReadDrawWeight:
		return system.ForceStyle().Unit.From(1), system.ForceStyle().Symbol(), 1
	case notebook.ReadButton:
		return 1, "turns", 2
	}
	return system.SettingStyle().Unit.From(1), system.SettingStyle().Symbol(), system.SettingStyle().Unit.Digits() + 1
}

// chartText says what the chart shows and what to do.
func chartText(c workbench.CheckChart, label string, say func(float64) string) string {
	last := c.Points[len(c.Points)-1]
	switch c.State {
	case workbench.Shifted:
		return fmt.Sprintf("The %s reads %s, outside its own scatter of %s to %s: something moved. Look before you shoot for score.", label, say(last.Value), say(c.Low), say(c.High))
	case workbench.Drifting:
		return fmt.Sprintf("The %s drifts: its average has reached %s and left %s to %s, though no single reading stands out.", label, say(last.Average), say(c.AverageLow), say(c.AverageHigh))
	case workbench.InControl:
		return fmt.Sprintf("The %s holds: %s, inside its own scatter of %s to %s.", label, say(last.Value), say(c.Low), say(c.High))
	}
	return fmt.Sprintf("%d readings of the %s are too few to tell drift from scatter.", len(c.Points), label)
}

// days is the chart's x axis.
func days(c workbench.CheckChart, i int) figure.Number {
	return figure.Number(c.Points[i].At.Sub(c.Points[0].At).Hours() / 24)
}

// chartLines are the readings, the limits of the present stretch, and the
// moving average.
func chartLines(c workbench.CheckChart, scale float64) []figure.Line {
	readings := figure.Line{Name: "readings", Kind: figure.Points}
	limits := figure.Line{Name: "mean with its limits", Kind: figure.Curve}
	average := figure.Line{Name: "moving average", Kind: figure.Curve, Dashed: true}
	now := c.Points[len(c.Points)-1].Stretch
	for i, p := range c.Points {
		readings.X, readings.Y = append(readings.X, days(c, i)), append(readings.Y, figure.Number(scale*p.Value))
		if p.Stretch != now || c.Ranges == 0 {
			continue
		}
		limits.X, limits.Y = append(limits.X, days(c, i)), append(limits.Y, figure.Number(scale*c.Centre))
		limits.Low, limits.High = append(limits.Low, figure.Number(scale*c.Low)), append(limits.High, figure.Number(scale*c.High))
		if c.State != workbench.TooFew {
			average.X, average.Y = append(average.X, days(c, i)), append(average.Y, figure.Number(scale*p.Average))
		}
	}
	out := []figure.Line{readings}
	for _, l := range []figure.Line{limits, average} {
		if len(l.X) > 1 {
			out = append(out, l)
		}
	}
	return out
}

// stretchMarks show where the setting was changed on purpose.
func stretchMarks(c workbench.CheckChart) (out []figure.Mark) {
	for i := 1; i < len(c.Points); i++ {
		if c.Points[i].Stretch != c.Points[i-1].Stretch {
			out = append(out, figure.Mark{At: float64(days(c, i)+days(c, i-1)) / 2})
		}
	}
	if len(out) > 0 {
		out[len(out)-1].Label = "changed" // one word is enough; the lines look alike
	}
	return out
}

// addCreep draws the description that won.
func addCreep(v *chartView, c workbench.CheckChart, creep workbench.Creep, system unit.System) {
	scale, _, _ := chartScale(c.Kind, system)
	from := len(c.Points) - len(creep.Line)
	line := figure.Line{Name: creep.What, Kind: figure.Curve}
	if creep.What == workbench.CreepNothing || from < 0 {
		return
	}
	for i, v := range creep.Line {
		if math.IsNaN(v) {
			return
		}
		line.X, line.Y = append(line.X, days(c, from+i)), append(line.Y, figure.Number(scale*v))
	}
	v.Figure.Series = append(v.Figure.Series, line)
	if c.State == workbench.Shifted || c.State == workbench.Drifting {
		why := map[string]string{workbench.CreepTrend: " It got there by creep, little by little, not at once.", workbench.CreepStep: " It got there at one moment, not little by little."}
		v.Text += why[creep.What]
		v.Figure.Finding = v.Text
	}
}
