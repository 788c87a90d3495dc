package workbench

import "tautline/bow"

// Share is the part of the plausible bows that every interval of this package
// holds: 90 %.
const Share = 0.9

// Estimate is a predicted value with the span that holds 90 % of the plausible
// bows (see BowModel). Value is the best single bow's; it lies inside the span
// in all but odd cases.
type Estimate[T ~float64] struct {
	Value T `json:"value"`
	Low   T `json:"low"`
	High  T `json:"high"`
}

// estimate reads the span off the members' values.
func estimate[T ~float64](best T, members []float64) Estimate[T] {
	if len(members) == 0 {
		return Estimate[T]{best, best, best}
	}
	low, _, high := bow.Interval(members, Share)
	return Estimate[T]{best, min(T(low), best), max(T(high), best)}
}
