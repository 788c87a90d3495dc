package arrow

import (
	"errors"
	"fmt"

	"tautline/unit"
)

// InputError says which input cannot be used, why, and what would be accepted.
// Field is a dotted name such as "Point.Mass".
type InputError struct {
	Field, Problem, Try string
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s: %s; try %s", e.Field, e.Problem, e.Try)
}

// limit is the span of values the solver is meant for: wider than any real
// arrow or bow, narrow enough to catch a value typed in the wrong unit.
type limit struct {
	field     string
	value     float64
	low, high float64
	scale     float64 // from SI to the unit of the message
	unit, try string
}

func (l *limit) check() error {
	if l.value >= l.low && l.value <= l.high {
		return nil
	}
	return &InputError{
		Field:   l.field,
		Problem: fmt.Sprintf("%.6g %s is outside %.6g to %.6g", l.value*l.scale, l.unit, l.low*l.scale, l.high*l.scale),
		Try:     l.try,
	}
}

// checkAll joins the errors of all limits; a NaN is outside everything. It
// allocates nothing when all is well.
func checkAll(limits []limit) error {
	var errs []error
	for i := range limits {
		if err := limits[i].check(); err != nil {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

func mm(field string, v unit.Length, low, high float64, try string) limit {
	return limit{field, float64(v), low, high, 1e3, "mm", try}
}

func gram(field string, v unit.Mass, low, high float64, try string) limit {
	return limit{field, float64(v), low, high, 1e3, "g", try}
}

// Validate reports every field outside what the model is meant for, all joined
// in one error of InputErrors.
func (d Design) Validate() error {
	l := float64(d.Length)
	limits := []limit{
		mm("Length", d.Length, 0.2, 1.2, "730 mm"),
		{"Spine", float64(d.Spine), 100 * float64(unit.ThousandthInch), 3000 * float64(unit.ThousandthInch),
			1 / float64(unit.ThousandthInch), "thousandths of an inch", "540"},
		{"LinearDensity", d.LinearDensity, 0.002, 0.1, 1e3, "g/m", "16.3 g/m, which is 6.4 grains per inch"},
		mm("Diameter", d.Diameter, 0.002, 0.02, "5.6 mm"),
		gram("Nock", d.Nock, 0, 0.01, "0.5 g"),
		gram("Point.Mass", d.Point.Mass, 0, 0.05, "7.8 g, which is 120 grains"),
		mm("Point.Behind", d.Point.Behind, 0, l, "10 mm"),
		mm("Point.Size", d.Point.Size, 0, 0.3, "45 mm"),
		gram("Fletching.Mass", d.Fletching.Mass, 0, 0.02, "0.4 g"),
		mm("Fletching.Place", d.Fletching.Place, 0, l, "52 mm"),
		mm("Fletching.Size", d.Fletching.Size, 0, 0.2, "45 mm"),
		mm("Fletching.Height", d.Fletching.Height, 0, 0.05, "8 mm"),
		{"Fletching.Count", float64(d.Fletching.Count), 0, 6, 1, "vanes", "3"},
		{"Damping", d.Damping, 0, 0.3, 1, "", "0.008"},
	}
	for i, e := range d.Extras {
		limits = append(limits,
			gram(fmt.Sprintf("Extras[%d].Mass", i), e.Mass, 0, 0.05, "0.3 g"),
			mm(fmt.Sprintf("Extras[%d].Place", i), e.Place, 0, l, "100 mm"),
			mm(fmt.Sprintf("Extras[%d].Size", i), e.Size, 0, 0.5, "50 mm"))
	}
	return checkAll(limits)
}
