package flight

import (
	"errors"
	"fmt"

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
