package num

import (
	"math"
	"sort"
)

// Curve is a piecewise cubic through points, with continuous slope. Outside
// the points it continues as a straight line. It is not changed by use.
type Curve struct {
	x, y, slope []float64
}

// NewSpline makes the cubic spline through the points, with the not-a-knot
// condition at the ends (de Boor, A Practical Guide to Splines, ch. IV): the
// most accurate choice for smooth data. x must increase strictly; two points
// give a line, three a parabola.
func NewSpline(x, y []float64) (*Curve, Status) {
	c, status := newCurve(x, y)
	if status != Done {
		return nil, status
	}
	switch n := len(x); n {
	case 2:
		c.slope[0] = (y[1] - y[0]) / (x[1] - x[0])
		c.slope[1] = c.slope[0]
	case 3:
		parabolaSlopes(c)
	default:
		if status := notAKnot(c); status != Done {
			return nil, status
		}
	}
	return c.checked()
}

// NewMonotone makes a curve that has no maxima or minima but those of the
// points: slopes of Fritsch and Butland (SIAM J. Sci. Stat. Comput. 5, 1984,
// 300–304), as in PCHIP. Less accurate than the spline where the data are
// smooth, safe where they are not.
func NewMonotone(x, y []float64) (*Curve, Status) {
	c, status := newCurve(x, y)
	if status != Done {
		return nil, status
	}
	n := len(x)
	if n == 2 {
		c.slope[0] = (y[1] - y[0]) / (x[1] - x[0])
		c.slope[1] = c.slope[0]
		return c.checked()
	}
	for i := 1; i < n-1; i++ {
		c.slope[i] = harmonic(c.width(i-1), c.width(i), c.secant(i-1), c.secant(i))
	}
	c.slope[0] = endSlope(c.width(0), c.width(1), c.secant(0), c.secant(1))
	c.slope[n-1] = endSlope(c.width(n-2), c.width(n-3), c.secant(n-2), c.secant(n-3))
	return c.checked()
}

// newCurve copies and checks the points.
func newCurve(x, y []float64) (*Curve, Status) {
	if len(x) < 2 || len(x) != len(y) || !allFinite(x) || !allFinite(y) {
		return nil, BadInput
	}
	for i := 1; i < len(x); i++ {
		if !(x[i] > x[i-1]) {
			return nil, BadInput
		}
	}
	return &Curve{
		x: append([]float64(nil), x...), y: append([]float64(nil), y...), slope: make([]float64, len(x)),
	}, Done
}

// checked refuses a curve whose values, slopes or areas could overflow between
// the points, or as far outside again.
func (c *Curve) checked() (*Curve, Status) {
	span := math.Max(1, c.x[len(c.x)-1]-c.x[0])
	for i, s := range c.slope {
		steepest := math.Abs(s)
		if i+1 < len(c.x) {
			steepest = math.Max(steepest, math.Abs(c.secant(i)))
		}
		if !(span < 1e299) || !(steepest*span < 1e299) || !(steepest*span*span < 1e299) || !(math.Abs(c.y[i])*span < 1e299) || !(math.Abs(c.y[i]) < 1e299) {
			return nil, NotFinite
		}
	}
	return c, Done
}

func (c *Curve) width(i int) float64  { return c.x[i+1] - c.x[i] }
func (c *Curve) secant(i int) float64 { return (c.y[i+1] - c.y[i]) / c.width(i) }

// parabolaSlopes takes the slopes of the parabola through three points.
func parabolaSlopes(c *Curve) {
	h0, h1, d0, d1 := c.width(0), c.width(1), c.secant(0), c.secant(1)
	bend := (d1 - d0) / (h0 + h1)
	c.slope[0], c.slope[1], c.slope[2] = d0-bend*h0, d0+bend*h0, d1+bend*h1
}

