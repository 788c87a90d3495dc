package num

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Modes solves the generalised symmetric eigenproblem K φ = λ M φ with M
// positive definite, by Cholesky reduction of M and gonum's symmetric
// eigensolver. The values come in increasing order; column j of vectors
// belongs to value j and is scaled to φᵀMφ = 1, its largest component
// positive. Only the lower triangles are read.
func Modes(k, m Matrix) (values []float64, vectors Matrix, status Status) {
	n := k.Rows
	if n < 1 || !k.square(n) || !m.square(n) {
		return nil, Matrix{}, BadInput
	}
	c := NewCholesky(n)
	if status := c.Factor(m, 0); status != Done {
		return nil, Matrix{}, status
	}
	reduced := reduce(c, k)
	if !allFinite(reduced.RawSymmetric().Data) {
		return nil, Matrix{}, NotFinite
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(reduced, true) {
		return nil, Matrix{}, BudgetSpent
	}
	values = eigen.Values(nil)
	var q mat.Dense
	eigen.VectorsTo(&q)
	vectors = NewMatrix(n, n)
	for j := range n {
		expand(c, &q, vectors, j)
	}
	if !allFinite(values) || !allFinite(vectors.Data) {
		return nil, Matrix{}, NotFinite
	}
	return values, vectors, Done
}

// reduce forms L⁻¹ K L⁻ᵀ.
func reduce(c *Cholesky, k Matrix) *mat.SymDense {
	n := c.n
	s := NewMatrix(n, n)
	for i := range n {
		for j := range i + 1 {
			s.Set(i, j, k.At(i, j))
			s.Set(j, i, k.At(i, j))
		}
	}
	for range 2 {
		// Forward substitution on every row, then transpose: L⁻¹S, then again.
		for r := range n {
			row := s.Row(r)
			for i := range n {
				row[i] = (row[i] - dot(c.l[i*n:i*n+i], row[:i])) / c.l[i*n+i]
			}
		}
		transpose(s)
	}
	symmetrise(s)
	return mat.NewSymDense(n, s.Data)
}

// transpose exchanges rows and columns of a square matrix in place.
func transpose(s Matrix) {
	for i := range s.Rows {
		for j := range i {
			a, b := s.At(i, j), s.At(j, i)
			s.Set(i, j, b)
			s.Set(j, i, a)
		}
	}
}

// expand turns column j of q into φ = L⁻ᵀ q with a fixed sign.
func expand(c *Cholesky, q *mat.Dense, vectors Matrix, j int) {
	n := c.n
	v := mat.Col(nil, j, q)
	largest := 0.0
	for i := n - 1; i >= 0; i-- {
		v[i] /= c.l[i*n+i]
		for k := range i {
			v[k] -= c.l[i*n+k] * v[i]
		}
	}
	for _, x := range v {
		if math.Abs(x) > math.Abs(largest)*(1+1e-9) {
			largest = x
		}
	}
	for i, x := range v {
		vectors.Set(i, j, math.Copysign(1, largest)*x)
	}
}
