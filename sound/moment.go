package sound

import (
	"math"

	"tautline/unit"
)

// measurer measures releases in a scene.
type measurer struct {
	rate   int
	window float64 // s, longest
	plans  plans
	modes  bool
}

// moment is a release in a piece of recording: what measuring works on.
type moment struct {
	x        []float64 // from before the release to the end of the window
	xa       []float64 // A-weighted
	release  int       // index
	end      int       // len(x)
	rate     int
	quiet    []float64 // background before, plain
	noise    background
	tooShort string // why the late part is not there; "" if it is
}

func (m measurer) moment(x []float64, release, limit int) moment {
	at := func(seconds float64) int { return int(math.Round(seconds * float64(m.rate))) }
	end := min(release+at(m.window), limit, len(x))
	from := max(0, release-at(quietFrom))
	o := moment{x: x[from:end], release: release - from, end: end - from, rate: m.rate}
	o.xa = m.plans.weightA(o.x, m.rate)
	// the A filter starts from rest: its first 5 ms are no background
	quietTo := max(o.release-at(quietTo), 0)
	start := min(at(0.005), quietTo)
	o.quiet = o.x[start:quietTo]
	o.noise = backgroundOf(o.xa[start:quietTo], m.rate)
	if end-release < at(lateTime) {
		o.tooShort = "the impact comes sooner than 80 ms after the release: stand further from the bale"
		if limit > end || limit >= len(x) {
			o.tooShort = "the recording ends sooner than 80 ms after the release"
		}
	}
	return o
}

func (o moment) at(seconds float64) int {
	return max(0, min(o.release+int(math.Round(seconds*float64(o.rate))), o.end))
}

// measure fills in everything but the times of a shot.
func (m measurer) measure(x []float64, release, limit int) (v Measures, clipped int, window unit.Duration) {
	o := m.moment(x, release, limit)
	begin := o.at(-leadTime)
	all := o.noise.above(o.xa, begin, o.end, o.rate)
	v.Exposure = all.level()
	v.PeakA, v.Peak = o.peak(o.xa), o.peak(o.x)
	attack := o.noise.above(o.xa, begin, o.at(attackTime), o.rate)
	early := o.noise.above(o.xa, begin, o.at(earlyTime), o.rate)
	late := o.noise.above(o.xa, o.at(earlyTime), o.at(lateTime), o.rate)
	rest := o.noise.above(o.xa, o.at(attackTime), o.at(lateTime), o.rate)
	v.Attack, v.EarlyLate, v.Late = share(attack, rest), balance(early, late), late.level()
	if o.tooShort != "" {
		none := unmeasured("%s", o.tooShort)
		v.Attack, v.EarlyLate, v.Late = none, none, none
	}
	v.Rise = o.rise()
	v.Centroid = m.centroid(o)
	m.decays(o, &v)
	if m.modes {
		v.Modes, v.NoModes = m.ringDown(o)
	}
	v.Noise = unmeasured("nothing quiet before the shot was recorded")
	if o.noise.known {
		v.Noise = measured(decibels(o.noise.power), dbPerUnit/math.Sqrt(o.noise.bandwidth*cellTime*float64(o.noise.cells)))
	}
	for _, s := range o.x[begin:o.end] {
		if math.Abs(s) >= fullScale {
			clipped++
		}
	}
	if clipped > 0 {
		v.Exposure.Why, v.Peak.Why, v.PeakA.Why = whyClipped, whyClipped, whyClipped
	}
	return v, clipped, unit.Duration(float64(o.end-o.release) / float64(o.rate))
}

// shot measures a shot in a clip that holds it with what came before.
func (m measurer) shot(s *Shot, c Clip) {
	release, limit := c.index(s.Release), c.limit(s.Impact)
	if release >= len(c.Samples) || limit <= release || s.Release < c.Start {
		s.Measures = nothingToMeasure("the times leave nothing to measure")
		return
	}
	s.Measures, s.Clipped, s.Window = m.measure(c.Samples, release, limit)
}

func nothingToMeasure(why string) Measures {
	m := unmeasured("%s", why)
	return Measures{Exposure: m, PeakA: m, Peak: m, Attack: m, Rise: m, EarlyLate: m, Late: m, Centroid: m, DecayEarly: m, Noise: m, NoModes: why}
}

