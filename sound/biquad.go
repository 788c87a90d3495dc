package sound

import (
	"math"
	"slices"
)

// biquad is a second-order section, transposed direct form II.
type biquad struct {
	b0, b1, b2, a1, a2 float64
	z1, z2             float64
}

func (q *biquad) step(x float64) float64 {
	y := q.b0*x + q.z1
	q.z1 = q.b1*x - q.a1*y + q.z2
	q.z2 = q.b2*x - q.a2*y
	return y
}

// cascade is a filter of several sections.
type cascade []biquad

// run returns the filtered x.
func (c cascade) run(x []float64) []float64 {
	y := append([]float64(nil), x...)
	for _, q := range c {
		z1, z2 := 0.0, 0.0
		for k, v := range y {
			w := q.b0*v + z1
			z1 = q.b1*v - q.a1*w + z2
			z2 = q.b2*v - q.a2*w
			y[k] = w
		}
	}
	return y
}

// reversed filters from the end to the start, so that what the filter adds
// of its own lies before a decay and not in it.
func (c cascade) reversed(x []float64) []float64 {
	y := append([]float64(nil), x...)
	slices.Reverse(y)
	y = c.run(y)
	slices.Reverse(y)
	return y
}

// butterworth designs a high-pass (or low-pass) of even order at corner f by
// the bilinear transform with the corner kept exact.
func butterworth(order int, f, rate float64, high bool) cascade {
	k := math.Tan(math.Pi * math.Min(f/rate, 0.49))
	var c cascade
	for i := range order / 2 {
		// pole pair with damping sin θ of the analogue circle
		q := 1 / (2 * math.Sin(math.Pi*(2*float64(i)+1)/(2*float64(order))))
		norm := 1 / (1 + k/q + k*k)
		s := biquad{a1: 2 * (k*k - 1) * norm, a2: (1 - k/q + k*k) * norm}
		if high {
			s.b0, s.b1, s.b2 = norm, -2*norm, norm
		} else {
			s.b0, s.b1, s.b2 = k*k*norm, 2*k*k*norm, k*k*norm
		}
		c = append(c, s)
	}
	return c
}

// bandPass is a high-pass and a low-pass of the given order in a row.
func bandPass(order int, low, high, rate float64) cascade {
	return append(butterworth(order, low, rate, true), butterworth(order, high, rate, false)...)
}
