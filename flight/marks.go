package flight

import (
	"errors"
	"fmt"
	"math"

	"tautline/num"
	"tautline/unit"
)

// Mark is one sight mark: the scale's reading that hits at a distance.
type Mark struct {
	Distance unit.Length
	// Reading of the sight's scale as a length; a scale without a unit is
	// read as millimetres.
	Reading unit.Length
	// Rise of the target's centre above the eye, 0 on level ground with a
	// target at eye height.
	Rise unit.Length
}

// Sight says how the sight's scale and the eye lie to the arrow. The line from
// the eye through the pin meets the target; the pin's height against the
// arrow's line sets the elevation (eq. 9).
type Sight struct {
	// Reach from the eye to the pin, along the shot; usual 0.75 to 1.05 m.
	// ReachDoubt is its standard deviation; 0 takes 10 mm.
	Reach, ReachDoubt unit.Length
	// EyeAboveNock at full draw, usual 90 to 140 mm.
	EyeAboveNock unit.Length
	// Upward: the scale's numbers grow upward; usually they grow downward,
	// with the distance.
	Upward bool
	// Doubt of one mark, the reading's standard deviation; 0 takes 0.5 mm.
	Doubt unit.Length
}

// Expected is what is known of the arrow before the marks are seen.
type Expected struct {
	Mass     unit.Mass
	Diameter unit.Length
	// Speed with its standard deviation: from a chronograph or the bow's
	// model. SpeedDoubt 0 takes 10 % of the speed.
	Speed, SpeedDoubt unit.Speed
	// Drag coefficient, constant over the flight, with its standard
	// deviation. Drag 0 takes 1.8 ± 0.4, which spans the published 1.3 to 2.6.
	Drag, DragDoubt float64
	// Air in which the marks were shot.
	Air Air
}

// parameters of the fit.
const (
	pSpeed  = iota // ln of the speed
	pDrag          // ln of the drag coefficient
	pReach         // ln of the sight's reach
	pOrigin        // the scale's reading with the pin on the arrow's line, m
	parameters
)

// Marks is a fitted sight: speed and drag that explain the marks, and the
// readings for other distances and other air.
type Marks struct {
	Speed             unit.Speed
	SpeedDoubt        unit.Speed // standard deviation
	Drag, DragDoubt   float64
	Reach             unit.Length
	Origin            unit.Length
	Nearest, Farthest unit.Length // of the marks
	// Correlation of speed and drag; near 1 when the marks cannot tell them
	// apart.
	Correlation float64
	// Misfit is √(χ²/n) of the marks alone: near one or below when the model
	// explains them within their doubt.
	Misfit float64
	// Warnings are sentences for the reader.
	Warnings []string

	p     [parameters]float64
	cov   num.Matrix
	sight Sight
	known Expected
}

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

// FitMarks fits speed, drag, the sight's reach and its origin to two or more
// marks (eq. 10): least squares with what is Expected as further observations,
// so that two marks already move the answer as far as they can and no
// farther.
func FitMarks(marks []Mark, sight Sight, known Expected) (*Marks, error) {
	sight.fill()
	known.fill()
	if err := errors.Join(checkMarks(marks), sight.validate(), known.validate()); err != nil {
		return nil, err
	}
	m := &Marks{sight: sight, known: known, Nearest: marks[0].Distance, Farthest: marks[0].Distance}
	for _, k := range marks {
		m.Nearest, m.Farthest = min(m.Nearest, k.Distance), max(m.Farthest, k.Distance)
	}
	if m.Farthest-m.Nearest < 1 {
		return nil, &InputError{"marks", "all marks are at one distance", "two marks at least 10 m apart"}
	}
	start := m.begin(marks)
	fit := num.LevenbergMarquardt(num.FitProblem{
		Count:     len(marks) + 3,
		Residuals: func(p, r []float64) { m.residuals(marks, p, r) },
		// The flight is solved to 1e-11.
		Differences: num.Differences{Typical: []float64{1, 1, 1, 0.1}, Noise: 1e-11},
	}, start[:], num.FitControl{})
	if err := fit.Status.Err("sight marks"); err != nil && fit.Status != num.BudgetSpent {
		return nil, &InputError{"marks", "no speed and drag explain them: " + err.Error(), "checking the readings, the sight's direction and the expected speed"}
	}
	m.take(fit, len(marks))
	return m, nil
}

func (s *Sight) fill() {
	if s.ReachDoubt == 0 {
		s.ReachDoubt = 0.010
	}
	if s.Doubt == 0 {
		s.Doubt = 0.0005
	}
}

func (e *Expected) fill() {
	if e.SpeedDoubt == 0 {
		e.SpeedDoubt = e.Speed / 10
	}
	if e.Drag == 0 {
		e.Drag, e.DragDoubt = 1.8, 0.4
	}
	if e.DragDoubt == 0 {
		e.DragDoubt = 0.2 * e.Drag
	}
}

func checkMarks(marks []Mark) error {
	if len(marks) < 2 {
		return &InputError{"marks", fmt.Sprintf("%d of them", len(marks)), "two or more, at least 10 m apart"}
	}
	var limits []limit
	for i, k := range marks {
		limits = append(limits,
			metres(fmt.Sprintf("marks[%d].Distance", i), k.Distance, 3, 200, "30 m"),
			mm(fmt.Sprintf("marks[%d].Reading", i), k.Reading, -1, 1, "45 mm"),
			metres(fmt.Sprintf("marks[%d].Rise", i), k.Rise, -100, 100, "0 m"))
	}
	return checkAll(limits)
}

func (s Sight) validate() error {
	return checkAll([]limit{
		metres("Sight.Reach", s.Reach, 0.2, 2, "0.9 m"),
		mm("Sight.ReachDoubt", s.ReachDoubt, 1e-5, 0.5, "10 mm"),
		mm("Sight.EyeAboveNock", s.EyeAboveNock, -0.1, 0.3, "115 mm"),
		mm("Sight.Doubt", s.Doubt, 1e-6, 0.05, "0.5 mm"),
	})
}

func (e Expected) validate() error {
	p := PointMass{Mass: e.Mass, Diameter: e.Diameter, Drag: ConstantDrag(e.Drag), Air: e.Air}
	return errors.Join(p.Validate(), checkAll([]limit{
		{"Expected.Speed", float64(e.Speed), 15, 120, 1, "m/s", "57 m/s"},
		{"Expected.SpeedDoubt", float64(e.SpeedDoubt), 1e-3, 60, 1, "m/s", "3 m/s"},
		{"Expected.Drag", e.Drag, 0.2, 10, 1, "", "1.8"},
		{"Expected.DragDoubt", e.DragDoubt, 1e-3, 10, 1, "", "0.4"},
	}))
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
