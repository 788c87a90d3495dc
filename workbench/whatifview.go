package workbench

import (
	"context"
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// Compared is one quantity before and after the moves. Change is taken set-up
// by set-up, so that what all plausible ones share cancels: it is better known
// than either.
type Compared[T ~float64] struct{ Now, After, Change Estimate[T] }

// AtDistance is what the target shows at one distance, right and up as seen
// from the shooting line.
type AtDistance struct {
	Distance unit.Length
	// Right is the fletched arrow from the string plane's line; not to be
	// trusted before anything was fitted. Its Change is.
	Right Compared[unit.Length]
	// Up is the fletched arrow's height with the sight left as it was. It sees
	// speed, mass and drag; string, limbs and nocking point in the vertical
	// plane are left out.
	Up Compared[unit.Length]
	// Bare is the bare shaft less the fletched arrow; NaN beyond BareReach.
	Bare  Compared[unit.Length]
	Speed Compared[unit.Speed]
	Drift Compared[unit.Length] // per m/s of crosswind
}

// WhatIf is what moves do, compared with the set-up as it is.
type WhatIf struct {
	At []AtDistance

	DrawWeight   Compared[unit.Force]
	Speed        Compared[unit.Speed] // as the arrow leaves
	TimeOnString Compared[unit.Duration]
	ContactEnd   Compared[unit.Duration] // last touch of the button
	TailGap      Compared[unit.Length]   // shaft's tail past the button
	VaneGap      Compared[unit.Length]   // vanes past the riser; NaN where it is not known
	YawRate      Compared[float64]       // rad/s as it flies off, positive: point turns right
	ThrustRatio  Compared[float64]       // peak thrust over the shaft's buckling load

	Before, After         Told
	WalkBefore, WalkAfter WalkBack
	// Bows is the number of plausible set-ups behind the intervals; 0 for a
	// quick look at the middle one, whose estimates have no interval to give.
	Bows  int
	Notes []string
}

// Told is what the bare shaft may be read as, and whether it may be read.
type Told struct {
	Window  arrow.Window
	InShare float64 // of the plausible set-ups in the window
	Reads   Tuning
	Reason  string
}

// mostDistances bounds what one question computes.
const mostDistances = 8

// Quick looks at the middle set-up only. It takes some 10 ms.
func (t *TargetModel) Quick(m Moves, distances []unit.Length) (WhatIf, error) {
	return t.ask(context.Background(), m, distances, 1)
}

// Ask shoots every plausible set-up, before and after. It takes about 300 ms
// on one core, half of that when the distances were asked before; ctx stops
// it.
func (t *TargetModel) Ask(ctx context.Context, m Moves, distances []unit.Length) (WhatIf, error) {
	return t.ask(ctx, m, distances, len(t.bow.members))
}

func (t *TargetModel) ask(ctx context.Context, m Moves, distances []unit.Length, n int) (WhatIf, error) {
	if err := checkDistances(distances); err != nil {
		return WhatIf{}, err
	}
	after, err := t.move(m)
	if err != nil {
		return WhatIf{}, err
	}
	before, err := t.asItIs(ctx, distances, n)
	if err != nil {
		return WhatIf{}, err
	}
	strikes := make([]strike, n)
	err = each(ctx, n, func(j int) {
		if before[j].err == nil {
			strikes[j] = t.shoot(j, after, distances, before[j].at)
		}
	})
	if err != nil {
		return WhatIf{}, err
	}
	if strikes[0].err != nil {
		return WhatIf{}, refusedMove(strikes[0].err)
	}
	return t.compare(distances, before, strikes), nil
}

// checkDistances names a distance that cannot be asked.
func checkDistances(distances []unit.Length) error {
	var problems notebook.Problems
	if len(distances) == 0 || len(distances) > mostDistances {
		return notebook.Problems{{Code: notebook.Invalid, Field: "/distances", Message: fmt.Sprintf("%d distances", len(distances)), Hint: fmt.Sprintf("1 to %d, like 18 m and 70 m", mostDistances)}}
	}
	for i, d := range distances {
		if !unit.Distance.Holds(d) {
			problems = append(problems, notebook.Error{
				Code: notebook.Invalid, Field: fmt.Sprintf("/distances/%d", i), Hint: "a distance like 30 m",
				Message: fmt.Sprintf("%.4g m is outside %.0f to %.0f m", float64(d), float64(unit.Distance.Low), float64(unit.Distance.High)),
			})
		}
	}
	return problems.OrNil()
}

// asItIs shoots the first n plausible set-ups without moves, or remembers.
func (t *TargetModel) asItIs(ctx context.Context, distances []unit.Length, n int) ([]strike, error) {
	key := fmt.Sprint(distances)
	t.mu.Lock()
	held := t.before[key]
	t.mu.Unlock()
	if len(held) >= n {
		return held[:n], nil
	}
	still, err := t.move(Moves{})
	if err != nil {
		return nil, err
	}
	strikes := make([]strike, n)
	if err := each(ctx, n, func(j int) { strikes[j] = t.shoot(j, still, distances, nil) }); err != nil {
		return nil, err
	}
	if strikes[0].err != nil {
		return nil, understand(strikes[0].err)
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.before) >= mostSolved {
		clear(t.before)
	}
	if len(t.before[key]) < n {
		t.before[key] = strikes
	}
	return strikes, nil
}

// pairs are the plausible set-ups that could be shot before and after; the
// middle one stands apart.
type pairs struct{ first, second []strike }

// compare gathers what the strikes show.
func (t *TargetModel) compare(distances []unit.Length, before, after []strike) WhatIf {
	p := pairs{before[:1:1], after[:1:1]}
	for j := 1; j < len(before); j++ {
		if before[j].err == nil && after[j].err == nil {
			p.first, p.second = append(p.first, before[j]), append(p.second, after[j])
		}
	}
	out := WhatIf{
		DrawWeight:   pairOf[unit.Force](p, func(s *strike) float64 { return s.weight }),
		Speed:        pairOf[unit.Speed](p, func(s *strike) float64 { return float64(s.shot.Speed) }),
		TimeOnString: pairOf[unit.Duration](p, func(s *strike) float64 { return float64(s.shot.TimeOnString) }),
		ContactEnd:   pairOf[unit.Duration](p, func(s *strike) float64 { return float64(s.shot.LastContact) }),
		TailGap:      pairOf[unit.Length](p, func(s *strike) float64 { return float64(s.shot.TailGap) }),
		VaneGap:      pairOf[unit.Length](p, vaneGap),
		YawRate:      pairOf[float64](p, func(s *strike) float64 { return s.shot.Clear.YawRate }),
		ThrustRatio:  pairOf[float64](p, func(s *strike) float64 { return s.shot.ThrustRatio }),
		Bows:         len(p.first) - 1, Notes: t.Notes(),
	}
	for i, d := range distances {
		at := func(of func(l *landing) float64) func(*strike) float64 {
			return func(s *strike) float64 { return of(&s.at[i]) }
		}
		out.At = append(out.At, AtDistance{
			Distance: d,
			Right:    pairOf[unit.Length](p, at(func(l *landing) float64 { return l.right })),
			Up:       pairOf[unit.Length](p, at(func(l *landing) float64 { return l.up })),
			Bare:     pairOf[unit.Length](p, at(func(l *landing) float64 { return l.bare })),
			Speed:    pairOf[unit.Speed](p, at(func(l *landing) float64 { return l.speed })),
			Drift:    pairOf[unit.Length](p, at(func(l *landing) float64 { return l.drift })),
		})
	}
	now, then := out.furthestBare()
	out.Before, out.After = tellingOf(p.first, now, t.side.Setup.Hand), tellingOf(p.second, then, t.side.Setup.Hand)
	out.WalkBefore, out.WalkAfter = walkOf(p.first), walkOf(p.second)
	return out
}

// walkOf is the walk-back line of the middle set-up, with the others' span.
func walkOf(all []strike) WalkBack {
	holes := make([]hole, len(all))
	for i := range all {
		holes[i].walk = all[i].walk
	}
	return walkBack(holes[0], holes[1:])
}

func vaneGap(s *strike) float64 {
	if !s.shot.HasVaneGap {
		return math.NaN()
	}
	return float64(s.shot.VaneRiserGap)
}

// furthestBare is the bare shaft at the longest distance at which it is shot.
func (w *WhatIf) furthestBare() (now, after Estimate[unit.Length]) {
	best := unit.Length(0)
	for _, a := range w.At {
		if a.Distance <= BareReach && a.Distance > best {
			best, now, after = a.Distance, a.Bare.Now, a.Bare.After
		}
	}
	return now, after
}

// tellingOf judges the middle set-up and counts the others.
func tellingOf(all []strike, bare Estimate[unit.Length], hand arrow.Hand) Told {
	out := Told{Window: all[0].window, InShare: 1}
	if len(all) > 1 {
		in := 0
		for _, s := range all[1:] {
			if s.window.In {
				in++
			}
		}
		out.InShare = float64(in) / float64(len(all)-1)
	}
	out.Reads, out.Reason = Impact{Window: out.Window, InShare: out.InShare, Bare30: bare}.Tuning(hand)
	return out
}

func pairOf[T ~float64](p pairs, of func(*strike) float64) Compared[T] {
	n := len(p.first)
	now, after, change := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		now[i], after[i] = of(&p.first[i]), of(&p.second[i])
		change[i] = after[i] - now[i]
	}
	return Compared[T]{estimate(T(now[0]), now[1:]), estimate(T(after[0]), after[1:]), estimate(T(change[0]), change[1:])}
}
