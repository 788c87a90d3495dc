package shot

import "math"

// stepMargin is the share of the stability limit 2.83/ω_max that a step may
// use, ω_max being that of the bow at full draw.
const (
	rkLimit    = 2.83
	stepMargin = 0.75
)

// stableStep is the longest step that is safe, at most step.
func stableStep(e engine, step float64) float64 {
	return math.Min(step, stepMargin*rkLimit/fastest(e))
}

// fastest is the largest angular frequency of small motions at full draw, by
// the power method on −M⁻¹K, formed as differences of accelerations at rest.
func fastest(e engine) float64 {
	n := e.dof()
	q0, q, a0, a := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	x := make([]float64, n)
	e.coordinates(q0)
	e.restAcc(q0, a0)
	for i := range x {
		// a start with a share of every shape, the fast ones above all
		x[i] = 1 + 0.3*math.Sin(float64(7*i*i))
		if i%2 == 1 {
			x[i] = -x[i]
		}
	}
	const small = 1e-7
	square := 0.0
	for range 60 {
		norm := 0.0
		for i := range x {
			norm += x[i] * x[i]
		}
		norm = small / math.Sqrt(norm)
		for i := range x {
			x[i] *= norm
			q[i] = q0[i] + x[i]
		}
		e.restAcc(q, a)
		before := square
		grown := 0.0
		for i := range x {
			x[i] = a[i] - a0[i]
			grown += x[i] * x[i]
		}
		square = math.Sqrt(grown) / small
		if math.Abs(square-before) < 1e-3*square {
			break
		}
	}
	return math.Sqrt(square)
}
