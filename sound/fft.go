package sound

import (
	"math/bits"

	"gonum.org/v1/gonum/dsp/fourier"
)

// plans keeps one transform per length, as making one costs as much as using
// it. It is not safe for use by several goroutines.
type plans map[int]*fourier.FFT

func (p plans) get(n int) *fourier.FFT {
	f := p[n]
	if f == nil {
		f = fourier.NewFFT(n)
		p[n] = f
	}
	return f
}

// forward returns the spectrum of x, zero-padded to n.
func (p plans) forward(x []float64, n int) []complex128 {
	padded := make([]float64, n)
	copy(padded, x)
	return p.get(n).Coefficients(nil, padded)
}

// back returns the n samples of a spectrum.
func (p plans) back(spectrum []complex128, n int) []float64 {
	x := p.get(n).Sequence(nil, spectrum)
	for i := range x {
		x[i] /= float64(n)
	}
	return x
}

// padded is the length for a linear convolution with something as long as x
// itself: at least twice as long, a power of two.
func paddedLength(n int) int { return 1 << bits.Len(uint(2*n-1)) }

// weightA returns x under the A weighting, as long as x. Zero-padding keeps
// the end from running into the start; there is no frequency warping.
func (p plans) weightA(x []float64, rate int) []float64 {
	n := paddedLength(len(x))
	spectrum := p.forward(x, n)
	df := float64(rate) / float64(n)
	for k := range spectrum {
		spectrum[k] *= responseA(float64(k) * df)
	}
	return p.back(spectrum, n)[:len(x)]
}

// energyA returns ∫x_A² dt of x, with the tail that rings beyond its end
// (Parseval on the zero-padded spectrum).
func (p plans) energyA(x []float64, rate int) float64 {
	n := paddedLength(len(x))
	df := float64(rate) / float64(n)
	sum := 0.0
	for k, c := range p.forward(x, n) {
		sum += twice(k, n) * (real(c)*real(c) + imag(c)*imag(c)) * powerA(float64(k)*df)
	}
	return sum / float64(n) / float64(rate)
}

// twice is how often bin k of a one-sided spectrum of n samples counts.
func twice(k, n int) float64 {
	if k == 0 || 2*k == n {
		return 1
	}
	return 2
}
