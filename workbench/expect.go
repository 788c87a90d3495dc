package workbench

import (
	"cmp"
	"fmt"
	"math"

	"tautline/group"
	"tautline/notebook"
	"tautline/num"
	"tautline/unit"
)

// ExpectAsk asks what a measured spread scores elsewhere, or which spread a
// score needs.
type ExpectAsk struct {
	Sigma      Ranged      // spread of one axis over all ends, m; no value: the reverse is asked
	Within     Ranged      // spread about the ends' own centres, m; no value: ends share none
	PerEnd     int         // arrows that share a centre; 0: 6
	MeasuredAt unit.Length // distance it was measured at
	ShotAt     unit.Length // distance asked about; 0: the same
	Face       string
	Shaft      unit.Length // diameter; 0: AssumedShaft
	Arrows     int         // of the round; default 72
	Score      float64     // the reverse: points of the round
}

// ExpectView is the answer. It leaves out wind, drag's growth of the spread,
// sighting errors beyond the ends' own and a day unlike the measured one: angles are kept, so that
// the spread grows in proportion to distance.
type ExpectView struct {
	Face     string   `json:"face"`
	Distance float64  `json:"distance_m"`
	Arrows   int      `json:"arrows"`
	Shaft    float64  `json:"shaft_m"`
	Sigma    Ranged   `json:"sigma_m"`        // at this distance, centred
	Expected Ranged   `json:"expected_total"` // as far as the spread is known
	Round    Ranged   `json:"round_total"`    // 95 % of rounds fall inside
	Best     int      `json:"best_total"`
	Text     string   `json:"text"`
	Assumes  []string `json:"assumptions"`
}

// Expect answers in either direction. style prints lengths.
func Expect(ask ExpectAsk, style, far unit.Style[unit.Length]) (ExpectView, error) {
	face, err := faceOf(ask.Face, "/face")
	if err != nil {
		return ExpectView{}, err
	}
	if len(face.Zones) == 0 {
		return ExpectView{}, &notebook.Error{Code: notebook.Invalid, Field: "/face", Message: "blank paper scores nothing", Hint: "choose the face of the round"}
	}
	ask.ShotAt, ask.Shaft, ask.Arrows = cmp.Or(ask.ShotAt, ask.MeasuredAt), cmp.Or(ask.Shaft, AssumedShaft), cmp.Or(ask.Arrows, 72)
	ask.MeasuredAt = cmp.Or(ask.MeasuredAt, ask.ShotAt)
	if !(ask.ShotAt > 0) || math.IsInf(float64(ask.ShotAt), 1) || ask.Arrows < 1 || ask.Arrows > 1000 {
		return ExpectView{}, &notebook.Error{Code: notebook.Invalid, Field: "/distance", Message: "the distance is missing", Hint: "such as 70 m"}
	}
	out := ExpectView{Face: face.Key, Distance: float64(ask.ShotAt), Arrows: ask.Arrows, Shaft: float64(ask.Shaft), Best: face.Best() * ask.Arrows, Assumes: []string{
		"the group is circular and centred: a sight that is off costs more",
		"angles are kept: the spread grows in proportion to distance; drag, wind and a day unlike the measured one add to it",
	}}
	if ask.Sigma.Value == nil {
		return out, out.reverse(ask, face, style, far)
	}
	sigma := num.Estimate[unit.Length]{Value: unit.Length(*ask.Sigma.Value), Low: lengthOr(ask.Sigma.Low, 0), High: lengthOr(ask.Sigma.High, math.Inf(1)), Level: num.Confidence}
	f, err := group.ForecastRound(face, ask.Shaft, sigma, ask.MeasuredAt, ask.ShotAt, ask.Arrows)
	if err != nil {
		return out, understandGroup(err)
	}
	k := ask.ShotAt / ask.MeasuredAt
	at := num.Estimate[unit.Length]{Value: sigma.Value * k, Low: sigma.Low * k, High: sigma.High * k}
	ask.shareCentres(&f, float64(out.Best))
	out.Sigma, out.Expected, out.Round = ranged(at), ranged(f.Spread), ranged(f.Total)
	out.Text = fmt.Sprintf("At %s on the %s face this spread (%s) scores about %.0f of %d in %d arrows; 19 rounds in 20 fall between %.0f and %.0f.",
		far.Print(ask.ShotAt), face.Name, style.Print(at.Value), f.Total.Value, out.Best, ask.Arrows, f.Total.Low, f.Total.High)
	return out, nil
}

// shareCentres widens a round's doubt where arrows of one end share its centre
// and stray together. With the share s of the centres in σ² the squared
// distances of two arrows of an end from the middle correlate by s² (Isserlis
// 1918), and so, nearly, do their points; n arrows then vary by 1 + (n − 1)s²
// times as much as n apart.
func (ask ExpectAsk) shareCentres(f *group.RoundForecast, best float64) {
	if ask.Within.Value == nil || !(*ask.Within.Value >= 0 && *ask.Within.Value < *ask.Sigma.Value) {
		return
	}
	share := 1 - math.Pow(*ask.Within.Value / *ask.Sigma.Value, 2)
	chance := f.Chance * math.Sqrt(1+float64(max(cmp.Or(ask.PerEnd, 6)-1, 0))*share*share)
	mean := f.Total.Value
	f.Total.Low = max(0, mean-math.Hypot(chance, mean-f.Spread.Low))
	f.Total.High = min(best, mean+math.Hypot(chance, f.Spread.High-mean))
}

// reverse says which spread a score needs.
func (e *ExpectView) reverse(ask ExpectAsk, face group.Face, style, far unit.Style[unit.Length]) error {
	sigma, err := group.SigmaForScore(face, ask.Shaft, ask.Score/float64(ask.Arrows))
	if err != nil {
		return &notebook.Error{Code: notebook.Invalid, Field: "/score", Message: fmt.Sprintf("%g points in %d arrows cannot be turned into a spread", ask.Score, ask.Arrows), Hint: fmt.Sprintf("above 0 and below %d", e.Best), Cause: err}
	}
	e.Sigma = Ranged{Value: finite(float64(sigma))}
	e.Expected = Ranged{Value: finite(ask.Score)}
	e.Text = fmt.Sprintf("%g of %d points at %s on the %s face need a spread of %s on each axis, with the group in the middle.", ask.Score, e.Best, far.Print(ask.ShotAt), face.Name, style.Print(sigma))
	return nil
}
