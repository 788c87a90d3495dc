package num_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tautline/num"
)

// edge draws the numbers that break solvers beside ordinary ones.
func edge() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.SampledFrom([]float64{
			0, math.Copysign(0, -1), 1, -1, math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64,
			math.SmallestNonzeroFloat64, 1e-300, 1e300, 1e-160, 1e160, num.Epsilon, 1 + num.Epsilon,
		}),
		rapid.Float64(), rapid.Float64Range(-10, 10), rapid.Float64Range(-10, 10),
	)
}

func edges(t *rapid.T, n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = edge().Draw(t, "v")
	}
	return v
}

// noNaN fails on results that are not finite.
func noNaN(t *rapid.T, what string, status num.Status, values ...float64) {
	if status == num.NotRun {
		t.Fatalf("%s: no status", what)
	}
	if !status.OK() {
		return
	}
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%s: %v with %v", what, status, values)
		}
	}
}

// Bars T26: whatever goes in, no exported function panics, and a result
// called done is finite. Run with -rapid.checks=1000000 for the full count.
func TestEdgesLinear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, n := rapid.IntRange(0, 5).Draw(t, "m"), rapid.IntRange(0, 3).Draw(t, "n")
		x := num.Matrix{Rows: m, Cols: n, Data: edges(t, rapid.SampledFrom([]int{m * n, m * n, m * n, 1}).Draw(t, "len"))}
		y, w := edges(t, m), []float64(nil)
		if rapid.Bool().Draw(t, "weights") {
			w = edges(t, m)
		}
		f := num.LeastSquares(x, y, w)
		noNaN(t, "LeastSquares", f.Status, append(append([]float64{f.RSS, f.ResidualSD()}, f.Beta...), f.Residual...)...)
		noNaN(t, "LeastSquares covariance", f.Status, append(f.Covariance.Data, f.StdErr...)...)
		sq := num.Matrix{Rows: n, Cols: n, Data: edges(t, n*n)}
		for name, solver := range map[string]interface{ Solve([]float64) num.Status }{"Cholesky": num.NewCholesky(n), "LDL": num.NewLDL(n), "LU": num.NewLU(n)} {
			status := num.Done
			switch s := solver.(type) {
			case *num.Cholesky:
				_, status = s.FactorShifted(sq)
			case *num.LDL:
				_, status = s.Factor(sq)
			case *num.LU:
				status = s.Factor(sq)
			}
			if status == num.Done {
				b := edges(t, n)
				noNaN(t, name, solver.Solve(b), b...)
			}
		}
		values, vectors, status := num.Modes(sq, num.Matrix{Rows: n, Cols: n, Data: edges(t, n*n)})
		noNaN(t, "Modes", status, append(values, vectors.Data...)...)
	})
}

func TestEdgesBanded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 4).Draw(t, "n")
		tri := num.NewTridiagonal(n)
		if tri.Factor(edges(t, n), edges(t, n), edges(t, n)) == num.Done {
			b := edges(t, n)
			noNaN(t, "Tridiagonal", tri.Solve(b), b...)
		}
		band := num.NewBandCholesky(n, 1)
		if band.Factor(edges(t, 2*n)) == num.Done {
			b := edges(t, n)
			noNaN(t, "BandCholesky", band.Solve(b), b...)
		}
		for _, make := range []func(x, y []float64) (*num.Curve, num.Status){num.NewSpline, num.NewMonotone} {
			c, status := make(edges(t, n), edges(t, n))
			if status != num.Done {
				continue
			}
			low, high := c.Domain()
			at := low + (high-low)*rapid.Float64Range(0, 1).Draw(t, "at")
			noNaN(t, "Curve", status, c.At(at), c.Slope(at))
		}
	})
}

// curious makes a function with poles, jumps and holes.
func curious(t *rapid.T) func(float64) float64 {
	a, b, kind := edge().Draw(t, "a"), edge().Draw(t, "b"), rapid.IntRange(0, 5).Draw(t, "kind")
	return func(x float64) float64 {
		switch kind {
		case 0:
			return a*x + b
		case 1:
			return 1 / (x - a)
		case 2:
			return math.Log(x-a) + b
		case 3:
			return math.Exp(a*x) - b
		case 4:
			return math.Copysign(b, x-a)
		}
		return a
	}
}

