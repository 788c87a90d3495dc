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
			r.Status = Done
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

// Minimum is the answer of Minimize.
type Minimum struct {
	Status      Status
	X, F        float64
	Width       float64 // of the last bracket
	Evaluations int
}

// golden is 2 − the golden ratio.
const golden = 0.3819660112501051

// Minimize finds a local minimum of f between a and b to within tol in x:
// golden section with parabolic steps (Brent 1973, ch. 5). A tol below
// 1e-8·|x| has no sense, because f is flat there. At most budget evaluations
// are used (0: 200). A NaN counts as worse than anything.
func Minimize(f func(float64) float64, a, b, tol float64, budget int) Minimum {
	if f == nil || !finite(b-a) || math.IsNaN(tol) {
		return Minimum{Status: BadInput, X: a}
	}
	if a > b {
		a, b = b, a
	}
	if budget <= 0 {
		budget = 200
	}
	g := func(x float64) float64 {
		if v := f(x); !math.IsNaN(v) {
			return v
		}
		return math.Inf(1)
	}
	m := minimise(g, a, b, math.Abs(tol), budget)
	if !finite(m.F) {
		m.Status = NotFinite
	}
	return m
}

// minimise is the iteration of Minimize: x is the best point, w the second
// best, v the one before.
func minimise(f func(float64) float64, a, b, tol float64, budget int) Minimum {
	x := a + golden*(b-a)
	w, v := x, x
	fx := f(x)
	fw, fv := fx, fx
	var d, e float64
	for n := 1; ; n++ {
		mid := 0.5 * (a + b)
		near := 1.5e-8*math.Abs(x) + tol/3 + 1e-300
		m := Minimum{Status: Done, X: x, F: fx, Width: b - a, Evaluations: n}
		if math.Abs(x-mid) <= 2*near-0.5*(b-a) {
			return m
		}
		if n >= budget {
			m.Status = BudgetSpent
			return m
		}
		d, e = parabola(a, b, x, w, v, fx, fw, fv, mid, near, d, e)
		u := x + d
		if math.Abs(d) < near {
			u = x + math.Copysign(near, d)
		}
		fu := f(u)
		if fu <= fx {
			if u >= x {
				a = x
			} else {
				b = x
			}
			v, fv, w, fw, x, fx = w, fw, x, fx, u, fu
			continue
		}
		if u < x {
			a = u
		} else {
			b = u
		}
		switch {
		case fu <= fw || w == x:
			v, fv, w, fw = w, fw, u, fu
		case fu <= fv || v == x || v == w:
			v, fv = u, fu
		}
	}
}

// parabola proposes the vertex through the three best points if it lies well
// inside and the steps shrink, else a golden section.
func parabola(a, b, x, w, v, fx, fw, fv, mid, near, d, e float64) (step, before float64) {
	if math.Abs(e) > near {
		r := (x - w) * (fx - fv)
		q := (x - v) * (fx - fw)
		p := (x-v)*q - (x-w)*r
		q = 2 * (q - r)
		if q > 0 {
			p = -p
		}
		q = math.Abs(q)
		if math.Abs(p) < math.Abs(0.5*q*e) && p > q*(a-x) && p < q*(b-x) {
			step = p / q
			if u := x + step; u-a < 2*near || b-u < 2*near {
				step = math.Copysign(near, mid-x)
			}
			return step, d
		}
	}
	e = b - x
	if x >= mid {
		e = a - x
	}
	return golden * e, e
}
