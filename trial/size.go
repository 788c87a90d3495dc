package trial

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// SizeQuestion asks how many arrows a comparison needs.
type SizeQuestion struct {
	Reduction float64 // relative difference in σ to be seen, 0.2 for a 20 % tighter group
	Power     float64 // chance of seeing it, default 0.8
	OneSided  bool    // only "tighter" is of interest
	EndSize   int     // arrows per end with its own centre; 0: one group
}

// ArrowsNeeded is the smallest number of arrows a set-up with which the F test
// at 5 % sees the reduction with the power asked for (circular normal; G5). A
// multiple of the end size if there is one. The robust test needs about a
// tenth more.
func ArrowsNeeded(q SizeQuestion) (int, error) {
	if q.Power == 0 {
		q.Power = 0.8
	}
	if !(q.Reduction > 0 && q.Reduction < 1) {
		return 0, bad("reduction", "0.2 asks for a 20 % tighter group", "%g is not between 0 and 1", q.Reduction)
	}
	if !(q.Power > 0.05 && q.Power < 1) || q.EndSize == 1 || q.EndSize < 0 {
		return 0, bad("power", "0.8 is usual, with ends of 2 arrows or more", "power %g with ends of %d cannot be planned", q.Power, q.EndSize)
	}
	step := max(1, q.EndSize)
	low, high := 0, 1
	for q.powerAt(high*step) < q.Power {
		if high *= 2; high > 1<<22 {
			return 0, bad("reduction", "ask for a difference you could use", "%g is too small to be seen with a lifetime of arrows", q.Reduction)
		}
	}
	for high-low > 1 {
		if mid := (low + high) / 2; q.powerAt(mid*step) < q.Power {
			low = mid
		} else {
			high = mid
		}
	}
	return high * step, nil
}

func (q SizeQuestion) powerAt(n int) float64 {
	nu := 2 * float64(n-1)
	if q.EndSize > 1 {
		nu = 2 * float64(n/q.EndSize) * float64(q.EndSize-1)
	}
	if nu < 2 {
		return 0
	}
	if q.OneSided {
		f := distuv.F{D1: nu, D2: nu}
		r := 1 - q.Reduction
		return f.CDF(f.Quantile(0.05) / (r * r))
	}
	return fPower(nu, 1-q.Reduction)
}

// fPower is the power of the two-sided 5 % F test with ν degrees of freedom in
// each group when σ_A = r σ_B.
func fPower(nu, r float64) float64 {
	f := distuv.F{D1: nu, D2: nu}
	return f.CDF(f.Quantile(0.025)/(r*r)) + f.Survival(f.Quantile(0.975)/(r*r))
}

// Power is the chance that a comparison of n arrows a set-up, one group each,
// sees a reduction in σ (two-sided 5 %, circular normal; G5).
func Power(n int, reduction float64) float64 {
	if n < 2 {
		return 0.05
	}
	if reduction >= 1 {
		return 1 // no spread at all is seen by anyone
	}
	return fPower(2*float64(n-1), 1-reduction)
}

// SmallestReduction is the reduction in σ that n arrows a set-up see with the
// given power.
func SmallestReduction(n int, power float64) float64 {
	low, high := 0.0, 0.9999
	for range 50 {
		if mid := (low + high) / 2; Power(n, mid) < power {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// RatioFactor is the factor by which the 95 % interval of a ratio of two
// spreads with n arrows each reaches up and down (G5); +Inf without two arrows.
func RatioFactor(n int) float64 {
	if n < 2 {
		return math.Inf(1)
	}
	nu := 2 * float64(n-1)
	return math.Sqrt(distuv.F{D1: nu, D2: nu}.Quantile(0.975))
}
