package sound

import (
	"math"
	"sort"

	"tautline/unit"
)

// Envelope returns the clip's least and largest values in at most bins steps.
func (c Clip) Envelope(bins int) Overview {
	per := max(1, (len(c.Samples)+bins-1)/max(bins, 1))
	o := Overview{Step: unit.Duration(float64(per) / float64(c.Rate))}
	for i := 0; i < len(c.Samples); i += per {
		lo, hi := c.Samples[i], c.Samples[i]
		for _, v := range c.Samples[i:min(i+per, len(c.Samples))] {
			lo, hi = min(lo, v), max(hi, v)
		}
		o.Min, o.Max = append(o.Min, float32(lo)), append(o.Max, float32(hi))
	}
	return o
}

// Spectrogram is the level over time and frequency.
type Spectrogram struct {
	Start     unit.Duration // of the first column's middle, from the recording's start
	Step      unit.Duration // between columns
	Frequency float64       // Hz between rows; row 0 is 0 Hz
	Level     [][]float32   // column, then row: power of a full-scale sine is −3 dB re full scale
}

// Spectrogram returns Hann-windowed spectra of about 12 ms, overlapping by
// three quarters; floor (dB, for example −100) is the least level given.
func (c Clip) Spectrogram(floor float64) Spectrogram {
	n := 1 << int(math.Round(math.Log2(0.012*float64(c.Rate))))
	hop := n / 4
	s := Spectrogram{
		Start: c.Start + unit.Duration(float64(n)/2/float64(c.Rate)),
		Step:  unit.Duration(float64(hop) / float64(c.Rate)), Frequency: float64(c.Rate) / float64(n),
	}
	p, w := plans{}, hann(n)
	// a sine of amplitude A puts (A·Σw/2)² into its bin
	scale := 2 / (float64(n) / 2 * float64(n) / 2)
	x := make([]float64, n)
	for i := 0; i+n <= len(c.Samples); i += hop {
		for k := range x {
			x[k] = w[k] * c.Samples[i+k]
		}
		column := make([]float32, n/2+1)
		for k, v := range p.get(n).Coefficients(nil, x) {
			column[k] = float32(max(floor, decibels(scale*(real(v)*real(v)+imag(v)*imag(v))+1e-30)))
		}
		s.Level = append(s.Level, column)
	}
	return s
}

// Bounded returns the picture up to a frequency (Hz) in at most so many
// columns and rows; where several fall together the strongest stays, so that
// a short blow is never lost.
func (s Spectrogram) Bounded(columns, rows int, top float64) Spectrogram {
	if len(s.Level) == 0 || columns < 1 || rows < 1 {
		return Spectrogram{Start: s.Start, Step: s.Step, Frequency: s.Frequency}
	}
	high := min(len(s.Level[0]), int(math.Ceil(top/s.Frequency))+1)
	wide, tall := (len(s.Level)+columns-1)/columns, (high+rows-1)/rows
	out := Spectrogram{
		Start: s.Start + s.Step*unit.Duration(wide-1)/2, Step: s.Step * unit.Duration(wide), Frequency: s.Frequency * float64(tall),
	}
	for i := 0; i < len(s.Level); i += wide {
		column := make([]float32, (high+tall-1)/tall)
		for k := range column {
			column[k] = s.Level[i][k*tall]
			for _, c := range s.Level[i:min(i+wide, len(s.Level))] {
				for _, v := range c[k*tall : min((k+1)*tall, high)] {
					column[k] = max(column[k], v)
				}
			}
		}
		out.Level = append(out.Level, column)
	}
	return out
}

func hann(n int) []float64 {
	w := make([]float64, n)
	for k := range w {
		w[k] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(k)/float64(n))
	}
	return w
}

// Line is a peak of a spectrum.
type Line struct {
	Frequency float64 // Hz, between bins by a parabola through the levels
	Level     float64 // dB re the strongest line
}

// Spectrum is a power spectrum in equal steps.
type Spectrum struct {
	Step  float64   // Hz; the first value is at 0
	Level []float64 // dB re full scale, power of a full-scale sine −3
}

// Spectrum returns the Hann-windowed power spectrum between two times of the
// recording, padded fourfold so that lines can be read between its bins.
func (c Clip) Spectrum(from, to unit.Duration) Spectrum {
	x := append([]float64(nil), c.Samples[c.index(from):max(c.index(from), c.index(to))]...)
	if len(x) < 2 {
		return Spectrum{}
	}
	sum := 0.0
	for k, w := range hann(len(x)) {
		x[k] *= w
		sum += w
	}
	n := 2 * paddedLength(len(x))
	s := Spectrum{Step: float64(c.Rate) / float64(n)}
	for _, v := range (plans{}).forward(x, n) {
		s.Level = append(s.Level, decibels(2*(real(v)*real(v)+imag(v)*imag(v))/(sum*sum)+1e-30))
	}
	return s
}

// Lines returns up to count peaks between two frequencies, strongest first.
// Peaks nearer than apart (Hz) to a stronger one are left out: they belong to
// its foot.
func (s Spectrum) Lines(low, high, apart float64, count int) []Line {
	var all []Line
	for k := max(1, int(low/s.Step)); k+1 < len(s.Level) && float64(k)*s.Step <= high; k++ {
		a, b, c := s.Level[k-1], s.Level[k], s.Level[k+1]
		if b > a && b >= c {
			shift := 0.5 * (a - c) / (a - 2*b + c)
			all = append(all, Line{Frequency: (float64(k) + shift) * s.Step, Level: b - 0.25*(a-c)*shift})
		}
	}
	sort.Slice(all, func(i, j int) bool { return all[i].Level > all[j].Level })
	var kept []Line
	for _, l := range all {
		if len(kept) == count {
			break
		}
		free := true
		for _, k := range kept {
			free = free && math.Abs(k.Frequency-l.Frequency) >= apart
		}
		if free {
			kept = append(kept, l)
		}
	}
	for i := len(kept) - 1; i >= 0; i-- {
		kept[i].Level -= kept[0].Level
	}
	return kept
}

// Decay returns the decay of a shot in the clip, for a picture with its fit
// and its noise floor. centre is an octave's centre in Hz, or 0 for the whole
// A-weighted sound; impact may be nil.
func (c Clip) Decay(release unit.Duration, impact *unit.Duration, centre float64) Decay {
	m := measurer{rate: c.Rate, window: maxWindow, plans: plans{}}
	o := m.moment(c.Samples, c.index(release), c.limit(impact))
	if centre == 0 {
		return decayOf(o.xa, o.release, o.end, o.rate, o.noise, math.Min(10000, 0.45*float64(o.rate)))
	}
	return o.octave(centre)
}

// limit is the sample before an impact, or the clip's end.
func (c Clip) limit(impact *unit.Duration) int {
	if impact == nil {
		return len(c.Samples)
	}
	return c.index(*impact - guardTime)
}

// Measure measures a shot in a clip, as [Listen] does in the whole recording.
// The clip should begin 0.4 s before the release ([Around] does).
func (c Clip) Measure(release unit.Duration, impact *unit.Duration) Measures {
	m := measurer{rate: c.Rate, window: 0.3, plans: plans{}, modes: true}
	i := c.index(release)
	if i >= len(c.Samples) || c.limit(impact) <= i {
		return nothingToMeasure("the times leave nothing of the clip to measure")
	}
	v, _, _ := m.measure(c.Samples, i, c.limit(impact))
	return v
}
