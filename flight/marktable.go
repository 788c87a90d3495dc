package flight

import (
	"errors"
	"fmt"
	"math"

	"tautline/num"
	"tautline/unit"
)

// Prediction is one line of a table of marks.
type Prediction struct {
	Distance unit.Length
	Reading  unit.Length
	// Low and High bound the reading with 90 % confidence: the doubt of the
	// fit and of setting one mark.
	Low, High unit.Length
	// Beyond marks a distance outside the measured ones, where a constant
	// drag coefficient has not been checked.
	Beyond bool
	Time   unit.Duration
	Speed  unit.Speed // at the target
}

// reading is the scale's reading for a distance under parameters p in the
// given air, and the shot (eq. 9). NaN if the arrow does not get there.
func (m *Marks) reading(p []float64, air Air, distance, rise float64) (float64, Shot) {
	ready := PointMass{Mass: m.known.Mass, Diameter: m.known.Diameter, Drag: ConstantDrag(math.Exp(p[pDrag])), Air: air}
	b := ready.ready()
	h := float64(m.sight.EyeAboveNock)
	// The nock lies h below the eye; the target's rise counts from the eye.
	shot, ok := b.aim(math.Exp(p[pSpeed]), distance, rise+h)
	if !ok {
		return math.NaN(), Shot{}
	}
	// Angle between the arrow's line and the line of sight.
	delta := float64(shot.Elevation) - math.Atan2(rise, distance)
	down := math.Exp(p[pReach])*math.Tan(delta) - h
	if m.sight.Upward {
		down = -down
	}
	return p[pOrigin] + down, shot
}

// residuals of marks and of what is expected, in standard deviations.
func (m *Marks) residuals(marks []Mark, p, r []float64) {
	doubt := float64(m.sight.Doubt)
	for i, k := range marks {
		got, _ := m.reading(p, m.known.Air, float64(k.Distance), float64(k.Rise))
		r[i] = (got - float64(k.Reading)) / doubt
	}
	n := len(marks)
	e, s := &m.known, &m.sight
	r[n] = (p[pSpeed] - math.Log(float64(e.Speed))) * float64(e.Speed/e.SpeedDoubt)
	r[n+1] = (p[pDrag] - math.Log(e.Drag)) * e.Drag / e.DragDoubt
	r[n+2] = (p[pReach] - math.Log(float64(s.Reach))) * float64(s.Reach/s.ReachDoubt)
}

// begin is the expected arrow with the origin that fits the first mark.
func (m *Marks) begin(marks []Mark) [parameters]float64 {
	p := [parameters]float64{
		pSpeed: math.Log(float64(m.known.Speed)), pDrag: math.Log(m.known.Drag), pReach: math.Log(float64(m.sight.Reach)),
	}
	first := marks[0]
	if got, _ := m.reading(p[:], m.known.Air, float64(first.Distance), float64(first.Rise)); got == got {
		p[pOrigin] = float64(first.Reading) - got
	}
	return p
}

// take reads the fit's answer.
func (m *Marks) take(fit num.Fit, n int) {
	copy(m.p[:], fit.P)
	m.cov = fit.Covariance
	chi := 0.0
	for _, r := range fit.Residual[:n] {
		chi += r * r
	}
	m.Misfit = math.Sqrt(chi / float64(n))
	// Marks that scatter more than stated widen every doubt.
	if freedom := n - 2; freedom > 0 && chi > float64(freedom) {
		scale := chi / float64(freedom)
		for i := range m.cov.Data {
			m.cov.Data[i] *= scale
		}
		m.sight.Doubt *= unit.Length(math.Sqrt(scale))
		if scale > 4 {
			m.Warnings = append(m.Warnings, fmt.Sprintf("the marks scatter %.1f times more than their stated doubt: one of them may be wrong", math.Sqrt(scale)))
		}
	}
	sd := func(i int) float64 { return math.Sqrt(m.cov.At(i, i)) }
	m.Speed, m.Drag = unit.Speed(math.Exp(m.p[pSpeed])), math.Exp(m.p[pDrag])
	m.SpeedDoubt, m.DragDoubt = m.Speed*unit.Speed(sd(pSpeed)), m.Drag*sd(pDrag)
	m.Reach, m.Origin = unit.Length(math.Exp(m.p[pReach])), unit.Length(m.p[pOrigin])
	m.Correlation = m.cov.At(pSpeed, pDrag) / (sd(pSpeed) * sd(pDrag))
	m.warn()
}

// warn compares the answer with what was expected.
func (m *Marks) warn() {
	if off := math.Abs(float64((m.Speed - m.known.Speed) / m.known.SpeedDoubt)); off > 2 {
		m.Warnings = append(m.Warnings, fmt.Sprintf("the marks ask for %.1f m/s, %.1f standard deviations from the expected speed: check the sight's reach and direction", float64(m.Speed), off))
	}
	if m.Drag < 1 || m.Drag > 3 {
		m.Warnings = append(m.Warnings, fmt.Sprintf("the drag coefficient of %.2f lies outside the published 1.3 to 2.6: speed and drag may be trading places", m.Drag))
	}
}

// Covariance of ln speed, ln drag, ln reach and origin (m).
func (m *Marks) Covariance() num.Matrix {
	c := num.NewMatrix(parameters, parameters)
	copy(c.Data, m.cov.Data)
	return c
}

// Predict gives the reading for a distance in the day's air, with its doubt.
func (m *Marks) Predict(distance, rise unit.Length, air Air) (Prediction, error) {
	if err := errors.Join(air.Validate(), checkAll([]limit{
		metres("distance", distance, 3, 200, "50 m"), metres("rise", rise, -100, 100, "0 m"),
	})); err != nil {
		return Prediction{}, err
	}
	d, up := float64(distance), float64(rise)
	value, shot := m.reading(m.p[:], air, d, up)
	if value != value {
		return Prediction{}, &InputError{"distance", fmt.Sprintf("the fitted arrow does not reach %.0f m", d), "a shorter distance"}
	}
	var g [parameters]float64
	at := m.p
	num.Gradient(func(p []float64) float64 {
		r, _ := m.reading(p, air, d, up)
		return r
	}, at[:], num.Differences{Typical: []float64{1, 1, 1, 0.1}, Noise: 1e-11}, g[:])
	variance := float64(m.sight.Doubt * m.sight.Doubt)
	for i := range g {
		for j := range g {
			variance += g[i] * m.cov.At(i, j) * g[j]
		}
	}
	const z90 = 1.6448536
	half := unit.Length(z90 * math.Sqrt(variance))
	return Prediction{
		Distance: distance, Reading: unit.Length(value), Low: unit.Length(value) - half, High: unit.Length(value) + half,
		Beyond: distance < m.Nearest || distance > m.Farthest, Time: shot.Time, Speed: shot.Speed,
	}, nil
}
