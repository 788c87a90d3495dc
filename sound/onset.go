package sound

import "math"

// refine moves an onset to where the signal's variance changes, by Akaike's
// information criterion on the two stretches (N. Maeda, Zisin 38, 1985;
// recalled): AIC(k) = k·ln σ²(0…k) + (n−k)·ln σ²(k…n), smallest at the onset.
// It looks from 8 ms before index i to the loudest moment within 6 ms after.
func (s *scene) refine(y []float64, i int) int {
	from := max(0, i-s.samples(0.008))
	to := min(len(y), i+s.samples(0.006))
	if to-from < 16 {
		return i
	}
	top := i
	for k := max(i, from); k < to; k++ {
		if math.Abs(y[k]) > math.Abs(y[top]) {
			top = k
		}
	}
	return from + akaike(y[from:min(top+1, to)], i-from)
}

// alignment finds the onset of a release near a trigger at index i: from the
// loudest millisecond of the next 40 back to where the sound was last 20 dB
// below it (or 6 dB above what came before the trigger), then refined. Fingers
// and string move softly some 15 ms before the blow; without this the onset
// would lie on them in a quiet place and on the blow in a noisy one.
func (s *scene) alignment(i int) int {
	w := max(1, s.samples(0.001))
	sum := s.energy(1)
	to := min(i+s.samples(0.04), len(s.high)-w)
	top, at := 0.0, i
	for k := i; k < to; k += max(1, w/4) {
		if p := sum.mean(k, k+w); p > top {
			top, at = p, k
		}
	}
	before := power(s.high, i-s.samples(0.02), i-s.samples(0.002))
	least := math.Max(top/100, math.Min(4*before, top/4))
	k := at
	for k > max(0, i-s.samples(0.004)) && sum.mean(k, k+w) > least {
		k -= max(1, w/4)
	}
	return s.refine(s.high, max(0, k+w/2))
}

// akaike returns the index of the least criterion, or otherwise if y is too
// short to have one.
func akaike(y []float64, otherwise int) int {
	const margin = 8 // samples at either end whose variance means nothing
	n := len(y)
	if n < 3*margin {
		return otherwise
	}
	sum := accumulate(y)
	best, at := math.Inf(1), otherwise
	for k := margin; k < n-margin; k++ {
		// the mean is zero after a high-pass
		a := float64(k)*math.Log(sum.mean(0, k)) + float64(n-k)*math.Log(sum.mean(k, n))
		if a < best {
			best, at = a, k
		}
	}
	return at
}
