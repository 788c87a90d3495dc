package sound

import (
	"math"
	"sort"
)

// background is the noise before a shot, from 10 ms cells of some waveform.
type background struct {
	power     float64 // mean square; 0 if unknown
	bandwidth float64 // Hz: equivalent for energy fluctuations, from the scatter of the cells
	cells     int
	known     bool
}

const (
	cellTime   = 0.010 // s
	leastCells = 6
)

// backgroundOf takes the noise from a quiet stretch. Cells far above the
// median (a clicker, a creak) are left out.
func backgroundOf(y []float64, rate int) background {
	n := max(1, int(cellTime*float64(rate)))
	var p []float64
	for i := 0; i+n <= len(y); i += n {
		p = append(p, power(y, i, i+n))
	}
	if len(p) < leastCells {
		return background{}
	}
	sorted := append([]float64(nil), p...)
	sort.Float64s(sorted)
	limit := 2.5 * sorted[len(sorted)/2]
	sum, sum2, count := 0.0, 0.0, 0
	for _, v := range p {
		if v <= limit {
			sum += v
			sum2 += v * v
			count++
		}
	}
	mean := sum / float64(count)
	variance := max(sum2/float64(count)-mean*mean, 0) * float64(count) / float64(max(count-1, 1))
	// Gaussian noise: var(mean square over T) = power²/(B·T)
	b := 0.5 * float64(rate)
	if variance > 0 {
		b = min(b, mean*mean/(variance*cellTime))
	}
	return background{power: mean, bandwidth: b, cells: count, known: true}
}

// energy is an energy above the noise with its standard deviation.
type energy struct{ value, sd float64 }

// above subtracts the noise from the energy of y between two indices, ∫y² dt.
// The variance has three parts: the noise's own energy over the time T, its
// mean's doubt, and the noise beating with the sound, 2·E·N/B.
func (b background) above(y []float64, from, to, rate int) energy {
	from, to = max(from, 0), min(to, len(y))
	sum := 0.0
	for _, v := range y[min(from, to):to] {
		sum += v * v
	}
	t := float64(to-from) / float64(rate)
	e := energy{value: sum/float64(rate) - b.power*t}
	if b.known {
		own := b.power * b.power * t / b.bandwidth
		mean := b.power * b.power * t * t / (b.bandwidth * cellTime * float64(b.cells))
		cross := 2 * max(e.value, 0) * b.power / b.bandwidth
		e.sd = math.Sqrt(own + mean + cross)
	}
	return e
}

// level of an energy in dB re full scale over 1 s.
func (e energy) level() Measure {
	if e.value <= 3*e.sd || e.value <= 0 {
		return unmeasured("it does not stand out of the background noise")
	}
	return measured(decibels(e.value), dbPerUnit*e.sd/e.value)
}

// dbPerUnit turns a small relative change of a power into dB.
const dbPerUnit = 10 / math.Ln10

// share returns a/(a+b) with its standard deviation.
func share(a, b energy) Measure {
	total := a.value + b.value
	if total <= 3*math.Hypot(a.sd, b.sd) || total <= 0 {
		return unmeasured("the shot does not stand out of the background noise")
	}
	sd := math.Hypot(b.value*a.sd, a.value*b.sd) / (total * total)
	return measured(min(max(a.value/total, 0), 1), sd)
}

// balance returns 10 lg(a/b) with its standard deviation.
func balance(a, b energy) Measure {
	for _, e := range []energy{a, b} {
		if e.value <= 3*e.sd || e.value <= 0 {
			return unmeasured("a part of the shot does not stand out of the background noise")
		}
	}
	return measured(decibels(a.value/b.value), dbPerUnit*math.Hypot(a.sd/a.value, b.sd/b.value))
}
