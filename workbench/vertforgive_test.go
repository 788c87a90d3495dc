package workbench

import (
	"math"
	"testing"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

func tallLaneAt(t testing.TB, height unit.Length) *tallLane {
	t.Helper()
	return tallLaneOf(t, example(t, "heron-70"), height)
}

func tallLaneOf(t testing.TB, s notebook.Settings, height unit.Length) *tallLane {
	t.Helper()
	b := plausibleBows(t)
	side, err := SidewaysFromSettings(s, arrow.RightHanded)
	if err != nil {
		t.Fatal(err)
	}
	a, err := arrow.New(side.Arrow, arrow.Resolution{})
	if err != nil {
		t.Fatal(err)
	}
	l, err := b.newTallLane(b.members[0], forgiveStand{brace: height, arrow: a}, &side, VerticalFromSettings(s, side.Arrow.Diameter))
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// TestUpEffects: the aim is worth its angle times 70 m; every effect is finite,
// nearly linear, and of a size that a group could hold.
func TestUpEffects(t *testing.T) {
	l := tallLaneAt(t, 0.222)
	sd := upFrom(UsualRepeatability())
	one, err := l.effects(sd)
	if err != nil {
		t.Fatal(err)
	}
	var half UpRepeatability
	for s, x := range sd {
		half[s] = x / 2
	}
	two, err := l.effects(half)
	if err != nil {
		t.Fatal(err)
	}
	for s := range one {
		t.Logf("%-16v %+.2f cm", UpSource(s), 100*one[s])
		if !(math.Abs(one[s]) < 0.2) {
			t.Errorf("%v moves the arrow by %g m", UpSource(s), one[s])
		}
		if d := math.Abs(one[s] - 2*two[s]); d > 0.15*math.Abs(one[s])+0.001 {
			t.Errorf("%v: %.2f cm for one standard deviation, %.2f for half", UpSource(s), 100*one[s], 100*two[s])
		}
	}
	if math.Abs(one[UpAim]-0.07) > 0.002 {
		t.Errorf("1 mrad of aim is %.1f cm at 70 m", 100*one[UpAim])
	}
	// 1.5 mm of draw lift it by 3.9 cm with the sight where it was (computed), and
	// take the pin 1.5 mm from the eye: δ Δ/R · 70 m = 0.107 · 1.5/890 · 70 m,
	// 1.26 cm off
	if off := one[UpDrawLength] - (0.0390 - 0.0126); math.Abs(off) > 0.002 {
		t.Errorf("1.5 mm of draw lift the arrow by %.2f cm", 100*one[UpDrawLength])
	}
	// faster arrows fly higher: a longer draw up, a heavier arrow down
	if one[UpDrawLength] <= 0 || one[UpArrowMass] >= 0 {
		t.Errorf("draw length %+.2f cm, arrow mass %+.2f cm", 100*one[UpDrawLength], 100*one[UpArrowMass])
	}
}

// TestPitchRateIsARotation: an arm that turns gives the arrow at least the
// rotation's own share of direction on its way out: the arrow leaves after t
// with the bow turned by ω t, its balance point moving across at ω times its
// place. Bounds only: the limbs and the rest have their say.
func TestPitchRateIsARotation(t *testing.T) {
	l := tallLaneAt(t, 0.222)
	var e [upSources]float64
	e[UpArmRate] = 0.02
	up, err := l.up(&e)
	if err != nil {
		t.Fatal(err)
	}
	base, err := l.up(&[upSources]float64{})
	if err != nil {
		t.Fatal(err)
	}
	turn := 0.02 * float64(l.base.shot.TimeOnString) * 70
	if d := up - base; !(d > 0.2*turn && d < 3*turn) {
		t.Errorf("an arm turning up at 0.02 rad/s moves the arrow by %.2f cm; the turn alone is %.2f", 100*d, 100*turn)
	}
	if math.Abs(base) > 1e-6 {
		t.Errorf("the aimed shot lands %g m off", base)
	}
}

// BenchmarkForgiveUp is one brace height with nine sources, both sides: 21 of
// them on two cores within half of the second that a map may take.
func BenchmarkForgiveUp(b *testing.B) {
	l := tallLaneAt(b, 0.222)
	sd := upFrom(UsualRepeatability())
	for b.Loop() {
		if _, err := l.effects(sd); err != nil {
			b.Fatal(err)
		}
	}
}
