package num

import "math"

// Tridiagonal solves systems with three diagonals by Gaussian elimination
// without pivoting, which is stable for diagonally dominant and for positive
// definite matrices (Golub & Van Loan, Matrix Computations, 4.3). It
// allocates nothing after NewTridiagonal.
type Tridiagonal struct {
	ratio, inverse, upper []float64
}

// NewTridiagonal makes a workspace for n equations.
func NewTridiagonal(n int) *Tridiagonal {
	n = max(n, 0)
	return &Tridiagonal{ratio: make([]float64, n), inverse: make([]float64, n), upper: make([]float64, n)}
}

// Factor takes the diagonals: row i is sub[i]·x[i−1] + diag[i]·x[i] +
// super[i]·x[i+1]; sub[0] and super[n−1] are not read.
func (t *Tridiagonal) Factor(sub, diag, super []float64) Status {
	n := len(t.ratio)
	if len(sub) != n || len(diag) != n || len(super) != n {
		return BadInput
	}
	for i := range n {
		pivot := diag[i]
		if i > 0 {
			t.ratio[i] = sub[i] * t.inverse[i-1]
			pivot -= t.ratio[i] * super[i-1]
		}
		if !(math.Abs(pivot) > 4*Epsilon*math.Abs(diag[i])) || !finite(pivot) {
			return Singular
		}
		t.inverse[i] = 1 / pivot
		t.upper[i] = super[i]
	}
	return Done
}

// Solve overwrites b with the solution, for as many right-hand sides as
// there are after one Factor. NotFinite if it overflows.
func (t *Tridiagonal) Solve(b []float64) Status {
	n := len(t.ratio)
	if len(b) != n {
		return BadInput
	}
	for i := 1; i < n; i++ {
		b[i] -= t.ratio[i] * b[i-1]
	}
	for i := n - 1; i >= 0; i-- {
		if i < n-1 {
			b[i] -= t.upper[i] * b[i+1]
		}
		b[i] *= t.inverse[i]
	}
	return solved(b)
}

// BandCholesky factors symmetric positive definite band matrices, such as the
// stiffness of a beam (half-bandwidth 3 with cubic elements). It allocates
// nothing after NewBandCholesky.
type BandCholesky struct {
	n, half int
	l       []float64 // row i: L[i][i−half … i]
}

// NewBandCholesky makes a workspace for n equations with half diagonals below
// the main one.
func NewBandCholesky(n, half int) *BandCholesky {
	n, half = max(n, 0), max(half, 0)
	return &BandCholesky{n: n, half: half, l: make([]float64, n*(half+1))}
}

// Factor takes the lower band: band[i*(half+1)+half−d] is A[i][i−d], so the
// diagonal is the last of each row of half+1 numbers. Elements outside the
// matrix are not read.
func (c *BandCholesky) Factor(band []float64) Status {
	w := c.half + 1
	if len(band) != c.n*w || !allFinite(band) {
		return BadInput
	}
	for i := range c.n {
		for d := min(i, c.half); d >= 0; d-- {
			j := i - d
			sum := band[i*w+c.half-d]
			pivot := sum
			for k := max(0, i-c.half, j-c.half); k < j; k++ {
				sum -= c.l[i*w+c.half-(i-k)] * c.l[j*w+c.half-(j-k)]
			}
			if d > 0 {
				c.l[i*w+c.half-d] = sum / c.l[j*w+c.half]
				continue
			}
			if !(sum > 4*Epsilon*math.Abs(pivot)) {
				return NotPositive
			}
			c.l[i*w+c.half] = math.Sqrt(sum)
		}
	}
	return Done
}

// Solve overwrites b with the solution. NotFinite if it overflows.
func (c *BandCholesky) Solve(b []float64) Status {
	w := c.half + 1
	if len(b) != c.n {
		return BadInput
	}
	for i := range c.n {
		for k := max(0, i-c.half); k < i; k++ {
			b[i] -= c.l[i*w+c.half-(i-k)] * b[k]
		}
		b[i] /= c.l[i*w+c.half]
	}
	for i := c.n - 1; i >= 0; i-- {
		b[i] /= c.l[i*w+c.half]
		for k := max(0, i-c.half); k < i; k++ {
			b[k] -= c.l[i*w+c.half-(i-k)] * b[i]
		}
	}
	return solved(b)
}
