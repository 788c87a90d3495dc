package bow

import (
	"fmt"
	"math"

	"tautline/unit"
)

// Material is what a string's strands are made of.
type Material string

// The materials a bowstring is made of.
const (
	HMPE      Material = "hmpe"      // high-modulus polyethylene
	LCP       Material = "lcp"       // liquid-crystal polymer or aramid
	Polyester Material = "polyester" // the stretchy string of beginners' bows
)

// fibre holds per-strand figures. Everything here is recalled, not read:
// B10 says that no admissible source for EA was found. The modulus of HMPE is
// the middle of the recalled 100 to 120 GPa; a strand's mass per length is
// what makes the strengths per strand that B10 read (221, 312, 446 N) agree
// with the usual tenacity of each fibre.
type fibre struct {
	modulus float64 // of straight filament, Pa
	density float64 // kg/m³
	linear  float64 // mass per length of a strand, kg/m
}

var fibres = map[Material]fibre{
	HMPE:      {110e9, 975, 0.150e-3},
	LCP:       {80e9, 1420, 0.150e-3},
	Polyester: {12e9, 1380, 0.270e-3},
}

// Figures that go with a strand count; all recalled or assumed.
const (
	// strandFactor is the share of the filaments' modulus that a twisted,
	// waxed string of many strands shows; chosen so that 18 strands of HMPE
	// are the generic bow's string.
	strandFactor = 0.65
	packing      = 0.70 // share of the round section that is fibre
	servingMass  = 2e-3 // end servings, kg
	// relative standard deviations of what follows from the strand count
	eaDoubt, massDoubt, radiusDoubt = 0.30, 0.15, 0.12
)

// StringSpec is what an archer knows of a string.
type StringSpec struct {
	Material Material
	Strands  int         // usual 12 to 24
	Length   unit.Length // loop to loop, usual 1.45 to 1.75 m
	// Factor multiplies the stiffness; zero means 1. It is what a fit to the
	// archer's own speeds moves.
	Factor float64
}

// StringGuess is a first value for a string's properties with the standard
// deviations to keep in mind, relative to the values.
type StringGuess struct {
	String  String
	Bundle  Bundle
	EADoubt float64
	// MassDoubt and RadiusDoubt likewise.
	MassDoubt, RadiusDoubt float64
	Note                   string
}

// Guess derives stiffness, mass and thickness of a string from its strands
// (B10). The values are recalled fibre data times an assumed factor: weigh the
// string, and let speed readings correct the stiffness.
func (s StringSpec) Guess() (StringGuess, error) {
	f, ok := fibres[s.Material]
	if !ok {
		return StringGuess{}, &InputError{"StringSpec.Material", fmt.Sprintf("%q is not a string material", s.Material), `"hmpe", "lcp" or "polyester"`}
	}
	if s.Strands < 4 || s.Strands > 60 {
		return StringGuess{}, &InputError{"StringSpec.Strands", fmt.Sprintf("%d strands are outside 4 to 60", s.Strands), "18"}
	}
	if err := mm("StringSpec.Length", s.Length, 0.5, 2.5, "1700 mm").check(); err != nil {
		return StringGuess{}, err
	}
	factor := s.Factor
	if factor == 0 {
		factor = 1
	}
	if !(factor > 0.05 && factor < 20) {
		return StringGuess{}, &InputError{"StringSpec.Factor", fmt.Sprintf("%g is outside 0.05 to 20", factor), "1"}
	}
	n := float64(s.Strands)
	area := n * f.linear / f.density
	ea := unit.Force(factor * strandFactor * f.modulus * area)
	return StringGuess{
		String: String{
			EA: ea, Mass: unit.Mass(n*f.linear*float64(s.Length) + servingMass),
			NockMass: 1.3e-3, Damping: 1e-5,
		},
		Bundle: Bundle{
			Strand: s.Length, EA: ea,
			Radius: unit.Length(math.Sqrt(area / (packing * math.Pi))),
		},
		EADoubt: eaDoubt, MassDoubt: massDoubt, RadiusDoubt: radiusDoubt,
		Note: "from recalled fibre data and an assumed factor; no admissible source for a bowstring's stiffness was found",
	}, nil
}
