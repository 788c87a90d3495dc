package group

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// Moments are the sums behind every spread: squares and products about each
// end's own centre.
type Moments struct {
	Arrows, Ends  int
	DF            float64    // Σ(n_e − 1): degrees of freedom of one axis
	XX, XY, YY    float64    // sums of squares and products, m²
	Centre        Point      // mean of all arrows
	perEnd        []endSums  // one per end
	residual      []residual // one per shot, in the order given
	shapeIsCircle float64    // p-value of a circular shape
}

type endSums struct {
	n      int
	centre Point
}

type residual struct {
	x, y float64 // from its end's centre, m
	n    int     // arrows in its end
}

// MomentsOf sums up the placed shots. Ends of one arrow count for the centre
// only.
func MomentsOf(shots []Shot) (Moments, error) {
	list, err := placed(shots)
	if err != nil {
		return Moments{}, err
	}
	m := Moments{Arrows: len(list), Centre: Centre(list)}
	index := map[int]endSums{}
	for _, end := range byEnd(list) {
		e := endSums{len(end), Centre(end)}
		index[end[0].End] = e
		m.perEnd = append(m.perEnd, e)
		m.DF += float64(len(end) - 1)
	}
	m.Ends = len(m.perEnd)
	for _, s := range list {
		e := index[s.End]
		x, y := float64(s.Right-e.centre.Right), float64(s.Up-e.centre.Up)
		m.XX, m.XY, m.YY = m.XX+x*x, m.XY+x*y, m.YY+y*y
		m.residual = append(m.residual, residual{x, y, e.n})
	}
	m.shapeIsCircle = m.circleP()
	return m, nil
}

// SS is the sum of squared distances from the ends' centres.
func (m Moments) SS() float64 { return m.XX + m.YY }

// S is the pooled standard deviation of one axis, √(SS/2DF): the best estimate
// of σ² squared, slightly small as an estimate of σ.
func (m Moments) S() unit.Length { return unit.Length(math.Sqrt(m.SS() / (2 * m.DF))) }

// Covariance of one arrow about its end's centre, m².
func (m Moments) Covariance() (xx, xy, yy float64) {
	return m.XX / m.DF, m.XY / m.DF, m.YY / m.DF
}

// circleP is the p-value of a circular group: Mauchly's criterion for two
// axes, W = 4 det/(trace)², has P(W ≤ w) = w^((ν−1)/2) exactly (Mauchly 1940,
// recalled; checked by simulation in the tests).
func (m Moments) circleP() float64 { return circleP(covariance{m.XX, m.XY, m.YY}, m.DF) }

// circleP of a matrix of sums of squares, or their means, with nu degrees of
// freedom.
func circleP(c covariance, nu float64) float64 {
	if nu < 2 || c.trace() == 0 {
		return 1
	}
	w := 4 * (c.xx*c.yy - c.xy*c.xy) / (c.trace() * c.trace())
	return math.Pow(max(w, 0), (nu-1)/2)
}

// Circular reports whether the group may be taken as circular: Mauchly's
// p-value is at least 0.05.
func (m Moments) Circular() bool { return m.shapeIsCircle >= 0.05 }

// EllipseDF is Satterthwaite's number of degrees of freedom of the pooled s²,
// DF (Σλ)²/Σλ², with Σλ² and (Σλ)² estimated without bias from a Wishart
// matrix; it lies between DF (a line) and 2 DF (a circle). One degree of
// freedom tells no shape, and counts as a line.
func (m Moments) EllipseDF() float64 {
	if m.DF < 2 {
		return m.DF
	}
	return ellipseDF(m.within(), m.DF)
}

