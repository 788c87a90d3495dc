package workbench

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tautline/group"
	"tautline/notebook"
	"tautline/num"
	"tautline/trial"
	"tautline/unit"
)

// ObservedView is evidence from ordinary ends: observed, not randomised.
type ObservedView struct {
	Label     string          `json:"label"`
	Measure   string          `json:"measure"` // spread, score
	Distance  float64         `json:"distance_m"`
	Face      string          `json:"face,omitempty"` // of the score
	Reference notebook.ID     `json:"reference"`
	Setups    []ObservedSetUp `json:"setups"`
	DaySD     *float64        `json:"day_sd"` // between days: ln σ, or points an arrow
	Ends      int             `json:"ends"`
	Days      int             `json:"days"`
	Text      string          `json:"text"`
	Warnings  []string        `json:"warnings"`
}

// ObservedSetUp is one set-up's mean over days.
type ObservedSetUp struct {
	SetUp notebook.ID `json:"setup"`
	Label string      `json:"label"`
	Mean  Ranged      `json:"mean"` // spread of one axis in metres, or points an arrow
	// Against is the spread over the reference's, or points more than it.
	Against Ranged   `json:"against_reference"`
	P       *float64 `json:"p"`
	Ends    int      `json:"ends"`
	Days    int      `json:"days"`
}

// Observe compares set-ups by ordinary ends, distance by distance, with the
// days' own level taken out: by the spread where places are known, by the
// points where only rings are. Each needs two set-ups of at least two ends.
func Observe(ends []notebook.End, facts map[notebook.ID]SetUpFacts, style unit.Style[unit.Length]) ([]ObservedView, error) {
	volleys, err := Volleys(ends, facts)
	if err != nil {
		return nil, err
	}
	volleys = slices.DeleteFunc(volleys, func(v Volley) bool { return v.Kind != group.Fletched })
	var out []ObservedView
	for _, far := range distances(volleys) {
		here := slices.DeleteFunc(slices.Clone(volleys), func(v Volley) bool { return v.Distance != far })
		for _, measure := range []string{"spread", "score"} {
			if measure == "score" {
				here = onOneFace(here)
			}
			rows := dayEnds(here, measure)
			reference := mostEnds(rows)
			if tooFew(rows) {
				continue
			}
			o, err := trial.ObserveSetups(rows, reference)
			if err != nil {
				continue // too few of it: the next distance may have more
			}
			out = append(out, viewObserved(o, measure, far, here, facts, style))
		}
	}
	return out, nil
}

// distances lists the distances, the most shot first.
func distances(list []Volley) (out []unit.Length) {
	n := map[unit.Length]int{}
	for _, v := range list {
		if n[v.Distance] == 0 {
			out = append(out, v.Distance)
		}
		n[v.Distance] += len(v.Shots)
	}
	slices.SortStableFunc(out, func(a, b unit.Length) int { return n[b] - n[a] })
	return out
}

// onOneFace keeps the volleys on the face that most arrows were shot at:
// points on different faces cannot be compared.
func onOneFace(list []Volley) []Volley {
	n := map[string]int{}
	for _, v := range list {
		n[v.Face.Key] += len(v.Shots)
	}
	most := sortedBy(n, func(a, b string) int { return cmp.Or(n[b]-n[a], cmp.Compare(a, b)) })[0]
	return slices.DeleteFunc(list, func(v Volley) bool { return v.Face.Key != most })
}

// dayEnds makes the response of every end.
func dayEnds(list []Volley, measure string) (rows []trial.DayEnd) {
	if measure == "score" {
		return scoredEnds(list)
	}
	for _, v := range list {
		for n, shots := range v.byEnd() {
			if y, variance, ok := endSpread(shots); ok {
				rows = append(rows, trial.DayEnd{Setup: string(v.SetUp), Day: v.Days[n], Y: y, Var: variance})
			}
		}
	}
	return rows
}

// scatter is what ends tell of how an arrow's points scatter about their end's
// mean.
type scatter struct{ squares, df float64 }

// lenders is how many degrees of freedom all set-ups lend to each: as two ends
// of six. Without them a set-up of one lucky end would pass for a sure one.
const lenders = 10

// variance of one arrow's points. Where no arrow differs from its end, one
// arrow a point off is the least assumed.
func (s scatter) variance(all scatter) float64 {
	pooled := max(all.squares, 1) / all.df
	return (s.squares + lenders*pooled) / (s.df + lenders)
}

// scoredEnds gives every end's mean points an arrow. Its variance is the
// set-up's, pooled within its ends, over the end's arrows; never the end's
// own: an end with a miss scatters widely just because it scored badly, and
// would count for next to nothing.
func scoredEnds(list []Volley) (rows []trial.DayEnd) {
	var all scatter
	own, arrows := map[string]scatter{}, []float64{}
	for _, v := range list {
		for n, shots := range v.byEnd() {
			mean, squares, ok := endPoints(v, shots)
			if !ok {
				continue
			}
			setup, df := string(v.SetUp), float64(len(shots)-1)
			s := own[setup]
			own[setup] = scatter{s.squares + squares, s.df + df}
			all = scatter{all.squares + squares, all.df + df}
			rows, arrows = append(rows, trial.DayEnd{Setup: setup, Day: v.Days[n], Y: mean}), append(arrows, df+1)
		}
	}
	for i := range rows {
		rows[i].Var = own[rows[i].Setup].variance(all) / arrows[i]
	}
	return rows
}

