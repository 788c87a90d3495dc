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

// impactOption is a moment at which the arrow may have landed.
type impactOption struct {
	at       int // index
	strength float64
}

// findImpacts returns what may be the arrow's impact between two times after
// a release, s, in order: moments at which the bands rise together.
func (s *scene) findImpacts(release int, earliest, latest float64) []impactOption {
	bands := s.bands(release)
	lookback := s.samples(0.04)
	from := max(release+s.samples(earliest), bands[0].window)
	to := min(release+s.samples(latest), len(s.x)-bands[0].window)
	var options []impactOption
	for i := from; i < to; i += s.samples(0.0005) {
		n := novelty{low: bands[0].rise(i, lookback), high: bands[1].rise(i, lookback), top: bands[2].rise(i, lookback)}
		if !n.isOnset() {
			continue
		}
		o := impactOption{at: i, strength: n.sum()}
		switch last := len(options) - 1; {
		case last < 0 || i-options[last].at > s.samples(0.03):
			options = append(options, o)
		case o.strength > options[last].strength:
			options[last] = o
		}
	}
	return options
}

// bands prepares the three bands; a rise means nothing below a part of the
// release's own strength.
func (s *scene) bands(release int) (b [3]band) {
	for k, y := range [3][]float64{s.low, s.high, s.top} {
		b[k] = band{
			energy: s.energy(k),
			window: s.samples([3]float64{0.012, 0.006, 0.006}[k]),
			least:  power(y, release, release+s.samples(0.03)) * fromDecibels(-impactBelow),
		}
	}
	return b
}

// energy is the running energy of low, high or top, worked out once.
func (s *scene) energy(k int) cumulative {
	if s.sums[k] == nil {
		s.sums[k] = accumulate([3][]float64{s.low, s.high, s.top}[k])
	}
	return s.sums[k]
}

// likeliest is the option taken when nothing is known of the session: the
// first one, as what comes later is a rebound or another sound, unless a
// later one is half as strong again.
func likeliest(options []impactOption) int {
	best := -1
	for i, o := range options {
		if best < 0 || o.strength > 1.5*options[best].strength {
			best = i
		}
	}
	return best
}