func TestEdgesFunctions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := curious(t)
		a, b, tol := edge().Draw(t, "from"), edge().Draw(t, "to"), edge().Draw(t, "tol")
		r := num.FindRoot(f, a, b, tol, 0)
		noNaN(t, "FindRoot", r.Status, r.X, r.Width)
		m := num.Minimize(f, a, b, tol, 0)
		noNaN(t, "Minimize", m.Status, m.X, m.F, m.Width)
		left, right, status, _ := num.Bracket(f, a, b, edge().Draw(t, "low"), edge().Draw(t, "high"), 0)
		noNaN(t, "Bracket", status, left, right)
		i := num.Integrate(f, a, b, math.Abs(tol), 1e-6)
		noNaN(t, "Integrate", i.Status, i.Value, i.Error)
		x, g := edges(t, 2), make([]float64, 2)
		_, status = num.Gradient(func(x []float64) float64 { return f(x[0]) + f(x[1]) }, x, num.Differences{Noise: edge().Draw(t, "noise"), Typical: edges(t, 2)}, g)
		noNaN(t, "Gradient", status, g...)
	})
}

func TestEdgesFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, n := curious(t), rapid.IntRange(0, 3).Draw(t, "n")
		fit := num.LevenbergMarquardt(num.FitProblem{Count: rapid.IntRange(-1, 5).Draw(t, "count"), Residuals: func(p, r []float64) {
			for i := range r {
				r[i] = f(p[i%len(p)]) - float64(i)
			}
		}}, edges(t, n), num.FitControl{Tolerance: edge().Draw(t, "tol"), Evaluations: 300})
		noNaN(t, "LevenbergMarquardt", fit.Status, append(append([]float64{fit.RSS, fit.ResidualSD(), fit.Gradient}, fit.P...), fit.StdErr...)...)
		noNaN(t, "LevenbergMarquardt covariance", fit.Status, append(fit.Covariance.Data, fit.Weakest...)...)
	})
}

func TestEdgesODE(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, n := curious(t), rapid.IntRange(0, 3).Draw(t, "n")
		dydt := func(_ float64, y, dy []float64) {
			for i := range dy {
				dy[i] = f(y[len(y)-1-i])
			}
		}
		span := num.Span{From: edge().Draw(t, "from"), To: edge().Draw(t, "to"), Events: []num.Event{{Ends: true, Value: func(t float64, y []float64) float64 { return f(t) }}}}
		y := edges(t, n)
		out := num.NewDormandPrince(n).Run(dydt, y, span, num.Accuracy{Relative: edge().Draw(t, "rel"), Absolute: edge().Draw(t, "abs"), First: edge().Draw(t, "first"), Longest: edge().Draw(t, "longest"), Steps: 200})
		noNaN(t, "DormandPrince", out.Status, append([]float64{out.T}, y...)...)
		y = edges(t, n)
		step := math.Abs(span.To-span.From) / rapid.Float64Range(0.5, 100).Draw(t, "steps")
		out = num.NewRK4(n).Run(dydt, y, step, span)
		noNaN(t, "RK4", out.Status, append([]float64{out.T}, y...)...)
	})
}

// Words for every status, and an error only where something is missing.
func TestStatus(t *testing.T) {
	seen := map[string]bool{}
	for s := num.NotRun; s <= num.BadInput; s++ {
		if s.String() == "" || seen[s.String()] {
			t.Errorf("status %d is called %q", int(s), s)
		}
		seen[s.String()] = true
		if (s.Err("fit") == nil) != s.OK() {
			t.Errorf("%v: error %v", s, s.Err("fit"))
		}
	}
	if got := num.Singular.Err("fitting the limb").Error(); got != "fitting the limb: the matrix is singular" {
		t.Errorf("error reads %q", got)
	}
	if num.Status(99).String() == "" {
		t.Error("an unknown status has no name")
	}
}
