package num

import "math"

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
