package workbench

import (
	"math"
	"strings"
	"testing"

	"tautline/arrow"
	"tautline/unit"
)

// markMoves are the effects on sight marks by distance.
func markMoves(t *testing.T, f *FittedBow, moved ...Setting) (map[unit.Length]Effect, Foreseen) {
	t.Helper()
	w, err := f.WhatIf(t.Context(), moved)
	if err != nil {
		t.Fatal(err)
	}
	out := map[unit.Length]Effect{}
	for _, e := range w.Effects {
		if e.Quantity.Kind == QMark {
			out[e.Quantity.Distance] = e
		}
	}
	if len(out) != len(marksAt) {
		t.Fatalf("%d marks", len(out))
	}
	return out, w
}

// parabolaAngle is the angle of the arrow to the line of sight without air,
// ½ asin(g d/v²) + h/d: a little less than with it.
func parabolaAngle(d, v float64) float64 {
	return 0.5*math.Asin(9.80665*d/(v*v)) + float64(usualEye)/d
}

// TestASightFurtherOutMovesItsMarks: 8 cm more of extension move the pin by
// ΔR tan δ (eq. 9 of docs/theory/flight.md). By hand at 70 m and 58 m/s: δ =
// 0.105 without air, 80 mm · 0.105 = 8.4 mm; drag adds 5 % there, less nearer.
func TestASightFurtherOutMovesItsMarks(t *testing.T) {
	s := changed(t, example(t, "heron-70"), "sight_extension", "17 cm")
	f := fitted(t, s, nil)
	alone, w := markMoves(t, f, Setting{"sight_extension", "25 cm"})
	var v float64
	for _, e := range w.Effects {
		if e.Quantity.Kind == QSpeed {
			v = e.Now
		}
		if e.Quantity.Kind != QMark && (e.Value != 0 || e.Says != "no change") {
			t.Errorf("%s %s with the sight further out", e.Name, e.Says)
		}
	}
	for d, e := range alone {
		hand := 0.08 * math.Tan(parabolaAngle(float64(d), v))
		if e.Value < 0.99*hand || e.Value > 1.08*hand || e.Low > hand || e.High < e.Value+1e-4 {
			t.Errorf("%g m: %.2f mm (%.2f to %.2f), by hand %.2f", float64(d), 1e3*e.Value, 1e3*e.Low, 1e3*e.High, 1e3*hand)
		}
	}
	brace, _ := markMoves(t, f, Setting{"brace_height", "23 cm"})
	both, w := markMoves(t, f, Setting{"brace_height", "23 cm"}, Setting{"sight_extension", "25 cm"})
	if got, want := both[70].Value, alone[70].Value+brace[70].Value; math.Abs(got-want) > 0.3e-3 {
		t.Errorf("with the brace height %.2f mm, apart %.2f", 1e3*got, 1e3*want)
	}
	if len(w.Parts) != 2 || w.Parts[1].Key != gSight && w.Parts[0].Key != gSight {
		t.Errorf("parts %+v", w.Parts)
	}
	if back, _ := markMoves(t, f, Setting{"sight_extension", "170 mm"}); back[70].Says != "no change" {
		t.Errorf("the same place in other words: %s", back[70].Says)
	}
}

// TestMarksBeyondTheirModel: where a setting moves the arrow up or down past
// the marks' model, no mark is told to stay. The bound is held against the
// pair of limbs of the vertical plane, which the marks leave out: 2 mm of
// nocking point move the elevation that hits at 70 m.
func TestMarksBeyondTheirModel(t *testing.T) {
	s := example(t, "heron-70")
	f := fitted(t, s, nil)
	from, to := tallLaneOf(t, s, 0.224), tallLaneOf(t, changed(t, s, "nocking_point", "11 mm"), 0.224)
	chain := float64(usualReach) * math.Abs(float64(to.elevation-from.elevation))
	t.Logf("the vertical plane moves the mark by %.2f mm", 1e3*chain)
	marks, _ := markMoves(t, f, Setting{"nocking_point", "11 mm"})
	for d, e := range marks {
		if !strings.HasPrefix(e.Says, "cannot tell: what moving the nocking point") || e.Low > -chain || e.High < chain {
			t.Errorf("%g m: %q, %.2f to %.2f mm", float64(d), e.Says, 1e3*e.Low, 1e3*e.High)
		}
	}
	// a brace height is in the model, what else it does is bounded
	brace, _ := markMoves(t, f, Setting{"brace_height", "23 cm"})
	if e := brace[70]; e.Direction() != 1 || (e.High-e.Low)/2 < 0.9*(0.01+2*0.006)/70 {
		t.Errorf("brace height: %+v", e)
	}
	for _, moved := range []Setting{{"crawl", "20 mm"}, {"sight_extension", "25 cm"}} {
		marks, w := markMoves(t, f, moved)
		for _, e := range marks {
			if e.Says != "not computed" || e.Withheld == "" || e.SD != 0 || e.Sureness != 0 {
				t.Errorf("%v: %+v", moved, e)
			}
		}
		if !strings.Contains(strings.Join(w.Warnings, " "), "sight marks are not computed") {
			t.Errorf("%v: warnings %q", moved, w.Warnings)
		}
	}
	if marks, _ := markMoves(t, f, Setting{"button", "4"}); marks[70].Says != "no change" {
		t.Errorf("a button moves marks: %s", marks[70].Says)
	}
}

