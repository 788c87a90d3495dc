package trial

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/floats"
)

// Moreau's theorem, checked on random designs: what polar leaves is orthogonal
// to the free directions and to the projection, and at an obtuse angle to every
// generator, with and without widening. The bound is rounding of vectors of
// size one.
func TestPolarIsPolar(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for range runs(300) {
		k := 5 + rng.IntN(10)
		x, root := make([]float64, k), make([]float64, k)
		for i := range x {
			x[i], root[i] = float64(i)+0.4*rng.Float64(), math.Sqrt(float64(1+rng.IntN(8)))
		}
		for _, c := range smoothClasses(x, root) {
			checkPolar(t, c, rng)
			checkPolar(t, c.with(root, powers(centred(x), 1)[1]), rng)
			spot := make([]float64, k)
			spot[k/2] = 1
			checkPolar(t, c.with(root, spot), rng)
		}
	}
}

func checkPolar(t *testing.T, c cone, rng *rand.Rand) {
	t.Helper()
	v := make([]float64, len(c.free[0]))
	for i := range v {
		v[i] = rng.NormFloat64()
	}
	w := c.polar(v)
	for _, f := range c.free {
		if d := floats.Dot(w, f); math.Abs(d) > 1e-9 {
			t.Fatalf("%s: w·free = %g", c.name, d)
		}
	}
	for _, h := range c.half {
		if d := floats.Dot(w, h) / (floats.Norm(h, 2) + 1e-300); d > 1e-8 {
			t.Fatalf("%s: w·generator = %g", c.name, d)
		}
	}
	projection := make([]float64, len(v))
	floats.SubTo(projection, v, w)
	if d := floats.Dot(w, projection); math.Abs(d) > 1e-8 {
		t.Fatalf("%s: w·projection = %g", c.name, d)
	}
}
