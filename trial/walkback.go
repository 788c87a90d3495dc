package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// WalkBackShot is one arrow of a walk-back: one aim, many distances.
type WalkBackShot struct {
	Distance unit.Length // to the face
	Right    unit.Length // from the vertical line through the aim
}

// WalkBackOutcome is what the arrows' line looks like.
type WalkBackOutcome string

const (
	Upright WalkBackOutcome = "upright" // straight and upright: nothing to do
	Slanted WalkBackOutcome = "slanted" // straight and slanted
	Curved  WalkBackOutcome = "curved"
	NotYet  WalkBackOutcome = "cannot_tell_yet"
)

// WalkBackVerdict is the answer of a walk-back.
type WalkBackVerdict struct {
	Outcome WalkBackOutcome
	Text    string
	// Slant is the sideways drift per distance, radians: 1 mrad is 1 cm in 10 m.
	Slant Estimate[unit.Angle]
	// Offset is where the line meets the archer, at distance zero.
	Offset Estimate[unit.Length]
	// Bend is the sideways departure from the straight line in the middle of
	// the distances.
	Bend        Estimate[unit.Length]
	PBend       float64 // of a straight line; 1 while a bend could not be told
	Scatter     Estimate[unit.Angle]
	Distances   int
	Arrows      int
	Separate    []string // the causes this test cannot separate, as keys: "centre_shot", "button", "sight_pin", "cant"
	AskFirst    []string // "cant", "wind"
	Next        string   // "bare_shaft" when slanted
	Assumptions []string
	Warnings    []string
	WouldChange []string
}

// DecideWalkBack fits the sideways place against distance, arrows weighted by
// 1/distance² (their scatter is angular), and asks whether the line is upright
// and straight. tolerance is the slant that would not be worth a change; 0
// takes 1 mrad (1 cm in 10 m; common practice, no source). A straight slanted
// line comes from the centre shot, the button, a sight pin off to the side or a
// canted bow, and this test cannot separate them.
func DecideWalkBack(shots []WalkBackShot, tolerance unit.Angle) (WalkBackVerdict, error) {
	if tolerance == 0 {
		tolerance = 0.001
	}
	if !(tolerance > 0 && tolerance < 1) {
		return WalkBackVerdict{}, bad("tolerance", "1 cm in 10 m, 0.001, is usual", "a slant of %g is no tolerance", float64(tolerance))
	}
	v := WalkBackVerdict{Arrows: len(shots), PBend: 1, Bend: Unknown[unit.Length]()}
	x, y, rel, err := walkBackRows(shots)
	if err != nil {
		return v, err
	}
	far, near := math.Inf(-1), math.Inf(1)
	seen := map[float64]bool{}
	for _, d := range x {
		far, near, seen[d] = max(far, d), min(near, d), true
	}
	v.Distances = len(seen)
	if v.Distances < 3 {
		return v, bad("distances", "shoot at three distances or more, such as 10, 20, 30 and 40 m", "%d distances", v.Distances)
	}
	line, ok := leastSquares(powers(x, 1), y, rel)
	if !ok {
		return v, bad("distances", "shoot at distances well apart, such as 10, 20, 30 and 40 m", "they are all but one")
	}
	scatter, nu := v.bend(x, y, rel, line, near, far)
	t := quantileT(nu, 0.5+Confidence/2)
	_, se := line.at([]float64{0, 1})
	v.Slant = around(unit.Angle(line.coef[1]), unit.Angle(t*scatter*se))
	_, se0 := line.at([]float64{1, 0})
	v.Offset = around(unit.Length(line.coef[0]), unit.Length(t*scatter*se0))
	chi := distuv.ChiSquared{K: nu}
	v.Scatter = Estimate[unit.Angle]{Value: unit.Angle(scatter), Low: unit.Angle(scatter * math.Sqrt(nu/chi.Quantile(0.5+Confidence/2))), High: unit.Angle(scatter * math.Sqrt(nu/chi.Quantile(0.5-Confidence/2))), Level: Confidence}
	v.judge(tolerance)
	v.explain(tolerance)
	return v, nil
}

