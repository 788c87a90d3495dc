package workbench

import (
	"context"
	"math"
	"slices"
	"testing"

	"tautline/notebook"
)

func row(t testing.TB, c Together, q Quantity) TogetherRow {
	t.Helper()
	at := slices.IndexFunc(c.Rows, func(r TogetherRow) bool { return r.Of == q })
	if at < 0 {
		t.Fatalf("no row for %v in %+v", q, c.Rows)
	}
	return c.Rows[at]
}

// A set-up beside itself differs in nothing, with no doubt when it is one bow.
func TestASetUpBesideItself(t *testing.T) {
	s := heron(t)
	c, err := Compare(context.Background(), Side{Settings: s}, Side{Settings: s}, true)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range c.Rows {
		if r.Apart != (Estimate[float64]{}) {
			t.Errorf("%v differs from itself by %+v", r.Of, r.Apart)
		}
	}
	if len(c.Differences) != 0 || len(c.Rows) < 8 || len(c.Marks) != len(markDistances) {
		t.Errorf("%d rows, %d marks", len(c.Rows), len(c.Marks))
	}
	two, err := Compare(context.Background(), Side{Settings: s}, Side{Settings: s}, false)
	if err != nil {
		t.Fatal(err)
	}
	if r := row(t, two, Quantity{Kind: OfSpeed}); r.Apart.Value != 0 || !(r.Apart.Low < 0 && r.Apart.High > 0) {
		t.Errorf("as two bows: %+v", r.Apart)
	}
}

// Sight marks against the parabola: without air a launch elevation for distance
// d is ½ asin(g d/v²); between two speeds it differs by −g d/v³ Δv to first
// order, and drag only adds to it. Distances here are counted from the pivot
// and the arrow starts up to 0.6 m ahead of it, 4 % of 18 m.
func TestMarksMoveAsTheParabolaSays(t *testing.T) {
	s := heron(t)
	slower := with(t, s, "brace_height", "236 mm")
	c, err := Compare(context.Background(), Side{Settings: s}, Side{Settings: slower}, true)
	if err != nil {
		t.Fatal(err)
	}
	v := row(t, c, Quantity{Kind: OfSpeed})
	for _, m := range c.Marks {
		d := float64(m.Distance)
		want := float64(usualReach) * 0.5 * (math.Asin(9.80665*d/(v.Second.Value*v.Second.Value)) - math.Asin(9.80665*d/(v.First.Value*v.First.Value)))
		if m.Moves.Value < 0.96*want || m.Moves.Value > 1.35*want+2e-4 {
			t.Errorf("%g m: %.2f mm, without air %.2f", d, 1e3*m.Moves.Value, 1e3*want)
		}
	}
}

// Two sights on one bow, 17 and 25 cm out: each has its own reach, so the pin of
// the second stands 80 mm · tan δ further down (eq. 9 of docs/theory/flight.md),
// by hand 8.4 mm at 70 m without air; at 18 m the arrow starts 4 % nearer. An extension noted of one alone is taken
// to be the other's too.
func TestMarksOfTwoExtensions(t *testing.T) {
	s := heron(t)
	further := with(t, s, "sight_extension", "25 cm")
	c, err := Compare(context.Background(), Side{Settings: s}, Side{Settings: further}, true)
	if err != nil {
		t.Fatal(err)
	}
	v := row(t, c, Quantity{Kind: OfSpeed}).First.Value
	for _, m := range c.Marks {
		want := 0.08 * math.Tan(parabolaAngle(float64(m.Distance), v))
		if m.Moves.Value < 0.94*want || m.Moves.Value > 1.10*want || m.Moves.High-m.Moves.Low > 2e-3 {
			t.Errorf("%g m: %.2f mm (%.2f to %.2f), without air %.2f", float64(m.Distance), 1e3*m.Moves.Value, 1e3*m.Moves.Low, 1e3*m.Moves.High, 1e3*want)
		}
	}
	unsaid := s
	unsaid.SightExt = notebook.Length{}
	if got := sightBeside(s, unsaid, false); got.Reach != sightBeside(unsaid, s, false).Reach {
		t.Errorf("an extension that was not noted puts the pin at %v", got.Reach)
	}
}

