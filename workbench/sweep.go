package workbench

import (
	"context"
	"fmt"

	"tautline/unit"
)

// Stop is what the model says of the bow at one brace height. Every Estimate
// holds 90 % of the plausible bows.
type Stop struct {
	BraceHeight unit.Length

	DrawWeight   Estimate[unit.Force]    // at the archer's draw length
	StoredEnergy Estimate[unit.Energy]   // from brace to full draw
	StringLength Estimate[unit.Length]   // whole string, unstretched, twisted as it is
	BraceTension Estimate[unit.Force]    // in the string at rest
	Speed        Estimate[unit.Speed]    // of the arrow as it leaves
	Efficiency   Estimate[float64]       // arrow energy over stored energy
	TimeOnString Estimate[unit.Duration] // from release to separation
	// PastBrace is the nock's place at separation less the brace height,
	// negative beyond it; good to ±5 mm on top of the interval.
	PastBrace Estimate[unit.Length]
	// LeftBehind is the energy left in limbs and string at separation.
	LeftBehind Estimate[unit.Energy]

	// Audit is the worst share of stored energy that any of the shots behind
	// this stop gained or lost by integration.
	Audit float64
}

// Change is the difference of one stop from the one it is compared with, bow
// by bow, so that what all bows share cancels.
type Change struct {
	DrawWeight   Estimate[unit.Force]
	StoredEnergy Estimate[unit.Energy]
	StringLength Estimate[unit.Length]
	Speed        Estimate[unit.Speed]
	TimeOnString Estimate[unit.Duration]
	LeftBehind   Estimate[unit.Energy]
}

// Sweep is a walk through brace heights.
type Sweep struct {
	Stops []Stop
	// Changes compare each stop with the one at From.
	Changes []Change
	From    int
	Bows    int // plausible bows behind the intervals
	Notes   []string
}

// Sweep predicts every height, and the changes against the height nearest to
// from. progress may be nil.
func (b *BowModel) Sweep(ctx context.Context, heights []unit.Length, from unit.Length, progress func(float64)) (Sweep, error) {
	if len(heights) == 0 {
		return Sweep{}, fmt.Errorf("no brace height was asked for")
	}
	all, err := b.all(ctx, heights, progress)
	if err != nil {
		return Sweep{}, err
	}
	keep, err := usable(all, heights)
	if err != nil {
		return Sweep{}, err
	}
	out := Sweep{From: nearest(heights, from), Bows: len(keep), Notes: b.notes()}
	for i, h := range heights {
		out.Stops = append(out.Stops, stop(h, all[i], keep))
		out.Changes = append(out.Changes, change(all[out.From], all[i], keep))
	}
	return out, nil
}

// Predict is a sweep of one height.
func (b *BowModel) Predict(ctx context.Context, height unit.Length) (Stop, error) {
	s, err := b.Sweep(ctx, []unit.Length{height}, height, nil)
	if err != nil {
		return Stop{}, err
	}
	return s.Stops[0], nil
}

func (b *BowModel) notes() []string {
	out := append([]string{}, b.Fit.Notes...)
	return append(out, b.in.Assumed...)
}

func nearest(heights []unit.Length, to unit.Length) (best int) {
	for i, h := range heights {
		if abs(h-to) < abs(heights[best]-to) {
			best = i
		}
	}
	return best
}

func abs[T ~float64](x T) T { return max(x, -x) }

// over collects one number of each kept bow.
func over(row []outcome, keep []int, of func(outcome) float64) []float64 {
	out := make([]float64, len(keep))
	for i, j := range keep {
		out[i] = of(row[j])
	}
	return out
}

// quantities reads one outcome.
var (
	drawWeight   = func(o outcome) float64 { return float64(o.curve.DrawWeight()) }
	stored       = func(o outcome) float64 { return float64(o.curve.Stored) }
	stringLength = func(o outcome) float64 { return 2 * float64(o.brace.HalfRest) }
	braceTension = func(o outcome) float64 { return float64(o.brace.Tension) }
	speed        = func(o outcome) float64 { return float64(o.shot.Speed) }
	efficiency   = func(o outcome) float64 { return o.shot.Efficiency }
	timeOnString = func(o outcome) float64 { return float64(o.shot.TimeOnString) }
	pastBrace    = func(o outcome) float64 { return float64(o.shot.PastBrace) }
	leftBehind   = func(o outcome) float64 { return float64(o.shot.Residual) }
)

func spread[T ~float64](row []outcome, keep []int, of func(outcome) float64) Estimate[T] {
	return estimate(T(of(row[0])), over(row, keep, of))
}

func stop(h unit.Length, row []outcome, keep []int) Stop {
	s := Stop{
		BraceHeight:  h,
		DrawWeight:   spread[unit.Force](row, keep, drawWeight),
		StoredEnergy: spread[unit.Energy](row, keep, stored),
		StringLength: spread[unit.Length](row, keep, stringLength),
		BraceTension: spread[unit.Force](row, keep, braceTension),
		Speed:        spread[unit.Speed](row, keep, speed),
		Efficiency:   spread[float64](row, keep, efficiency),
		TimeOnString: spread[unit.Duration](row, keep, timeOnString),
		PastBrace:    spread[unit.Length](row, keep, pastBrace),
		LeftBehind:   spread[unit.Energy](row, keep, leftBehind),
		Audit:        row[0].shot.Audit,
	}
	for _, j := range keep {
		s.Audit = max(s.Audit, row[j].shot.Audit)
	}
	return s
}

// difference compares two rows bow by bow.
func difference[T ~float64](a, b []outcome, keep []int, of func(outcome) float64) Estimate[T] {
	d := make([]float64, len(keep))
	for i, j := range keep {
		d[i] = of(b[j]) - of(a[j])
	}
	return estimate(T(of(b[0])-of(a[0])), d)
}

func change(a, b []outcome, keep []int) Change {
	return Change{
		DrawWeight:   difference[unit.Force](a, b, keep, drawWeight),
		StoredEnergy: difference[unit.Energy](a, b, keep, stored),
		StringLength: difference[unit.Length](a, b, keep, stringLength),
		Speed:        difference[unit.Speed](a, b, keep, speed),
		TimeOnString: difference[unit.Duration](a, b, keep, timeOnString),
		LeftBehind:   difference[unit.Energy](a, b, keep, leftBehind),
	}
}
