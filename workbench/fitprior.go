package workbench

import (
	"math"

	"tautline/num"
)

// The fit works in a place u whose parts have, before any reading, mean zero,
// standard deviation one and nothing to do with each other: the bow's moves
// through the root of their precision, R x = u, the others divided by their
// doubt. A step of u along a part is one that nothing read so far speaks
// against, so that differences along it do not drown in the model's steps.
type priorPlace struct {
	back num.Matrix // R⁻¹, upper triangle
	sd   []float64  // of the parameters after the moves
}

func newPriorPlace(precision num.Matrix, knobs []knob) priorPlace {
	p := priorPlace{back: upperInverse(upperRoot(precision)), sd: make([]float64, len(knobs))}
	for j, k := range knobs {
		p.sd[j] = k.sd
	}
	return p
}

// upperRoot is the Cholesky factor R, upper triangle, of RᵀR. A pivot lost to
// rounding counts as the smallest that is not.
func upperRoot(a num.Matrix) num.Matrix {
	n := a.Rows
	r := num.NewMatrix(n, n)
	for i := range n {
		d := a.At(i, i)
		for k := range i {
			d -= r.At(k, i) * r.At(k, i)
		}
		r.Set(i, i, math.Sqrt(math.Max(d, 1e-12*a.At(i, i))))
		for j := i + 1; j < n; j++ {
			s := a.At(i, j)
			for k := range i {
				s -= r.At(k, i) * r.At(k, j)
			}
			r.Set(i, j, s/r.At(i, i))
		}
	}
	return r
}

// upperInverse inverts an upper triangle.
func upperInverse(r num.Matrix) num.Matrix {
	n := r.Rows
	out := num.NewMatrix(n, n)
	for j := range n {
		out.Set(j, j, 1/r.At(j, j))
		for i := j - 1; i >= 0; i-- {
			s := 0.0
			for k := i + 1; k <= j; k++ {
				s += r.At(i, k) * out.At(k, j)
			}
			out.Set(i, j, -s/r.At(i, i))
		}
	}
	return out
}

// row is how parameter j follows the place.
func (p priorPlace) row(j int) []float64 {
	out := make([]float64, len(p.sd))
	if m := p.back.Rows; j < m {
		copy(out, p.back.Row(j))
		return out
	}
	out[j] = p.sd[j]
	return out
}

// natural gives the parameters in their own units.
func (p priorPlace) natural(u []float64) []float64 {
	x := make([]float64, len(u))
	m := p.back.Rows
	for i := range m {
		for j := i; j < m; j++ {
			x[i] += p.back.At(i, j) * u[j]
		}
	}
	for j := m; j < len(u); j++ {
		x[j] = p.sd[j] * u[j]
	}
	return x
}
