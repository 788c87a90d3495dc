package workbench

import (
	"encoding/json"
	"errors"
	"math"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/shot"
	"tautline/unit"
)

// ready is heron-70 with a riser that turns.
func ready(t testing.TB, b *BowModel, hand arrow.Hand) (*arrow.Arrow, Sideways) {
	t.Helper()
	side, err := SidewaysFromSettings(example(t, "heron-70"), hand)
	if err != nil {
		t.Fatal(err)
	}
	side.Setup.Riser = &arrow.Riser{Inertia: usualInertia, HandStiffness: handStiffness, HandDamping: handDamping}
	a, err := arrow.New(side.Arrow, arrow.Resolution{})
	if err != nil {
		t.Fatal(err)
	}
	return a, side
}

func laneAt(t testing.TB, b *BowModel, height unit.Length, model shot.Model, hand arrow.Hand) *lane {
	t.Helper()
	a, side := ready(t, b, hand)
	l, err := b.newLane(b.members[0], height, model, a, side.Setup, &side)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func effectsOf(t testing.TB, l *lane) [sources]float64 {
	t.Helper()
	e, err := l.effects(UsualRepeatability())
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// TestLinearAgainstGhosts: model.md section 6 asks 5 % where the map is
// smooth, on the same errors, for both string models. The shaft is one whose
// thrust ratio lies in the lower half of the ordinary (0.8 to 1.0), as for the
// signs; nearer the window's end the button makes the map crooked (spine 600
// on this bow, ratio 1.07: 3.4 % resolved, 5.6 % lumped, without the aim).
func TestLinearAgainstGhosts(t *testing.T) {
	b := plausibleBows(t)
	for _, model := range stringModels {
		l := laneAt(t, b, b.Fit.Brace(), model, arrow.RightHanded)
		var err error
		if l.arrow, err = l.arrow.WithSpine(500 * unit.ThousandthInch); err != nil {
			t.Fatal(err)
		}
		if r, err := l.sim.Shoot(l.arrow, l.drive, l.set); err != nil || r.ThrustRatio < 0.8 || r.ThrustRatio >= 1 {
			t.Fatalf("thrust ratio %.2f, %v", r.ThrustRatio, err)
		}
		e := effectsOf(t, l)
		whole, linear, err := l.ghosts(UsualRepeatability(), e, 200)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%v string: σ %.2f cm (without aim %.2f), ghosts %.2f, linear on the same errors %.2f", model, 100*total(e, 0), 100*total(e, ArmRate), 100*whole, 100*linear)
		for s, x := range e {
			t.Logf("  %-13v %+.2f cm", Source(s), 100*x)
		}
		// Without the aim, which is linear by itself.
		steady := UsualRepeatability()
		steady[Aim], e[Aim] = 0, 0
		bow, bowLinear, err := l.ghosts(steady, e, 200)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("  without aim: ghosts %.2f cm, linear %.2f", 100*bow, 100*bowLinear)
		if math.Abs(whole/linear-1) > 0.05 || math.Abs(bow/bowLinear-1) > 0.05 {
			t.Errorf("%v string: ghosts %.3f cm, linear %.3f; without aim %.3f and %.3f", model, 100*whole, 100*linear, 100*bow, 100*bowLinear)
		}
	}
}

// The aim's part is known without any bow: distance times angle (small-angle
// error 1e-6 of it, sideways pull of a slanted flight below 1e-3).
func TestAimIsDistanceTimesAngle(t *testing.T) {
	b := plausibleBows(t)
	e := effectsOf(t, laneAt(t, b, b.Fit.Brace(), shot.Resolved, arrow.RightHanded))
	if want := 70 * UsualRepeatability()[Aim]; math.Abs(e[Aim]/want-1) > 2e-3 {
		t.Errorf("aim moves the arrow by %.4f m, want %.4f", e[Aim], want)
	}
}

// A left-handed archer's errors do as much to the other side: signs outward
// (release, hand) flip, those that have no side flip with the arrow.
func TestForgivenessMirrors(t *testing.T) {
	b := plausibleBows(t)
	right := effectsOf(t, laneAt(t, b, b.Fit.Brace(), shot.Resolved, arrow.RightHanded))
	left := effectsOf(t, laneAt(t, b, b.Fit.Brace(), shot.Resolved, arrow.LeftHanded))
	for s := range right {
		want := -right[s]
		if Source(s) == Aim {
			want = right[s] // an angle to the right for both
		}
		if math.Abs(left[s]-want) > 1e-6 {
			t.Errorf("%v: %+.6f m left-handed, want %+.6f", Source(s), left[s], want)
		}
	}
}

// I → ∞ (model.md section 6): a riser of 1e9 kg m² is a clamped one for every
// source that does not start with a turned bow. 1e-6 m at 70 m is a thousandth
// of what a tenth of a newton does in 15 ms on that inertia, and rounding.
func TestHeavyRiserIsClamped(t *testing.T) {
	b := plausibleBows(t)
	l := laneAt(t, b, b.Fit.Brace(), shot.Resolved, arrow.RightHanded)
	heavy := *l.set.Riser
	heavy.Inertia = 1e9
	l.set.Riser = &heavy
	free := effectsOf(t, l)
	l.set.Riser = nil
	clamped := effectsOf(t, l)
	for _, s := range []Source{Aim, ReleaseSize, DrawLength, NockFit, ArrowMass, ShaftSpine} {
		if math.Abs(free[s]-clamped[s]) > 1e-6 {
			t.Errorf("%v: %.8f m on a heavy riser, %.8f on a clamped one", s, free[s], clamped[s])
		}
	}
	if clamped[ArmRate] != 0 || clamped[BowTorque] != 0 {
		t.Errorf("a clamped riser feels arm %g and torque %g", clamped[ArmRate], clamped[BowTorque])
	}
}

// Re-tuning puts the bare shaft back within a millimetre at 30 m, or says that
// it cannot.
func TestRetune(t *testing.T) {
	b := plausibleBows(t)
	from := laneAt(t, b, b.Fit.Brace(), shot.Resolved, arrow.RightHanded)
	want, err := from.bare30(from.arrow, from.set)
	if err != nil {
		t.Fatal(err)
	}
	for _, how := range []Treatment{RetunedBySpine, RetunedByButton} {
		l := laneAt(t, b, b.Fit.Brace()+0.01, shot.Resolved, arrow.RightHanded)
		before, err := l.bare30(l.arrow, l.set)
		if err != nil {
			t.Fatal(err)
		}
		ok, err := l.retune(how, want)
		if err != nil {
			t.Fatal(err)
		}
		after, err := l.bare30(l.arrow, l.set)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %v, bare shaft %+.1f mm off before, %+.3f after; spine %.0f, preload %.2f N", how, ok, 1e3*(before-want), 1e3*(after-want), l.arrow.Design().Spine.Thousandths(), float64(l.set.Button.Preload))
		if ok && math.Abs(after-want) > retunedWithin {
			t.Errorf("%s: off by %.2f mm", how, 1e3*(after-want))
		}
		if done, err := l.retune(how, want+5); done || err != nil {
			t.Errorf("%s: five metres away can be re-tuned (%v, %v)", how, done, err)
		}
	}
}

// A sign is printed only where both string models show it in 80 % of draws
// that could be re-tuned.
func TestSignOnlyWhereModelsAgree(t *testing.T) {
	of := func(from, to float64, ok bool) compared {
		return compared{from: [sources]float64{ArmRate: from}, to: [sources]float64{ArmRate: to}, ok: ok}
	}
	for _, c := range []struct {
		name    string
		against int // draws of 10 in which the lumped string disagrees
		failed  int // draws that could not be re-tuned
		sign    int
		given   bool
	}{
		{"all agree", 0, 0, 1, true}, {"eight of ten", 2, 0, 1, true}, {"seven of ten", 3, 0, 0, true},
		{"six could not be re-tuned", 0, 6, 0, false},
	} {
		all := []compared{of(1, 1.1, true), of(1, 1.1, true)}
		for i := range 10 {
			lumped := 1.1
			if i < c.against {
				lumped = 0.9
			}
			all = append(all, of(1, 1.1, i >= c.failed), of(1, lumped, true))
		}
		got := judgeChange(AllElseFixed, all)
		if got.Sign != c.sign || got.BySource[ArmRate.String()].Sign != c.sign || (got.BySource != nil) != c.given {
			t.Errorf("%s: sign %d, given %v", c.name, got.Sign, got.BySource != nil)
		}
	}
}

// The whole answer: sources add up in squares, the vertical is null with its
// reason, three treatments, the group's remainder is unexplained, and the bits
// do not depend on the workers.
func TestForgive(t *testing.T) {
	s := example(t, "heron-70")
	q := ForgiveQuestion{Heights: []unit.Length{0.21, 0.22, 0.23}, Group: 0.15}
	f, err := Forgive(t.Context(), s, q, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range f.Rows {
		sum := 0.0
		for _, v := range r.BySource {
			sum += v * v
		}
		t.Logf("%.0f mm: %.2f cm, lumped %.2f", 1e3*r.BraceHeight, 100*r.Sideways, 100*r.Lumped)
		if math.Abs(math.Sqrt(sum)-r.Sideways) > 1e-12 || len(r.BySource) != int(sources) {
			t.Errorf("%v sources add up to %.4f of %.4f", len(r.BySource), math.Sqrt(sum), r.Sideways)
		}
	}
	for _, c := range f.Changes {
		t.Logf("resolved %+.1f [%+.1f, %+.1f] %%, lumped %+.1f [%+.1f, %+.1f] %%, re-tuned %.0f %%, agree %.0f %%: %s", c.Resolved.Value, c.Resolved.Low, c.Resolved.High,
			c.Lumped.Value, c.Lumped.Low, c.Lumped.High, 100*c.Retuned, 100*c.Agree, c.Sentence)
	}
	t.Logf("ghosts %.3f of linear, 72 arrows show %.0f %%: %s", f.Ghosts, f.ShownBy, f.Summary)
	raw, err := json.Marshal(f.Rows)
	if err != nil || !strings.Contains(string(raw), `"sigma_vertical_m":null,"sigma_vertical_reason":"not modelled yet`) {
		t.Errorf("the vertical is not null with its reason: %s, %v", raw, err)
	}
	if len(f.Changes) != 3 || !strings.Contains(f.Summary, "From 21.0 to 23.0 cm") || f.Unexplained == nil || *f.Unexplained <= 0 || *f.Unexplained >= 0.15 {
		t.Errorf("%d treatments, unexplained %v", len(f.Changes), f.Unexplained)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if again, err := Forgive(t.Context(), s, q, nil); err != nil || !reflect.DeepEqual(f, again) {
		t.Errorf("one worker answers otherwise: %v", err)
	}
}

// What cannot be asked is named with its field, every one at once.
func TestForgiveRefuses(t *testing.T) {
	q := ForgiveQuestion{Heights: []unit.Length{0.22, 2.2}, Repeat: UsualRepeatability(), Group: -1}
	q.Repeat[DrawLength] = -0.001
	_, err := Forgive(t.Context(), example(t, "heron-70"), q, nil)
	for _, field := range []string{"/heights/1", "/to", "/repeatability/draw_length", "/group"} {
		var problems notebook.Problems
		if !errors.As(err, &problems) || !slices.ContainsFunc(problems, func(e notebook.Error) bool { return e.Field == field && e.Hint != "" }) {
			t.Errorf("%v does not name %s", err, field)
		}
	}
}

// BenchmarkForgiveRows is 21 brace heights × 9 sources with both string
// models: at most 0.5 s on two cores for one.
func BenchmarkForgiveRows(b *testing.B) {
	bows := plausibleBows(b)
	a, side := ready(b, bows, arrow.RightHanded)
	q := ForgiveQuestion{Repeat: UsualRepeatability()}
	for i := range 21 {
		q.Heights = append(q.Heights, 0.20+unit.Length(i)*0.002)
	}
	for b.Loop() {
		if _, err := bows.forgiveRows(b.Context(), a, &side, q); err != nil {
			b.Fatal(err)
		}
	}
}
