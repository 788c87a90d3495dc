// Package numtest is a bank of mathematical problems with known answers, for
// the tests of num and of every package that integrates, fits or solves.
// Each problem names its source and how far its answer can be trusted.
package numtest

import "math"

// LRE is the number of correct digits of got: −log₁₀ of the relative error,
// or of the absolute error where want is zero (McCullough, The American
// Statistician 52, 1998, 358–366). At most 15, the digits certified; 0 for a
// result without a correct digit or without a number.
func LRE(got, want float64) float64 {
	e := math.Abs(got - want)
	if want != 0 {
		e /= math.Abs(want)
	}
	if math.IsNaN(e) {
		return 0
	}
	return math.Max(0, math.Min(15, -math.Log10(e)))
}

// WorstLRE is the smallest LRE of a list.
func WorstLRE(got, want []float64) float64 {
	if len(got) != len(want) {
		return 0
	}
	worst := 15.0
	for i := range got {
		worst = math.Min(worst, LRE(got[i], want[i]))
	}
	return worst
}