const whyClipped = "the recording is clipped here: the true level is higher"

// peak is the largest value of y within 30 ms, dB; noise moves it by up to
// its own r.m.s.
func (o moment) peak(y []float64) Measure {
	top := 0.0
	for _, v := range y[o.at(-leadTime):o.at(peakTime)] {
		top = max(top, math.Abs(v))
	}
	return measured(20*math.Log10(top), 2*dbPerUnit*math.Sqrt(o.noise.power)/top)
}

// rise is the time from 10 to 90 % of the largest 1 ms r.m.s. of the first
// 30 ms. Its doubt is that of a 1 ms window, 1/√12 ms.
func (o moment) rise() Measure {
	w := max(1, o.rate/1000)
	from, to := o.at(-0.005), o.at(peakTime)
	if to-from < 3*w {
		return unmeasured("too little was recorded around the release")
	}
	sum := accumulate(o.xa)
	env := make([]float64, 0, to-from)
	top, at := 0.0, 0
	for i := max(from, w); i < to; i++ {
		e := math.Sqrt(max(sum.mean(i-w, i)-o.noise.power, 0))
		if e > top {
			top, at = e, len(env)
		}
		env = append(env, e)
	}
	if top <= 3*math.Sqrt(o.noise.power) || top == 0 {
		return unmeasured("the shot does not stand out of the background noise")
	}
	last := func(level float64) int { // before the maximum
		for k := at; k > 0; k-- {
			if env[k] < level*top {
				return k
			}
		}
		return 0
	}
	return measured(float64(last(0.9)-last(0.1))/float64(o.rate), 0.001/math.Sqrt(12))
}

// centroid is the mean frequency of the A-weighted power spectrum between
// 50 Hz and 10 kHz (or 0.45 of the sample rate), above the background.
func (m measurer) centroid(o moment) Measure {
	n := paddedLength(o.end - o.release)
	signal := m.plans.forward(o.x[o.at(-leadTime):o.end], n)
	noise := m.noiseSpectrum(o, n)
	df := float64(o.rate) / float64(n)
	length := float64(o.end-o.at(-leadTime)) / float64(o.rate)
	// neighbouring bins of a padded spectrum repeat each other
	repeats := 1 / (df * length)
	sum, first, variance := 0.0, 0.0, 0.0
	type bin struct{ f, variance float64 }
	var bins []bin
	for k := 1; k < len(signal); k++ {
		f := float64(k) * df
		if f < 50 || f > math.Min(10000, 0.45*float64(o.rate)) {
			continue
		}
		w := powerA(f)
		raw := w * (real(signal[k])*real(signal[k]) + imag(signal[k])*imag(signal[k]))
		floor := w * noise(k)
		p := raw - floor
		sum += p
		first += f * p
		bins = append(bins, bin{f, floor*floor + 2*max(p, 0)*floor})
	}
	if sum <= 0 {
		return unmeasured("the shot does not stand out of the background noise")
	}
	c := first / sum
	for _, b := range bins {
		variance += (b.f - c) * (b.f - c) * b.variance * repeats
	}
	sd := math.Sqrt(variance) / sum
	if sd > 0.25*c {
		return unmeasured("the spectrum does not stand out of the background noise")
	}
	return measured(c, sd)
}

// noiseSpectrum returns the expected background power of bin k for a piece as
// long as the window, from the stretch before the shot.
func (m measurer) noiseSpectrum(o moment, n int) func(k int) float64 {
	size := 1 << 11
	if len(o.quiet) < size || !o.noise.known {
		return func(int) float64 { return 0 }
	}
	// averaged over pieces, windowed
	p := make([]float64, size/2+1)
	count, weight := 0, 0.0
	for i := 0; i+size <= len(o.quiet); i += size / 2 {
		w := make([]float64, size)
		weight = 0
		for k := range w {
			h := 0.5 - 0.5*math.Cos(2*math.Pi*float64(k)/float64(size))
			w[k] = h * o.quiet[i+k]
			weight += h * h
		}
		for k, c := range m.plans.get(size).Coefficients(nil, w) {
			p[k] += real(c)*real(c) + imag(c)*imag(c)
		}
		count++
	}
	scale := float64(o.end-o.at(-leadTime)) / (weight * float64(count))
	return func(k int) float64 {
		return p[min(k*size/n, size/2)] * scale
	}
}
