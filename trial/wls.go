package trial

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// fit is a weighted least-squares fit with known relative variances.
type fit struct {
	coef []float64
	cov  *mat.SymDense // of the coefficients in units of one shot's variance
	rss  float64       // Σ residual²/rel
	df   int           // rows − rank
}

// leastSquares fits y ≈ X·coef with variances rel by Householder QR. ok is
// false if the columns depend on each other.
func leastSquares(columns [][]float64, y, rel []float64) (f fit, ok bool) {
	n, p := len(y), len(columns)
	if n < p || p == 0 {
		return f, false
	}
	x, b := mat.NewDense(n, p, nil), mat.NewVecDense(n, nil)
	for i := range y {
		w := 1 / math.Sqrt(rel[i])
		for j := range columns {
			x.Set(i, j, w*columns[j][i])
		}
		b.SetVec(i, w*y[i])
	}
	var qr mat.QR
	qr.Factorize(x)
	if qr.Cond() > 1e12 {
		return f, false
	}
	var coef mat.VecDense
	if err := qr.SolveVecTo(&coef, false, b); err != nil {
		return f, false
	}
	f.coef, f.df = coef.RawVector().Data, n-p
	var r mat.VecDense
	r.MulVec(x, &coef)
	r.SubVec(b, &r)
	f.rss = mat.Dot(&r, &r)
	f.cov = inverseGram(&qr, p)
	return f, true
}

// inverseGram is (XᵀX)⁻¹ = R⁻¹R⁻ᵀ.
func inverseGram(qr *mat.QR, p int) *mat.SymDense {
	var full mat.Dense
	qr.RTo(&full)
	r := mat.NewTriDense(p, mat.Upper, nil)
	for i := range p {
		for j := i; j < p; j++ {
			r.SetTri(i, j, full.At(i, j))
		}
	}
	var inv mat.TriDense
	if err := inv.InverseTri(r); err != nil {
		return nil
	}
	cov := mat.NewSymDense(p, nil)
	cov.SymOuterK(1, &inv)
	return cov
}

// at returns the fitted value of a row and its standard error in shots' s.d.
func (f fit) at(row []float64) (value, se float64) {
	v := 0.0
	for i := range row {
		value += row[i] * f.coef[i]
		for j := range row {
			v += row[i] * row[j] * f.cov.At(i, j)
		}
	}
	return value, math.Sqrt(max(v, 0))
}
