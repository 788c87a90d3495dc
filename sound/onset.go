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
