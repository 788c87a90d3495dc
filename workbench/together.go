package workbench

import (
	"context"
	"math"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// Together is two set-ups side by side.
type Together struct {
	Differences []notebook.Difference
	Rows        []TogetherRow
	// Marks are how far a sight mark moves from the first to the second, m on
	// the sight, by distance; up on the scale's own sense is not known, so the
	// sign is the pin's: positive, the pin goes down.
	Marks []TogetherMark
	// Paired: both are one bow, so that what both share cancels in the
	// differences. Two bows are not, and their doubts add.
	Paired bool
	Notes  []string
}

// TogetherRow is one quantity of both.
type TogetherRow struct {
	Of                   Quantity
	First, Second, Apart Estimate[float64]
}

// TogetherMark is one distance.
type TogetherMark struct {
	Distance unit.Length
	Moves    Estimate[float64]
}

// sideBySide are the quantities shown of two set-ups.
var sideBySide = []Quantity{
	{Kind: OfSpeed}, {Kind: OfDrawWeight}, {Kind: OfTime}, {Kind: OfLeftBehind}, {Kind: OfBend}, at(OfBare, 18), at(OfBare, 30), at(OfRight, 70),
}

// markDistances are where sight marks are compared.
var markDistances = []unit.Length{18, 30, 50, 70}

// Compare puts two set-ups side by side; paired says that they are of one bow.
func Compare(ctx context.Context, a, b notebook.Settings, paired bool, hand arrow.Hand) (Together, error) {
	out := Together{Paired: paired}
	var err error
	if out.Differences, err = notebook.Diff(a, b); err != nil {
		return out, err
	}
	first, err := Probe(ctx, a, hand, markDistances...)
	if err != nil {
		return out, err
	}
	second, err := Probe(ctx, b, hand, markDistances...)
	if err != nil {
		return out, err
	}
	for _, q := range sideBySide {
		x, ok1 := first.Value(q)
		y, ok2 := second.Value(q)
		if !ok1 || !ok2 {
			continue
		}
		row := TogetherRow{Of: q, First: x, Second: y, Apart: apart(x, y)}
		if d, ok := first.Change(second, q); paired && ok {
			row.Apart = d
		}
		out.Rows = append(out.Rows, row)
	}
	out.marks(first, second, reachOf(a))
	out.notes(a, b, first, second)
	return out, nil
}

// apart is the difference of two estimates that share nothing.
func apart(a, b Estimate[float64]) Estimate[float64] {
	d := b.Value - a.Value
	return Estimate[float64]{d, d - math.Hypot(b.Value-b.Low, a.High-a.Value), d + math.Hypot(b.High-b.Value, a.Value-a.Low)}
}

// reachOf is how far the pin stands from the eye.
func reachOf(s notebook.Settings) float64 {
	sight, _ := sightOf(s, false)
	return float64(sight.Reach)
}

func (t *Together) marks(first, second Shows, reach float64) {
	for _, d := range markDistances {
		q := at(OfUp, d)
		x, ok1 := first.Value(q)
		y, ok2 := second.Value(q)
		if !ok1 || !ok2 {
			continue
		}
		up := apart(x, y)
		if c, ok := first.Change(second, q); t.Paired && ok {
			up = c
		}
		// shots that arrive lower need the bow higher, the pin further down
		k := -reach / float64(d)
		t.Marks = append(t.Marks, TogetherMark{d, Estimate[float64]{k * up.Value, k * up.High, k * up.Low}})
	}
}

func (t *Together) notes(a, b notebook.Settings, first, second Shows) {
	if a.Arrow.Spine.IsZero() || b.Arrow.Spine.IsZero() {
		t.Notes = append(t.Notes, "What the target shows needs the static spine of both arrows.")
	} else if _, ok := first.Change(second, at(OfBare, 30)); !ok {
		t.Notes = append(t.Notes, "One of the two is outside the window in which a bare shaft tells stiff from weak: nothing is said sideways.")
	}
	if !t.Paired {
		t.Notes = append(t.Notes, "Two bows share nothing in the model, so their doubts add; readings on both narrow them.")
	}
	t.Notes = append(t.Notes, "Nocking point and tiller are compared as set; the model does not follow them in height yet.")
}