// closest is the least distance to a face, in metres.
const closest = 0.1

func walkBackRows(shots []WalkBackShot) (x, y, rel []float64, err error) {
	for i, s := range shots {
		d, r := float64(s.Distance), float64(s.Right)
		if !(d >= closest && d <= float64(farthest)) || !(math.Abs(r) <= float64(farthest)) {
			return nil, nil, nil, bad(fmt.Sprintf("arrow %d", i+1), "give the distance, such as 20 m, and the place, such as -1.5 cm", "distance %v with place %v", s.Distance, s.Right)
		}
		x, y, rel = append(x, d), append(y, r), append(rel, d*d)
	}
	return x, y, rel, nil
}

// bend tests a quadratic against the line and returns the scatter to use with
// its degrees of freedom: the quadratic's own where there are enough arrows,
// so that a bend does not widen the slant's interval.
func (v *WalkBackVerdict) bend(x, y, rel []float64, line fit, near, far float64) (scatter, nu float64) {
	scatter, nu = math.Sqrt(line.rss/float64(line.df)), float64(line.df)
	curve, ok := leastSquares(powers(x, 2), y, rel)
	if !ok || curve.df < 2 {
		return scatter, nu
	}
	scatter, nu = math.Sqrt(curve.rss/float64(curve.df)), float64(curve.df)
	// A parabola over near … far departs from its chord by −c (far−near)²/4.
	c, se := curve.at([]float64{0, 0, 1})
	depth := (far - near) * (far - near) / 4
	v.Bend = around(unit.Length(-c*depth), unit.Length(quantileT(nu, 0.5+Confidence/2)*scatter*se*depth))
	v.PBend = chanceOf(c, scatter*se, nu)
	return scatter, nu
}

func (v *WalkBackVerdict) judge(tolerance unit.Angle) {
	switch {
	case v.PBend < 0.01:
		v.Outcome = Curved
	case !v.Slant.Holds(0):
		v.Outcome = Slanted
	case max(v.Slant.High, -v.Slant.Low) <= tolerance:
		v.Outcome = Upright
	default:
		v.Outcome = NotYet
	}
	if v.Outcome == Slanted || v.Outcome == Curved {
		v.Separate = []string{"centre_shot", "button", "sight_pin", "cant"}
		v.AskFirst = []string{"cant", "wind"}
	}
	if v.Outcome == Slanted {
		v.Next = "bare_shaft"
	}
}

func (v *WalkBackVerdict) explain(tolerance unit.Angle) {
	v.Assumptions = []string{
		"one aim at every distance, bow held upright, no change in between",
		"arrows scatter by an angle: twice as far, twice as wide",
	}
	per := func(a unit.Angle) float64 { return 1000 * float64(a) } // cm in 10 m
	size := fmt.Sprintf("%.1f cm in 10 m (%.1f to %.1f, + is right)", per(v.Slant.Value), per(v.Slant.Low), per(v.Slant.High))
	switch v.Outcome {
	case Upright:
		v.Text = "The line is straight and upright within its doubt: nothing to do. Slant " + size + "."
	case Slanted:
		v.Text = "The line slants: " + size + ". Centre shot, button, sight pin or a canted bow can all do that, and a walk-back cannot tell them apart: check cant and wind first, then shoot a bare-shaft test."
	case Curved:
		v.Text = fmt.Sprintf("The line bends by %.1f cm (%.1f to %.1f): perhaps a crosswind. Slant %s.", v.Bend.Value.Centimetres(), v.Bend.Low.Centimetres(), v.Bend.High.Centimetres(), size)
	default:
		v.Text = fmt.Sprintf("Cannot tell yet: slant %s, and a slant worth a change (%.1f cm in 10 m) is not excluded. More arrows at the longest distances.", size, per(tolerance))
		v.WouldChange = append(v.WouldChange, "two more arrows at each distance")
	}
	if v.Distances == 3 {
		v.Warnings = append(v.Warnings, "three distances show a bend only if it is large; five are better")
	}
	v.WouldChange = append(v.WouldChange, "a wind from the side; a level on the bow")
}
