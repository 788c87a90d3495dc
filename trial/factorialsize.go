package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// factorialSees says before shooting what a factorial of k settings can show,
// once through and twice: the combinations' scatter about the surface is the
// yardstick, and few are left to judge it by.
func factorialSees(k, points int, faces bool, arrows int) string {
	text := "Every effect is judged by how the combinations scatter about the fitted surface. "
	once, left := factorialRatio(k, points, faces, arrows, 1)
	twice, _ := factorialRatio(k, points, faces, arrows, 2)
	if math.IsInf(once, 1) {
		text += fmt.Sprintf("Once through, %d combinations leave none to judge by; ", points)
	} else {
		text += fmt.Sprintf("Once through, %d combinations leave %d to judge by: a setting stands out four times in five if the spread is %s at one end than at the other; ", points, left, wider(once))
	}
	return text + fmt.Sprintf("shot once more, on another day, if it is %s. So plan to repeat the corners that way, or shoot larger ends.", wider(twice))
}

func wider(ratio float64) string {
	if ratio > 10 {
		return "more than ten times wider"
	}
	return fmt.Sprintf("%.1f times wider", ratio)
}

// factorialRatio is the ratio of spreads from one end of a setting to the other
// that a factorial shot so many times shows in four of five trials of normal
// arrows, judged by Student's t with the combinations left, which it gives too,
// and the first of Holm's shares of the look's error.
func factorialRatio(k, points int, faces bool, arrows, times int) (ratio float64, left int) {
	effects, ends, blocks := k+k*(k-1)/2, 1<<k, 1
	if faces {
		effects, ends, blocks = effects+k, ends+2, 2
	}
	left = times*points - effects - times*blocks
	if left < 1 {
		return math.Inf(1), 0
	}
	_, variance := logSpread(1, float64(2*(arrows-1)))
	t := quantileT(float64(left), 1-(1-LookConfidence(times))/2/float64(effects))
	low, high := 0.0, 20*t
	for range 40 {
		if mid := (low + high) / 2; powerT(mid, t, float64(left)) < 0.8 {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Exp(2 * high * math.Sqrt(variance/float64(times*ends))), left
}

// powerT is the chance that Student's t passes a limit when the effect is so
// many standard errors large: the normal chance, averaged over what the
// standard error comes out as.
func powerT(effect, limit, nu float64) float64 {
	const parts = 200
	sum, chi := 0.0, distuv.ChiSquared{K: nu}
	for i := range parts {
		sum += distuv.UnitNormal.CDF(effect - limit*math.Sqrt(chi.Quantile((float64(i)+0.5)/parts)/nu))
	}
	return sum / parts
}
