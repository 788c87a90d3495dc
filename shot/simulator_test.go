package shot

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"sync"
	"testing"

	"tautline/bow"
	"tautline/unit"
)

// The step allocates nothing, and neither does a whole shot from a prepared
// simulator.
func TestNoAllocation(t *testing.T) {
	for _, model := range []Model{Resolved, Lumped, PlainNodes, PlainLumped} {
		s := simulator(t, bow.Generic(), 0.2, Config{ArrowMass: 0.022, ClipForce: 5, Model: model})
		if n := testing.AllocsPerRun(50, func() { s.eng.advance(s.dt) }); n != 0 {
			t.Errorf("%v: a step allocates %v times", model, n)
		}
		if n := testing.AllocsPerRun(5, func() {
			if _, err := s.Run(); err != nil {
				t.Error(err)
			}
		}); n != 0 {
			t.Errorf("%v: a shot allocates %v times", model, n)
		}
	}
}

// Equal inputs give equal bits, on one goroutine or many, from a fresh
// simulator or a used one.
func TestSameBits(t *testing.T) {
	cfg := Config{ArrowMass: 0.022, ClipForce: 5, After: RingTime, History: true}
	want := shoot(t, bow.Generic(), 0.215, cfg)
	m, err := NewModel(bow.Generic(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	got := make([]Result, 8)
	var wait sync.WaitGroup
	for i := range got {
		wait.Go(func() {
			brace, err := m.Brace(0.215)
			if err != nil {
				t.Error(err)
				return
			}
			s, err := NewSimulator(m, brace, cfg)
			if err != nil {
				t.Error(err)
				return
			}
			for range 2 {
				if got[i], err = s.Run(); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	for i, r := range got {
		if !reflect.DeepEqual(r, want) {
			t.Errorf("goroutine %d: speed %v, want %v, or another part of the result differs", i, float64(r.Speed), float64(want.Speed))
		}
	}
}

// What is watched does not change what is computed.
func TestWatchingChangesNothing(t *testing.T) {
	bare := shoot(t, bow.Generic(), 0.22, Config{ArrowMass: 0.022})
	full := shoot(t, bow.Generic(), 0.22, Config{ArrowMass: 0.022, History: true, After: RingTime})
	full.History, full.Ringing = nil, nil
	if !reflect.DeepEqual(bare, full) {
		t.Errorf("bare %+v, watched %+v", bare, full)
	}
}

func TestHistory(t *testing.T) {
	for _, model := range []Model{Resolved, Lumped, PlainLumped} {
		r := shoot(t, bow.Generic(), 0.22, Config{ArrowMass: 0.022, ClipForce: 5, Model: model, History: true, After: RingTime})
		h := r.History
		n := len(h.Time)
		for name, got := range map[string]int{
			"Nock": len(h.Nock), "Speed": len(h.Speed), "Force": len(h.Force), "Tension": len(h.Tension), "TipX": len(h.TipX),
			"TipY": len(h.TipY), "Half": len(h.Half), "RiserX": len(h.RiserX), "ArrowAcc": len(h.ArrowAcc),
		} {
			if got != n {
				t.Errorf("%v: %d entries in %s, %d times", model, got, name, n)
			}
		}
		for i := 1; i < n; i++ {
			if h.Time[i] <= h.Time[i-1] {
				t.Fatalf("%v: time %v follows %v", model, h.Time[i], h.Time[i-1])
			}
		}
		i := h.Separation
		if h.Time[i] != r.TimeOnString || h.Speed[i] != -r.Speed {
			t.Errorf("%v: at separation the history has %v, %v, the result %v, %v", model, h.Time[i], h.Speed[i], r.TimeOnString, r.Speed)
		}
		// the arrow leaves when it pulls 5 N; before that it never does
		if f := float64(h.Force[i]); math.Abs(f+5) > 1e-6 {
			t.Errorf("%v: force %v at separation, want -5 N", model, f)
		}
		for j := range i {
			if h.Force[j] < -5 {
				t.Errorf("%v: force %v before separation", model, h.Force[j])
			}
		}
		if h.Force[i+1] != 0 || h.ArrowAcc[n-1] != 0 {
			t.Errorf("%v: the arrow feels the string after it has left", model)
		}
		if got := float64(h.Time[n-1] - r.TimeOnString); math.Abs(got-0.020) > 1e-9 {
			t.Errorf("%v: followed for %v s", model, got)
		}
		if h.TipX[0] <= h.TipX[i] || h.Half[0] < 0.8 || h.Half[0] > 0.9 {
			t.Errorf("%v: tips at %v and %v, half string %v", model, h.TipX[0], h.TipX[i], h.Half[0])
		}
	}
}

// A step that is much too long gives an error that says so, never a speed.
func TestRefusesWhatItCannotBelieve(t *testing.T) {
	for _, model := range []Model{Resolved, Lumped, PlainNodes} {
		s := simulator(t, undamped(), 0.22, Config{ArrowMass: 0.022, Model: model})
		believed := 0
		for _, factor := range []float64{1.35, 1.6, 2, 3} {
			s.dt *= factor
			r, err := s.Run()
			s.dt /= factor
			var shotErr *ShotError
			switch {
			case errors.As(err, &shotErr):
				if !strings.Contains(err.Error(), "Step") {
					t.Errorf("%v, step × %g: %v does not say what to try", model, factor, err)
				}
			case err != nil:
				t.Errorf("%v, step × %g: %v is not a ShotError", model, factor, err)
			case r.Audit > AuditLimit:
				t.Errorf("%v, step × %g: audit %g was let pass", model, factor, r.Audit)
			default:
				believed++
			}
		}
		if believed == 4 {
			t.Errorf("%v: no step was too long", model)
		}
	}
}

func TestConfigErrors(t *testing.T) {
	nan := unit.Mass(math.NaN())
	for _, c := range []struct {
		field string
		cfg   Config
	}{
		{"ArrowMass", Config{}},
		{"ArrowMass", Config{ArrowMass: nan}},
		{"ArrowMass", Config{ArrowMass: 22}},
		{"ClipForce", Config{ArrowMass: 0.022, ClipForce: -1}},
		{"Model", Config{ArrowMass: 0.022, Model: 9}},
		{"Links", Config{ArrowMass: 0.022, Links: 65}},
		{"Links", Config{ArrowMass: 0.022, Links: 7}},
		{"Nodes", Config{ArrowMass: 0.022, Nodes: -1}},
		{"Fraction", Config{ArrowMass: 0.022, Fraction: 1}},
		{"Softening", Config{ArrowMass: 0.022, Softening: -1}},
		{"Step", Config{ArrowMass: 0.022, Step: 1}},
		{"After", Config{ArrowMass: 0.022, After: -1}},
	} {
		_, err := Shoot(bow.Generic(), 0.22, c.cfg)
		var input *InputError
		if !errors.As(err, &input) || input.Field != c.field || input.Try == "" || input.Problem == "" {
			t.Errorf("%+v: got %v, want an error about %s", c.cfg, err, c.field)
		}
	}
}

func TestBowErrorsComeThrough(t *testing.T) {
	d := bow.Generic()
	d.Limb.Length = 5.88
	var input *bow.InputError
	if _, err := Shoot(d, 0.22, Config{ArrowMass: 0.022}); !errors.As(err, &input) || input.Field != "Limb.Length" {
		t.Errorf("limb of 5.88 m: %v", err)
	}
	if _, err := Shoot(bow.Generic(), 0.01, Config{ArrowMass: 0.022}); !errors.Is(err, bow.ErrNoBrace) {
		t.Errorf("brace of 10 mm: %v", err)
	}
	cfg := Config{ArrowMass: 0.022}
	m, err := NewModel(bow.Generic(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	brace, err := m.Brace(0.22)
	if err != nil {
		t.Fatal(err)
	}
	var own *InputError
	if _, err := NewSimulatorAt(m, brace, brace, cfg); !errors.As(err, &own) || own.Field != "full" {
		t.Errorf("an undrawn bow: %v", err)
	}
}

// The plain model wants a chain cut plainly, the production model a refined
// one; a mix-up is named.
func TestModelAndChainBelongTogether(t *testing.T) {
	m, err := NewModel(bow.Generic(), Config{ArrowMass: 0.022, Model: PlainLumped})
	if err != nil {
		t.Fatal(err)
	}
	brace, err := m.Brace(0.22)
	if err != nil {
		t.Fatal(err)
	}
	var input *InputError
	if _, err := NewSimulator(m, brace, Config{ArrowMass: 0.022, Model: PlainLumped, Links: 24}); err != nil {
		t.Errorf("links are the chain's, not the config's: %v", err)
	}
	refined, err := NewModel(bow.Generic(), Config{ArrowMass: 0.022})
	if err != nil {
		t.Fatal(err)
	}
	brace, err = refined.Brace(0.22)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := NewSimulator(refined, brace, Config{ArrowMass: 0.022, Model: PlainLumped}); !errors.As(err, &input) || input.Field != "Model" {
		t.Errorf("a refined chain in the plain model: %v", err)
	}
}

// sincos agrees with the library everywhere, also where the table ends.
func TestSincos(t *testing.T) {
	worst := 0.0
	for x := -7.0; x < 7; x += 0.00037 {
		s, c := sincos(x)
		ws, wc := math.Sincos(x)
		worst = math.Max(worst, math.Max(math.Abs(s-ws), math.Abs(c-wc)))
	}
	// the table's rounding, the sum's and the library's own: half a unit each
	if worst > 3.4e-16 {
		t.Errorf("off by %.2g", worst)
	}
	for _, x := range []float64{1e300, -1e300, math.Inf(1), math.NaN()} {
		s, c := sincos(x)
		ws, wc := math.Sincos(x)
		if s != ws && !math.IsNaN(ws) || c != wc && !math.IsNaN(wc) {
			t.Errorf("sincos(%g) = %g, %g", x, s, c)
		}
	}
}
