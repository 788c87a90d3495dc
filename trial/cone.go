package trial

import (
	"gonum.org/v1/gonum/floats"
)

// cone is the set of trends {Σ a_f free_f + Σ b_h half_h, b ≥ 0} on a grid of
// stops, every vector already divided by the standard error of its stop (in
// units of one shot's scatter), so that plain dot products are the right ones.
type cone struct {
	name string
	free [][]float64 // orthonormal
	half [][]float64 // orthogonal to free
}

// newCone takes generators in plain units and scales them by root weights.
func newCone(name string, root []float64, free, half [][]float64) cone {
	c := cone{name: name}
	for _, f := range free {
		c.addFree(scaled(f, root))
	}
	for _, h := range half {
		c.addHalf(scaled(h, root))
	}
	return c
}

// addHalf keeps what of v is off the free directions, unless nothing is.
func (c *cone) addHalf(v []float64) {
	size := floats.Norm(v, 2)
	v = c.offFree(c.offFree(v))
	if floats.Norm(v, 2) > 1e-9*size {
		c.half = append(c.half, v)
	}
}

func scaled(v, root []float64) []float64 {
	out := make([]float64, len(v))
	floats.MulTo(out, v, root)
	return out
}

// addFree orthonormalises v against the free directions and appends it.
func (c *cone) addFree(v []float64) {
	size := floats.Norm(v, 2)
	v = c.offFree(c.offFree(v)) // twice: Gram-Schmidt loses digits once
	if n := floats.Norm(v, 2); n > 1e-9*size {
		floats.Scale(1/n, v)
		c.free = append(c.free, v)
	}
}

// offFree returns v without its part in the free directions.
func (c *cone) offFree(v []float64) []float64 {
	out := append([]float64(nil), v...)
	for _, f := range c.free {
		floats.AddScaled(out, -floats.Dot(out, f), f)
	}
	return out
}

// with returns the cone widened by a free direction (in plain units).
func (c cone) with(root, v []float64) cone {
	wide := cone{name: c.name, free: append([][]float64(nil), c.free...)}
	wide.addFree(scaled(v, root))
	for _, h := range c.half {
		wide.addHalf(h)
	}
	return wide
}

// polar returns what is left of v when its projection on the cone is taken
// away. By Moreau's theorem the rest w lies in the polar cone: w·m ≤ 0 for
// every trend m of the cone, and w is the direction there that shows v best.
func (c cone) polar(v []float64) []float64 {
	rest, _ := c.project(v)
	return rest
}

// project also counts the directions used: free ones and positive generators,
// the usual degrees of freedom of a fit by a cone.
func (c cone) project(v []float64) (rest []float64, used int) {
	rest, used = c.offFree(v), len(c.free)
	for h, coef := range nnls(c.half, rest) {
		if coef > 0 {
			floats.AddScaled(rest, -coef, c.half[h])
			used++
		}
	}
	return rest, used
}

// nnls solves min |y − Σ b_h g_h| over b ≥ 0 by the active-set method of
// Lawson and Hanson, Solving Least Squares Problems (1974), ch. 23.
func nnls(g [][]float64, y []float64) []float64 {
	b := make([]float64, len(g))
	active := make([]bool, len(g))
	tol := 1e-10 * (1 + floats.Norm(y, 2))
	for range 3 * (len(g) + 1) {
		enter := steepest(g, residual(g, b, y), active, tol)
		if enter < 0 {
			return b
		}
		active[enter] = true
		for stepToFeasible(g, y, b, active) {
		}
	}
	return b
}

func residual(g [][]float64, b, y []float64) []float64 {
	r := append([]float64(nil), y...)
	for h, coef := range b {
		floats.AddScaled(r, -coef, g[h])
	}
	return r
}

// steepest picks the inactive generator with the largest positive gradient.
func steepest(g [][]float64, r []float64, active []bool, tol float64) int {
	best, at := 0.0, -1
	for h := range g {
		slope := floats.Dot(g[h], r) / floats.Norm(g[h], 2)
		if !active[h] && slope > tol && slope > best {
			best, at = slope, h
		}
	}
	return at
}

// stepToFeasible moves b toward the unconstrained solution on the active set
// and reports whether it had to stop at a bound, dropping a generator there.
func stepToFeasible(g [][]float64, y, b []float64, active []bool) (again bool) {
	s := solveActive(g, y, active)
	alpha, drop := 1.0, -1
	for h := range b {
		if active[h] && s[h] <= 0 {
			if a := b[h] / (b[h] - s[h]); a < alpha {
				alpha, drop = a, h
			} else if b[h] == 0 {
				alpha, drop = 0, h
			}
		}
	}
	for h := range b {
		if active[h] {
			b[h] += alpha * (s[h] - b[h])
		}
	}
	if drop >= 0 {
		b[drop], active[drop] = 0, false
	}
	return drop >= 0
}

// solveActive is plain least squares on the active generators, by
// orthogonalisation.
func solveActive(g [][]float64, y []float64, active []bool) []float64 {
	var idx []int
	var q [][]float64
	var r [][]float64
	for h := range g {
		if !active[h] {
			continue
		}
		v := append([]float64(nil), g[h]...)
		col := make([]float64, len(q)+1)
		for i, e := range q {
			col[i] = floats.Dot(v, e)
			floats.AddScaled(v, -col[i], e)
		}
		n := floats.Norm(v, 2)
		if n < 1e-11*floats.Norm(g[h], 2) {
			continue // depends on the others: its coefficient stays 0
		}
		col[len(q)] = n
		floats.Scale(1/n, v)
		q, r, idx = append(q, v), append(r, col), append(idx, h)
	}
	s := make([]float64, len(g))
	rest := make([]float64, len(q))
	for i, e := range q {
		rest[i] = floats.Dot(e, y)
	}
	for i := len(q) - 1; i >= 0; i-- {
		s[idx[i]] = rest[i] / r[i][i]
		for j := range i {
			rest[j] -= r[i][j] * s[idx[i]]
		}
	}
	return s
}
