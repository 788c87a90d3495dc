package num_test

import (
	"math"
	"testing"

	"tautline/num"
	"tautline/num/numtest"
)

// Roots to the tolerance asked, counted: Brent's method needs at most a few
// times the log2(width/tol) of bisection, and far fewer where f is smooth and
// simple. The limits are bisection's own count, and for the quintic with its
// fivefold root, where interpolation misleads, three times it (Brent 1973
// proves (log2)² as the worst case).
func TestRootsOfTheBank(t *testing.T) {
	const tol = 1e-12
	for _, p := range numtest.Zeros() {
		r := num.FindRoot(p.F, p.A, p.B, tol, 0)
		limit := int(math.Ceil(math.Log2((p.B - p.A) / tol)))
		if p.Name == "flat quintic" {
			limit *= 3
		}
		if r.Status != num.Done || math.Abs(r.X-p.X) > tol || r.Evaluations > limit {
			t.Errorf("%s: %+v, want %v within %g in %d evaluations", p.Name, r, p.X, tol, limit)
		}
		if math.Abs(r.X-p.X) > r.Width+2*num.Epsilon*math.Abs(p.X) {
			t.Errorf("%s: the root is outside the bracket told: %+v", p.Name, r)
		}
		if p.F(r.X) != r.Residual {
			t.Errorf("%s: residual %v is not f(x) = %v", p.Name, r.Residual, p.F(r.X))
		}
		t.Logf("%-50s %3d evaluations, error %.1g", p.Name, r.Evaluations, math.Abs(r.X-p.X))
	}
}

// Tolerance zero: to the last digit or two.
func TestRootToTheLastDigit(t *testing.T) {
	r := num.FindRoot(func(x float64) float64 { return x*x - 2 }, 0, 2, 0, 0)
	if r.Status != num.Done || math.Abs(r.X-math.Sqrt2) > 4*num.Epsilon {
		t.Errorf("%+v", r)
	}
}

func TestRootRefusals(t *testing.T) {
	nan := func(x float64) float64 {
		if x > 0.4 && x < 0.9 {
			return math.NaN()
		}
		return x - 0.5
	}
	for _, c := range []struct {
		name string
		r    num.Root
		want num.Status
	}{
		{"no sign change", num.FindRoot(math.Exp, 0, 1, 1e-9, 0), num.NoBracket},
		{"NaN inside", num.FindRoot(nan, 0, 1, 1e-9, 0), num.NotFinite},
		{"budget", num.FindRoot(math.Cos, 0, 3, 0, 4), num.BudgetSpent},
		{"infinite end", num.FindRoot(math.Cos, 0, math.Inf(1), 1e-9, 0), num.BadInput},
		{"no function", num.FindRoot(nil, 0, 1, 1e-9, 0), num.BadInput},
	} {
		if c.r.Status != c.want {
			t.Errorf("%s: %+v, want %v", c.name, c.r, c.want)
		}
	}
	if r := num.FindRoot(math.Cos, 0, 3, 0, 4); r.Evaluations != 4 || math.Abs(r.X-math.Pi/2) > r.Width {
		t.Errorf("a spent budget still gives a bracket: %+v", r)
	}
}

func TestBracketWidens(t *testing.T) {
	f := func(x float64) float64 { return x - 7.3 }
	a, b, status, n := num.Bracket(f, 0, 0.1, -10, 100, 0)
	if status != num.Done || a > 7.3 || b < 7.3 || n > 20 {
		t.Errorf("[%v, %v] %v after %d", a, b, status, n)
	}
	if _, b, status, _ = num.Bracket(f, 0, 0.1, 0, 5, 0); status != num.NoBracket || b != 5 {
		t.Errorf("limit 5: up to %v, %v", b, status)
	}
	if _, _, status, _ = num.Bracket(f, 1, 0, 0, 5, 0); status != num.BadInput {
		t.Errorf("reversed: %v", status)
	}
}

// Minima of known place; a smooth f is flat over √ε·scale around its minimum,
// so 1e-7 can be asked, not more. Golden section alone needs
// log(width/tol)/log(1.618) evaluations; the parabolas must not need more.
func TestMinimize(t *testing.T) {
	for _, c := range []struct {
		name    string
		f       func(float64) float64
		a, b, x float64
	}{
		{"parabola", func(x float64) float64 { return (x - 2) * (x - 2) }, -10, 10, 2},
		{"cosine", math.Cos, 0, 6, math.Pi},
		{"kink", func(x float64) float64 { return math.Abs(x - 0.3) }, -1, 4, 0.3},
		{"at the left end", func(x float64) float64 { return x }, 0, 1, 0},
		{"NaN beyond 1", func(x float64) float64 { return math.Sqrt(1-x) + 1/(1-x) }, -5, 3, 1 - math.Cbrt(4)},
	} {
		const tol = 1e-7
		m := num.Minimize(c.f, c.a, c.b, tol, 0)
		limit := int(math.Log((c.b-c.a)/tol)/math.Log(1.618)) + 6
		if m.Status != num.Done || math.Abs(m.X-c.x) > 2*tol || m.Evaluations > limit || c.f(m.X) != m.F {
			t.Errorf("%s: %+v, want %v in %d evaluations", c.name, m, c.x, limit)
		}
	}
	if m := num.Minimize(func(float64) float64 { return math.NaN() }, 0, 1, 1e-3, 0); m.Status != num.NotFinite {
		t.Errorf("NaN everywhere: %+v", m)
	}
	if m := num.Minimize(math.Cos, 0, 6, 1e-7, 5); m.Status != num.BudgetSpent || m.Evaluations != 5 {
		t.Errorf("budget 5: %+v", m)
	}
}

func BenchmarkFindRoot(b *testing.B) {
	p := numtest.Zeros()[1]
	b.ReportAllocs()
	for b.Loop() {
		num.FindRoot(p.F, p.A, p.B, 1e-12, 0)
	}
}
