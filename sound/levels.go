package sound

import (
	"math"
)

// Levels are the plain levels of a piece of sound, dB re full scale (a full
// square wave has 0 dB power; a full sine −3). They say nothing about dB SPL:
// a phone is not calibrated.
type Levels struct {
	Peak       float64 // largest sample
	ExposureZ  float64 // 10 lg ∫x² dt, unweighted, re 1 s
	ExposureA  float64 // the same under the A weighting
	MeanZ      float64 // exposure spread evenly over the piece: Leq
	MaxFastA   float64 // largest A-weighted level with the Fast time weighting (0.125 s)
	FullScale  int     // samples at or above 0.999 of full scale
	SampleRate int     // Hz
}

// fullScale is the value from which a sample counts as clipped.
const fullScale = 0.999

// timeFast is the time constant of the Fast weighting, s (IEC 61672-1).
const timeFast = 0.125

// LevelsOf measures a piece of sound. Silence has levels of −Inf.
func LevelsOf(x []float64, rate int) Levels {
	l := Levels{SampleRate: rate}
	if len(x) == 0 || rate <= 0 {
		inf := math.Inf(-1)
		l.Peak, l.ExposureZ, l.ExposureA, l.MeanZ, l.MaxFastA = inf, inf, inf, inf, inf
		return l
	}
	peak, sum := 0.0, 0.0
	for _, v := range x {
		peak = max(peak, math.Abs(v))
		sum += v * v
		if math.Abs(v) >= fullScale {
			l.FullScale++
		}
	}
	p := plans{}
	l.Peak = 20 * math.Log10(peak)
	l.ExposureZ = decibels(sum / float64(rate))
	l.MeanZ = decibels(sum / float64(len(x)))
	l.ExposureA = decibels(p.energyA(x, rate))
	l.MaxFastA = decibels(maxExponential(p.weightA(x, rate), timeFast*float64(rate)))
	return l
}

// maxExponential returns the largest value of x² smoothed by
// y += (1 − e^(−1/τ))(x² − y), τ in samples, from y = 0.
func maxExponential(x []float64, tau float64) float64 {
	gain := -math.Expm1(-1 / tau)
	y, top := 0.0, 0.0
	for _, v := range x {
		y += gain * (v*v - y)
		top = max(top, y)
	}
	return top
}
