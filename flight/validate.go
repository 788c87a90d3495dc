package flight

import (
	"errors"
	"fmt"

	"tautline/unit"
)

// InputError says which input cannot be used, why, and what would be accepted.
// Field is a dotted name such as "Air.Pressure".
type InputError struct {
	Field, Problem, Try string
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s: %s; try %s", e.Field, e.Problem, e.Try)
}

// limit is the span of values the solver is meant for: wider than any real
// flight, narrow enough to catch a value typed in the wrong unit.
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

func metres(field string, v unit.Length, low, high float64, try string) limit {
	return limit{field, float64(v), low, high, 1, "m", try}
}

func deg(field string, v unit.Angle, low, high float64, try string) limit {
	return limit{field, float64(v), low, high, 1 / float64(unit.Degree), "degrees", try}
}