// TestADrawTakesTheEyeFromThePin: an archer who draws an inch less has the pin
// an inch nearer, whether the extension was noted or not. 16.8 cm make the
// usual 90 cm to within a centimetre, so the marks must agree.
func TestADrawTakesTheEyeFromThePin(t *testing.T) {
	s := example(t, "heron-70")
	usual, _ := markMoves(t, fitted(t, s, nil), Setting{"draw.length", "28 in"})
	noted, _ := markMoves(t, fitted(t, changed(t, s, "sight_extension", "16.8 cm"), nil), Setting{"draw.length", "28 in"})
	for d, e := range usual {
		if other := noted[d]; math.Abs(e.Value-other.Value) > 0.03*e.Value {
			t.Errorf("%g m: %.2f mm, with the extension noted %.2f", float64(d), 1e3*e.Value, 1e3*other.Value)
		}
	}
	// by hand: 1.5 mm of 0.9 m, δ = 0.105 + 0.115/70: 0.107 · 1.5/901.5 = 0.178 mrad,
	// 1.24 cm at 70 m
	if off := 70 * float64(0.105-pinCarried(0.105, 70, 0.9, 0.0015)); math.Abs(off-0.0124) > 0.0002 {
		t.Errorf("1.5 mm of draw take %.2f cm off", 100*off)
	}
}

// TestAKeptSightAtAnotherDraw: what 10 mm more draw do at 70 m with the sight
// where it was, in the what-if and in the standing. By hand: the speed's
// parabola up, drag adding up to 12 %, and the pin 10 mm from the eye down,
// δ Δ/R · 70 m = 0.107 · 10/900 · 70 m = 8.3 cm.
func TestAKeptSightAtAnotherDraw(t *testing.T) {
	m := targetModel(t, arrow.RightHanded)
	draw := m.settings.Draw.Length.Value + 0.01
	w, err := m.Quick(Moves{Draw: &draw}, []unit.Length{70})
	if err != nil {
		t.Fatal(err)
	}
	v, faster := float64(w.Speed.Now.Value), float64(w.Speed.After.Value)
	up, parabola := float64(w.At[0].Up.Change.Value), 70*(parabolaAngle(70, v)-parabolaAngle(70, faster))
	if lost := up - parabola; lost < -0.083-0.01 || lost > -0.083+0.12*parabola {
		t.Errorf("what-if: %.1f cm up, %.1f by the parabola alone", 100*up, 100*parabola)
	}
	far, err := Probe(t.Context(), m.settings, arrow.RightHanded, 70)
	if err != nil {
		t.Fatal(err)
	}
	here, _ := far.Value(at(OfUp, 70))
	carried := 0.01 / 0.9 * (float64(usualEye) - here.Value)
	if math.Abs(carried-0.083) > 0.006 {
		t.Errorf("the pin's way is %.1f cm at 70 m, by hand 8.3", 100*carried)
	}
	slopes := NewSlopes(m.settings, arrow.RightHanded, 70)
	r, ok, err := slopes.of(t.Context(), "draw.length", 0.01, at(OfUp, 70))
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	longer := m.settings
	mover, _ := moverOf("draw.length")
	mover.write(&longer, float64(draw))
	there, err := Probe(t.Context(), longer, arrow.RightHanded, 70)
	if err != nil {
		t.Fatal(err)
	}
	then, _ := there.Value(at(OfUp, 70))
	want := then.Value - here.Value - carried
	if math.Abs(r.signed[0]-want) > 0.01 {
		t.Errorf("standing: %.1f cm up, %.1f by hand", 100*r.signed[0], 100*want)
	}
}

// TestEyeToPinStartsWhereTheExtensionPutsIt: before any reading the parameter
// is what the marks are computed with; by hand 0.692 + 0.03 + 0.25 = 0.972 m,
// give or take the 2 cm of a given extension.
func TestEyeToPinStartsWhereTheExtensionPutsIt(t *testing.T) {
	for _, c := range []struct {
		ext         string
		reach, give float64
	}{{"25 cm", 0.972, 0.02}, {"", 0.90, 0.03}} {
		s := example(t, "heron-70")
		if c.ext != "" {
			s = changed(t, s, "sight_extension", c.ext)
		}
		f := fitted(t, s, nil)
		for _, p := range f.Parameters() {
			if p.Key == "sight_reach" && (math.Abs(p.PriorValue-c.reach) > 0.001 || math.Abs(p.PriorSD-c.give) > 0.0005 || math.Abs(p.Value-c.reach) > 0.001) {
				t.Errorf("%q: %.3f ± %.3f m, now %.3f", c.ext, p.PriorValue, p.PriorSD, p.Value)
			}
		}
	}
}
