package workbench

import (
	"errors"
	"math"
	"testing"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

func targetModel(t testing.TB, hand arrow.Hand) *TargetModel {
	t.Helper()
	m, err := NewTargetModel(t.Context(), example(t, "heron-70"), hand, nil)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

var usualDistances = []unit.Length{18, 30, 70}

func asked(t *testing.T, m *TargetModel, moves Moves) WhatIf {
	t.Helper()
	w, err := m.Ask(t.Context(), moves, usualDistances)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func ptr[T any](x T) *T { return &x }

// TestWhatIfOfNothing: the set-up as it is, moved to where it stands, changes
// nothing, and is what PredictTarget says of it.
func TestWhatIfOfNothing(t *testing.T) {
	m := targetModel(t, arrow.RightHanded)
	for name, moves := range map[string]Moves{"no move": {}, "every move to where it is": m.Start()} {
		w := asked(t, m, moves)
		for _, c := range []Estimate[unit.Length]{w.At[0].Bare.Change, w.At[2].Right.Change, w.At[2].Up.Change, w.TailGap.Change} {
			if math.Abs(float64(c.Low)) > 1e-9 || math.Abs(float64(c.High)) > 1e-9 {
				t.Errorf("%s: a change of %v", name, c)
			}
		}
	}
	v, err := PredictTarget(t.Context(), example(t, "heron-70"), arrow.RightHanded)
	if err != nil {
		t.Fatal(err)
	}
	w := asked(t, m, Moves{})
	for _, c := range []struct {
		name       string
		one, other float64
	}{
		{"bare at 18 m", v.Bare18, float64(w.At[0].Bare.Now.Value)}, {"bare at 30 m", v.Bare30, float64(w.At[1].Bare.Now.Value)},
		{"at 70 m", v.Right70, float64(w.At[2].Right.Now.Value)}, {"tail", v.TailGap, float64(w.TailGap.Now.Value)},
		{"speed there", v.Speed70, float64(w.At[2].Speed.Now.Value)}, {"drift", v.Drift70, float64(w.At[2].Drift.Now.Value)},
		{"low end", v.Interval["bare_minus_fletched_30m_right_m"][0], float64(w.At[1].Bare.Now.Low)},
	} {
		if math.Abs(c.one-c.other) > 1e-9 {
			t.Errorf("%s: predicted %g, before the change %g", c.name, c.one, c.other)
		}
	}
}

// TestWhatIfSigns: the trade's directions (model.md section 5), for a
// right-handed archer, and their mirror for a left-handed one; and that the
// bow and the shaft stay the same.
func TestWhatIfSigns(t *testing.T) {
	right, left := targetModel(t, arrow.RightHanded), targetModel(t, arrow.LeftHanded)
	start := right.Start()
	for _, c := range []struct {
		name  string
		moves Moves
		sign  float64 // of the bare shaft's move at 30 m, right-handed
	}{
		{"softer shaft", Moves{Spine: ptr(*start.Spine + 20*unit.ThousandthInch)}, 1},
		{"more preload", Moves{Preload: ptr(*start.Preload + 0.5)}, -1},
		{"longer shaft", Moves{Shaft: ptr(*start.Shaft + 0.01)}, 1},
	} {
		w, m := asked(t, right, c.moves), asked(t, left, c.moves)
		got := float64(w.At[1].Bare.Change.Value)
		if got*c.sign <= 0 {
			t.Errorf("%s: bare shaft moves %.1f mm", c.name, 1e3*got)
		}
		if mirrored := float64(m.At[1].Bare.Change.Value); math.Abs(got+mirrored) > 1e-9 {
			t.Errorf("%s: %.3f mm right-handed, %.3f mm left-handed is no mirror", c.name, 1e3*got, 1e3*mirrored)
		}
	}
	lower := asked(t, right, Moves{Brace: ptr(*start.Brace - 0.01)})
	if lower.Speed.Change.Value <= 0 || lower.At[2].Up.Change.Value <= 0 || lower.TimeOnString.Change.Value <= 0 {
		t.Errorf("a lower brace height: speed %+v, height %+v, time %+v", lower.Speed.Change, lower.At[2].Up.Change, lower.TimeOnString.Change)
	}
	// Carry ties the draw's readings to their brace height: a centimetre moves
	// the draw weight by less than 2 %, as the sweep of brace heights says too.
	if c := float64(lower.DrawWeight.Change.Value / lower.DrawWeight.Now.Value); math.Abs(c) > 0.02 || c == 0 {
		t.Errorf("a centimetre of brace height moves the draw weight by %.1f %%", 100*c)
	}
	heavy := asked(t, right, Moves{Point: ptr(*start.Point + 20*unit.Grain)})
	if heavy.Speed.Change.Value >= 0 || heavy.At[2].Up.Change.Value >= 0 {
		t.Errorf("a heavier point: speed %+v, height %+v", heavy.Speed.Change, heavy.At[2].Up.Change)
	}
	long := asked(t, right, Moves{Draw: ptr(*start.Draw + 0.01)})
	if long.DrawWeight.Change.Value <= 0 || long.Speed.Change.Value <= 0 {
		t.Errorf("a longer draw: weight %+v, speed %+v", long.DrawWeight.Change, long.Speed.Change)
	}
}

// TestWhatIfDoubt: what all plausible set-ups share cancels in a change; a
// quick look is the middle set-up and gives no interval.
func TestWhatIfDoubt(t *testing.T) {
	m := targetModel(t, arrow.RightHanded)
	moves := Moves{Preload: ptr(*m.Start().Preload + 0.3)}
	exact := asked(t, m, moves)
	quick, err := m.Quick(moves, usualDistances)
	if err != nil {
		t.Fatal(err)
	}
	wide := func(e Estimate[unit.Length]) float64 { return float64(e.High - e.Low) }
	if c := exact.At[1].Bare; !(wide(c.Change) < wide(c.Now)/2) {
		t.Errorf("the change's doubt is %.1f mm, the value's %.1f mm", 1e3*wide(c.Change), 1e3*wide(c.Now))
	}
	if quick.Bows != 0 || wide(quick.At[1].Bare.Change) != 0 || quick.At[1].Bare.After.Value != exact.At[1].Bare.After.Value {
		t.Errorf("the quick look gives %+v of %d bows, the exact one %+v", quick.At[1].Bare.After, quick.Bows, exact.At[1].Bare.After)
	}
	if !math.IsNaN(float64(exact.At[2].Bare.After.Value)) {
		t.Error("a bare shaft is predicted at 70 m")
	}
}

func TestWhatIfRefuses(t *testing.T) {
	m := targetModel(t, arrow.RightHanded)
	for field, ask := range map[string]func() (WhatIf, error){
		"/moves/brace_height":     func() (WhatIf, error) { return m.Quick(Moves{Brace: ptr(2.2 * unit.Metre)}, usualDistances) },
		"/moves/button_stiffness": func() (WhatIf, error) { return m.Quick(Moves{Stiffness: ptr(unit.Stiffness(-1))}, usualDistances) },
		"/distances":              func() (WhatIf, error) { return m.Quick(Moves{}, nil) },
		"/distances/1":            func() (WhatIf, error) { return m.Ask(t.Context(), Moves{}, []unit.Length{18, 700}) },
	} {
		_, err := ask()
		var problems notebook.Problems
		if !errors.As(err, &problems) || problems[0].Field != field || problems[0].Hint == "" {
			t.Errorf("%s: %v", field, err)
		}
	}
}

// BenchmarkQuickLook is a slider's step: aimed at 20 ms of the server's time
// together with reading the request and writing the answer.
func BenchmarkQuickLook(b *testing.B) {
	m := targetModel(b, arrow.RightHanded)
	start, i := m.Start(), 0
	b.Run("brace", func(b *testing.B) {
		for b.Loop() {
			i++
			if _, err := m.Quick(Moves{Brace: ptr(*start.Brace + unit.Length(i%20)*unit.Millimetre)}, usualDistances); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("point", func(b *testing.B) {
		for b.Loop() {
			i++
			if _, err := m.Quick(Moves{Point: ptr(*start.Point + unit.Mass(i%40)*unit.Grain)}, usualDistances); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("exact", func(b *testing.B) {
		for b.Loop() {
			i++
			if _, err := m.Ask(b.Context(), Moves{Brace: ptr(*start.Brace + unit.Length(i%20)*unit.Millimetre)}, usualDistances); err != nil {
				b.Fatal(err)
			}
		}
	})
}
