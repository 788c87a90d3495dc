package num

import (
	"fmt"
	"math"
)

// InFifty says a probability as a count that people can picture: "about 9 of
// 50", "fewer than 1 of 50", "more than 49 of 50" (people decide better by counts
// of 50 than by intervals alone: Fernandes et al., CHI 2018, recalled). "" for
// what is no probability.
func InFifty(p float64) string {
	switch {
	case math.IsNaN(p) || p < 0 || p > 1:
		return ""
	case p < 0.01:
		return "fewer than 1 of 50"
	case p > 0.99:
		return "more than 49 of 50"
	}
	return fmt.Sprintf("about %.0f of 50", min(49, max(1, math.Round(50*p))))
}
