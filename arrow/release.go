package arrow

import (
	"math"

	"tautline/unit"
)

// Release is a law for the sideways push of the fingers on the nock while the
// string leaves them (eq. 8). Nobody has published a measured curve; the three
// laws here bracket what is known: about 2 mm sideways over about 3 mm of
// travel (Kooi & Sparenberg 1997 as reported second-hand, ± 50 %).
//
// Push is called many times a step, in SI: it must be quick and keep nothing.
type Release interface {
	// Push is the outward force on the nock in newtons.
	Push(f Fingers) float64
	// Reach is the travel after which the fingers have let go.
	Reach() unit.Length
}

// Fingers is what a release law may depend on, in SI.
type Fingers struct {
	Travel, Rate   float64 // of the nock toward the target since release, m and m/s
	Draw           float64 // static draw force at this travel, N
	Aside, Outward float64 // the nock's place outward of its start and its rate, m and m/s
}

// HalfSine is the usual law: a share Kappa of the draw force times
// sin(π·travel/Over). Kappa 0.2 over 3 mm puts the nock about 1.5 mm aside.
type HalfSine struct {
	Kappa float64     // usual 0.1 to 0.4
	Over  unit.Length // usual 2 to 5 mm
}

// Push implements Release.
func (r HalfSine) Push(f Fingers) float64 {
	x := f.Travel / float64(r.Over)
	if x <= 0 || x >= 1 {
		return 0
	}
	return r.Kappa * f.Draw * math.Sin(math.Pi*x)
}

// Reach implements Release.
func (r HalfSine) Reach() unit.Length { return r.Over }

// Fading starts with its full share of the draw force and fades evenly: the
// string rolls off fingers that were already pushing sideways.
type Fading struct {
	Kappa float64     // share at the start, usual 0.06 to 0.25
	Over  unit.Length // usual 2 to 5 mm
}

// Push implements Release.
func (r Fading) Push(f Fingers) float64 {
	x := f.Travel / float64(r.Over)
	if x < 0 || x >= 1 {
		return 0
	}
	return r.Kappa * f.Draw * (1 - x)
}

// Reach implements Release.
func (r Fading) Reach() unit.Length { return r.Over }

// Guided leads the nock along a given path instead of pushing with a given
// force: outward by Aside over the travel Over, half a cosine, through finger
// pads of 20 N/mm. The fingers push only outward.
type Guided struct {
	Aside unit.Length // usual 1 to 3 mm
	Over  unit.Length // usual 2 to 5 mm
}

// Stiffness and damping of the finger pads: soft tissue under a taut string,
// an assumption; the damping is half critical on the few grams at the nock.
const (
	padStiffness = 2e4 // N/m
	padDamping   = 10  // N s/m
)

// Push implements Release.
func (r Guided) Push(f Fingers) float64 {
	x := f.Travel / float64(r.Over)
	if x < 0 || x >= 1 {
		return 0
	}
	sin, cos := math.Sincos(math.Pi * x)
	place := 0.5 * float64(r.Aside) * (1 - cos)
	rate := 0.5 * float64(r.Aside) * sin * math.Pi / float64(r.Over) * f.Rate
	push := padStiffness*(place-f.Aside) + padDamping*(rate-f.Outward)
	if float64(r.Aside) < 0 {
		return math.Min(0, push)
	}
	return math.Max(0, push)
}

// Reach implements Release.
func (r Guided) Reach() unit.Length { return r.Over }
