package trial

import "math"

// laterShare is what all looks beyond the plan add to the error together.
const laterShare = 0.01

// LookConfidence is the level at which a trial of a fixed number of arrows is
// decided when its plan was shot so many times over. The first look is the one
// that was planned, at the usual level. Whoever goes on looks again: the second
// look has half of one per cent, each further one half of the one before, so that
// equal settings are told apart in at most six of a hundred trials, however long
// one goes on (the errors of the looks add up at most; Bonferroni).
func LookConfidence(times int) float64 {
	if times < 2 {
		return Confidence
	}
	return 1 - max(laterShare*math.Exp2(-float64(min(times, 60)-1)), 1e-6)
}
