package flight

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tautline/unit"
)

// TestNoWindNoAsymmetry: nothing pushes sideways, so nothing moves sideways.
func TestNoWindNoAsymmetry(t *testing.T) {
	for _, b := range []Body{generic(), bare()} {
		l := Launch{Speed: 58, Elevation: 0.08, PitchRate: 0.7, Ringing: []Ringing{{SquaredSpeed: []float64{0.2, 0.2}, Decay: 4}}}
		hit := mustFly(t, mustFlyer(t, b), l, Wind{Along: -2}, 70)
		if hit.Right != 0 || hit.Yaw != 0 {
			t.Errorf("moved %v to the right, yaw %v", hit.Right, hit.Yaw)
		}
	}
}

// TestMirror: everything to the right turned to the left mirrors the flight.
func TestMirror(t *testing.T) {
	flyers := []*Flyer{mustFlyer(t, generic()), mustFlyer(t, bare())}
	rapid.Check(t, func(rt *rapid.T) {
		f := flyers[rapid.IntRange(0, 1).Draw(rt, "body")]
		small := func(name string) unit.Angle { return unit.Angle(rapid.Float64Range(-0.03, 0.03).Draw(rt, name)) }
		l := Launch{
			Speed: 58, Elevation: 0.05, Bearing: small("bearing"), Drift: small("drift"), Yaw: small("yaw"), Pitch: small("pitch"),
			YawRate: rapid.Float64Range(-3, 3).Draw(rt, "rate"), Right: unit.Length(small("right")),
		}
		w := Wind{Right: unit.Speed(rapid.Float64Range(-5, 5).Draw(rt, "wind")), Along: 1}
		hit, err := f.Fly(l, w, 30)
		if err != nil {
			rt.Fatal(err)
		}
		l.Bearing, l.Drift, l.Yaw, l.YawRate, l.Right, w.Right = -l.Bearing, -l.Drift, -l.Yaw, -l.YawRate, -l.Right, -w.Right
		mirror, err := f.Fly(l, w, 30)
		if err != nil {
			rt.Fatal(err)
		}
		if mirror.Right != -hit.Right || mirror.Up != hit.Up || mirror.Yaw != -hit.Yaw || mirror.Time != hit.Time {
			rt.Fatalf("%+v mirrors to %+v", hit, mirror)
		}
	})
}

// TestVanesSteer: a fletched arrow comes to rest in its path, a bare shaft
// much later; both swing back rather than away (A6: bare arrows are usually
// stable because the point moves the mass centre forward).
func TestVanesSteer(t *testing.T) {
	l := Launch{Speed: 60, Elevation: 0.08, Yaw: 0.03}
	fletched := mustFly(t, mustFlyer(t, generic()), l, Wind{}, 70)
	plain := mustFly(t, mustFlyer(t, bare()), l, Wind{}, 70)
	if math.Abs(float64(fletched.Yaw)) > 0.01 {
		t.Errorf("fletched arrow still yaws by %g rad at 70 m, having started with 0.03", float64(fletched.Yaw))
	}
	if math.Abs(float64(plain.Yaw)) > 0.03 {
		t.Errorf("bare shaft yaws by %v at 70 m: it should not swing farther than it started", plain.Yaw)
	}
	if math.Abs(float64(plain.Right)) < 2*math.Abs(float64(fletched.Right)) {
		t.Errorf("yaw moves the bare shaft %v and the fletched arrow %v: bare should go farther", plain.Right, fletched.Right)
	}
}

