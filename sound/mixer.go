package sound

import (
	"math"

	"tautline/unit"
)

// mixer takes one channel out of interleaved frames, or their mean.
type mixer struct {
	channels int
	choice   Channel
	out      []float64
	mixed    float64 // energy of the mean
	apart    float64 // mean energy of the channels
}

// mono returns the channel to listen to; the result is valid until the next
// call.
func (m *mixer) mono(frames []float64) []float64 {
	if m.channels == 1 {
		return frames
	}
	n := len(frames) / m.channels
	if cap(m.out) < n {
		m.out = make([]float64, n)
	}
	m.out = m.out[:n]
	if m.choice != Mix {
		c := min(int(m.choice)-1, m.channels-1)
		for i := range m.out {
			m.out[i] = frames[i*m.channels+c]
		}
		return m.out
	}
	scale := 1 / float64(m.channels)
	for i := range m.out {
		sum := 0.0
		for _, v := range frames[i*m.channels : (i+1)*m.channels] {
			sum += v
			m.apart += v * v * scale
		}
		m.out[i] = sum * scale
		m.mixed += m.out[i] * m.out[i]
	}
	return m.out
}

// cancels tells whether the mean lost more than 6 dB against the channels.
func (m *mixer) cancels() bool { return m.mixed < m.apart/4 }

// overviewer builds the overview block by block.
type overviewer struct {
	step   int
	rate   int
	count  int
	lo, hi float64
	out    Overview
}

func newOverviewer(rate int) overviewer {
	step := max(1, int(overviewStep*float64(rate)))
	return overviewer{step: step, rate: rate, lo: math.Inf(1), hi: math.Inf(-1), out: Overview{Step: unit.Duration(float64(step) / float64(rate))}}
}

func (o *overviewer) take(x []float64) {
	lo, hi, count := o.lo, o.hi, o.count
	for _, v := range x {
		if v < lo {
			lo = v
		}
		if v > hi {
			hi = v
		}
		if count++; count == o.step {
			o.out.Min, o.out.Max = append(o.out.Min, float32(lo)), append(o.out.Max, float32(hi))
			lo, hi, count = math.Inf(1), math.Inf(-1), 0
		}
	}
	o.lo, o.hi, o.count = lo, hi, count
}

func (o *overviewer) done() Overview {
	if o.count > 0 {
		o.out.Min, o.out.Max = append(o.out.Min, float32(o.lo)), append(o.out.Max, float32(o.hi))
	}
	return o.out
}
