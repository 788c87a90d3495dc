package trial

import "tautline/num"

// Confidence is the level of every interval of this package unless an input
// says otherwise.
const Confidence = num.Confidence

// Estimate is a value with its interval; see num.Estimate.
type Estimate[T ~float64] = num.Estimate[T]

// InputError says what is wrong with an input, where, and what to try.
type InputError = num.InputError

// Exactly is an estimate without doubt: a number that was chosen, not measured.
func Exactly[T ~float64](v T) Estimate[T] { return num.Exactly(v) }

// Unknown is the estimate of a quantity about which the data say nothing.
func Unknown[T ~float64]() Estimate[T] { return num.Unknown[T]() }

// around builds the symmetric estimate v ± half at the usual level.
func around[T ~float64](v, half T) Estimate[T] { return num.Around(v, half) }

// checkLevel refuses a level of confidence that decides nothing.
func checkLevel(level float64) error {
	if !(level >= 0.5 && level <= 0.999999) {
		return bad("level", "0.95 is usual", "%g is no level of confidence", level)
	}
	return nil
}

func bad(field, hint, format string, args ...any) *InputError {
	return num.Refuse(field, hint, format, args...)
}
