package num_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"tautline/num"
	"tautline/num/numtest"
)

// matrixOf copies rows into a Matrix.
func matrixOf(rows [][]float64) num.Matrix {
	m := num.NewMatrix(len(rows), len(rows[0]))
	for i, r := range rows {
		copy(m.Row(i), r)
	}
	return m
}

// length is the Euclidean norm.
func length(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum)
}

// columnLength is the Euclidean norm of a column.
func columnLength(x num.Matrix, j int) float64 {
	v := make([]float64, x.Rows)
	for i := range v {
		v[i] = x.At(i, j)
	}
	return length(v)
}

// dataRounding bounds the change of coefficient j when every datum is rounded
// to float64 (relative half-spacing u): |C Xᵀ(δy − δX β)| + |C δXᵀ r|, with
// C = (XᵀX)⁻¹. Nothing computed from the rounded data can be nearer.
func dataRounding(f num.LinearFit, x num.Matrix, y []float64, j int) float64 {
	const u = num.Epsilon / 2
	size := length(y)
	tail := 0.0
	for k, b := range f.Beta {
		s := columnLength(x, k)
		size += math.Abs(b) * s
		tail += math.Abs(f.Covariance.At(j, k)) * s * length(f.Residual)
	}
	return u * (math.Sqrt(f.Covariance.At(j, j))*size + tail)
}

// G8 (tags in the bank): NIST StRD linear regression, all rows, graded by LRE.
// Coefficients: the 15 digits certified, less what rounding the decimal data
// to float64 costs (dataRounding; nothing for integer data). Standard errors:
// m·n·κ·ε, the backward error of the Householder factorisation (Higham,
// Theorem 19.4) times the condition, because they are not refined, and the
// rounding of the table, which prints 12 digits. Residual standard
// deviation: rounding of the data against the size of the residuals.
func TestRegressionsNIST(t *testing.T) {
	for _, p := range numtest.Regressions() {
		x := matrixOf(p.X)
		f := num.LeastSquares(x, p.Y, nil)
		if f.Status != num.Done {
			t.Errorf("%s: %v", p.Name, f.Status)
			continue
		}
		worstBeta, worstErr := 15.0, 15.0
		factor := float64(x.Rows*x.Cols) * f.Condition * num.Epsilon
		for j, want := range p.Beta {
			if !math.IsNaN(want) {
				worstBeta = math.Min(worstBeta, numtest.LRE(f.Beta[j], want))
				if e, tol := math.Abs(f.Beta[j]-want), dataRounding(f, x, p.Y, j)+1e-14*math.Abs(want); e > tol {
					t.Errorf("%s: B%d = %.16g, certified %.16g: off by %.2g, tolerance %.2g", p.Name, j, f.Beta[j], want, e, tol)
				}
			}
			if want := p.StdErr[j]; !math.IsNaN(want) {
				worstErr = math.Min(worstErr, numtest.LRE(f.StdErr[j], want))
				floor := num.Epsilon * length(p.Y) * math.Sqrt(f.Covariance.At(j, j))
				if e, tol := math.Abs(f.StdErr[j]-want), factor*want+5e-13*want+floor; e > tol {
					t.Errorf("%s: se%d = %.16g, certified %.16g: off by %.2g, tolerance %.2g", p.Name, j, f.StdErr[j], want, e, tol)
				}
			}
		}
		tol := num.Epsilon*length(p.Y) + 1e-14*p.RSD
		if e := math.Abs(f.ResidualSD() - p.RSD); e > tol {
			t.Errorf("%s: residual sd %.16g, certified %.16g: off by %.2g, tolerance %.2g", p.Name, f.ResidualSD(), p.RSD, e, tol)
		}
		if !math.IsNaN(p.R2) {
			if r2 := rSquared(p.Y, f.RSS); numtest.LRE(r2, p.R2) < 12 {
				t.Errorf("%s: R² %.16g, certified %.16g", p.Name, r2, p.R2)
			}
		}
		t.Logf("%-9s condition %8.1f, refined %2d times, LRE: coefficients ≥ %.1f, standard errors ≥ %.1f, residual sd %.1f",
			p.Name, f.Condition, f.Refined, worstBeta, worstErr, numtest.LRE(f.ResidualSD(), p.RSD))
	}
}

// rSquared is the coefficient of determination about the mean.
func rSquared(y []float64, rss float64) float64 {
	mean := 0.0
	for _, v := range y {
		mean += v / float64(len(y))
	}
	total := 0.0
	for _, v := range y {
		total += (v - mean) * (v - mean)
	}
	return 1 - rss/total
}

// G8: NIST StRD analysis of variance as two regressions, on the group and on
// the common mean. Tolerance: what rounding each datum by half a spacing can
// do to F, four half-spacings against the spread within the groups (numerator
// and denominator, each through a difference of two values).
func TestComparisonsNIST(t *testing.T) {
	for _, c := range numtest.Comparisons() {
		f, within := oneWayF(c.Groups)
		half := math.Abs(c.Groups[0][0]) * num.Epsilon / 2
		tol := 4*half/within + 1e-14
		if e := math.Abs(f/c.F - 1); !(e <= tol) {
			t.Errorf("%s: F = %.16g, certified %.16g: relative error %.2g, tolerance %.2g", c.Name, f, c.F, e, tol)
		}
		t.Logf("%-7s LRE %.1f (tolerance %.1f)", c.Name, numtest.LRE(f, c.F), -math.Log10(tol))
	}
}

