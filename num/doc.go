// Package num is the mathematics under the bow: stepping ordinary
// differential equations with events, roots, minima, least squares, small
// dense and banded systems, quadrature and interpolation, all in plain
// float64.
//
// Habits of the package:
//
//   - Nothing panics or returns NaN on data from outside. Every solver returns
//     a Status beside its numbers and counts what it spent; Status.Err makes
//     an error of it. Slices of the wrong length are BadInput.
//   - A solver that runs in a loop has a workspace type; after its New
//     function it allocates nothing per step.
//   - A run keeps nothing that changes a later run's answer.
//
// Where a well-kept library serves, it is used: symmetric eigenproblems go to
// gonum. The rest is our own because no well-kept Go library steps equations
// with events, fits with a covariance, or works without allocation.
//
// Problems with known answers for the tests of this and other packages are in
// numtest.
package num

import (
	"fmt"
	"math"
)

// Status says how a computation ended.
type Status int

const (
	// NotRun is the zero value.
	NotRun Status = iota
	// Done: the tolerance is met, or the end reached.
	Done
	// AtEvent: the run ended at an event that ends runs.
	AtEvent
	// Stopped: the caller's function asked to stop.
	Stopped
	// BudgetSpent: the evaluations or steps allowed are used up; the best
	// answer so far is returned.
	BudgetSpent
	// NoBracket: the function has the same sign at both ends.
	NoBracket
	// NotFinite: the caller's function returned NaN or an infinity where the
	// computation could not go around it.
	NotFinite
	// StepTooSmall: the step needed is below the resolution of float64; the
	// equations are stiff or singular here.
	StepTooSmall
	// Singular: the matrix has not full rank; what could be determined is
	// returned where the function says so.
	Singular
	// NotPositive: the matrix is not positive definite.
	NotPositive
	// BadInput: sizes that do not fit, a tolerance or interval without sense.
	BadInput
)

var statusText = [...]string{
	NotRun: "not run", Done: "done", AtEvent: "ended at an event", Stopped: "stopped by the caller",
	BudgetSpent: "the evaluations allowed are used up", NoBracket: "no change of sign between the ends",
	NotFinite: "the function is not finite", StepTooSmall: "the step needed is too small",
	Singular: "the matrix is singular", NotPositive: "the matrix is not positive definite",
	BadInput: "the input has no sense",
}

// String gives the status in words.
func (s Status) String() string {
	if s < 0 || int(s) >= len(statusText) {
		return fmt.Sprintf("status %d", int(s))
	}
	return statusText[s]
}

// OK reports a complete result: Done or AtEvent.
func (s Status) OK() bool { return s == Done || s == AtEvent }

// Err is nil for a complete result, else an error that says what was tried.
func (s Status) Err(what string) error {
	if s.OK() {
		return nil
	}
	return &Error{What: what, Status: s}
}

// Error is a computation that did not complete.
type Error struct {
	What   string
	Status Status
}

// Error says what was tried and how it ended.
func (e *Error) Error() string { return e.What + ": " + e.Status.String() }

// Epsilon is the spacing of float64 at 1.
const Epsilon = 0x1p-52

// finite reports whether v is neither NaN nor an infinity.
func finite(v float64) bool { return v-v == 0 }

// allFinite reports whether every element is finite.
func allFinite(v []float64) bool {
	for _, x := range v {
		if !finite(x) {
			return false
		}
	}
	return true
}

// tame reports whether a few of these can be added without overflow.
func tame(v []float64) bool {
	for _, x := range v {
		if !(math.Abs(x) < 1e300) {
			return false
		}
	}
	return true
}

// norm returns the Euclidean length without overflow or underflow.
func norm(v []float64) float64 {
	largest := 0.0
	for _, x := range v {
		largest = math.Max(largest, math.Abs(x))
	}
	if largest == 0 || !finite(largest) {
		return largest
	}
	sum := 0.0
	for _, x := range v {
		q := x / largest
		sum += q * q
	}
	return largest * math.Sqrt(sum)
}

// dot returns the inner product.
func dot(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}
