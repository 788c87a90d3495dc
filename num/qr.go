package num

import "math"

// QR is the Householder factorisation with column pivoting of tall matrices
// of one size, A P = Q R, after scaling the columns to length one, so that
// the rank and the condition do not depend on the units of the columns
// (Golub & Van Loan, Matrix Computations, 5.4; van der Sluis 1969 for the
// scaling). It allocates nothing after NewQR.
type QR struct {
	m, n  int
	a     Matrix    // R above the diagonal, Householder vectors below and on it
	beta  []float64 // 2/vᵀv
	diag  []float64 // diagonal of R
	scale []float64 // lengths of the columns
	perm  []int     // column of A in place k
	work  []float64
	rank  int
}

// NewQR makes a workspace for matrices with m ≥ n.
func NewQR(m, n int) *QR {
	m, n = max(m, 0), max(n, 0)
	return &QR{
		m: m, n: n, a: NewMatrix(m, n), beta: make([]float64, n), diag: make([]float64, n),
		scale: make([]float64, n), perm: make([]int, n), work: make([]float64, max(m, n)),
	}
}

// Factor factors A. Singular means that some columns are combinations of the
// others to within rounding; the first Rank columns in the order of pivoting
// are still usable.
func (q *QR) Factor(a Matrix) Status { return q.factor(a, float64(q.m)*Epsilon) }

// factor takes the relative error of the columns, below which what is left of
// a column counts as nothing.
func (q *QR) factor(a Matrix, noise float64) Status {
	if !a.fits() || a.Rows != q.m || a.Cols != q.n || q.m < q.n || !allFinite(a.Data) {
		return BadInput
	}
	copy(q.a.Data, a.Data)
	q.scaleColumns()
	q.rank = 0
	for k := range q.n {
		q.bringLongest(k)
		q.reflect(k)
	}
	// Scaled columns have length one.
	limit := noise * math.Abs(q.first())
	for q.rank < q.n && math.Abs(q.diag[q.rank]) > limit {
		q.rank++
	}
	if q.rank < q.n {
		return Singular
	}
	return Done
}

// first is the largest diagonal element.
func (q *QR) first() float64 {
	if q.n == 0 {
		return 0
	}
	return q.diag[0]
}

// Rank is the number of independent columns found by Factor.
func (q *QR) Rank() int { return q.rank }

// scaleColumns divides each column by its length.
func (q *QR) scaleColumns() {
	for j := range q.n {
		for i := range q.m {
			q.work[i] = q.a.At(i, j)
		}
		q.perm[j], q.scale[j] = j, norm(q.work[:q.m])
		if q.scale[j] == 0 {
			q.scale[j] = 1
		}
		for i := range q.m {
			q.a.Set(i, j, q.a.At(i, j)/q.scale[j])
		}
	}
}

// bringLongest exchanges column k with the one whose remaining part is longest.
func (q *QR) bringLongest(k int) {
	best, longest := k, -1.0
	for j := k; j < q.n; j++ {
		sum := 0.0
		for i := k; i < q.m; i++ {
			sum += q.a.At(i, j) * q.a.At(i, j)
		}
		// The first of columns of equal length stays in place.
		if sum > longest*(1+1e-12) {
			best, longest = j, sum
		}
	}
	if best == k {
		return
	}
	q.perm[k], q.perm[best] = q.perm[best], q.perm[k]
	for i := range q.m {
		row := q.a.Row(i)
		row[k], row[best] = row[best], row[k]
	}
}

// reflect makes column k zero below the diagonal.
func (q *QR) reflect(k int) {
	sum := 0.0
	for i := k; i < q.m; i++ {
		sum += q.a.At(i, k) * q.a.At(i, k)
	}
	length := math.Sqrt(sum)
	q.beta[k], q.diag[k] = 0, 0
	if length == 0 {
		return
	}
	head := q.a.At(k, k)
	alpha := -math.Copysign(length, head)
	q.diag[k] = alpha
	q.a.Set(k, k, head-alpha)
	q.beta[k] = 1 / (length * (length + math.Abs(head)))
	for j := k + 1; j < q.n; j++ {
		sum := 0.0
		for i := k; i < q.m; i++ {
			sum += q.a.At(i, k) * q.a.At(i, j)
		}
		sum *= q.beta[k]
		for i := k; i < q.m; i++ {
			q.a.Set(i, j, q.a.At(i, j)-sum*q.a.At(i, k))
		}
	}
}

// applyQT overwrites b (length m) with Qᵀb.
func (q *QR) applyQT(b []float64) {
	for k := range q.n {
		q.mirror(k, b)
	}
}

// applyQ overwrites b with Q b.
func (q *QR) applyQ(b []float64) {
	for k := q.n - 1; k >= 0; k-- {
		q.mirror(k, b)
	}
}

// mirror applies the k-th reflection.
func (q *QR) mirror(k int, b []float64) {
	sum := 0.0
	for i := k; i < q.m; i++ {
		sum += q.a.At(i, k) * b[i]
	}
	sum *= q.beta[k]
	for i := k; i < q.m; i++ {
		b[i] -= sum * q.a.At(i, k)
	}
}

// r is an element of R (scaled columns).
func (q *QR) r(i, j int) float64 {
	if i == j {
		return q.diag[i]
	}
	return q.a.At(i, j)
}

// backward solves R z = c in place for the leading rank equations.
func (q *QR) backward(c []float64) {
	for i := q.rank - 1; i >= 0; i-- {
		for j := i + 1; j < q.rank; j++ {
			c[i] -= q.r(i, j) * c[j]
		}
		c[i] /= q.diag[i]
	}
}

// forward solves Rᵀ z = c in place for the leading rank equations.
func (q *QR) forward(c []float64) {
	for i := range q.rank {
		for j := range i {
			c[i] -= q.r(j, i) * c[j]
		}
		c[i] /= q.diag[i]
	}
}

// unscramble writes z, in the order of pivoting and for scaled columns, as
// the coefficients of A's columns; those beyond the rank are zero.
func (q *QR) unscramble(z, x []float64) {
	for k, j := range q.perm {
		x[j] = 0
		if k < q.rank {
			x[j] = z[k] / q.scale[j]
		}
	}
}

// Solve writes to x (length n) the least-squares solution of A x ≈ b and
// leaves Qᵀb in b. With deficient rank the dependent columns get zero.
// NotFinite if it overflows.
func (q *QR) Solve(b, x []float64) Status {
	if len(b) != q.m || len(x) != q.n {
		return BadInput
	}
	q.applyQT(b)
	z := q.work[:q.n]
	copy(z, b[:q.n])
	q.backward(z)
	q.unscramble(z, x)
	return solved(x)
}

// InverseNormal fills c (n by n) with (AᵀA)⁻¹, the covariance of the solution
// for unit errors; rows and columns of dependent columns are zero.
func (q *QR) InverseNormal(c Matrix) {
	for i := range c.Data {
		c.Data[i] = 0
	}
	z := q.work[:q.n]
	for k := range q.rank {
		for i := range z {
			z[i] = 0
		}
		z[k] = 1
		q.forward(z)
		q.backward(z)
		for i := range q.rank {
			c.Set(q.perm[i], q.perm[k], z[i]/(q.scale[q.perm[i]]*q.scale[q.perm[k]]))
		}
	}
	symmetrise(c)
}

// symmetrise removes rounding differences between the triangles.
func symmetrise(c Matrix) {
	for i := range c.Rows {
		for j := range i {
			v := 0.5 * (c.At(i, j) + c.At(j, i))
			c.Set(i, j, v)
			c.Set(j, i, v)
		}
	}
}
