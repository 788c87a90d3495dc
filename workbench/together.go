package workbench

import (
	"context"
	"math"

	"tautline/arrow"
	"tautline/flight"
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

// Side is one of two set-ups, with the bow fitted to its readings where there is
// one; without, every bow that agrees with the settings stands behind it.
type Side struct {
	Settings notebook.Settings
	Fit      *FittedBow
	Hand     arrow.Hand // the archer draws with; of two bows it may be two
}

// shows shoots the set-up on the plausible bows.
func (s Side) shows(ctx context.Context, distances ...unit.Length) (Shows, error) {
	if s.Fit == nil {
		return Probe(ctx, s.Settings, s.Hand, distances...)
	}
	return s.Fit.shows(ctx, s.Settings, Members, distances)
}

// fittedKinds are the quantities that a fit tells with the model's own error; what
// it has no word for keeps the spread of its plausible bows.
func fittedKinds(of []Quantity) (out []Quantity) {
	for _, q := range of {
		if q.Kind != OfBend && q.Kind != OfUp {
			out = append(out, q)
		}
	}
	return out
}

// sharpened are the values that the side's fit gives, by quantity.
func (s Side) sharpened(ctx context.Context, of []Quantity) (map[Quantity]Estimate[float64], error) {
	out := map[Quantity]Estimate[float64]{}
	of = fittedKinds(of)
	if s.Fit == nil || len(of) == 0 {
		return out, nil
	}
	told, err := s.Fit.Predict(ctx, s.Settings, of)
	for i, e := range told {
		out[of[i]] = Estimate[float64]{e.Value, e.Low, e.High}
	}
	return out, err
}

// sideBySide are the quantities shown of two set-ups.
var sideBySide = []Quantity{
	{Kind: OfSpeed}, {Kind: OfDrawWeight}, {Kind: OfTime}, {Kind: OfLeftBehind}, {Kind: OfBend}, at(OfBare, 18), at(OfBare, 30), at(OfRight, 70),
}

// markDistances are where sight marks are compared.
var markDistances = []unit.Length{18, 30, 50, 70}

// Compare puts two set-ups side by side; paired says that they are of one bow.
func Compare(ctx context.Context, a, b Side, paired bool) (Together, error) {
	out := Together{Paired: paired}
	var err error
	if out.Differences, err = notebook.Diff(a.Settings, b.Settings); err != nil {
		return out, err
	}
	first, err := a.shows(ctx, markDistances...)
	if err != nil {
		return out, err
	}
	second, err := b.shows(ctx, markDistances...)
	if err != nil {
		return out, err
	}
	if err := out.rows(ctx, a, b, first, second); err != nil {
		return out, err
	}
	out.marks(first, second, sightBeside(b.Settings, a.Settings, false), sightBeside(a.Settings, b.Settings, false))
	out.notes(a.Settings, b.Settings, first, second)
	if a.Hand != b.Hand {
		out.Notes = append(out.Notes, "One of the two is shot left-handed and the other right-handed: what is weak for the one lands where what is stiff lands for the other, so compare nothing sideways.")
	}
	return out, nil
}

// rows are the quantities that both show. A fit's own intervals, with the
// model's error, take the place of the plausible bows' spread.
func (t *Together) rows(ctx context.Context, a, b Side, first, second Shows) error {
	var both []Quantity
	for _, q := range sideBySide {
		x, ok1 := first.Value(q)
		y, ok2 := second.Value(q)
		if !ok1 || !ok2 {
			continue
		}
		row := TogetherRow{Of: q, First: x, Second: y, Apart: apart(x, y)}
		if d, ok := first.Change(second, q); t.Paired && ok {
			row.Apart = d
		}
		t.Rows, both = append(t.Rows, row), append(both, q)
	}
	x, err := a.sharpened(ctx, both)
	if err != nil {
		return err
	}
	y, err := b.sharpened(ctx, both)
	if err != nil {
		return err
	}
	z, err := t.changes(ctx, a, b, both)
	if err != nil {
		return err
	}
	for i := range t.Rows {
		t.Rows[i].sharpen(x, y, z, t.Paired)
	}
	return nil
}

// changes are what one fit says of the difference between its own set-ups.
func (t *Together) changes(ctx context.Context, a, b Side, of []Quantity) (map[Quantity]Estimate[float64], error) {
	out := map[Quantity]Estimate[float64]{}
	of = fittedKinds(of)
	if !t.Paired || a.Fit == nil || a.Fit != b.Fit || len(of) == 0 {
		return out, nil
	}
	shift, err := a.Fit.Change(ctx, a.Settings, b.Settings, of)
	for i, e := range shift.Change {
		out[of[i]] = Estimate[float64]{e.Value, e.Low, e.High}
	}
	return out, err
}

// sharpen puts what the fits say in the place of the plausible bows.
func (r *TogetherRow) sharpen(first, second, apartBy map[Quantity]Estimate[float64], paired bool) {
	x, fitted1 := first[r.Of]
	y, fitted2 := second[r.Of]
	if fitted1 {
		r.First = x
	}
	if fitted2 {
		r.Second = y
	}
	if !paired && (fitted1 || fitted2) {
		r.Apart = apart(r.First, r.Second)
	}
	if d, ok := apartBy[r.Of]; ok {
		r.Apart = d
	}
}

// apart is the difference of two estimates that share nothing.
func apart(a, b Estimate[float64]) Estimate[float64] {
	d := b.Value - a.Value
	return Estimate[float64]{d, d - math.Hypot(b.Value-b.Low, a.High-a.Value), d + math.Hypot(b.High-b.Value, a.Value-a.Low)}
}

// marks are how far the pin moves from the first set-up's sight to the
// second's, bow by bow where both are of one bow.
func (t *Together) marks(first, second Shows, from, to flight.Sight) {
	for _, d := range markDistances {
		q := at(QMark, d)
		one, two := first.pins(d, from), second.pins(d, to)
		x, ok1 := one.Value(q)
		y, ok2 := two.Value(q)
		if !ok1 || !ok2 {
			continue
		}
		moves := apart(x, y)
		if c, ok := one.Change(two, q); t.Paired && ok {
			moves = c
		}
		t.Marks = append(t.Marks, TogetherMark{d, moves})
	}
}

// pins are how far below the eye's height over the nock the pin of a sight
// stands that hits, R tan δ (eq. 9 of docs/theory/flight.md): shots that arrive
// lower need the bow higher, the pin further down.
func (s Shows) pins(d unit.Length, sight flight.Sight) Shows {
	out := Shows{of: map[Quantity][]float64{}, ok: s.ok}
	for _, up := range s.of[at(OfUp, d)] {
		delta := (float64(sight.EyeAboveNock) - up) / float64(d)
		out.of[at(QMark, d)] = append(out.of[at(QMark, d)], float64(sight.Reach)*math.Tan(delta))
	}
	return out
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
