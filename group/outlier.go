package group

import (
	"math"

	"tautline/unit"
)

// Outlier is an arrow that lies further out than its group explains. It is
// flagged, never deleted: the verdicts keep it, and say so.
type Outlier struct {
	Index  int         // into the placed shots, in the order given
	Shot   Shot        // as recorded
	Radius unit.Length // from its end's centre
	P      float64     // adjusted for the number of arrows looked at
}

// Outliers lists arrows whose adjusted p-value is at most alpha, the furthest
// out first. On a circular group the squared distance is compared with the
// pooled spread, r² n_e/((n_e−1) SS) ~ Beta(1, ν/2−1); on a plainly elliptical
// one with the covariance (Wilks 1963), D² n_e/((n_e−1) DF) ~ Beta(1, DF/2−1);
// Bonferroni over the arrows (G4).
func Outliers(shots []Shot, alpha float64) ([]Outlier, error) {
	m, err := MomentsOf(shots)
	if err != nil {
		return nil, err
	}
	return outliers(m, shots, alpha)
}

// outliers is Outliers with the shots' own moments.
func outliers(m Moments, shots []Shot, alpha float64) ([]Outlier, error) {
	list, err := placed(shots)
	if err != nil {
		return nil, err
	}
	var out []Outlier
	for i := range list {
		if p := min(1, float64(m.Arrows)*m.tailOf(i)); p <= alpha {
			r := m.residual[i]
			out = append(out, Outlier{i, list[i], unit.Length(math.Hypot(r.x, r.y)), p})
		}
	}
	for i := 1; i < len(out); i++ {
		for j := i; j > 0 && out[j].P < out[j-1].P; j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out, nil
}

// tailOf is the marginal p-value of one arrow's distance.
func (m Moments) tailOf(i int) float64 {
	if m.Circular() {
		return m.circleTail(i)
	}
	return m.wilksTail(i)
}

func (m Moments) circleTail(i int) float64 {
	r := m.residual[i]
	if r.n < 2 || m.DF <= 1 || m.SS() == 0 {
		return 1
	}
	share := (r.x*r.x + r.y*r.y) / m.SS() * float64(r.n) / float64(r.n-1)
	return math.Pow(max(0, 1-share), m.DF-1)
}

func (m Moments) wilksTail(i int) float64 {
	r := m.residual[i]
	if r.n < 2 || m.DF <= 2 {
		return 1
	}
	xx, xy, yy := m.Covariance()
	det := xx*yy - xy*xy
	if det <= 0 {
		return 1
	}
	d2 := (yy*r.x*r.x - 2*xy*r.x*r.y + xx*r.y*r.y) / det
	share := d2 / m.DF * float64(r.n) / float64(r.n-1)
	return math.Pow(max(0, 1-share), m.DF/2-1)
}

// CircleLimit is the largest r²/s² that the n arrows of one circular group
// exceed with probability alpha at most (G4; s pooled, own centre).
func CircleLimit(n int, alpha float64) float64 {
	nu := float64(n - 1)
	share := 1 - math.Pow(alpha/float64(n), 1/(nu-1))
	return share * 2 * nu * nu / float64(n)
}

// WilksLimit is the same for the Mahalanobis distance D².
func WilksLimit(n int, alpha float64) float64 {
	nu := float64(n - 1)
	share := 1 - math.Pow(alpha/float64(n), 1/(nu/2-1))
	return share * nu * nu / float64(n)
}
