package sound

import (
	"math"

	"tautline/unit"
)

// EnergyDecay returns the backward-integrated energy (M. R. Schroeder, J.
// Acoust. Soc. Am. 37, 1965) of a squared sound: the level at each sample of
// what is still to come, in dB re all of it. power holds the squared samples
// from the start of the decay, noise the mean background power that is taken
// off before integrating, end the sample to stop at (the impact, or where the
// sound meets the noise), and tail the energy, in the same sum, that would
// have come after end. Once nothing is left the level is −Inf.
func EnergyDecay(power []float64, noise float64, end int, tail float64) []float64 {
	end = max(0, min(end, len(power)))
	sums := make([]float64, end)
	left := tail
	for i := end - 1; i >= 0; i-- {
		left += power[i] - noise
		sums[i] = left
	}
	if end == 0 {
		return nil
	}
	all := sums[0]
	for i, v := range sums {
		sums[i] = math.Inf(-1)
		if v > 0 && all > 0 {
			sums[i] = decibels(v / all)
		}
	}
	return sums
}

// DecayTime fits a straight line to a decay curve between two levels (dB, for
// example 0 and −10 for the early decay time, −5 and −15 for T10) and
// extrapolates it to 60 dB. It returns false if the curve does not get there.
// rate is in samples of the curve per second.
func DecayTime(curve []float64, rate, top, bottom float64) (unit.Duration, bool) {
	// from the first sample at or below top to the last above bottom
	from := 0
	for from < len(curve) && curve[from] > top {
		from++
	}
	to := from
	for to < len(curve) && curve[to] >= bottom {
		to++
	}
	if to >= len(curve) || to-from < 3 {
		return 0, false
	}
	slope := lineSlope(curve[from:to]) * rate
	if !(slope < 0) {
		return 0, false
	}
	return unit.Duration(-60 / slope), true
}

// lineSlope is the least-squares slope of y per sample.
func lineSlope(y []float64) float64 {
	n := float64(len(y))
	mid := (n - 1) / 2
	top := 0.0
	for i, v := range y {
		top += (float64(i) - mid) * v
	}
	return top / (n * (n*n - 1) / 12)
}

// Tail is the energy (a sum of squared samples) that an exponential decay
// with the given decay time holds after the moment at which its squared
// amplitude is power: power·T/(6 ln 10), times the rate (Lundeby et al.,
// Acustica 81, 1995).
func Tail(power float64, decay unit.Duration, rate float64) float64 {
	return power * float64(decay) / (6 * math.Ln10) * rate
}

// Crossing finds where a decaying squared sound meets its background, by the
// iteration of Lundeby et al. (Acustica 81, 1995): a line through the
// smoothed level from its start to some dB above the noise, met with the
// noise, smoothing refined to five steps per 10 dB of that line. It returns
// the sample of the meeting point (len(power) if it lies beyond) and the
// decay time of the last line (0 if there is none).
func Crossing(power []float64, rate, noise float64) (at int, late unit.Duration) {
	step := max(1, int(0.005*rate))
	at = len(power)
	for range 6 {
		level, slope := decayLine(power, step, noise)
		if slope >= 0 {
			return len(power), 0
		}
		late = unit.Duration(-60 / (slope * rate))
		next := len(power)
		if noise > 0 {
			next = min(len(power), int((decibels(noise)-level)/slope))
		}
		step = max(1, min(int(-2/slope), int(0.03*rate)))
		if moved := math.Abs(float64(next-at)) / rate; moved < 0.001 {
			return max(next, 0), late
		}
		at = max(next, 0)
	}
	return at, late
}

// decayLine fits level + slope·i (dB, per sample) to the smoothed power from
// its start down to 7 dB above the noise, or over the whole length.
func decayLine(power []float64, step int, noise float64) (level, slope float64) {
	var y []float64
	for i := 0; i+step <= len(power); i += step {
		mean := meanOf(power[i : i+step])
		if mean <= 5*noise || mean <= 0 {
			break
		}
		y = append(y, decibels(mean))
	}
	if len(y) < 3 {
		return 0, 0
	}
	perStep := lineSlope(y)
	slope = perStep / float64(step)
	return meanOf(y) - slope*(float64(len(y))*float64(step)-1)/2, slope
}

// Decay is the decay of a sound from its loudest moment on.
type Decay struct {
	Early  Measure       // early decay time EDT, s: 0 to −10 dB, extrapolated to 60 dB
	T10    Measure       // −5 to −15 dB, extrapolated to 60 dB, s
	Curved bool          // EDT and T10 differ by more than a quarter and their doubt
	Start  unit.Duration // of the curve, after the release
	Cut    unit.Duration // where it was cut: the noise or the impact, after the release
	Range  float64       // dB from the loudest 5 ms to the background; +Inf if none is known
	Curve  []float64     // dB re the start, one value per Step
	Noise  float64       // level of the background energy left at the start, dB; −Inf if unknown
	Step   unit.Duration
}

