package sound

import "math"

// scene is a stretch of the recording around a trigger, split into the bands
// by which events are told apart. Indices are samples from the stretch's
// start.
type scene struct {
	rate  int
	start int64 // of the stretch in the recording
	x     []float64
	low   []float64 // 80–400 Hz: limbs, thuds; little wind
	high  []float64 // above 1 kHz: string, clicker, points and nocks
	top   []float64 // above 7 kHz (or the upper quarter of a slow recording)
	plans plans
	sums  [3]cumulative // of low, high and top, once needed
}

const (
	lowFrom = 80.0
	lowTo   = 400.0
	topFrom = 7000.0

	leastLowShare = -12.0 // dB: a release has at least this much below 400 Hz
)

func newScene(x []float64, start int64, rate int, p plans) *scene {
	fs := float64(rate)
	return &scene{
		rate: rate, start: start, x: x, plans: p,
		low:  bandPass(2, lowFrom, lowTo, fs).run(x),
		high: butterworth(4, triggerCorner, fs, true).run(x),
		top:  butterworth(4, math.Min(topFrom, 0.35*fs), fs, true).run(x),
	}
}

// samples in a time, s.
func (s *scene) samples(seconds float64) int { return int(math.Round(seconds * float64(s.rate))) }

// power is the mean square of y between two indices, cut to the stretch; the
// quietest power told apart is silence. Before the start of a recording there
// is silence, too.
func power(y []float64, from, to int) float64 {
	const silence = 1e-11
	n := to - from
	from, to = max(from, 0), min(to, len(y))
	if n <= 0 || to <= from {
		return silence
	}
	sum := 0.0
	for _, v := range y[from:to] {
		sum += v * v
	}
	return sum/float64(n) + silence
}

// traits are what an event is judged by.
type traits struct {
	at       int     // index of the onset in the scene
	strength float64 // dB, mean power above 1 kHz over 30 ms
	lowRise  float64 // dB, 80–400 Hz, 30 ms after against 20 ms before
	lowShare float64 // dB, 80–400 Hz over 60 ms against above 1 kHz over 100 ms
	seen     bool    // a low part of the usual size would stand out of the low noise
	length   float64 // s in which 90 % of the energy above 1 kHz (of 100 ms) came; 0: nothing new came
	flux     float64 // share of the bands in which the spectrum rose by 6 dB
}

// traitsAt judges an event with its onset at index i.
func (s *scene) traitsAt(i int) traits {
	t := traits{at: i}
	ms := func(v float64) int { return s.samples(v / 1000) }
	high30 := power(s.high, i, i+ms(30))
	high100 := power(s.high, i, i+ms(100))
	before := power(s.low, i-ms(22), i-ms(2))
	noise := power(s.low, i-ms(82), i-ms(2))
	t.strength = decibels(high30)
	t.lowRise = decibels(power(s.low, i, i+ms(30)) / before)
	// above the noise, and at least a tenth of it: it fluctuates by as much
	t.lowShare = decibels(math.Max(power(s.low, i, i+ms(60))-noise, 0.1*noise) / high100)
	t.seen = fromDecibels(leastLowShare)*high100 > 4*before
	t.length = s.ninety(i, i+ms(100))
	t.flux = s.flux(i)
	return t
}

// ninety returns the time in which 90 % of the energy above 1 kHz between two
// indices arrives, above the power just before.
func (s *scene) ninety(from, to int) float64 {
	from, to = max(from, 0), min(to, len(s.high))
	noise := power(s.high, from-s.samples(0.02), from-s.samples(0.002))
	total := 0.0
	for _, v := range s.high[min(from, to):to] {
		total += v*v - noise
	}
	if total <= 0 {
		return 0
	}
	sum := 0.0
	for i := from; i < to; i++ {
		if sum += s.high[i]*s.high[i] - noise; sum >= 0.9*total {
			return float64(i-from) / float64(s.rate)
		}
	}
	return float64(to-from) / float64(s.rate)
}

// fades tells whether what begins at an index is over, above 1 kHz, a sixth of
// a second later: 8 dB down from its loudest 30 ms.
func (s *scene) fades(i int) bool {
	ms := func(v float64) int { return i + s.samples(v/1000) }
	top := math.Max(power(s.high, i, ms(30)), power(s.high, ms(30), ms(60)))
	return top > fromDecibels(8)*power(s.high, ms(150), ms(250))
}

// flux compares the spectra of about 6 ms before and after an index and
// returns the share of third-octave-like bands from 1 kHz up whose power rose
// by 6 dB: near 1 for a broadband onset, small for a tone or a voice.
func (s *scene) flux(i int) float64 {
	n := 1 << int(math.Round(math.Log2(0.006*float64(s.rate))))
	before, after := s.spectrum(i-n-s.samples(0.001), n), s.spectrum(i-s.samples(0.0005), n)
	df := float64(s.rate) / float64(n)
	risen, bands := 0, 0
	for f := triggerCorner; f*1.26 < 0.45*float64(s.rate); f *= 1.26 {
		lo, hi := int(f/df), int(math.Ceil(f*1.26/df))
		a, b := 1e-12, 1e-12
		for k := lo; k < hi; k++ {
			b += before[k]
			a += after[k]
		}
		bands++
		if a > 4*b {
			risen++
		}
	}
	return float64(risen) / float64(max(bands, 1))
}

// spectrum is the Hann-windowed power spectrum of n samples from index i.
func (s *scene) spectrum(i, n int) []float64 {
	w := make([]float64, n)
	for k := range w {
		if j := i + k; j >= 0 && j < len(s.x) {
			w[k] = s.x[j] * (0.5 - 0.5*math.Cos(2*math.Pi*float64(k)/float64(n)))
		}
	}
	c := s.plans.get(n).Coefficients(nil, w)
	p := make([]float64, len(c))
	for k, v := range c {
		p[k] = real(v)*real(v) + imag(v)*imag(v)
	}
	return p
}
