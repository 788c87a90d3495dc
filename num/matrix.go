package num

import "math"

// Matrix is a dense matrix, row after row in Data.
type Matrix struct {
	Rows, Cols int
	Data       []float64
}

// NewMatrix makes a zero matrix.
func NewMatrix(rows, cols int) Matrix {
	rows, cols = max(rows, 0), max(cols, 0)
	return Matrix{Rows: rows, Cols: cols, Data: make([]float64, rows*cols)}
}

// At returns the element in row i, column j.
func (m Matrix) At(i, j int) float64 { return m.Data[i*m.Cols+j] }

// Set changes the element in row i, column j.
func (m Matrix) Set(i, j int, v float64) { m.Data[i*m.Cols+j] = v }

// Row returns row i, not a copy.
func (m Matrix) Row(i int) []float64 { return m.Data[i*m.Cols : (i+1)*m.Cols : (i+1)*m.Cols] }

// fits reports whether Data has the size it claims.
func (m Matrix) fits() bool { return m.Rows >= 0 && m.Cols >= 0 && len(m.Data) == m.Rows*m.Cols }

// square reports a matrix of n by n finite numbers.
func (m Matrix) square(n int) bool {
	return m.fits() && m.Rows == n && m.Cols == n && allFinite(m.Data)
}

// solved is the status of a solution.
func solved(b []float64) Status {
	if !allFinite(b) {
		return NotFinite
	}
	return Done
}

// Cholesky factors symmetric positive definite matrices of one size,
// A = L Lᵀ, without allocating after NewCholesky.
type Cholesky struct {
	n int
	l []float64
}

// NewCholesky makes a workspace for n by n matrices.
func NewCholesky(n int) *Cholesky {
	n = max(n, 0)
	return &Cholesky{n: n, l: make([]float64, n*n)}
}

// Factor factors A + shift·I; only the lower triangle of A is read.
// NotPositive if a pivot is not clearly above zero.
func (c *Cholesky) Factor(a Matrix, shift float64) Status {
	if !a.square(c.n) || !finite(shift) {
		return BadInput
	}
	n := c.n
	for j := range n {
		row := c.l[j*n : j*n+j]
		pivot := a.At(j, j) + shift
		rest := pivot - dot(row, row)
		// Below this the pivot is rounding noise of the subtraction.
		if !(rest > 4*Epsilon*math.Abs(pivot)) {
			return NotPositive
		}
		d := math.Sqrt(rest)
		c.l[j*n+j] = d
		for i := j + 1; i < n; i++ {
			c.l[i*n+j] = (a.At(i, j) - dot(c.l[i*n:i*n+j], row)) / d
		}
	}
	return Done
}

// FactorShifted factors A + shift·I with the first of shift 0, s, 10s, 100s, …
// that makes it positive definite, s being 1e-6 of the largest diagonal
// element: the safeguard of Newton's method far from the minimum. It returns
// the shift used.
func (c *Cholesky) FactorShifted(a Matrix) (shift float64, status Status) {
	if status = c.Factor(a, 0); status != NotPositive {
		return 0, status
	}
	largest := 0.0
	for i := range c.n {
		largest = math.Max(largest, math.Abs(a.At(i, i)))
	}
	if largest < 1e-290 {
		largest = 1e-290
	}
	for shift = 1e-6 * largest; shift < 1e12*largest; shift *= 10 {
		if status = c.Factor(a, shift); status == Done {
			return shift, Done
		}
	}
	return shift, NotPositive
}