// TestYawRateCarriesAside: a bare shaft whose point turns right lands right of
// the fletched arrow. Size at 18 and 30 m for 1 rad/s: vertical.md section 4
// (computed by its prototype) has 10 and 28 cm; estimated slopes, ± 30 %.
func TestYawRateCarriesAside(t *testing.T) {
	l := Launch{Speed: 61.6, YawRate: 1}
	for _, c := range []struct {
		distance unit.Length
		low, top float64
	}{{18, 0.07, 0.13}, {30, 0.19, 0.36}} {
		offset := float64(mustFly(t, mustFlyer(t, bare()), l, Wind{}, c.distance).Right - mustFly(t, mustFlyer(t, generic()), l, Wind{}, c.distance).Right)
		if offset < c.low || offset > c.top {
			t.Errorf("bare − fletched at %v: %.3f m, want %g to %g", c.distance, offset, c.low, c.top)
		}
	}
}

// TestLighterShaftFliesHigh: model.md section 5: 0.8 g less is about 1.6 %
// more speed and some 4 cm high at 30 m.
func TestLighterShaftFliesHigh(t *testing.T) {
	taped := mustFlyer(t, bare())
	light := bare()
	light.Mass -= 0.0008
	b := mustFlyer(t, light)
	l := Launch{Speed: 60, Elevation: 0.04}
	heavy := mustFly(t, taped, l, Wind{}, 30)
	l.Speed *= 1.016
	high := float64(mustFly(t, b, l, Wind{}, 30).Up - heavy.Up)
	if high < 0.03 || high > 0.05 {
		t.Errorf("bare shaft without tape lands %.3f m higher at 30 m, want about 4 cm", high)
	}
}

// TestRinging: a shaft that still swings is braked more by the cross flow.
func TestRinging(t *testing.T) {
	f := mustFlyer(t, bare())
	l := Launch{Speed: 60, YawRate: 1}
	still := mustFly(t, f, l, Wind{}, 30)
	l.Ringing = []Ringing{{SquaredSpeed: []float64{4, 1, 4}, Decay: 1}}
	ringing := mustFly(t, f, l, Wind{}, 30)
	if still.Right == ringing.Right {
		t.Error("ringing changes nothing")
	}
	l.Ringing[0].Decay = 1e5
	gone := mustFly(t, f, l, Wind{}, 30)
	if d := math.Abs(float64(gone.Right - still.Right)); d > 2e-3 {
		t.Errorf("ringing that dies at once moves the impact by %g m", d)
	}
}

// TestAim: the elevation found hits, at any height, and Fly agrees.
func TestAim(t *testing.T) {
	f := mustFlyer(t, generic())
	for _, c := range []struct{ distance, rise unit.Length }{{18, 0}, {30, 1.2}, {70, -0.2}, {90, 0}, {50, 15}, {50, -15}} {
		e, hit, err := f.Aim(Launch{Speed: 57}, Wind{Along: -1}, c.distance, c.rise)
		if err != nil {
			t.Fatal(err)
		}
		if d := math.Abs(float64(hit.Up - c.rise)); d > 1e-8 {
			t.Errorf("%v, rise %v: misses by %g m", c.distance, c.rise, d)
		}
		if e > 0.7 {
			t.Errorf("%v, rise %v: took the steep branch, %v", c.distance, c.rise, e)
		}
	}
	if _, _, err := f.Aim(Launch{Speed: 20}, Wind{}, 300, 0); err == nil {
		t.Error("300 m with 20 m/s was accepted")
	}
}

// TestPathEndsAtImpact: Path and Fly are the same flight.
func TestPathEndsAtImpact(t *testing.T) {
	f := mustFlyer(t, generic())
	l := Launch{Speed: 57, Elevation: 0.1, YawRate: 0.5, Ahead: 0.48}
	path, hit, err := f.Path(l, Wind{Right: 2}, 70)
	if err != nil {
		t.Fatal(err)
	}
	if alone := mustFly(t, f, l, Wind{Right: 2}, 70); alone != hit {
		t.Errorf("Path %+v, Fly %+v", hit, alone)
	}
	if last := path[len(path)-1]; last.Time != hit.Time || math.Abs(float64(last.Speed-hit.Speed)) > 1e-12 {
		t.Errorf("path ends at %+v, impact %+v", last, hit)
	}
}

