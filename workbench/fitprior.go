package workbench

import (
	"math"

	"tautline/num"
)

// priorRoot turns a place of the parameters into residuals in standard
// deviations: the bow's moves jointly through the root of their precision, the
// others one by one.
type priorRoot struct {
	root num.Matrix // upper triangle R with RᵀR the precision of the moves
	sd   []float64  // of the others
	// step is the size of each parameter's move that matters: its doubt with
	// all others held.
	step []float64
}

func newPriorRoot(precision num.Matrix, knobs []knob) priorRoot {
	m := precision.Rows
	p := priorRoot{root: upperRoot(precision), sd: make([]float64, len(knobs)), step: make([]float64, len(knobs))}
	for j, k := range knobs {
		p.sd[j], p.step[j] = k.sd, k.sd
		if j < m {
			p.step[j] = 1 / math.Sqrt(precision.At(j, j))
		}
	}
	return p
}

// upperRoot is the Cholesky factor, upper triangle. A pivot lost to rounding
// counts as the smallest that is not.
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

// residuals of the parameters themselves.
func (p priorRoot) residuals(x, out []float64) {
	m := p.root.Rows
	for i := range m {
		sum := 0.0
		for j := i; j < m; j++ {
			sum += p.root.At(i, j) * x[j]
		}
		out[i] = sum
	}
	for j := m; j < len(x); j++ {
		out[j] = x[j] / p.sd[j]
	}
}

// jacobian fills the rows that start at row.
func (p priorRoot) jacobian(j num.Matrix, row int) {
	m := p.root.Rows
	for i := range m {
		for k := range m {
			j.Set(row+i, k, p.root.At(i, k))
		}
	}
	for i := m; i < len(p.sd); i++ {
		j.Set(row+i, i, 1/p.sd[i])
	}
}
