package sound

import (
	"math"
)

// Similarity is the largest normalised cross-correlation of two clips over
// the stretch in which they overlap, 0 to 1; at least half of the shorter one
// must overlap. It ignores gain and polarity; clips of different rates are
// compared at the lower one. Unrelated shots reach about 0.3, takes of one
// sound more than 0.8. It compares waveforms: two shots of one bow share
// their modes but not their burst, and may score low.
func Similarity(a, b Clip) float64 {
	rate := min(a.Rate, b.Rate)
	x, y := resample(a.Samples, a.Rate, rate), resample(b.Samples, b.Rate, rate)
	if len(x) < len(y) {
		x, y = y, x
	}
	if len(y) == 0 {
		return 0
	}
	n := paddedLength(len(x))
	p := plans{}
	fx, fy := p.forward(x, n), p.forward(y, n)
	for k := range fx {
		fx[k] *= complex(real(fy[k]), -imag(fy[k]))
	}
	cross := p.back(fx, n)
	ex, ey := accumulate(x), accumulate(y)
	best := 0.0
	for lag := -len(y) / 2; lag <= len(x)-len(y)/2; lag++ {
		// x[lag+i] against y[i]
		from, to := max(0, -lag), min(len(y), len(x)-lag)
		if 2*(to-from) < len(y) {
			continue
		}
		energy := (ex[lag+to] - ex[lag+from]) * (ey[to] - ey[from])
		if energy <= 0 {
			continue
		}
		best = math.Max(best, math.Abs(cross[(lag+n)%n])/math.Sqrt(energy))
	}
	return math.Min(best, 1)
}

// resample changes the rate by cutting or padding the spectrum; the sound is
// padded so that its ends do not meet.
func resample(x []float64, from, to int) []float64 {
	if from == to || len(x) == 0 {
		return x
	}
	g := gcd(from, to)
	unit := from / g
	n := (len(x) + len(x)/8 + unit) / unit * unit
	m := n / unit * (to / g)
	p := plans{}
	spectrum := p.forward(x, n)
	out := make([]complex128, m/2+1)
	copy(out, spectrum[:min(len(spectrum), len(out))])
	y := p.back(out, m)
	for i := range y {
		y[i] *= float64(m) / float64(n)
	}
	return y[:min(len(y), len(x)*to/from)]
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