// ellipseDF of a covariance known with n ≥ 2 degrees of freedom.
func ellipseDF(c covariance, n float64) float64 {
	xx, xy, yy := c.xx, c.xy, c.yy
	trace2, square := (xx+yy)*(xx+yy), xx*xx+2*xy*xy+yy*yy
	// E trS² = (1+1/n) trΣ² + (trΣ)²/n and E (trS)² = (trΣ)² + 2 trΣ²/n.
	det := (1+1/n)*1 - 2/n/n
	sigma2 := (square - trace2/n) / det
	sum2 := ((1+1/n)*trace2 - 2/n*square) / det
	if sigma2 <= 0 || math.IsNaN(sigma2) {
		return 2 * n
	}
	return n * min(max(sum2/sigma2, 1), 2)
}

// CG is the factor E(s)/σ of a pooled s with ν degrees of freedom,
// √(2/ν) Γ((ν+1)/2)/Γ(ν/2) (G1).
func CG(nu float64) float64 {
	a, _ := math.Lgamma((nu + 1) / 2)
	b, _ := math.Lgamma(nu / 2)
	return math.Sqrt(2/nu) * math.Exp(a-b)
}

// SigmaFactors are the factors on s that bound σ at a confidence level:
// √(ν/χ²_{1−α/2}) and √(ν/χ²_{α/2}) (G1). Without a degree of freedom, or at
// no level between 0 and 1, nothing is bounded: 0 and +Inf.
func SigmaFactors(nu, level float64) (low, high float64) {
	if !(nu > 0 && level >= 0 && level < 1) || math.IsInf(nu, 1) {
		return 0, math.Inf(1)
	}
	chi := distuv.ChiSquared{K: nu}
	return math.Sqrt(nu / chi.Quantile(0.5+level/2)), math.Sqrt(nu / lowQuantile(chi, 0.5-level/2))
}

// lowQuantile is χ²'s quantile, by the first term of its series where the
// library's search ends at 0: P(a, z) ≈ zᵃ/Γ(a+1) with a = ν/2 (DLMF 8.7.1).
func lowQuantile(chi distuv.ChiSquared, p float64) float64 {
	if q := chi.Quantile(p); q > 0 {
		return q
	}
	a := chi.K / 2
	gamma, _ := math.Lgamma(a + 1)
	return 2 * math.Exp((math.Log(p)+gamma)/a)
}

// sigma builds the estimate of σ from s: unbiased value, χ² interval.
func sigma(s, nu float64) Estimate[unit.Length] {
	if !(nu > 0) {
		return Unknown[unit.Length]()
	}
	low, high := SigmaFactors(nu, Confidence)
	return Estimate[unit.Length]{Value: unit.Length(s / CG(nu)), Low: unit.Length(s * low), High: unit.Length(s * high), Level: Confidence}
}

// SigmaRight is the sideways standard deviation, DF degrees of freedom.
func (m Moments) SigmaRight() Estimate[unit.Length] { return sigma(math.Sqrt(m.XX/m.DF), m.DF) }

// SigmaUp is the standard deviation in height, DF degrees of freedom.
func (m Moments) SigmaUp() Estimate[unit.Length] { return sigma(math.Sqrt(m.YY/m.DF), m.DF) }

// SigmaCircular pools both axes with 2·DF degrees of freedom: right for
// circular groups only.
func (m Moments) SigmaCircular() Estimate[unit.Length] { return sigma(float64(m.S()), 2*m.DF) }

// SigmaElliptical pools both axes with Satterthwaite's degrees of freedom.
func (m Moments) SigmaElliptical() Estimate[unit.Length] {
	return sigma(float64(m.S()), m.EllipseDF())
}

// Sigma pools both axes; the degrees of freedom are Satterthwaite's where the
// group is plainly not circular (p < 0.05), else 2·DF.
func (m Moments) Sigma() (e Estimate[unit.Length], nu float64) {
	if m.DF < 1 {
		return Unknown[unit.Length](), 0
	}
	nu = 2 * m.DF
	if !m.Circular() {
		nu = m.EllipseDF()
	}
	return sigma(float64(m.S()), nu), nu
}

func shotField(i int) string { return fmt.Sprintf("arrow %d", i+1) }