// Solve overwrites b with the solution of A x = b. NotFinite if it overflows.
func (c *Cholesky) Solve(b []float64) Status {
	n := c.n
	if len(b) != n {
		return BadInput
	}
	for i := range n {
		b[i] = (b[i] - dot(c.l[i*n:i*n+i], b[:i])) / c.l[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		b[i] /= c.l[i*n+i]
		for j := range i {
			b[j] -= c.l[i*n+j] * b[i]
		}
	}
	return solved(b)
}

// Condition is a lower bound of the condition number of the factored matrix:
// the square of the ratio of the largest to the smallest pivot.
func (c *Cholesky) Condition() float64 {
	low, high := math.Inf(1), 0.0
	for i := range c.n {
		p := c.l[i*c.n+i]
		low, high = math.Min(low, p), math.Max(high, p)
	}
	if high == 0 {
		return 1
	}
	return (high / low) * (high / low)
}

// LDL factors symmetric matrices that need not be positive definite,
// A = L D Lᵀ without pivoting, and counts the negative pivots: by Sylvester's
// law as many as A has negative eigenvalues, so an equilibrium is stable when
// there are none.
type LDL struct {
	n    int
	l, d []float64
}

// NewLDL makes a workspace for n by n matrices.
func NewLDL(n int) *LDL {
	n = max(n, 0)
	return &LDL{n: n, l: make([]float64, n*n), d: make([]float64, n)}
}

// Factor factors A; only the lower triangle is read. Singular if a pivot
// vanishes, which without pivoting can also happen to a regular matrix.
func (c *LDL) Factor(a Matrix) (negative int, status Status) {
	if !a.square(c.n) {
		return 0, BadInput
	}
	n := c.n
	for j := range n {
		row := c.l[j*n : j*n+j]
		rest, size := a.At(j, j), math.Abs(a.At(j, j))
		for k, v := range row {
			rest -= v * v * c.d[k]
			size += v * v * math.Abs(c.d[k])
		}
		if !(math.Abs(rest) > 4*Epsilon*size) || !finite(rest) {
			return negative, Singular
		}
		if rest < 0 {
			negative++
		}
		c.d[j] = rest
		for i := j + 1; i < n; i++ {
			sum := a.At(i, j)
			for k, v := range row {
				sum -= c.l[i*n+k] * v * c.d[k]
			}
			c.l[i*n+j] = sum / rest
		}
	}
	return negative, Done
}

// Solve overwrites b with the solution of A x = b. NotFinite if it overflows.
func (c *LDL) Solve(b []float64) Status {
	n := c.n
	if len(b) != n {
		return BadInput
	}
	for i := range n {
		b[i] -= dot(c.l[i*n:i*n+i], b[:i])
	}
	for i := n - 1; i >= 0; i-- {
		b[i] /= c.d[i]
		for k := i + 1; k < n; k++ {
			b[i] -= c.l[k*n+i] * b[k]
		}
	}
	return solved(b)
}

// LU factors general square matrices with partial pivoting.
type LU struct {
	n     int
	a     []float64
	pivot []int
	work  []float64
}

// NewLU makes a workspace for n by n matrices.
func NewLU(n int) *LU {
	n = max(n, 0)
	return &LU{n: n, a: make([]float64, n*n), pivot: make([]int, n), work: make([]float64, n)}
}

// Factor factors A. Singular if a pivot is lost in rounding.
func (c *LU) Factor(a Matrix) Status {
	if !a.square(c.n) {
		return BadInput
	}
	copy(c.a, a.Data)
	n, largest := c.n, 0.0
	for _, v := range a.Data {
		largest = math.Max(largest, math.Abs(v))
	}
	for j := range n {
		p := j
		for i := j + 1; i < n; i++ {
			if math.Abs(c.a[i*n+j]) > math.Abs(c.a[p*n+j]) {
				p = i
			}
		}
		c.pivot[j] = p
		if !(math.Abs(c.a[p*n+j]) > float64(n)*Epsilon*largest) {
			return Singular
		}
		c.swapRows(j, p)
		c.eliminate(j)
	}
	return Done
}

// swapRows exchanges two whole rows.
func (c *LU) swapRows(i, j int) {
	if i == j {
		return
	}
	n := c.n
	for k := range n {
		c.a[i*n+k], c.a[j*n+k] = c.a[j*n+k], c.a[i*n+k]
	}
}

// eliminate clears column j below the diagonal.
func (c *LU) eliminate(j int) {
	n := c.n
	for i := j + 1; i < n; i++ {
		f := c.a[i*n+j] / c.a[j*n+j]
		c.a[i*n+j] = f
		for k := j + 1; k < n; k++ {
			c.a[i*n+k] -= f * c.a[j*n+k]
		}
	}
}

// Solve overwrites b with the solution of A x = b. NotFinite if it overflows.
func (c *LU) Solve(b []float64) Status {
	n := c.n
	if len(b) != n {
		return BadInput
	}
	for i, p := range c.pivot {
		b[i], b[p] = b[p], b[i]
	}
	for i := range n {
		b[i] -= dot(c.a[i*n:i*n+i], b[:i])
	}
	for i := n - 1; i >= 0; i-- {
		b[i] = (b[i] - dot(c.a[i*n+i+1:(i+1)*n], b[i+1:n])) / c.a[i*n+i]
	}
	return solved(b)
}
