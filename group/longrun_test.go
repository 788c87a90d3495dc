package group

import (
	"math"
	"math/rand/v2"
	"testing"

	"tautline/unit"
)

// wandering shoots ends of n arrows with σ = 1 whose centres scatter by
// wander on each axis.
func wandering(rng *rand.Rand, ends, n int, wander, up float64) []Shot {
	shots := normalShots(rng, ends, n, 1, 1)
	for i := range shots {
		if i%n == 0 {
			right, high := unit.Length(wander*rng.NormFloat64()), unit.Length(up*rng.NormFloat64())
			for k := range n {
				shots[i+k].Right, shots[i+k].Up = shots[i+k].Right+right, shots[i+k].Up+high
			}
		}
	}
	return shots
}

// Radii and spread of the long run hold what they say, wherever the ends'
// centres are: half, nine in ten and the interval of the spread. With centres
// that do not scatter nothing moves by more than a hundredth. The share inside
// a circle of a circular normal distribution, 1 − exp(−r²/2σ²), is the outside
// measure (Rayleigh).
func TestLongRunHoldsWithWanderingCentres(t *testing.T) {
	for _, wander := range []float64{0, 0.5, 1} {
		rng, n := rand.New(rand.NewPCG(8, 4)), runs(400)
		truth := math.Hypot(1, wander)
		var half, nine, held, moved, within float64
		for range n {
			d, err := Describe(wandering(rng, 24, 6, wander, wander))
			if err != nil {
				t.Fatal(err)
			}
			share := func(r unit.Length) float64 { return -math.Expm1(-square(float64(r)/truth)/2) / float64(n) }
			half, nine = half+share(d.R50), nine+share(d.R90)
			moved += float64(d.LongRun.Sigma.Value/d.Sigma.Value) / float64(n)
			within += float64(d.Sigma.Value) / float64(n)
			if d.LongRun.Sigma.Holds(unit.Length(truth)) {
				held += 1 / float64(n)
			}
		}
		t.Logf("centres scatter by %g σ: %.3f and %.3f inside, σ in its interval %.3f, ×%.3f of σ within ends %.3f", wander, half, nine, held, moved, within)
		if math.Abs(half-0.5) > 0.01 || math.Abs(nine-0.9) > 0.01 || !near(held, 0.95, 0.035) || !near(within, 1, 0.01) {
			t.Errorf("centres scatter by %g σ: %.3f and %.3f inside, σ in its interval %.3f, within ends %.3f", wander, half, nine, held, within)
		}
		if wander == 0 && moved > 1.01 {
			t.Errorf("centres that do not scatter widen the long run by %.3f", moved)
		}
	}
}

// Centres that wander sideways only make the long run wider sideways only; one
// end shows nothing of it.
func TestLongRunKeepsItsDirection(t *testing.T) {
	shots := wandering(rand.New(rand.NewPCG(3, 1)), 60, 6, 2, 0)
	d, err := Describe(shots)
	if err != nil || !d.LongRun.Wider || !near(float64(d.LongRun.SigmaRight.Value), math.Sqrt(5), 0.4) || !near(float64(d.LongRun.SigmaUp.Value), 1, 0.1) {
		t.Errorf("%+v %v", d.LongRun, err)
	}
	within := Spread{SigmaRight: unit.Length(math.Sqrt(5)), SigmaUp: 1}.Within(d.R90)
	if !near(within, 0.9, 0.03) || !near(float64(d.LongRun.Ellipse.Angle), 0, 0.1) {
		t.Errorf("%.3f inside R90; %+v", within, d.LongRun.Ellipse)
	}
	one, err := Describe(shots[:6])
	if err != nil || one.LongRun.Wider || one.LongRun.Sigma != one.Sigma || one.LongRun.Ellipse != one.Ellipse {
		t.Errorf("%+v %v", one.LongRun, err)
	}
}
