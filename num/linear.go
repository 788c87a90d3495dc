package num

import "math"

// LinearFit is the answer of LeastSquares.
type LinearFit struct {
	Status   Status
	Beta     []float64 // coefficients; zero for columns dropped as dependent
	StdErr   []float64 // their standard errors, from the residuals
	Residual []float64 // y − X·Beta
	RSS      float64   // residual sum of squares
	// Covariance is (XᵀX)⁻¹, to be multiplied with the error variance; with
	// weights, (XᵀWX)⁻¹.
	Covariance Matrix
	Freedom    int       // observations − rank
	Rank       int       // independent columns
	Condition  float64   // of X with columns scaled to length one
	Weakest    []float64 // the change of Beta that the data see least
	Refined    int       // steps of iterative refinement
}

// ResidualSD is the residual standard deviation, √(RSS/Freedom); 0 without
// freedom left.
func (f *LinearFit) ResidualSD() float64 {
	if f.Freedom <= 0 {
		return 0
	}
	return math.Sqrt(f.RSS / float64(f.Freedom))
}

// LeastSquares finds Beta that minimises Σ w (y − X·Beta)². X has one row per
// observation; w is nil for equal weights, else not negative. The solution of
// the QR factorisation is improved by iterative refinement of the augmented
// system with residuals in twice the precision (Björck 1967; Higham, Accuracy
// and Stability of Numerical Algorithms, 20.5), so that the coefficients keep
// nearly all their digits even where X is nearly dependent. Singular: the
// columns are dependent; a basic solution is returned.
func LeastSquares(x Matrix, y, w []float64) LinearFit {
	m, n := x.Rows, x.Cols
	bad := LinearFit{Status: BadInput}
	if !x.fits() || len(y) != m || w != nil && len(w) != m || m < n || n == 0 {
		return bad
	}
	if !allFinite(x.Data) || !allFinite(y) || !allFinite(w) {
		return bad
	}
	given, observed := x, y
	if w != nil {
		var ok bool
		if x, y, ok = weighted(x, y, w); !ok {
			return bad
		}
	}
	q := NewQR(m, n)
	f := LinearFit{Status: q.Factor(x), Beta: make([]float64, n), Covariance: NewMatrix(n, n)}
	if f.Status == BadInput {
		return bad
	}
	f.Rank, f.Freedom = q.rank, m-q.rank
	f.Residual = make([]float64, m)
	f.Refined = refine(q, x, y, f.Beta, f.Residual)
	f.RSS = sumSquares(f.Residual)
	q.InverseNormal(f.Covariance)
	f.Condition, f.Weakest = q.Condition()
	f.StdErr = make([]float64, n)
	sd := f.ResidualSD()
	for i := range f.StdErr {
		f.StdErr[i] = sd * math.Sqrt(f.Covariance.At(i, i))
	}
	f.unweigh(given, observed, w)
	if !allFinite(f.Beta) || !finite(f.RSS) || !allFinite(f.Residual) || !allFinite(f.Covariance.Data) || !allFinite(f.StdErr) {
		return LinearFit{Status: NotFinite}
	}
	return f
}

// weighted multiplies rows by √w.
func weighted(x Matrix, y, w []float64) (Matrix, []float64, bool) {
	wx, wy := NewMatrix(x.Rows, x.Cols), make([]float64, len(y))
	for i, v := range w {
		if v < 0 {
			return x, y, false
		}
		s := math.Sqrt(v)
		wy[i] = s * y[i]
		for j, e := range x.Row(i) {
			wx.Set(i, j, s*e)
		}
	}
	return wx, wy, true
}

// unweigh gives the residuals in the units of y, also of observations with
// weight zero.
func (f *LinearFit) unweigh(x Matrix, y, w []float64) {
	for i := range w {
		f.Residual[i] = y[i] - dot(x.Row(i), f.Beta)
	}
}

