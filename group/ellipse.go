package group

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// Ellipse is the covariance ellipse of a group: one standard deviation along
// each principal axis.
type Ellipse struct {
	Centre       Point
	Major, Minor unit.Length // standard deviations, Major ≥ Minor
	Angle        unit.Angle  // of the major axis from Right toward Up, −90° … 90°
	// CircleP is the p-value of a circle: below 0.05 the group is plainly
	// longer one way than the other.
	CircleP float64
}

// Ellipse of the group. Major is too large and Minor too small on average
// when few arrows are at hand: look at CircleP before believing the shape.
func (m Moments) Ellipse() Ellipse {
	e := principal(m.Covariance())
	e.Centre, e.CircleP = m.Centre, m.shapeIsCircle
	return e
}

// principal axes of a 2×2 covariance matrix, in closed form.
func principal(xx, xy, yy float64) Ellipse {
	mean, half := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	return Ellipse{
		Major: unit.Length(math.Sqrt(mean + half)),
		Minor: unit.Length(math.Sqrt(max(mean-half, 0))),
		Angle: unit.Angle(math.Atan2(2*xy, xx-yy) / 2),
	}
}

// RadiusFactor is the radius, in units of the larger σ, that holds the share p
// of a centred normal group with σ_min = q σ_max, 0 ≤ q ≤ 1 (G3). A circle
// gives √(−2 ln(1−p)): 1.17741 at one half.
func RadiusFactor(q, p float64) float64 {
	spread := Spread{SigmaRight: 1, SigmaUp: unit.Length(q)}
	low, high := 0.0, 10.0
	for range 60 {
		mid := (low + high) / 2
		if spread.Within(unit.Length(mid)) < p {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// CentreEstimate is where the bow shoots, each axis with its interval.
type CentreEstimate struct {
	Right, Up Estimate[unit.Length]
	// ByEnds: the ends' centres differ by more than their arrows explain (or
	// there are enough of them to say), so the interval counts ends, not arrows.
	ByEnds bool
}

// CentreInterval estimates the centre. With three or more ends whose centres
// scatter at least as the arrows predict, each end counts as one observation
// (Student's t, ends − 1); otherwise all arrows do (t, DF).
func (m Moments) CentreInterval() CentreEstimate {
	if m.DF < 1 && m.Ends < 2 {
		u := Unknown[unit.Length]()
		right, up := u, u
		right.Value, up.Value = m.Centre.Right, m.Centre.Up
		return CentreEstimate{right, up, false}
	}
	b := m.between()
	bx, by := b.xx, b.yy
	arrows := float64(m.Arrows)
	wx, wy := m.XX/m.DF, m.YY/m.DF
	if m.DF < 1 || m.Ends >= 3 && bx+by > wx+wy {
		t := studentT(float64(m.Ends - 1))
		return CentreEstimate{
			around(m.Centre.Right, unit.Length(t*math.Sqrt(bx/arrows))),
			around(m.Centre.Up, unit.Length(t*math.Sqrt(by/arrows))), true,
		}
	}
	t := studentT(m.DF)
	return CentreEstimate{
		around(m.Centre.Right, unit.Length(t*math.Sqrt(wx/arrows))),
		around(m.Centre.Up, unit.Length(t*math.Sqrt(wy/arrows))), false,
	}
}

// between is the mean square and product of the ends' centres about the whole
// centre, weighted by their arrows: the covariance within ends if ends do not
// differ.
func (m Moments) between() (c covariance) {
	for _, e := range m.perEnd {
		n, dx, dy := float64(e.n), float64(e.centre.Right-m.Centre.Right), float64(e.centre.Up-m.Centre.Up)
		c.xx, c.xy, c.yy = c.xx+n*dx*dx, c.xy+n*dx*dy, c.yy+n*dy*dy
	}
	k := float64(m.Ends - 1)
	return covariance{c.xx / k, c.xy / k, c.yy / k}
}

func studentT(nu float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(0.5 + Confidence/2)
}
