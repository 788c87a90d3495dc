package workbench

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"tautline/notebook"
	"tautline/unit"
)

// Transfer is how a spare bow is brought to shoot like the first: a ready-made
// change of the spare, what it would then show, and what cannot be matched.
type Transfer struct {
	Settings notebook.Settings // of the spare, changed
	Changes  []notebook.Difference
	Before   Together // first bow against the spare as it is
	After    Together // first bow against the spare as changed
	// Unmatched says what stays apart, and what could still be done.
	Unmatched []string
	Notes     []string
}

// dial is what is turned on the spare, within its bounds.
type dial struct {
	key       string
	low, high float64
	usual     float64 // how far one gladly turns it, a weak pull to where it is
	round     float64
}

// aim is a quantity to be matched, and how closely an archer notices.
type aim struct {
	of    Quantity
	close float64
}

var aims = []aim{{Quantity{Kind: OfSpeed}, 0.2}, {at(OfBare, 30), 0.02}, {at(OfRight, 70), 0.05}}

// Match finds the changes of the spare that bring its launch state closest to
// the first bow's, both shooting the first bow's arrows: brace height inside
// the limb maker's range, button and centre shot, by Gauss–Newton on the best
// bow of each with a weak pull to where the spare is. Nocking point and tiller
// are copied, since the model does not follow them.
func Match(ctx context.Context, first, spare Side) (Transfer, error) {
	var out Transfer
	if first.Hand != spare.Hand {
		return out, &notebook.Error{Code: notebook.Invalid, Field: "/spare", Message: "one of the two bows is shot left-handed and the other right-handed: a tune is not carried from the one to the other", Hint: "choose a spare that the same hand draws"}
	}
	spare.Settings.Arrow = first.Settings.Arrow
	var err error
	if out.Before, err = Compare(ctx, first, spare, false); err != nil {
		return out, err
	}
	want, err := bestShows(ctx, first)
	if err != nil {
		return out, err
	}
	found, err := search(ctx, want, spare)
	if err != nil {
		return out, err
	}
	found.NockingPoint, found.Tiller = first.Settings.NockingPoint, first.Settings.Tiller
	if first.Settings.NockingPoint.Value.IsZero() {
		found.NockingPoint = spare.Settings.NockingPoint
	}
	if first.Settings.Tiller.IsZero() {
		found.Tiller = spare.Settings.Tiller
	}
	out.Settings = found
	if out.Changes, err = notebook.Diff(spare.Settings, found); err != nil {
		return out, err
	}
	if out.After, err = Compare(ctx, first, Side{found, spare.Fit, spare.Hand}, false); err != nil {
		return out, err
	}
	out.unmatched()
	out.Notes = []string{
		"Both bows are taken to shoot the first bow's arrows.",
		"Nocking point and tiller are copied from the first bow: the model does not follow them. Set them, then shoot a bare shaft.",
	}
	if first.Fit == nil || spare.Fit == nil {
		out.Notes = append(out.Notes, "A bow that is not fitted is computed, not measured: a speed and a bare shaft from each say more than this page.")
	}
	return out, nil
}

// dialsOf are what can be turned on a bow.
func dialsOf(s notebook.Settings) []dial {
	now, _ := s.BraceHeight.ToPivot()
	low, high := float64(now)-0.01, float64(now)+0.01
	if r, ok := Range(s); ok {
		low, high = float64(r.Low-s.Riser.Offset.Value), float64(r.High-s.Riser.Offset.Value)
	}
	out := []dial{{"brace_height.value", low, high, 0.006, 0.0005}}
	if s.Button.Turns != nil {
		out = append(out, dial{"button.turns", 0, max(8, *s.Button.Turns), 1.5, 0.25})
	}
	if !s.CentreShot.IsZero() {
		out = append(out, dial{"centre_shot", 0, 0.004, 0.001, 0.0001})
	}
	return out
}

// search turns the dials.
func search(ctx context.Context, want map[Quantity]float64, spare Side) (notebook.Settings, error) {
	s := spare.Settings
	dials := dialsOf(s)
	home := make([]float64, len(dials))
	for i, k := range dials {
		m, _ := moverOf(k.key)
		home[i], _ = m.read(s)
	}
	at := append([]float64{}, home...)
	for range 4 {
		step, err := gaussNewton(ctx, want, spare, dials, home, at)
		if err != nil {
			return s, err
		}
		for i, k := range dials {
			at[i] = min(k.high, max(k.low, at[i]+step[i]))
		}
	}
	for i, k := range dials {
		at[i] = min(k.high, max(k.low, math.Round(at[i]/k.round)*k.round))
		if math.Abs(at[i]-home[i]) < k.round/2 {
			at[i] = home[i]
		}
	}
	return turned(s, dials, home, at), nil
}

