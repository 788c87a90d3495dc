package num

import "math"

// Root is the answer of a root finder.
type Root struct {
	Status      Status
	X           float64 // the end of the bracket with the smaller |f|
	Residual    float64 // f(X)
	Width       float64 // |X − other end|: the root lies within this of X
	Evaluations int
}

// FindRoot finds a zero of f between a and b, where f has opposite signs, to
// within tol in x (and the resolution of float64): Brent's method (Algorithms
// for Minimization without Derivatives, 1973, ch. 4). At most budget
// evaluations are used (0: 200). A pole is reported as a root with a large
// Residual.
func FindRoot(f func(float64) float64, a, b, tol float64, budget int) Root {
	if f == nil || !finite(b-a) || math.IsNaN(tol) {
		return Root{Status: BadInput, X: a}
	}
	fa, fb := f(a), f(b)
	if budget <= 0 {
		budget = 200
	}
	r := brent(f, a, fa, b, fb, tol, budget-2)
	r.Evaluations += 2
	return r
}

// brent is the iteration of FindRoot from known end values.
func brent(f func(float64) float64, a, fa, b, fb, tol float64, budget int) Root {
	if math.IsNaN(fa) || math.IsNaN(fb) {
		return Root{Status: NotFinite, X: b, Residual: fb, Width: math.Abs(b - a)}
	}
	if fa == 0 {
		return Root{Status: Done, X: a}
	}
	if fa > 0 == (fb > 0) && fb != 0 {
		return Root{Status: NoBracket, X: b, Residual: fb, Width: math.Abs(b - a)}
	}
	c, fc := a, fa
	d := b - a
	e := d
	for n := 0; ; n++ {
		if fb > 0 == (fc > 0) {
			c, fc, d = a, fa, b-a
			e = d
		}
		if math.Abs(fc) < math.Abs(fb) {
			a, fa, b, fb, c, fc = b, fb, c, fc, b, fb
		}
		near := 2*Epsilon*math.Abs(b) + 0.5*math.Abs(tol)
		half := 0.5 * (c - b)
		r := Root{X: b, Residual: fb, Width: math.Abs(c - b), Evaluations: n}
		if fb == 0 {
			r.Width = 0
		}
		if math.Abs(half) <= near || fb == 0 {
			if r.Status = Done; math.IsInf(fb, 0) {
				r.Status = NotFinite // within a tolerance that takes anything
			}
			return r
		}
		if n >= budget {
			r.Status = BudgetSpent
			return r
		}
		d, e = brentStep(a, fa, b, fb, c, fc, half, near, d, e)
		a, fa = b, fb
		if math.Abs(d) > near {
			b += d
		} else {
			b += math.Copysign(near, half)
		}
		if fb = f(b); math.IsNaN(fb) {
			return Root{Status: NotFinite, X: a, Residual: fa, Width: math.Abs(c - a), Evaluations: n + 1}
		}
	}
}

// brentStep chooses interpolation while it gains, bisection otherwise; it
// returns the step and the one before.
func brentStep(a, fa, b, fb, c, fc, half, near, d, e float64) (step, before float64) {
	if math.Abs(e) < near || math.Abs(fa) <= math.Abs(fb) {
		return half, half
	}
	var p, q float64
	s := fb / fa
	if a == c {
		// Secant.
		p, q = 2*half*s, 1-s
	} else {
		// Inverse quadratic interpolation.
		u, v := fa/fc, fb/fc
		p = s * (2*half*u*(u-v) - (b-a)*(v-1))
		q = (u - 1) * (v - 1) * (s - 1)
	}
	if p > 0 {
		q = -q
	}
	p = math.Abs(p)
	if 2*p < math.Min(3*half*q-math.Abs(near*q), math.Abs(e*q)) {
		return p / q, d
	}
	return half, half
}

// Bracket widens [a, b] until f changes sign in it, by the golden ratio on
// the side where |f| is smaller, but not beyond [low, high]. It returns the
// bracket, or NoBracket with the widest interval tried.
func Bracket(f func(float64) float64, a, b, low, high float64, budget int) (left, right float64, status Status, evaluations int) {
	if f == nil || !(low <= a && a < b && b <= high) || !finite(high-low) {
		return a, b, BadInput, 0
	}
	if budget <= 0 {
		budget = 60
	}
	fa, fb := f(a), f(b)
	for n := 2; ; n++ {
		switch {
		case math.IsNaN(fa) || math.IsNaN(fb):
			return a, b, NotFinite, n
		case fa == 0 || fb == 0 || fa > 0 != (fb > 0):
			return a, b, Done, n
		case a == low && b == high:
			return a, b, NoBracket, n
		case n >= budget:
			return a, b, BudgetSpent, n
		}
		grow := 1.618 * (b - a)
		if (math.Abs(fa) < math.Abs(fb) && a > low) || b == high {
			a = math.Max(low, a-grow)
			fa = f(a)
		} else {
			b = math.Min(high, b+grow)
			fb = f(b)
		}
	}
}