// A spare that is the same bow set otherwise comes back to the first: the
// launch states agree to what an archer notices, and nothing is left over.
func TestASpareOfTheSameMakeIsMatched(t *testing.T) {
	first := heron(t)
	spare := with(t, first, "brace_height", "232 mm", "button", "4", "nocking_point", "7 mm", "tiller", "5 mm")
	m, err := Match(context.Background(), Side{Settings: first}, Side{Settings: spare})
	if err != nil {
		t.Fatal(err)
	}
	before, after := row(t, m.Before, Quantity{Kind: OfSpeed}), row(t, m.After, Quantity{Kind: OfSpeed})
	if math.Abs(before.Apart.Value) < 0.3 || math.Abs(after.Apart.Value) > 0.2 || len(m.Unmatched) > 0 {
		t.Errorf("speed apart %.2f, then %.2f m/s; %v", before.Apart.Value, after.Apart.Value, m.Unmatched)
	}
	if bare := row(t, m.After, at(OfBare, 30)); math.Abs(bare.Apart.Value) > 0.02 {
		t.Errorf("bare shafts %.3f m apart", bare.Apart.Value)
	}
	brace, _ := m.Settings.BraceHeight.ToPivot()
	if math.Abs(brace.Millimetres()-224) > 3 || m.Settings.NockingPoint.Value.Text != "9 mm" || m.Settings.Tiller.Text != "3 mm" {
		t.Errorf("brace %.1f mm, nocking point %s, tiller %s", brace.Millimetres(), m.Settings.NockingPoint.Value, m.Settings.Tiller)
	}
	if p := m.Settings.Check(); len(p) > 0 {
		t.Error(p)
	}
}

// A weaker spare cannot be brought to the first bow's speed; the tool says so,
// stays inside the limb maker's range, and never makes it worse.
func TestWhatCannotBeMatchedIsSaid(t *testing.T) {
	first, spare := heron(t), example(t, "sandpiper-66")
	m, err := Match(context.Background(), Side{Settings: first}, Side{Settings: spare})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Unmatched) == 0 {
		t.Error("nothing is said to stay apart")
	}
	r, _ := Range(spare)
	brace, _ := m.Settings.BraceHeight.ToPivot()
	if b := brace + spare.Riser.Offset.Value; b < r.Low-1e-6 || b > r.High+1e-6 {
		t.Errorf("brace %v outside the maker's %v to %v", b, r.Low, r.High)
	}
	for _, a := range aims[:1] {
		if x, y := row(t, m.Before, a.of), row(t, m.After, a.of); math.Abs(y.Apart.Value) > math.Abs(x.Apart.Value)+a.close {
			t.Errorf("%v went from %.3f to %.3f apart", a.of, x.Apart.Value, y.Apart.Value)
		}
	}
	t.Log(m.Changes, m.Unmatched)
}

// Two set-ups of a fitted bow differ by what its fit says a change does, the
// model's own error included; readings narrow what a turn does to a bare shaft.
func TestAFittedBowBesideItself(t *testing.T) {
	f, s := heronFit(), heron(t)
	other := with(t, s, "button", "4", "brace_height", "228 mm")
	c, err := Compare(t.Context(), Side{Settings: s, Fit: f}, Side{Settings: other, Fit: f}, true)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []Quantity{{Kind: OfSpeed}, at(OfBare, 30), at(OfRight, 70)} {
		shift, err := f.Change(t.Context(), s, other, []Quantity{q})
		if err != nil {
			t.Fatal(err)
		}
		e := shift.Change[0]
		if got := row(t, c, q).Apart; got != (Estimate[float64]{e.Value, e.Low, e.High}) || e.Model == 0 {
			t.Errorf("%v: side by side %+v, the fit says %+v", q, got, e)
		}
	}
	unfitted, err := Compare(t.Context(), Side{Settings: s}, Side{Settings: s}, false)
	if err != nil {
		t.Fatal(err)
	}
	q := at(OfBare, 30)
	if x, y := row(t, c, q).First, row(t, unfitted, q).First; x.High-x.Low >= y.High-y.Low {
		t.Errorf("a bare shaft that was read is told as ± %.3f m, unread ± %.3f m", (x.High-x.Low)/2, (y.High-y.Low)/2)
	}
}

// A fitted spare is turned on its fit: the same bow set otherwise comes back.
func TestAFittedSpareIsMatched(t *testing.T) {
	f, first := heronFit(), heron(t)
	spare := with(t, first, "brace_height", "230 mm", "button", "4")
	m, err := Match(t.Context(), Side{Settings: first, Fit: f}, Side{Settings: spare, Fit: f})
	if err != nil {
		t.Fatal(err)
	}
	brace, _ := m.Settings.BraceHeight.ToPivot()
	if len(m.Unmatched) > 0 || math.Abs(brace.Millimetres()-224) > 3 {
		t.Errorf("brace %.1f mm, unmatched %v", brace.Millimetres(), m.Unmatched)
	}
	want, err := f.Predict(t.Context(), first, []Quantity{{Kind: OfSpeed}})
	if err != nil {
		t.Fatal(err)
	}
	if got := row(t, m.After, Quantity{Kind: OfSpeed}); got.First.Value != want[0].Value || math.Abs(got.Apart.Value) > 0.2 {
		t.Errorf("speed %+v, the fit says %.2f m/s", got, want[0].Value)
	}
}