// oneWayF returns F and the standard deviation within the groups.
func oneWayF(groups [][]float64) (f, within float64) {
	n := 0
	for _, g := range groups {
		n += len(g)
	}
	member, common, y := num.NewMatrix(n, len(groups)), num.NewMatrix(n, 1), make([]float64, 0, n)
	for k, g := range groups {
		for _, v := range g {
			member.Set(len(y), k, 1)
			common.Set(len(y), 0, 1)
			y = append(y, v)
		}
	}
	a, b := num.LeastSquares(member, y, nil), num.LeastSquares(common, y, nil)
	between := (b.RSS - a.RSS) / float64(len(groups)-1)
	return between / (a.RSS / float64(a.Freedom)), a.ResidualSD()
}

// Weights: a weight of k is k equal observations, weight 0 is none.
func TestWeightsCountObservations(t *testing.T) {
	p := numtest.Regressions()[0] // Norris
	var rows [][]float64
	var y, w []float64
	for i, row := range p.X {
		w = append(w, float64(i%3))
		for range i % 3 {
			rows, y = append(rows, row), append(y, p.Y[i])
		}
	}
	repeated := num.LeastSquares(matrixOf(rows), y, nil)
	weighted := num.LeastSquares(matrixOf(p.X), p.Y, w)
	for j := range repeated.Beta {
		// √2 is rounded, hence not to the last digit.
		if numtest.LRE(weighted.Beta[j], repeated.Beta[j]) < 11 || numtest.LRE(weighted.Covariance.At(j, j), repeated.Covariance.At(j, j)) < 12 {
			t.Errorf("B%d: %v weighted, %v repeated", j, weighted.Beta[j], repeated.Beta[j])
		}
	}
	// Residuals are given for observations that were not used, too.
	if want := p.Y[0] - weighted.Beta[0] - weighted.Beta[1]*p.X[0][1]; math.Abs(weighted.Residual[0]-want) > 1e-15 {
		t.Errorf("residual of an unused observation %v, want %v", weighted.Residual[0], want)
	}
}

// Dependent columns: the status says so, the fit is still the best one, and
// the weakest direction is the dependence.
func TestDependentColumns(t *testing.T) {
	var rows [][]float64
	var y []float64
	for i := range 10 {
		x := float64(i)
		rows = append(rows, []float64{1, x, 2*x + 3})
		y = append(y, 5+7*x+math.Sin(x))
	}
	f := num.LeastSquares(matrixOf(rows), y, nil)
	if f.Status != num.Singular || f.Rank != 2 || !math.IsInf(f.Condition, 1) {
		t.Fatalf("status %v, rank %d, condition %v", f.Status, f.Rank, f.Condition)
	}
	full := num.LeastSquares(num.Matrix{Rows: 10, Cols: 2, Data: firstTwo(rows)}, y, nil)
	if numtest.LRE(f.RSS, full.RSS) < 10 {
		t.Errorf("RSS %v, want %v", f.RSS, full.RSS)
	}
	w := f.Weakest // 3 + 2x − (2x+3) = 0
	if numtest.LRE(w[0]/w[2], -3) < 10 || numtest.LRE(w[1]/w[2], -2) < 10 {
		t.Errorf("weakest direction %v, want multiples of (3, 2, −1)", w)
	}
}

func firstTwo(rows [][]float64) []float64 {
	var out []float64
	for _, r := range rows {
		out = append(out, r[0], r[1])
	}
	return out
}

// The factorisation and its condition agree with gonum's QR and SVD (an
// independent program, LAPACK's algorithms) on random matrices.
func TestQRAgreesWithGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, n := rapid.IntRange(4, 12).Draw(t, "m"), rapid.IntRange(1, 4).Draw(t, "n")
		x, y := num.NewMatrix(m, n), make([]float64, m)
		g := rapid.Float64Range(-1, 1)
		for i := range x.Data {
			x.Data[i] = g.Draw(t, "x")
		}
		for i := range y {
			y[i] = g.Draw(t, "y")
		}
		f := num.LeastSquares(x, y, nil)
		if f.Status != num.Done || f.Condition > 1e6 {
			return
		}
		scaled := mat.NewDense(m, n, nil)
		for i := range m {
			for j := range n {
				scaled.Set(i, j, x.At(i, j)/columnLength(x, j))
			}
		}
		var svd mat.SVD
		svd.Factorize(scaled, mat.SVDNone)
		s := svd.Values(nil)
		// Both are backward stable: they agree to about ε times the condition.
		tol := 100 * num.Epsilon * f.Condition
		if c := s[0] / s[n-1]; math.Abs(f.Condition/c-1) > tol {
			t.Fatalf("condition %v, gonum %v", f.Condition, c)
		}
		var b mat.Dense
		if err := b.Solve(scaled, mat.NewDense(m, 1, y)); err != nil {
			t.Fatal(err)
		}
		for j := range n {
			e := math.Abs(f.Beta[j]*columnLength(x, j) - b.At(j, 0))
			if e > tol*f.Condition*(length(y)+1e-300) {
				t.Fatalf("B%d %v, gonum %v", j, f.Beta[j], b.At(j, 0))
			}
		}
	})
}

func BenchmarkLeastSquaresLongley(b *testing.B) {
	p := numtest.Regressions()[1]
	x := matrixOf(p.X)
	b.ReportAllocs()
	for b.Loop() {
		num.LeastSquares(x, p.Y, nil)
	}
}
