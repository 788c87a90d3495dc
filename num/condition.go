package num

import "math"

// Condition returns the condition number of the scaled A (ratio of extreme
// singular values) and the direction in which A determines x worst, in units
// of x with the largest component of scaled x equal to one: moving x along it
// changes A x least. Infinite for a deficient rank. It allocates.
func (q *QR) Condition() (condition float64, weakest []float64) {
	v := NewMatrix(q.n, q.n)
	u := NewMatrix(q.n, q.n)
	for i := range q.n {
		v.Set(i, i, 1)
		for j := i; j < q.n; j++ {
			u.Set(i, j, q.r(i, j))
		}
	}
	jacobiSVD(u, v)
	low, high, at := math.Inf(1), 0.0, 0
	for j := range q.n {
		s := columnNorm(u, j)
		if s < low {
			low, at = s, j
		}
		high = math.Max(high, s)
	}
	weakest = q.direction(v, at)
	switch {
	case q.n == 0:
		return 1, weakest
	case q.rank < q.n || low == 0:
		return math.Inf(1), weakest
	}
	return high / low, weakest
}

// direction turns column at of v into a change of x.
func (q *QR) direction(v Matrix, at int) []float64 {
	w := make([]float64, q.n)
	largest := 0.0
	for i := range q.n {
		largest = math.Max(largest, math.Abs(v.At(i, at)))
	}
	for i, j := range q.perm {
		if largest > 0 {
			w[j] = v.At(i, at) / (largest * q.scale[j])
		}
	}
	return w
}

// columnNorm is the length of a column.
func columnNorm(u Matrix, j int) float64 {
	sum := 0.0
	for i := range u.Rows {
		sum += u.At(i, j) * u.At(i, j)
	}
	return math.Sqrt(sum)
}

// jacobiSVD rotates the columns of u until they are orthogonal (one-sided
// Jacobi: small singular values come out with full relative accuracy) and
// does the same to v.
func jacobiSVD(u, v Matrix) {
	for range 60 {
		turned := false
		for p := range u.Cols {
			for q := p + 1; q < u.Cols; q++ {
				turned = rotatePair(u, v, p, q) || turned
			}
		}
		if !turned {
			return
		}
	}
}

// rotatePair makes columns p and q orthogonal.
func rotatePair(u, v Matrix, p, q int) bool {
	var pp, qq, pq float64
	for i := range u.Rows {
		a, b := u.At(i, p), u.At(i, q)
		pp, qq, pq = pp+a*a, qq+b*b, pq+a*b
	}
	if math.Abs(pq) <= 1e-15*math.Sqrt(pp*qq) {
		return false
	}
	zeta := (qq - pp) / (2 * pq)
	t := math.Copysign(1, zeta) / (math.Abs(zeta) + math.Hypot(1, zeta))
	c := 1 / math.Hypot(1, t)
	s := c * t
	for _, m := range []Matrix{u, v} {
		for i := range m.Rows {
			a, b := m.At(i, p), m.At(i, q)
			m.Set(i, p, c*a-s*b)
			m.Set(i, q, s*a+c*b)
		}
	}
	return true
}
