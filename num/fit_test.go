package num_test

import (
	"math"
	"testing"

	"tautline/num"
	"tautline/num/numtest"
)

// minpack is the number of Jacobians that MINPACK's lmder needs with exact
// derivatives and tolerances 1e-12 (computed: SciPy 1.10.1, leastsq; for the
// problems without a figure there, MINPACK's lmdif evaluations over n+1).
var minpack = map[string][]int{
	"Lanczos1": {73, 8}, "Lanczos2": {76, 10}, "Rosenbrock": {19, 7, 5}, "Freudenstein and Roth": {16}, "Box three-dimensional": {7},
}

// G8 (read: NIST StRD Lanczos1, Lanczos2) and problems of Moré, Garbow and
// Hillstrom: the minimum to the digits its source supports, with at most 1.5
// times the Jacobians of MINPACK plus two (the same method; the steps differ
// in the choice of λ to within a tenth) and 2n+1 evaluations for each.
func TestFitsBank(t *testing.T) {
	for _, p := range numtest.Fittings() {
		for i, start := range p.Starts {
			f := num.LevenbergMarquardt(num.FitProblem{Residuals: p.Residuals, Count: p.Count}, start, num.FitControl{})
			if f.Status != num.Done {
				t.Errorf("%s from %v: %v after %d evaluations", p.Name, start, f.Status, f.Evaluations)
			}
			worst := 15.0
			for j, want := range p.P {
				if !math.IsNaN(want) {
					worst = math.Min(worst, numtest.LRE(f.P[j], want))
				}
			}
			if worst < p.Digits {
				t.Errorf("%s from %v: %.12g has %.1f digits of %.12g, want %.1f", p.Name, start, f.P, worst, p.P, p.Digits)
			}
			if !math.IsNaN(p.RSS) && math.Abs(f.RSS-p.RSS) > 1e-12*(1+p.RSS) {
				t.Errorf("%s from %v: RSS %.14g, want %.14g", p.Name, start, f.RSS, p.RSS)
			}
			if counts := minpack[p.Name]; counts != nil {
				if limit := counts[i] + counts[i]/2 + 2; f.Jacobians > limit {
					t.Errorf("%s from %v: %d Jacobians, MINPACK %d", p.Name, start, f.Jacobians, counts[i])
				}
			}
			if limit := (2*len(start) + 2) * (f.Jacobians + 10); f.Evaluations > limit {
				t.Errorf("%s from %v: %d evaluations for %d Jacobians", p.Name, start, f.Evaluations, f.Jacobians)
			}
			t.Logf("%s: %.1f digits, %d Jacobians, %d evaluations, condition %.3g", p.Name, worst, f.Jacobians, f.Evaluations, f.Condition)
		}
	}
}

// On a linear problem the fit is LeastSquares: coefficients, covariance,
// standard errors and condition (G8, Norris and Wampler). Differences of a
// linear function err only by rounding, ε/h ≈ 1e-11 of the values' size.
func TestFitOfALinearProblem(t *testing.T) {
	for _, p := range numtest.Regressions() {
		if p.Name != "Norris" && p.Name != "NoInt1" {
			continue
		}
		x := matrixOf(p.X)
		want := num.LeastSquares(x, p.Y, nil)
		exact := num.FitProblem{Count: len(p.Y), Residuals: residualsOf(p), Jacobian: func(_ []float64, j num.Matrix) {
			for i, v := range x.Data {
				j.Data[i] = -v
			}
		}}
		for _, problem := range []num.FitProblem{exact, {Count: exact.Count, Residuals: exact.Residuals}} {
			f := num.LevenbergMarquardt(problem, make([]float64, x.Cols), num.FitControl{})
			if f.Status != num.Done || numtest.LRE(f.Condition, want.Condition) < 8 {
				t.Errorf("%s: %v, condition %v, want %v", p.Name, f.Status, f.Condition, want.Condition)
			}
			for j := range want.Beta {
				if numtest.LRE(f.P[j], p.Beta[j]) < 8 || numtest.LRE(f.StdErr[j], p.StdErr[j]) < 8 || numtest.LRE(f.Covariance.At(j, j), want.Covariance.At(j, j)) < 8 {
					t.Errorf("%s: B%d = %v ± %v, want %v ± %v", p.Name, j, f.P[j], f.StdErr[j], p.Beta[j], p.StdErr[j])
				}
			}
		}
	}
}

// residualsOf turns a regression into a fit.
func residualsOf(p numtest.Regression) func(b, r []float64) {
	return func(b, r []float64) {
		for i, row := range p.X {
			r[i] = p.Y[i]
			for j, v := range row {
				r[i] -= v * b[j]
			}
		}
	}
}

// A model that is undefined for some parameters (a logarithm) is fitted by
// going around the hole; one that is undefined at the start is refused.
func TestFitGoesAroundUndefinedParameters(t *testing.T) {
	problem := num.FitProblem{Count: 3, Residuals: func(p, r []float64) {
		for i := range r {
			r[i] = math.Log(p[0]) - math.Log(0.01) + 1e-3*float64(i-1)
		}
	}}
	f := num.LevenbergMarquardt(problem, []float64{5}, num.FitControl{})
	if f.Status != num.Done || numtest.LRE(f.P[0], 0.01) < 8 {
		t.Errorf("%v at %v", f.Status, f.P)
	}
	if f := num.LevenbergMarquardt(problem, []float64{-5}, num.FitControl{}); f.Status != num.NotFinite || f.P[0] != -5 {
		t.Errorf("from outside: %v at %v", f.Status, f.P)
	}
}