// byEnd splits the shots of a volley.
func (v Volley) byEnd() [][]group.Shot {
	out := make([][]group.Shot, len(v.Days))
	for _, s := range v.Shots {
		out[s.End-1] = append(out[s.End-1], s)
	}
	return out
}

// endSpread is ln σ of an end's placed arrows; its variance hangs on their
// number alone.
func endSpread(shots []group.Shot) (y, variance float64, ok bool) {
	var end trial.End
	for _, s := range shots {
		if s.Placed {
			end = append(end, trial.Point{Right: s.Right, Up: s.Up})
		}
	}
	sample := trial.Sample{end}
	if !hasSpread(sample) {
		return 0, 0, false
	}
	y, variance = trial.LogSpread(sample)
	return y, variance, true
}

// endPoints is an end's mean points an arrow, and the sum of squares about it.
func endPoints(v Volley, shots []group.Shot) (mean, squares float64, ok bool) {
	if len(v.Face.Zones) == 0 || len(v.Others) > 0 || len(shots) < 2 {
		return 0, 0, false
	}
	var sum, raw float64
	for _, s := range shots {
		zone, printed := v.Face.ZoneByLabel(s.Ring)
		if s.Ring == "" {
			zone, printed = v.Face.Score(s.Point, v.Shaft), true
		}
		if !printed {
			return 0, 0, false
		}
		sum, raw = sum+float64(zone.Points), raw+float64(zone.Points*zone.Points)
	}
	n := float64(len(shots))
	return sum / n, raw - sum*sum/n, true
}

func mostEnds(rows []trial.DayEnd) (most string) {
	n := map[string]int{}
	for _, r := range rows {
		if n[r.Setup]++; n[r.Setup] > n[most] {
			most = r.Setup
		}
	}
	return most
}

// tooFew reports that there are no two set-ups of two ends.
func tooFew(rows []trial.DayEnd) bool {
	n, enough := map[string]int{}, 0
	for _, r := range rows {
		if n[r.Setup]++; n[r.Setup] == 2 {
			enough++
		}
	}
	return enough < 2
}

func viewObserved(o trial.Observed, measure string, far unit.Length, here []Volley, facts map[notebook.ID]SetUpFacts, style unit.Style[unit.Length]) ObservedView {
	out := ObservedView{Label: o.Label, Measure: measure, Distance: float64(far), Reference: notebook.ID(o.Reference), Setups: []ObservedSetUp{}, DaySD: finite(o.DaySD),
		Ends: o.Ends, Days: o.Days, Warnings: append([]string{}, o.Warnings...)}
	if measure == "score" && len(here) > 0 {
		out.Face = here[0].Face.Key
	}
	said := ""
	for _, s := range o.Setups {
		row := ObservedSetUp{SetUp: notebook.ID(s.Setup), Label: facts[notebook.ID(s.Setup)].Label, P: finite(s.P), Ends: s.Ends, Days: s.Days, Mean: ranged(s.Mean), Against: ranged(s.Difference)}
		if measure == "spread" {
			row.Mean, row.Against = ranged(exponent(s.Mean)), ranged(exponent(s.Difference))
		}
		out.Setups = append(out.Setups, row)
		if s.Setup != o.Reference {
			said += " " + observedText(measure, row, style)
		}
	}
	out.Text = fmt.Sprintf("From %s on %s, observed and not randomised:%s", counted(o.Ends, "ordinary end"), counted(o.Days, "day"), said)
	return out
}

// exponent takes an estimate of a logarithm back.
func exponent(e num.Estimate[float64]) num.Estimate[float64] {
	return num.Estimate[float64]{Value: math.Exp(e.Value), Low: math.Exp(e.Low), High: math.Exp(e.High), Level: e.Level}
}

func observedText(measure string, s ObservedSetUp, style unit.Style[unit.Length]) string {
	name := s.Label
	if name == "" {
		name = "another set-up"
	}
	if measure == "spread" {
		verdict := "cannot be told from the reference"
		if s.Against.High != nil && *s.Against.High < 1 {
			verdict = "was tighter"
		} else if s.Against.Low != nil && *s.Against.Low > 1 {
			verdict = "was wider"
		}
		return fmt.Sprintf("“%s” %s, spread %s times the reference's.", name, verdict, ratioText(s.Against))
	}
	verdict := "cannot be told from the reference"
	if s.Against.High != nil && *s.Against.High < 0 {
		verdict = "scored less"
	} else if s.Against.Low != nil && *s.Against.Low > 0 {
		verdict = "scored more"
	}
	return fmt.Sprintf("“%s” %s, by %s points an arrow.", name, verdict, ratioText(s.Against))
}