// notAKnot solves for the slopes that make the second derivative continuous,
// and the third at the second and the last but one point.
func notAKnot(c *Curve) Status {
	n := len(c.x)
	sub, diag, super := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := 1; i < n-1; i++ {
		h0, h1 := c.width(i-1), c.width(i)
		sub[i], diag[i], super[i] = h1, 2*(h0+h1), h0
		c.slope[i] = 3 * (h1*c.secant(i-1) + h0*c.secant(i))
	}
	h0, h1 := c.width(0), c.width(1)
	diag[0], super[0] = h1, h0+h1
	c.slope[0] = ((h0+2*(h0+h1))*h1*c.secant(0) + h0*h0*c.secant(1)) / (h0 + h1)
	h0, h1 = c.width(n-2), c.width(n-3)
	diag[n-1], sub[n-1] = h1, h0+h1
	c.slope[n-1] = ((h0+2*(h0+h1))*h1*c.secant(n-2) + h0*h0*c.secant(n-3)) / (h0 + h1)
	t := NewTridiagonal(n)
	status := t.Factor(sub, diag, super)
	if status != Done {
		return status
	}
	return t.Solve(c.slope)
}

// harmonic is the weighted harmonic mean of neighbouring secants, zero at a
// turning point.
func harmonic(h0, h1, d0, d1 float64) float64 {
	if d0 == 0 || d1 == 0 || d0 > 0 != (d1 > 0) {
		return 0
	}
	w0, w1 := 2*h1+h0, h1+2*h0
	return (w0 + w1) / (w0/d0 + w1/d1)
}

// endSlope is the three-point slope at an end, limited to keep the shape.
func endSlope(h0, h1, d0, d1 float64) float64 {
	s := ((2*h0+h1)*d0 - h0*d1) / (h0 + h1)
	switch {
	case s > 0 != (d0 > 0) || d0 == 0:
		return 0
	case d0 > 0 != (d1 > 0) && math.Abs(s) > 3*math.Abs(d0):
		return 3 * d0
	}
	return s
}

// piece finds the interval of v.
func (c *Curve) piece(v float64) int {
	i := sort.SearchFloat64s(c.x, v) - 1
	return min(max(i, 0), len(c.x)-2)
}

// At returns the curve's value. NaN gives NaN.
func (c *Curve) At(v float64) float64 {
	n := len(c.x)
	switch {
	case v < c.x[0]:
		return c.y[0] + c.slope[0]*(v-c.x[0])
	case v > c.x[n-1]:
		return c.y[n-1] + c.slope[n-1]*(v-c.x[n-1])
	}
	i := c.piece(v)
	h := c.width(i)
	t := (v - c.x[i]) / h
	u := 1 - t
	return c.y[i]*u*u*(1+2*t) + c.y[i+1]*t*t*(1+2*u) + h*t*u*(c.slope[i]*u-c.slope[i+1]*t)
}

// Slope returns the curve's derivative.
func (c *Curve) Slope(v float64) float64 {
	n := len(c.x)
	switch {
	case v < c.x[0]:
		return c.slope[0]
	case v > c.x[n-1]:
		return c.slope[n-1]
	}
	i := c.piece(v)
	t := (v - c.x[i]) / c.width(i)
	u := 1 - t
	return 6*t*u*c.secant(i) + c.slope[i]*u*(1-3*t) + c.slope[i+1]*t*(1-3*u)
}

// Area returns the integral of the curve from a to b, exact for the cubics;
// both are moved inside the points.
func (c *Curve) Area(a, b float64) float64 {
	if a > b {
		return -c.Area(b, a)
	}
	low, high := c.x[0], c.x[len(c.x)-1]
	a, b = math.Min(math.Max(a, low), high), math.Min(math.Max(b, low), high)
	sum := 0.0
	for i := c.piece(a); i <= c.piece(b); i++ {
		l, r := math.Max(a, c.x[i]), math.Min(b, c.x[i+1])
		sum += (r - l) / 6 * (c.At(l) + 4*c.At(0.5*(l+r)) + c.At(r))
	}
	return sum
}

// Domain returns the first and the last x.
func (c *Curve) Domain() (low, high float64) { return c.x[0], c.x[len(c.x)-1] }