const (
	edtSpread  = 1.75 // standard deviation of EDT/T times √(B·T): computed from 4000 synthetic decays each at five B·T; the same run gives 0.90 for T20, ISO 3382-2 quotes 0.88
	t10Spread  = 1.77
	leastRange = 18.0 // dB: 10 for the fit, and the noise below it
	leastDrop  = 12.0 // dB the sound must fall before it is cut off
)

// decayOf measures the decay of y after a release. noise is its background,
// b its bandwidth in Hz.
func decayOf(y []float64, release, end, rate int, noise background, b float64) Decay {
	fs := float64(rate)
	start := loudest(y, release, min(end, release+int(peakTime*fs)), max(1, int(0.005*fs)))
	p := make([]float64, max(end-start, 0))
	for i := range p {
		p[i] = y[start+i] * y[start+i]
	}
	d := Decay{Start: unit.Duration(float64(start-release) / fs), Noise: math.Inf(-1), Range: math.Inf(1)}
	if len(p) < int(0.02*fs) {
		return d.without("less than 20 ms of it were recorded")
	}
	first := meanOf(p[:int(0.005*fs)])
	if noise.power > 0 {
		d.Range = decibels(max(first-noise.power, 0) / noise.power)
	}
	if d.Range < leastRange {
		return d.without("it stands only %.0f dB out of the background noise, %.0f are needed", max(d.Range, 0), leastRange)
	}
	cut, late := Crossing(p, fs, noise.power)
	d.Cut = d.Start + unit.Duration(float64(cut)/fs)
	tail := 0.0
	if late > 0 && cut > 8 {
		edge := max(0, cut-int(0.01*fs))
		tail = Tail(max(meanOf(p[edge:cut])-noise.power, 0), late, fs)
	}
	curve := EnergyDecay(p, noise.power, cut, tail)
	d.keep(curve, fs, noise.power, p)
	edge := max(0, len(curve)-int(0.01*fs))
	if n := len(curve); n == 0 || curve[n-1] > -leastDrop || meanOf(p[edge:n])-noise.power > first*fromDecibels(-leastDrop) {
		return d.without("it does not fall by %.0f dB before the impact or the end", leastDrop)
	}
	d.fit(curve, fs, b)
	return d
}

func (d Decay) without(why string, args ...any) Decay {
	d.Early, d.T10 = unmeasured(why, args...), unmeasured(why, args...)
	return d
}

func (d *Decay) fit(curve []float64, fs, b float64) {
	early, ok := DecayTime(curve, fs, 0, -10)
	d.Early = unmeasured("it does not fall evenly by 10 dB")
	if ok {
		t := float64(early)
		d.Early = measured(t, edtSpread*t/math.Sqrt(b*t))
	}
	t10, ok := DecayTime(curve, fs, -5, -15)
	d.T10 = unmeasured("it does not fall evenly from −5 to −15 dB")
	if ok {
		t := float64(t10)
		d.T10 = measured(t, t10Spread*t/math.Sqrt(b*t))
	}
	if d.Early.OK && d.T10.OK {
		diff := math.Abs(d.T10.Value - d.Early.Value)
		d.Curved = diff > 0.25*d.Early.Value && diff > 1.96*math.Hypot(d.Early.SD, d.T10.SD)
	}
}

// keep stores the curve thinned to about a millisecond.
func (d *Decay) keep(curve []float64, fs, noise float64, p []float64) {
	step := max(1, int(0.001*fs))
	d.Step = unit.Duration(float64(step) / fs)
	d.Curve = d.Curve[:0]
	for i := 0; i < len(curve); i += step {
		d.Curve = append(d.Curve, curve[i])
	}
	total := 0.0
	for _, v := range p[:min(len(curve), len(p))] {
		total += v
	}
	d.Noise = decibels(noise * float64(len(curve)) / max(total, 1e-30))
}

// meanOf is the mean of some values.
func meanOf(p []float64) float64 {
	sum := 0.0
	for _, v := range p {
		sum += v
	}
	return sum / float64(max(len(p), 1))
}

// loudest returns the start of the loudest window between two indices.
func loudest(y []float64, from, to, window int) int {
	from, to = max(from, 0), min(to, len(y)-window)
	if to <= from {
		return from
	}
	sum := accumulate(y[from : to+window])
	best := 0
	for i := 0; i+window < len(sum); i++ {
		if sum.mean(i, i+window) > sum.mean(best, best+window) {
			best = i
		}
	}
	return from + best
}