// TestNoAllocation: a flight allocates nothing.
func TestNoAllocation(t *testing.T) {
	f := mustFlyer(t, generic())
	l := Launch{Speed: 57, Elevation: 0.1, YawRate: 0.5, Ringing: []Ringing{{SquaredSpeed: []float64{0.1, 0.1}, Decay: 4}}}
	if n := testing.AllocsPerRun(20, func() { mustFly(t, f, l, Wind{}, 70) }); n > 0 {
		t.Errorf("%g allocations a flight", n)
	}
}

// TestRefusals: nonsense is refused with a field and something to try.
func TestRefusals(t *testing.T) {
	f := mustFlyer(t, generic())
	nan := math.NaN()
	for name, try := range map[string]func() error{
		"speed":    func() error { _, err := f.Fly(Launch{Speed: unit.Speed(nan)}, Wind{}, 30); return err },
		"wind":     func() error { _, err := f.Fly(Launch{Speed: 57}, Wind{Right: 100}, 30); return err },
		"distance": func() error { _, err := f.Fly(Launch{Speed: 57}, Wind{}, unit.Length(nan)); return err },
		"behind":   func() error { _, err := f.Fly(Launch{Speed: 57, Ahead: 4}, Wind{}, 2); return err },
		"body":     func() error { b := generic(); b.Inertia = 0; _, err := New(b, StandardAir()); return err },
		"air":      func() error { _, err := New(generic(), Air{Pressure: 1013}); return err },
		"point":    func() error { p := pointArrow(1.5); p.Mass = 0; _, err := p.Aim(57, 70, 0); return err },
	} {
		if try() == nil {
			t.Errorf("%s: nonsense accepted", name)
		}
	}
}

// BenchmarkFly is a flight to 70 m: at most 0.05 ms.
func BenchmarkFly(b *testing.B) {
	f := mustFlyer(b, generic())
	l := Launch{Speed: 57, Elevation: 0.1, YawRate: 0.5, Ringing: []Ringing{
		{SquaredSpeed: []float64{0.1, 0.02, 0.1}, Decay: 4}, {SquaredSpeed: []float64{0.01, 0.02, 0.01}, Decay: 12},
	}}
	b.ReportAllocs()
	for b.Loop() {
		mustFly(b, f, l, Wind{}, 70)
	}
}

// TestAlwaysFinite: whatever passes validation arrives with finite numbers or
// is refused.
func TestAlwaysFinite(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(rt, name) }
		b := generic()
		b.Mass, b.Inertia = unit.Mass(f("mass", 0.002, 0.2)), f("inertia", 1e-5, 0.1)
		b.Balance = unit.Length(f("balance", 0.05, 0.7))
		b.Diameter = unit.Length(f("diameter", 0.002, 0.02))
		b.Vanes.Height = unit.Length(f("vanes", 0, 0.03))
		fl, err := New(b, Air{unit.Temperature(f("t", -40, 60)), unit.Pressure(f("p", 50000, 110000)), f("h", 0, 1)})
		if err != nil {
			rt.Fatal(err)
		}
		l := Launch{
			Speed: unit.Speed(f("speed", 5, 150)), Elevation: unit.Angle(f("elevation", -1.4, 1.4)), Yaw: unit.Angle(f("yaw", -0.5, 0.5)),
			Pitch: unit.Angle(f("pitch", -0.5, 0.5)), YawRate: f("rate", -100, 100), PitchRate: f("pitch rate", -100, 100),
		}
		hit, err := fl.Fly(l, Wind{Right: unit.Speed(f("wind", -30, 30))}, unit.Length(f("distance", 1, 400)))
		if err != nil {
			return
		}
		for _, v := range []float64{float64(hit.Right), float64(hit.Up), float64(hit.Speed), float64(hit.Time), float64(hit.Yaw), float64(hit.Pitch)} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				rt.Fatalf("%+v", hit)
			}
		}
	})
}
