package workbench

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/notebook"
	"tautline/num"
	"tautline/unit"
)

// OfSpread is how far the arrows scatter. Nothing here computes what a change
// does to it, so whatever touches bow or arrow leaves it to be checked.
const OfSpread = "group_spread"

// Decided is what a verdict settled: a setting, or a quantity of the bow as it
// was. Standing is judged by it.
type Decided struct {
	// Entry that was decided, as in notebook.Keys; empty for a quantity alone.
	Entry string `json:"entry,omitempty"`
	// Quantity that ties it to the bow, at the target's Distance or 0.
	Quantity string      `json:"quantity"`
	Distance unit.Length `json:"distance_m,omitempty"`
	Label    string      `json:"label"`
	// Value, Low and High are SI, or turns; the interval holds at Level.
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Level float64 `json:"level"`
	Unit  string  `json:"unit"`
	From  string  `json:"interval_from"` // where the interval comes from, in words
}

// half90 is half the 90 % interval, taken from another level as for a normal
// scatter: with few arrows that is a little too narrow, so the result goes
// stale a little too soon rather than too late.
func (d Decided) half90() float64 {
	half := (d.High - d.Low) / 2
	if d.Level <= 0 || d.Level >= 1 || d.Level == Share {
		return half
	}
	return half * z90 / distuv.UnitNormal.Quantile(0.5+d.Level/2)
}

// settingEntries are the entries that trials' settings move, and the quantity
// that ties the best one to the bow: sideways settings by the bare shaft,
// which shows the same launch; brace height by the time on the string, as a
// brace-height trial. Nothing that is computed ties the others.
var settingEntries = map[string]struct{ entry, quantity string }{
	"button":        {"button.turns", OfBare},
	"centre_shot":   {"centre_shot", OfBare},
	"brace_height":  {"brace_height.value", OfTime},
	"nocking_point": {"nocking_point.value", OfSpread},
	"rest_height":   {"rest.height", OfSpread},
	"tiller":        {"tiller", OfSpread},
}

// typedIn reads settings as typed, with the unit that the notebook keeps them
// in; ok is false where they are only words. What is counted in something else
// than turns keeps its own words, and nothing ties it to the bow.
func typedIn(key string, texts []string) (at []float64, in string, ok bool) {
	if s, lengths := lengthLevels(texts); lengths {
		return s.at, "m", key != "button"
	}
	s, err := readLevels(texts)
	if err != nil {
		return nil, "", false
	}
	words := singular(levelPattern.FindStringSubmatch(strings.TrimSpace(texts[0]))[2])
	switch {
	case key != "button":
		return s.at, words, false // a length without its unit
	case words == "" || words == "turn":
		return s.at, "turns", true
	}
	return s.at, words, true
}

// decideSetting notes a decided setting.
func (j *judging) decideSetting(v *TrialVerdict, key, in string, e num.Estimate[float64], from string) {
	as, known := settingEntries[key]
	if !known || !(e.Low < e.High) || math.IsInf(e.High-e.Low, 0) {
		return
	}
	d := Decided{Entry: as.entry, Quantity: as.quantity, Label: "best " + strings.ReplaceAll(key, "_", " "), Value: e.Value, Low: e.Low, High: e.High, Level: e.Level, Unit: in, From: from}
	if key == "button" && in != "turns" {
		d.Quantity = OfSpread
	}
	if d.Quantity == OfBare {
		d.Distance = j.distance()
	}
	v.Decides = append(v.Decides, d)
}

// distance is where the arrows were shot; 30 m where nobody said.
func (j *judging) distance() unit.Length {
	for _, e := range slices.Backward(j.ends) {
		if d := cmp.Or(e.Distance.Value, unit.Length(j.plan.Steps[*e.Stop].Distance)); d > 0 {
			return d
		}
	}
	return floorBare
}

// decideTwo notes what a comparison of two set-ups settled: where both are
// values of one setting, the tighter one, as well as half the way to the other
// says; else only that the spreads were so far apart.
func (j *judging) decideTwo(v *TrialVerdict, ratio Ranged) {
	ask := j.plan.Ask
	key := cmp.Or(ask.Setting, "button")
	if at, in, ok := typedIn(key, []string{ask.A, ask.B}); v.Decided && ok {
		best, half := at[0], math.Abs(at[1]-at[0])/2
		if v.Outcome == "b_tighter" {
			best = at[1]
		}
		// nothing of chance is in it: it is taken for a 90 % interval as it is
		j.decideSetting(v, key, in, num.Estimate[float64]{Value: best, Low: best - half, High: best + half, Level: Share}, "half the way between the two set-ups")
		return
	}
	if v.Decided && ratio.Value != nil && ratio.Low != nil && ratio.High != nil {
		v.Decides = append(v.Decides, Decided{Quantity: OfSpread, Label: "spread of A over spread of B", Value: *ratio.Value, Low: *ratio.Low, High: *ratio.High, Level: num.Confidence, From: ownInterval})
	}
}

const ownInterval = "the verdict's own interval"

// decideQuantity notes a quantity of the bow as it was.
func (v *TrialVerdict) decideQuantity(kind, label string, distance unit.Length, e num.Estimate[float64]) {
	if v.Decided && distance > 0 && e.Low < e.High && !math.IsInf(e.High-e.Low, 0) {
		v.Decides = append(v.Decides, Decided{Quantity: kind, Distance: distance, Label: label, Value: e.Value, Low: e.Low, High: e.High, Level: e.Level, Unit: "m", From: ownInterval})
	}
}

// decided are the results that a kept shooting trial's verdict holds.
func (r Result) decided(list []Decided) (out []Result) {
	for _, d := range list {
		one := r
		one.By, one.Of = d.Entry, Quantity{Kind: d.Quantity, Distance: d.Distance}
		one.Value, one.Half, one.Unit, one.HalfFrom = d.Value, d.half90(), d.Unit, cmp.Or(d.From, ownInterval)
		if d.Label != "" {
			one.Label += ": " + d.Label
		}
		if one.Half > 0 {
			out = append(out, one)
		}
	}
	return out
}

// subject is what a result is about, for telling which one is the latest.
type subject struct {
	Quantity
	by string
}

func (r Result) subject() subject { return subject{r.Of, r.By} }

// superseding names the later result of the same subject.
type superseding map[notebook.ID]map[subject]notebook.ID

func (s superseding) of(r Result) notebook.ID { return s[r.ID][r.subject()] }