// refine solves r + X·beta = y, Xᵀr = 0 and corrects beta and r until the
// corrections stop shrinking; it returns the number of corrections. Each
// vector is kept as a pair of float64, so that the digits lost in a large
// beta or r are not lost for the next correction.
func refine(q *QR, x Matrix, y, beta, r []float64) int {
	m, n := q.m, q.n
	betaLow, rLow := make([]float64, n), make([]float64, m)
	f, g, db := make([]float64, m), make([]float64, n), make([]float64, n)
	first, last := 0.0, math.Inf(1)
	for step := 0; ; step++ {
		augmentedResiduals(x, y, beta, betaLow, r, rLow, f, g)
		correct(q, f, g, db)
		size := correctionSize(q, db) + norm(f)
		if !finite(size) || size > 0.5*last || step == 12 {
			return step
		}
		if last = size; step == 0 {
			first = size
		}
		addPair(beta, betaLow, db)
		addPair(r, rLow, f)
		if size <= 1e-20*first {
			return step
		}
	}
}

// correctionSize measures a change of the coefficients by its effect.
func correctionSize(q *QR, db []float64) float64 {
	sum := 0.0
	for j, d := range db {
		sum += (d * q.scale[j]) * (d * q.scale[j])
	}
	return math.Sqrt(sum)
}

// augmentedResiduals computes f = y − r − X beta and g = −Xᵀ r in twice the
// precision.
func augmentedResiduals(x Matrix, y, beta, betaLow, r, rLow, f, g []float64) {
	for i := range f {
		s := pair{y[i], 0}
		s.add(-r[i])
		s.add(-rLow[i])
		for j, e := range x.Row(i) {
			s.addProduct(-e, beta[j])
			s.addProduct(-e, betaLow[j])
		}
		f[i] = s.value()
	}
	for j := range g {
		var s pair
		for i := range r {
			s.addProduct(-x.At(i, j), r[i])
			s.addProduct(-x.At(i, j), rLow[i])
		}
		g[j] = s.value()
	}
}

// correct solves the augmented system for the corrections: db of beta, and of
// r in place of f. With Qᵀf = (d1, d2) and Rᵀh = g it is R db = d1 − h and
// dr = Q (h, d2).
func correct(q *QR, f, g, db []float64) {
	q.applyQT(f)
	h := make([]float64, q.n)
	for k, j := range q.perm {
		h[k] = g[j] / q.scale[j]
	}
	q.forward(h)
	z := make([]float64, q.n)
	for k := range q.rank {
		z[k] = f[k] - h[k]
		f[k] = h[k]
	}
	q.backward(z)
	q.unscramble(z, db)
	q.applyQ(f)
}

// addPair adds a correction to a vector kept in two parts.
func addPair(high, low, d []float64) {
	for i := range high {
		s := pair{high[i], low[i]}
		s.add(d[i])
		high[i], low[i] = s.high, s.low
	}
}

// pair is an unevaluated sum of two float64, about 32 digits (Dekker 1971).
// The float64 conversions forbid fused operations, which would break the
// error terms.
type pair struct{ high, low float64 }

// add adds v with its rounding error.
func (p *pair) add(v float64) {
	sum := float64(p.high + v)
	part := float64(sum - p.high)
	err := float64(float64(p.high-float64(sum-part)) + float64(v-part))
	p.renormalise(sum, float64(p.low+err))
}

// addProduct adds a·b with its rounding errors.
func (p *pair) addProduct(a, b float64) {
	product := float64(a * b)
	rest := math.FMA(a, b, -product)
	p.add(product)
	p.renormalise(p.high, float64(p.low+rest))
}

// renormalise makes the parts not overlap.
func (p *pair) renormalise(high, low float64) {
	p.high = float64(high + low)
	p.low = float64(low - float64(p.high-high))
}

// value is the pair as one float64.
func (p *pair) value() float64 { return p.high + p.low }

// sumSquares adds squares in twice the precision.
func sumSquares(v []float64) float64 {
	var s pair
	for _, x := range v {
		s.addProduct(x, x)
	}
	return s.value()
}
