package workbench

import (
	"fmt"
	"math"

	"tautline/flight"
	"tautline/trial"
	"tautline/unit"
)

// walkDistances are those of a walk-back, m.
var walkDistances = [...]unit.Length{10, 20, 30, 40, 50, 60}

// Bounds of what a walk-back shows: a slant worth a change, 1 cm in 10 m, as
// for a shot one (trial.DecideWalkBack), and a departure from straight that a
// good group at 50 m would show (common practice, no source).
const (
	worthSlant = 1e-3
	worthBend  = 0.015
)

// WalkBack is the line that fletched arrows make on the faces of a walk-back:
// one aim, many distances. Right is from the string plane's line, right as
// seen from the shooting line.
type WalkBack struct {
	Points []WalkPoint `json:"points"`
	// Slant is of the straight line through the archer, in radians: 1 mrad is
	// 1 cm in 10 m. Bend is the line's greatest departure from straight between
	// the ends.
	Slant    float64         `json:"slant_right_rad"`
	Bend     float64         `json:"bend_right_m"`
	Interval map[string]Span `json:"interval_90"`
	// Shape is upright, slanted or curved; Text says it, and what a walk-back
	// cannot separate stands in CannotSeparate.
	Shape          trial.WalkBackOutcome `json:"shape"`
	Text           string                `json:"text"`
	CannotSeparate []string              `json:"cannot_separate"`
}

// WalkPoint is one distance of the line.
type WalkPoint struct {
	Distance float64 `json:"distance_m"`
	Right    float64 `json:"right_m"`
	Interval Span    `json:"interval_90_m"`
}

// notSeparated are the causes of a slanted line (docs/theory/arrow.md): in the
// model centre shot and button both leave the line straight, and a sight pin
// off to the side or a canted bow do the same by geometry.
var notSeparated = []string{"centre shot", "button", "a sight pin off to the side", "a canted bow"}

// walk is one shot's line.
type walk [len(walkDistances)]float64

// walk flies the fletched arrow once and reads its way off at every distance.
func (f flyers) walk(l flight.Launch) (w walk, err error) {
	for i, d := range walkDistances {
		hit, err := f.fletched.Fly(l, flight.Wind{}, d)
		if err != nil {
			return w, err
		}
		w[i] = float64(hit.Right)
	}
	return w, nil
}

// slant is the least-squares line's slope.
func (w walk) slant() float64 {
	slope, _ := w.line()
	return slope
}

// line is fitted with equal weights: the points carry no scatter.
func (w walk) line() (slope, offset float64) {
	n, sx, sy, sxx, sxy := float64(len(w)), 0.0, 0.0, 0.0, 0.0
	for i, d := range walkDistances {
		x := float64(d)
		sx, sy, sxx, sxy = sx+x, sy+w[i], sxx+x*x, sxy+x*w[i]
	}
	slope = (n*sxy - sx*sy) / (n*sxx - sx*sx)
	return slope, (sy - slope*sx) / n
}

// bend is the greatest departure from the line through both ends, with its
// sign.
func (w walk) bend() (most float64) {
	last := len(w) - 1
	near, far := float64(walkDistances[0]), float64(walkDistances[last])
	for i, d := range walkDistances {
		off := w[i] - w[0] - (w[last]-w[0])*(float64(d)-near)/(far-near)
		if math.Abs(off) > math.Abs(most) {
			most = off
		}
	}
	return most
}

// walkBack gathers the line over the plausible set-ups.
func walkBack(best hole, good []hole) WalkBack {
	out := WalkBack{Slant: best.walk.slant(), Bend: best.walk.bend(), CannotSeparate: []string{}}
	for i, d := range walkDistances {
		e := gather[unit.Length](best, good, func(h hole) float64 { return h.walk[i] })
		out.Points = append(out.Points, WalkPoint{float64(d), float64(e.Value), span(e)})
	}
	out.Interval = map[string]Span{
		"slant_right_rad": span(gather[unit.Angle](best, good, func(h hole) float64 { return h.walk.slant() })),
		"bend_right_m":    span(gather[unit.Length](best, good, func(h hole) float64 { return h.walk.bend() })),
	}
	out.judge()
	return out
}

// judge puts the shape into words.
func (w *WalkBack) judge() {
	size := fmt.Sprintf("%.1f cm in 10 m to the %s", math.Abs(1000*w.Slant), leftRight(w.Slant))
	switch {
	case math.Abs(w.Bend) > worthBend:
		w.Shape = trial.Curved
		w.Text = fmt.Sprintf("The line bends by %.1f cm between 10 and 60 m and slants by %s.", 100*math.Abs(w.Bend), size)
	case math.Abs(w.Slant) > worthSlant:
		w.Shape = trial.Slanted
		w.Text = "The line is straight and slants by " + size + "."
	default:
		w.Shape = trial.Upright
		w.Text = "The line is straight and upright within 1 cm in 10 m."
	}
	if w.Shape != trial.Upright {
		w.CannotSeparate = notSeparated
		w.Text += " A walk-back cannot tell centre shot, button, a sight pin off to the side and a canted bow apart."
	}
	w.Text += " How much it slants is the model's guess until your own arrows set its zero; how a change turns it can be trusted more."
}

func leftRight(right float64) string {
	if right < 0 {
		return "left"
	}
	return "right"
}
