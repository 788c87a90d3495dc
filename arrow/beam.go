package arrow

import (
	"slices"

	"tautline/num"
)

// beam is the shaft as Hermite cubic elements of equal length h: unknowns are
// deflection and slope at each node, nock first (eq. 2).
type beam struct {
	elements int
	h        float64
	ei, mu   float64
	length   float64
	lumps    []lump
	mass     float64
}

func newBeam(d Design, elements int) *beam {
	l := float64(d.Length)
	return &beam{
		elements: elements, h: l / float64(elements), length: l,
		ei: Stiffness(d.Spine), mu: d.LinearDensity, lumps: d.lumps(), mass: float64(d.Mass()),
	}
}

// size is the number of unknowns.
func (b *beam) size() int { return 2 * (b.elements + 1) }

// hermite returns the four shape functions and their slopes at x = t·h inside
// an element of length h.
func hermite(t, h float64) (n, dn [4]float64) {
	t2, t3 := t*t, t*t*t
	n = [4]float64{1 - 3*t2 + 2*t3, h * (t - 2*t2 + t3), 3*t2 - 2*t3, h * (t3 - t2)}
	dn = [4]float64{(6*t2 - 6*t) / h, 1 - 4*t + 3*t2, (6*t - 6*t2) / h, 3*t2 - 2*t}
	return n, dn
}

// locate finds the element that holds s and the place t = 0…1 inside it.
func (b *beam) locate(s float64) (element int, t float64) {
	x := s / b.h
	element = min(max(int(x), 0), b.elements-1)
	return element, x - float64(element)
}

// ahead is the mass in front of s, the share of the thrust that s carries.
func (b *beam) ahead(s float64) float64 {
	m := b.mu * (b.length - s)
	for _, p := range b.lumps {
		if p.s > s {
			m += p.m
		}
	}
	return m
}

// addBlock adds a 4 by 4 element matrix.
func addBlock(m num.Matrix, element int, block *[4][4]float64) {
	for i := range 4 {
		row := m.Row(2*element + i)
		for j := range 4 {
			row[2*element+j] += block[i][j]
		}
	}
}

// stiffness is K = ∫ EI N″ᵀN″ ds.
func (b *beam) stiffness() num.Matrix {
	k, h := num.NewMatrix(b.size(), b.size()), b.h
	e := b.ei / (h * h * h)
	block := [4][4]float64{
		{12 * e, 6 * h * e, -12 * e, 6 * h * e},
		{6 * h * e, 4 * h * h * e, -6 * h * e, 2 * h * h * e},
		{-12 * e, -6 * h * e, 12 * e, -6 * h * e},
		{6 * h * e, 2 * h * h * e, -6 * h * e, 4 * h * h * e},
	}
	for i := range b.elements {
		addBlock(k, i, &block)
	}
	return k
}

// inertia is M = ∫ μ NᵀN ds + Σ (m NᵀN + j N′ᵀN′) over the lumps.
func (b *beam) inertia() num.Matrix {
	m, h := num.NewMatrix(b.size(), b.size()), b.h
	c := b.mu * h / 420
	block := [4][4]float64{
		{156 * c, 22 * h * c, 54 * c, -13 * h * c},
		{22 * h * c, 4 * h * h * c, 13 * h * c, -3 * h * h * c},
		{54 * c, 13 * h * c, 156 * c, -22 * h * c},
		{-13 * h * c, -3 * h * h * c, -22 * h * c, 4 * h * h * c},
	}
	for i := range b.elements {
		addBlock(m, i, &block)
	}
	for _, p := range b.lumps {
		e, t := b.locate(p.s)
		n, dn := hermite(t, h)
		var at [4][4]float64
		for i := range 4 {
			for j := range 4 {
				at[i][j] = p.m*n[i]*n[j] + p.j*dn[i]*dn[j]
			}
		}
		addBlock(m, e, &at)
	}
	return m
}

// geometric is G = ∫ m_f N′ᵀN′ ds, m_f the mass ahead: under the acceleration
// a the stiffness falls by a·G. m_f jumps at each lump, so the quadrature is
// split there; three Gauss points are exact on each piece.
func (b *beam) geometric() num.Matrix {
	g := num.NewMatrix(b.size(), b.size())
	x, w := num.GaussLegendre(3)
	for e := range b.elements {
		var block [4][4]float64
		cuts := b.cuts(e)
		for c := 1; c < len(cuts); c++ {
			low, width := cuts[c-1], cuts[c]-cuts[c-1]
			for q := range x {
				s := low + width*(1+x[q])/2
				_, dn := hermite(s/b.h-float64(e), b.h)
				f := b.ahead(s) * w[q] * width / 2
				for i := range 4 {
					for j := range 4 {
						block[i][j] += f * dn[i] * dn[j]
					}
				}
			}
		}
		addBlock(g, e, &block)
	}
	return g
}

// cuts are the ends of element e and the lumps inside it, in order.
func (b *beam) cuts(e int) []float64 {
	low, high := float64(e)*b.h, float64(e+1)*b.h
	at := []float64{low, high}
	for _, p := range b.lumps {
		if p.s > low && p.s < high {
			at = append(at, p.s)
		}
	}
	slices.Sort(at)
	return at
}