// turned sets the dials that moved.
func turned(s notebook.Settings, dials []dial, home, at []float64) notebook.Settings {
	for i, k := range dials {
		if at[i] != home[i] {
			m, _ := moverOf(k.key)
			m.write(&s, math.Round(at[i]*1e6)/1e6)
		}
	}
	return s
}

// gaussNewton is one step: least squares of the misses, each in units of what
// an archer notices, and of the dials' way from home.
func gaussNewton(ctx context.Context, want map[Quantity]float64, spare Side, dials []dial, home, at []float64) ([]float64, error) {
	base, err := bestShows(ctx, Side{turned(spare.Settings, dials, home, at), spare.Fit, spare.Hand})
	if err != nil {
		return nil, err
	}
	var used []aim
	for _, a := range aims {
		if finiteIn(want, a.of) && finiteIn(base, a.of) {
			used = append(used, a)
		}
	}
	n := len(dials)
	j, r := mat.NewDense(len(used)+n, n, nil), mat.NewVecDense(len(used)+n, nil)
	for i, k := range dials {
		m, _ := moverOf(k.key)
		tried := append([]float64{}, at...)
		if tried[i] += m.step; tried[i] > k.high {
			tried[i] -= 2 * m.step
		}
		moved, err := bestShows(ctx, Side{turned(spare.Settings, dials, home, tried), spare.Fit, spare.Hand})
		if err != nil {
			return nil, err
		}
		for q, a := range used {
			if finiteIn(moved, a.of) {
				j.Set(q, i, (moved[a.of]-base[a.of])/(tried[i]-at[i])/a.close)
			}
		}
		j.Set(len(used)+i, i, 1/(6*k.usual)) // weak: a sixth of the weight of a clear miss
		r.SetVec(len(used)+i, (home[i]-at[i])/(6*k.usual))
	}
	for q, a := range used {
		r.SetVec(q, (want[a.of]-base[a.of])/a.close)
	}
	var step mat.VecDense
	if err := step.SolveVec(j, r); err != nil {
		return nil, fmt.Errorf("workbench: matching: %w", err)
	}
	return step.RawVector().Data, nil
}

func finiteIn(m map[Quantity]float64, q Quantity) bool {
	v, ok := m[q]
	return ok && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// bestShows is what the best bow alone shows: the fit's most probable one, or
// the scaled one.
func bestShows(ctx context.Context, side Side) (map[Quantity]float64, error) {
	s := side.Settings
	s.String.Length = notebook.Length{}
	if f := side.Fit; f != nil {
		sc, err := f.rig.scene(s)
		if err != nil {
			return nil, understand(err)
		}
		seen, err := f.rig.seenAt(f.u, sc, []unit.Length{30, 70})
		return seen, understand(err)
	}
	in, err := FromSettings(s)
	if err != nil {
		return nil, err
	}
	b, err := newBestModel(ctx, in)
	if err != nil {
		return nil, err
	}
	look, err := b.lookout(s, side.Hand, []unit.Length{30, 70})
	if err != nil {
		return nil, err
	}
	if seen := look(0); seen != nil {
		return seen, nil
	}
	return nil, understand(fmt.Errorf("this set-up cannot be braced or shot"))
}

// unmatched says what stays apart after the change.
func (t *Transfer) unmatched() {
	after := map[Quantity]TogetherRow{}
	for _, r := range t.After.Rows {
		after[r.Of] = r
	}
	for _, a := range aims {
		r, ok := after[a.of]
		if !ok || math.Abs(r.Apart.Value) <= a.close {
			continue
		}
		switch a.of.Kind {
		case OfSpeed:
			t.Unmatched = append(t.Unmatched, fmt.Sprintf("Speed stays %.1f m/s apart: brace height alone does not reach it. Limb bolts move draw weight (read it and the tiller again afterwards); other limbs or a string of another mass move it too. Until then the spare needs its own sight marks.", math.Abs(r.Apart.Value)))
		case OfBare:
			t.Unmatched = append(t.Unmatched, fmt.Sprintf("The bare shaft stays %.0f cm apart at 30 m: shoot the spare with a borrowed shaft of another spine before you buy any.", 100*math.Abs(r.Apart.Value)))
		case OfRight:
			t.Unmatched = append(t.Unmatched, fmt.Sprintf("The arrows land %.0f cm apart sideways at 70 m: the spare needs its own windage.", 100*math.Abs(r.Apart.Value)))
		}
	}
	if _, ok := after[at(OfBare, 30)]; !ok {
		t.Unmatched = append(t.Unmatched, "What the target shows sideways cannot be told for one of the two, so button and centre shot are left as they are.")
	}
}
