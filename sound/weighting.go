package sound

import (
	"math"
)

// The A and C frequency weightings of IEC 61672-1 (2002 and 2013), from the
// standard's own defining frequencies: the response is 0 dB at 1 kHz, 3 dB
// down at 10^1.5 and 10^3.9 Hz for C, and A adds two first-order high-passes
// at 10^2.45 Hz, combined.
var (
	poleF1, poleF4 = outerPoles()
	poleF2         = (3 - math.Sqrt(5)) / 2 * math.Pow(10, 2.45)
	poleF3         = (3 + math.Sqrt(5)) / 2 * math.Pow(10, 2.45)
	gainA1000      = decibels(rawA(1000))
	gainC1000      = decibels(rawC(1000))
)

// outerPoles solves the standard's pair of equations for f1 and f4.
func outerPoles() (f1, f4 float64) {
	fr, fl, fh, d := 1000.0, math.Pow(10, 1.5), math.Pow(10, 3.9), math.Sqrt(0.5)
	c := fl * fl * fh * fh
	b := 1 / (1 - d) * (fr*fr + c/(fr*fr) - d*(fl*fl+fh*fh))
	root := math.Sqrt(b*b - 4*c)
	return math.Sqrt((-b - root) / 2), math.Sqrt((-b + root) / 2)
}

// rawA is the power response of A without its normalisation.
func rawA(f float64) float64 {
	f2 := f * f
	a := poleF4 * poleF4 * f2 * f2 / ((f2 + poleF1*poleF1) * (f2 + poleF4*poleF4))
	return a * a / ((f2 + poleF2*poleF2) * (f2 + poleF3*poleF3))
}

func rawC(f float64) float64 {
	f2 := f * f
	c := poleF4 * poleF4 * f2 / ((f2 + poleF1*poleF1) * (f2 + poleF4*poleF4))
	return c * c
}

// AWeight returns the A weighting at frequency f (Hz, above 0) in dB. The
// tables of the standard print values at exact frequencies 1000·10^(0.1k)
// under rounded labels: use the exact frequency.
func AWeight(f float64) float64 { return decibels(rawA(f)) - gainA1000 }

// CWeight returns the C weighting at frequency f (Hz, above 0) in dB.
func CWeight(f float64) float64 { return decibels(rawC(f)) - gainC1000 }

// powerA is the A weighting as a factor on power; 0 at f = 0.
func powerA(f float64) float64 { return rawA(f) / math.Pow(10, gainA1000/10) }

// responseA is the A weighting with the phase of its analogue circuit:
// s⁴/((s+ω1)²(s+ω2)(s+ω3)(s+ω4)²), so that a weighted waveform stays causal.
func responseA(f float64) complex128 {
	s := complex(0, f)
	p1, p4 := s+complex(poleF1, 0), s+complex(poleF4, 0)
	h := s * s * s * s / (p1 * p1 * (s + complex(poleF2, 0)) * (s + complex(poleF3, 0)) * p4 * p4)
	return h * complex(poleF4*poleF4*math.Pow(10, -gainA1000/20), 0)
}

// decibels of a power ratio; a power of zero gives −Inf.
func decibels(power float64) float64 { return 10 * math.Log10(power) }

// power of a level in dB.
func fromDecibels(db float64) float64 { return math.Pow(10, db/10) }
