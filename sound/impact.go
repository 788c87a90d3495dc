package sound

import "math"

// What makes an impact: some 40 ms to 1.6 s after the release (2 m to 70 m of
// flight and the sound's way back) the spectrum rises again. A thud in foam
// or straw may bring little above 1 kHz, a whoosh may cover its start, so
// three bands are watched together. Our own choice, tried on the reference
// recordings and on synthesised shots.
const (
	impactFrom   = 0.040 // s after the release
	impactTo     = 1.6
	noveltyLeast = 14.0 // dB, sum of the rises
	noveltyClip  = 15.0 // dB, of one band
	impactBelow  = 25.0 // dB: how much weaker than the release it may be
)

// cumulative is the running sum of squares of a band.
type cumulative []float64

func accumulate(y []float64) cumulative {
	c := make(cumulative, len(y)+1)
	for i, v := range y {
		c[i+1] = c[i] + v*v
	}
	return c
}

// mean is the mean power between two indices, which must lie inside.
func (c cumulative) mean(from, to int) float64 {
	return (c[to]-c[from])/float64(to-from) + 1e-11
}

// band is one band's running energy with what an onset in it must exceed.
type band struct {
	energy cumulative
	window int     // samples compared before and after
	least  float64 // power below which a rise means nothing
}

// rise returns the dB by which the band rises at index i, and 0 unless it is
// then louder than at any time of the 40 ms before, by 3 dB: a buzzing string
// rises at every swing, but not above the swing before.
func (b band) rise(i, lookback int) float64 {
	after := b.energy.mean(i, i+b.window)
	if after < b.least {
		return 0
	}
	for k := i - b.window; k >= max(i-lookback, 0); k -= max(b.window/3, 1) {
		if b.energy.mean(k, k+b.window) > after/2 {
			return 0
		}
	}
	return decibels(after / b.energy.mean(i-b.window, i))
}

// novelty is how much the bands rise at an index, dB.
type novelty struct {
	at             int
	low, high, top float64
}

func (n novelty) sum() float64 {
	clip := func(v float64) float64 { return math.Max(0, math.Min(noveltyClip, v)) }
	return clip(n.low) + clip(n.high) + clip(n.top)
}

// isOnset asks for a strong rise up high, or a thud with something above it.
func (n novelty) isOnset() bool {
	return n.high >= riseDB || n.low >= 6 && n.sum() >= noveltyLeast
}

// findImpact returns the index of the arrow's impact after a release, −1 if
// none is heard before index end.
func (s *scene) findImpact(release, end int) int {
	bands := [3]band{}
	for k, y := range [3][]float64{s.low, s.high, s.top} {
		if s.sums[k] == nil {
			s.sums[k] = accumulate(y)
		}
		bands[k] = band{
			energy: s.sums[k],
			window: s.samples([3]float64{0.012, 0.006, 0.006}[k]),
			least:  power(y, release, release+s.samples(0.03)) * fromDecibels(-impactBelow),
		}
	}
	best := novelty{at: -1}
	lookback := s.samples(0.04)
	from := max(release+s.samples(impactFrom), bands[0].window)
	to := min(release+s.samples(impactTo), end, len(s.x)-bands[0].window)
	for i := from; i < to; i += s.samples(0.0005) {
		n := novelty{at: i, low: bands[0].rise(i, lookback), high: bands[1].rise(i, lookback), top: bands[2].rise(i, lookback)}
		if !n.isOnset() {
			continue
		}
		// the first strong rise is the impact; what rebounds is weaker
		if best.at < 0 || n.sum() > best.sum() && i-best.at < s.samples(0.015) || n.sum() > 1.5*best.sum() {
			best = n
		}
	}
	return best.at
}