// Two parameters that act only through their sum: the sum is found, the
// status says that they cannot be told apart, and which change is unseen.
func TestFitNamesWhatTheDataCannotTell(t *testing.T) {
	f := num.LevenbergMarquardt(num.FitProblem{Count: 5, Residuals: func(p, r []float64) {
		for i := range r {
			r[i] = (p[0]+p[1])*float64(i) - 3*float64(i) + p[2] - 1
		}
	}}, []float64{1, 1, 1}, num.FitControl{})
	if f.Status != num.Singular || f.Rank != 2 || numtest.LRE(f.P[0]+f.P[1], 3) < 9 {
		t.Errorf("%v, rank %d at %v", f.Status, f.Rank, f.P)
	}
	if w := f.Weakest; numtest.LRE(w[0], -w[1]) < 6 || math.Abs(w[2]) > 1e-6*math.Abs(w[0]) {
		t.Errorf("weakest direction %v, want (1, −1, 0)", w)
	}
}

// The caller's limits hold: evaluations, and the stop after a step.
func TestFitStops(t *testing.T) {
	p := numtest.Fittings()[0]
	problem := num.FitProblem{Residuals: p.Residuals, Count: p.Count}
	f := num.LevenbergMarquardt(problem, p.Starts[0], num.FitControl{Evaluations: 100})
	if f.Status != num.BudgetSpent || f.Evaluations > 100+2*len(p.P) || f.RSS <= 0 {
		t.Errorf("budget 100: %v after %d evaluations", f.Status, f.Evaluations)
	}
	f = num.LevenbergMarquardt(problem, p.Starts[0], num.FitControl{
		Continue: func(n int, _ []float64, _ float64) bool { return n < 3 },
	})
	if f.Status != num.Stopped || f.Iterations != 3 {
		t.Errorf("stop after 3: %v after %d", f.Status, f.Iterations)
	}
}

// Noisy residuals (an integrator's tolerance): with the noise declared the
// fit finds the minimum to about the noise; the step h = Noise^(1/3) makes
// slopes good to Noise^(2/3) = 1e-4.
func TestFitWithDeclaredNoise(t *testing.T) {
	rough := func(p, r []float64) {
		for i := range r {
			x := float64(i) / 10
			clean := p[0]*math.Exp(-p[1]*x) - 2*math.Exp(-0.7*x)
			r[i] = clean + 1e-6*math.Sin(1e9*(p[0]+p[1]+x))
		}
	}
	f := num.LevenbergMarquardt(num.FitProblem{Residuals: rough, Count: 20, Differences: num.Differences{Noise: 1e-6}}, []float64{1, 1}, num.FitControl{Tolerance: 1e-8})
	if math.Abs(f.P[0]-2) > 1e-5 || math.Abs(f.P[1]-0.7) > 1e-5 {
		t.Errorf("%v at %v", f.Status, f.P)
	}
}

// Central differences: the error of order h² + ε/h with h = ε^(1/3) is about
// 1e-10 of the function's scale.
func TestJacobian(t *testing.T) {
	f := func(x, out []float64) { out[0], out[1] = math.Sin(x[0])*x[1], math.Exp(x[1]) }
	x := []float64{0.7, 1.3}
	j := num.NewMatrix(2, 2)
	n, status := num.Jacobian(f, x, num.Differences{}, j, nil)
	if status != num.Done || n != 4 || x[0] != 0.7 || x[1] != 1.3 {
		t.Fatalf("%v after %d at %v", status, n, x)
	}
	for i, want := range []float64{math.Cos(0.7) * 1.3, math.Sin(0.7), 0, math.Exp(1.3)} {
		if math.Abs(j.Data[i]-want) > 1e-9 {
			t.Errorf("element %d: %v, want %v", i, j.Data[i], want)
		}
	}
	g := make([]float64, 1)
	// The third step, 0.38 of the way to the edge, has an error of 0.38²/8.
	_, status = num.Gradient(func(x []float64) float64 { return math.Sqrt(x[0]) }, []float64{1e-6}, num.Differences{Typical: []float64{1}}, g)
	if status != num.Done || math.Abs(g[0]/(0.5/math.Sqrt(1e-6))-1) > 0.03 {
		t.Errorf("at the edge of the domain: %v, %v", g, status)
	}
	if _, status = num.Gradient(func([]float64) float64 { return math.NaN() }, []float64{1}, num.Differences{}, g); status != num.NotFinite {
		t.Errorf("NaN: %v", status)
	}
}

func BenchmarkLevenbergMarquardtLanczos2(b *testing.B) {
	p := numtest.Fittings()[1]
	b.ReportAllocs()
	for b.Loop() {
		num.LevenbergMarquardt(num.FitProblem{Residuals: p.Residuals, Count: p.Count}, p.Starts[1], num.FitControl{})
	}
}
