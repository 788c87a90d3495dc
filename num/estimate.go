package num

import (
	"encoding/json"
	"fmt"
	"math"
)

// Confidence is the level of an Estimate's interval unless an input says
// otherwise.
const Confidence = 0.95

// Estimate is a value with its interval. Low and High may be infinite where
// the data do not bound the value on that side; Value is NaN where there is
// none.
type Estimate[T ~float64] struct {
	Value T       // best estimate
	Low   T       // lower end, ≤ Value; −Inf: not bounded below
	High  T       // upper end, ≥ Value; +Inf: not bounded above
	Level float64 // confidence of [Low, High], 0.95 by default
}

// Exactly is an estimate without doubt: a number that was chosen, not measured.
func Exactly[T ~float64](v T) Estimate[T] { return Estimate[T]{v, v, v, 1} }

// Unknown is the estimate of a quantity about which the data say nothing.
func Unknown[T ~float64]() Estimate[T] {
	return Estimate[T]{T(math.NaN()), T(math.Inf(-1)), T(math.Inf(1)), Confidence}
}

// Known reports whether there is a value.
func (e Estimate[T]) Known() bool { return !math.IsNaN(float64(e.Value)) }

// Bounded reports whether both ends of the interval are finite.
func (e Estimate[T]) Bounded() bool {
	return !math.IsInf(float64(e.Low), 0) && !math.IsInf(float64(e.High), 0) &&
		!math.IsNaN(float64(e.Low)) && !math.IsNaN(float64(e.High))
}

// Half is half the width of the interval.
func (e Estimate[T]) Half() T { return (e.High - e.Low) / 2 }

// Holds reports whether x lies in the interval.
func (e Estimate[T]) Holds(x T) bool { return x >= e.Low && x <= e.High }

// Around builds the symmetric estimate v ± |half| at the usual level. A half that
// is no number bounds nothing.
func Around[T ~float64](v, half T) Estimate[T] {
	if half = T(math.Abs(float64(half))); math.IsNaN(float64(half)) {
		half = T(math.Inf(1))
	}
	return Estimate[T]{v, v - half, v + half, Confidence}
}

// MarshalJSON writes {"value", "low", "high", "level"} in SI; an end that is
// not bounded, or a value that does not exist, is null.
func (e Estimate[T]) MarshalJSON() ([]byte, error) {
	return json.Marshal(map[string]any{
		"value": finiteOrNil(float64(e.Value)), "low": finiteOrNil(float64(e.Low)),
		"high": finiteOrNil(float64(e.High)), "level": e.Level,
	})
}

func finiteOrNil(x float64) any {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return x
}

// InputError says what is wrong with an input, where, and what to try.
type InputError struct {
	Field   string // "line 7, x_cm"
	Message string // what is wrong, as a clause
	Hint    string // what to try, with a good example
}

// Error joins the three in one sentence.
func (e *InputError) Error() string {
	return fmt.Sprintf("%s: %s; %s", e.Field, e.Message, e.Hint)
}

// Refuse makes an InputError with a formatted message.
func Refuse(field, hint, format string, args ...any) *InputError {
	return &InputError{Field: field, Message: fmt.Sprintf(format, args...), Hint: hint}
}
