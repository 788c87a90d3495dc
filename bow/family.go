package bow

import (
	"math"

	"tautline/unit"
)

// The family of bows that a scaling fit chooses from: the generic bow with
// the parameters below moved. Each has a prior, a normal distribution whose
// spread says how much makers' bows are taken to differ. No bow was measured
// to set these spreads; they are assumptions, wide enough to hold the
// published bows of B2 and real riser geometry.
const (
	parStiffness = iota // ln EI0: no prior, the draw weight sets it
	parRecurve
	parPocketAngle
	parSplit   // pocket further up the bow, limb shorter by as much
	parLimb    // limb longer than the class
	parPocketX // pocket nearer the archer
	parEA      // ln EA
	parPreset
	parInner
	parTaper // ln of tip thickness over root thickness, relative
	parPower
	parBrace // error of the brace-height reading
	parCount
)

// spread is the prior standard deviation of each parameter, about zero.
var spread = [parCount]float64{
	parRecurve:     0.14,  // rad, 8 degrees
	parPocketAngle: 0.035, // rad, 2 degrees
	parSplit:       0.015, // m
	parLimb:        0.008, // m
	parPocketX:     0.012, // m
	parEA:          eaDoubt,
	parPreset:      0.03, // rad
	parInner:       0.06,
	parTaper:       0.10,
	parPower:       0.25,
}

// unknownLength replaces the spread of parLimb when the bow's length is not
// given.
const unknownLength = 0.025 // m

// params is a place in the family.
type params [parCount]float64

// family maps parameters to designs for one bow.
type family struct {
	base   Design
	spread [parCount]float64
}

// newFamily centres the family on the bow's length class.
func newFamily(k Known) (family, error) {
	f := family{base: Generic(), spread: spread}
	length := float64(k.BowLength)
	if length == 0 {
		length = 68 * 0.0254
		f.spread[parLimb] = unknownLength
	}
	f.spread[parBrace] = float64(k.Doubt.Brace)
	scaleToLength(&f.base, length)
	f.base.FullDraw = k.Draw
	f.base.Riser.PocketX -= k.PivotOffset
	f.base.Provenance = "scaled from the generic bow to the readings given; one of many that fit"
	if k.String.Strands == 0 {
		return f, nil
	}
	if k.String.Length == 0 {
		k.String.Length = orDefault(k.StringLength, unit.Length(length-3*0.0254))
	}
	g, err := k.String.Guess()
	if err != nil {
		return f, err
	}
	f.base.String = g.String
	return f, nil
}

// scaleToLength gives the generic 70 in bow the size of another class. Risers
// come in 21, 23, 25 and 27 in, limbs in sizes an inch apart: up to 66 in the
// riser grows with the class, from there to 70 in the limb, then the riser
// again (common practice). The string's mass goes with its length.
func scaleToLength(d *Design, length float64) {
	const inch = 0.0254
	over := length/inch - 70
	limb := math.Max(-2, math.Min(0, over/2)) * inch
	riser := (over/2)*inch - limb
	d.Limb.Length += unit.Length(limb)
	d.Riser.PocketY += unit.Length(riser)
	d.String.Mass *= unit.Mass(length / (70 * inch))
}

// design is the bow at x.
func (f *family) design(x params) Design {
	d := f.base
	d.Limb.StiffnessScale *= math.Exp(x[parStiffness])
	d.Limb.Recurve += unit.Angle(x[parRecurve])
	d.Riser.PocketAngle += unit.Angle(x[parPocketAngle])
	d.Riser.PocketY += unit.Length(x[parSplit])
	d.Limb.Length += unit.Length(x[parLimb] - x[parSplit])
	d.Riser.PocketX += unit.Length(x[parPocketX])
	d.String.EA *= unit.Force(math.Exp(x[parEA]))
	d.Limb.Preset += unit.Angle(x[parPreset])
	d.Limb.InnerFraction = math.Min(0.8, math.Max(0.05, d.Limb.InnerFraction+x[parInner]))
	d.Limb.RecurvePower = math.Max(0.1, d.Limb.RecurvePower+x[parPower])
	for k := range Knots {
		at := float64(k)/(Knots-1) - 0.5
		d.Limb.Thickness[k] *= unit.Length(math.Exp(x[parTaper] * at))
	}
	return d
}
