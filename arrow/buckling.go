package arrow

import (
	"math"

	"tautline/num"
	"tautline/unit"
)

// BucklingForce is the push on the nock at which this shaft, pinned at both
// ends and accelerating, would bow out without limit if it were given time
// (eq. 14). A recurve shot exceeds it for a few milliseconds and gets away
// with it; by how much is the measure of how soft the shaft is for the bow.
func (a *Arrow) BucklingForce() unit.Force { return unit.Force(a.buckle) }

// bucklingForce solves K φ = (P/M) G φ with the ends pinned for the smallest
// P, by inverse iteration in the energy norm: the ratio of the lowest two
// eigenvalues is about four, so the error falls sixteenfold a turn.
func (b *beam) bucklingForce(k, g num.Matrix) (float64, error) {
	free := b.pinned()
	n := len(free)
	const half = 3
	band := make([]float64, n*(half+1))
	for i := range n {
		for d := 0; d <= min(half, i); d++ {
			band[i*(half+1)+half-d] = k.At(free[i], free[i-d])
		}
	}
	solver := num.NewBandCholesky(n, half)
	if err := solver.Factor(band).Err("stiffness of the pinned shaft"); err != nil {
		return 0, err
	}
	v, u := make([]float64, n), make([]float64, n)
	for i, at := range free {
		// Half a sine, with its slope.
		x := math.Pi * float64(at/2) / float64(b.elements)
		if at%2 == 0 {
			v[i] = math.Sin(x)
		} else {
			v[i] = math.Cos(x) * math.Pi / b.length
		}
	}
	load := 0.0
	for range 60 {
		multiplyBand(g, free, v, u)
		vGv := inner(v, u)
		if err := solver.Solve(u).Err("buckling of the shaft"); err != nil {
			return 0, err
		}
		// Rayleigh quotient uᵀKu / uᵀGu with Ku = Gv.
		size := math.Sqrt(inner(u, u))
		if !(size > 0) || !(vGv > 0) {
			return 0, num.NotFinite.Err("buckling of the shaft")
		}
		next := vGv / b.crossed(g, free, v, u)
		for i := range v {
			v[i] = u[i] / size
		}
		if math.Abs(next-load) <= 1e-13*next {
			load = next
			break
		}
		load = next
	}
	return load * b.mass, nil
}

// pinned lists the unknowns left when both ends are held.
func (b *beam) pinned() []int {
	free := make([]int, 0, b.size()-2)
	for i := 1; i < b.size(); i++ {
		if i != 2*b.elements {
			free = append(free, i)
		}
	}
	return free
}

// multiplyBand sets u = G v over the free unknowns.
func multiplyBand(g num.Matrix, free []int, v, u []float64) {
	n := len(free)
	for i := range free {
		u[i] = 0
		for j := max(0, i-4); j < min(n, i+5); j++ {
			u[i] += g.At(free[i], free[j]) * v[j]
		}
	}
}

// crossed is vᵀG u.
func (b *beam) crossed(g num.Matrix, free []int, v, u []float64) float64 {
	gu := make([]float64, len(u))
	multiplyBand(g, free, u, gu)
	return inner(v, gu)
}

func inner(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}
