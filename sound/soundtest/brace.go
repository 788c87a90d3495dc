package soundtest

import (
	"math"
	"math/rand/v2"

	"tautline/unit"
)

// Bow holds the sound of an invented bow: at its middle brace height and how
// it moves with brace height. All of it is invented.
type Bow struct {
	Middle  unit.Length // brace height the levels refer to; default 220 mm
	Slope   float64     // change of the level per cm of brace height, dB; default −0.8: quieter going up
	Late    float64     // further change of what rings on, per cm, dB; default −0.7
	Scatter float64     // shot-to-shot standard deviation of the level, dB; default 0.7
	Modes   []Mode      // at the middle; nil: three limb and riser modes
	Impact  unit.Duration
	Clicker bool
}

// DefaultBow returns an invented 70 in recurve heard from 1.5 m beside the
// archer, bale at 5 m.
func DefaultBow() Bow {
	return Bow{
		Middle: 220 * unit.Millimetre, Slope: -0.8, Late: -0.7, Scatter: 0.7,
		Impact: 0.102, Clicker: true,
		Modes: []Mode{
			{Frequency: 62, Damping: 0.025, Amplitude: 0.09},
			{Frequency: 187, Damping: 0.012, Amplitude: 0.06, Phase: 0.7},
			{Frequency: 412, Damping: 0.009, Amplitude: 0.035, Phase: 1.9},
		},
	}
}

// Shot invents one shot at a brace height; extra is added to its level in dB
// (a planted spot). The release time is the caller's to set.
func (b Bow) Shot(brace unit.Length, extra float64, rng *rand.Rand) Shot {
	cm := (brace - b.Middle).Centimetres()
	level := b.Slope*cm + extra + b.Scatter*rng.NormFloat64()
	s := Shot{
		Level:  level,
		Attack: unit.Duration(0.0012 + 0.0004*math.Max(cm+2, 0)),
		String: -12 + b.Late*cm,
		Impact: b.Impact,
		Modes:  scaled(b.Modes, gain(b.Late*cm)),
	}
	if b.Clicker {
		s.Clicker = unit.Duration(0.16 + 0.05*rng.Float64())
	}
	return s
}

// Session invents the recording of n shots at one brace height, every apart,
// the first after two seconds, with outdoor noise 40 dB below the bursts.
func (b Bow) Session(brace unit.Length, n int, every unit.Duration, rate int, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 3))
	c := Config{Rate: rate, Seed: seed, Noise: Noise{Pink: 0.002, Wind: 0.003}}
	for i := range n {
		s := b.Shot(brace, 0, rng)
		s.Release = 2 + unit.Duration(i)*every
		c.Shots = append(c.Shots, s)
	}
	return Synthesise(c)
}
