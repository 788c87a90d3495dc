package group

import (
	"math"

	"tautline/unit"
)

// LongRun is the spread of all arrows over many ends: the scatter about the
// ends' own centres together with that of the centres themselves, as far as
// these ends show it. One end shows none: then it is the scatter within ends.
type LongRun struct {
	Sigma               Estimate[unit.Length] // of one axis, pooled over both
	SigmaRight, SigmaUp Estimate[unit.Length]
	DF                  float64 // of Sigma
	Ellipse             Ellipse // one standard deviation along each axis; its centre is the group's
	// Wider: the ends' centres scatter by more than their arrows explain on
	// average, so that this is wider than the scatter within ends.
	Wider bool

	circular bool
}

// covariance is a symmetric 2×2 matrix, m².
type covariance struct{ xx, xy, yy float64 }

func (c covariance) trace() float64 { return c.xx + c.yy }

// positive sets negative eigenvalues to 0: no direction has less than none.
func (c covariance) positive() covariance {
	mean, half := c.trace()/2, math.Hypot((c.xx-c.yy)/2, c.xy)
	low, high := max(mean-half, 0), max(mean+half, 0)
	if half == 0 {
		return covariance{high, 0, high}
	}
	cos2, sin2 := (c.xx-c.yy)/(2*half), c.xy/half
	mid, wide := (high+low)/2, (high-low)/2
	return covariance{mid + wide*cos2, wide * sin2, mid - wide*cos2}
}

// longRun adds to the covariance within ends, W, the ends' own component (one
// way of random effects, by moments): (B − W)/n₀ with B the mean square between
// ends and n₀ = (N − Σn²/N)/(k − 1), never below 0. Where neither W nor B is
// plainly longer one way, both axes share one component. With a = 1 − 1/n₀ and
// b = 1/n₀ the sum is aW + bB, its degrees of freedom Satterthwaite's (1946).
func (m Moments) longRun() LongRun {
	var out LongRun
	out.Sigma, out.DF = m.Sigma()
	out.SigmaRight, out.SigmaUp, out.Ellipse, out.circular = m.SigmaRight(), m.SigmaUp(), m.Ellipse(), m.Circular()
	if m.Ends < 2 {
		return out
	}
	within, between, ends := m.within(), m.between(), float64(m.Ends-1)
	b := ends / (float64(m.Arrows) - m.squaredEnds()/float64(m.Arrows))
	apart := covariance{b * (between.xx - within.xx), b * (between.xy - within.xy), b * (between.yy - within.yy)}.positive()
	pBetween := circleP(between, ends)
	if out.circular && pBetween >= 0.05 {
		share := max(b*(between.trace()-within.trace())/2, 0)
		apart = covariance{share, 0, share}
	}
	if apart.trace() == 0 {
		return out
	}
	total := covariance{within.xx + apart.xx, within.xy + apart.xy, within.yy + apart.yy}
	freedom := func(t, w, nuW, v, nuB float64) float64 {
		return t * t / (square(1-b)*w*w/nuW + b*b*v*v/nuB)
	}
	nuB := 2 * ends
	if pBetween < 0.05 {
		nuB = ellipseDF(between, ends)
	}
	out.Wider, out.circular = true, out.circular && pBetween >= 0.05
	out.DF = freedom(total.trace(), within.trace(), out.DF, between.trace(), nuB)
	out.Sigma = sigma(math.Sqrt(total.trace()/2), out.DF)
	out.SigmaRight = sigma(math.Sqrt(total.xx), freedom(total.xx, within.xx, m.DF, between.xx, ends))
	out.SigmaUp = sigma(math.Sqrt(total.yy), freedom(total.yy, within.yy, m.DF, between.yy, ends))
	circle := out.Ellipse.CircleP
	out.Ellipse = principal(total.xx, total.xy, total.yy)
	out.Ellipse.Centre, out.Ellipse.CircleP = m.Centre, circle
	return out
}

// radius is the one about the group's centre that holds the share p.
func (l LongRun) radius(p float64) unit.Length {
	if l.circular {
		return l.Sigma.Value * unit.Length(RadiusFactor(1, p))
	}
	return l.Ellipse.Major * unit.Length(RadiusFactor(float64(l.Ellipse.Minor/l.Ellipse.Major), p))
}

func (m Moments) within() covariance { return covariance{m.XX / m.DF, m.XY / m.DF, m.YY / m.DF} }

func (m Moments) squaredEnds() (sum float64) {
	for _, e := range m.perEnd {
		sum += float64(e.n * e.n)
	}
	return sum
}

func square(x float64) float64 { return x * x }
