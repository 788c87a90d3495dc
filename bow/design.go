// Package bow models a recurve bow at rest: how it is braced, what it weighs
// at any draw, how much energy it stores, and how a twist in the string moves
// all of that.
//
// A limb is a chain of rigid links with joint springs; the string is a light
// elastic cable that lies one-sidedly on the limb's belly. Lengths are measured
// from the grip's pivot: x toward the archer, y up the string.
//
// The package describes a symmetric pair of limbs in the plane. It leaves out
// limb twist, shear and stretch of the limb, friction between string and limb,
// temperature and creep. docs/theory/bow.md numbers the equations that the
// comments here refer to.
package bow

import "tautline/unit"

// Design describes one bow completely, except for the string's length, which
// an archer changes from day to day and which is therefore part of a State.
//
// A Design is a plain value: copy it, change the copy, call Validate.
type Design struct {
	Riser  Riser
	Limb   Limb
	String String

	// FullDraw is the nock's place at full draw, measured from the pivot:
	// the standard draw length less 1.75 in (see PivotDraw). Usual 0.55 to
	// 0.75 m.
	FullDraw unit.Length

	// Provenance says where the numbers come from, in words for the reader.
	Provenance string
}

// Riser is the handle with its two limb pockets, and the hand behind it.
type Riser struct {
	// PocketX (X0) and PocketY (Y0) place the limb's root, where the limb
	// starts to bend, relative to the pivot: PocketX toward the archer, usual
	// 0 to 0.09 m; PocketY along the string, usual 0.25 to 0.35 m.
	PocketX, PocketY unit.Length

	// PocketAngle (Φ0) is the limb's direction at the root, from the string's
	// direction and positive toward the archer. Usual 5 to 15 degrees. Limb
	// bolts change it.
	PocketAngle unit.Angle

	// Mass of the riser with stabilisers and sight, usual 1.5 to 3.5 kg.
	Mass unit.Mass

	// HandStiffness holds the riser against the archer's hand, usual 2 to
	// 8 kN/m; HandDamping in N s/m, usual 20 to 150. Both matter to the shot
	// only.
	HandStiffness unit.Stiffness
	HandDamping   float64

	// Clamped bolts the riser to the ground, as in a shooting machine.
	Clamped bool
}

// Knots is the number of equally spaced stations, root to tip, at which the
// limb's width and thickness are given; both are linear in between.
const Knots = 5

// Limb is one of two equal limbs.
type Limb struct {
	// Length along the limb's belly from the root to the string groove (L),
	// usual 0.45 to 0.65 m.
	Length unit.Length

	// Width and Thickness at the five knots, root first; usual 45 to 12 mm
	// and 9 to 4 mm.
	Width, Thickness [Knots]unit.Length

	// Modulus is Young's modulus of the limb as if it were one material,
	// usual 10 to 60 GPa. StiffnessScale (EI0) multiplies the bending
	// stiffness; it is what a draw-weight fit moves. Usual 0.3 to 3.
	Modulus        unit.Pressure
	StiffnessScale float64

	// Density as if it were one material, kg/m³, usual 900 to 2000.
	Density float64

	// Preset (Pre) is the turn of the unstressed limb over its inner part,
	// negative away from the archer; usual -8 to 4 degrees. InnerFraction
	// (XiR) is the share of the length where the recurve begins, usual 0.2
	// to 0.7.
	Preset        unit.Angle
	InnerFraction float64

	// Recurve (Rec) is the angle the unstressed limb turns away from the
	// archer between the inner part and the tip, usual 30 to 75 degrees, 0
	// for a straight limb. RecurvePower (RecP) shapes it: the angle grows as
	// z^(1+RecP) along the outer part; usual 0.5 to 2.
	Recurve      unit.Angle
	RecurvePower float64

	// TipMass is the tip's reinforcement and what the tip carries of the
	// string's loop and serving, usual 2 to 10 g.
	TipMass unit.Mass

	// JointDamping (TauL) is the material's damping time, usual 0 to 0.1 ms;
	// MassDamping (Alpha) slows every moving part, 1/s, usual 0 to 10. Both
	// matter to the shot only.
	JointDamping unit.Duration
	MassDamping  float64
}

// String is the bowstring without its length.
type String struct {
	// EA is the stretching stiffness: force per unit of relative stretch,
	// usual 80 to 400 kN. See StringSpec for a first value.
	EA unit.Force

	// Mass of the whole string with end servings but without the nocking
	// point, usual 4 to 10 g. NockMass is the centre serving's share and the
	// locators at the nock, usual 0.3 to 3 g.
	Mass, NockMass unit.Mass

	// Damping (TauS) is the string's damping time, usual 0 to 0.05 ms; it
	// matters to the shot only.
	Damping unit.Duration
}

// Generic returns the generic 70 in recurve of about 44 lbf that the
// independent engines of the reference data were run on. It is one of many
// bows that would fit the same draw weight; no maker's bow was measured.
func Generic() Design {
	return Design{
		Riser: Riser{
			PocketX: 0.05, PocketY: 0.295, PocketAngle: 0.17498968108361418,
			Mass: 2.8, HandStiffness: 4000, HandDamping: 60,
		},
		Limb: Limb{
			Length:    0.5885176637680678,
			Width:     [Knots]unit.Length{0.044, 0.042, 0.036, 0.026, 0.014},
			Thickness: [Knots]unit.Length{0.007857500420486356, 0.0072605873005165186, 0.006620292454019552, 0.005756207038571204, 0.005275290891546977},
			Modulus:   30e9, StiffnessScale: 1.0640919291123958, Density: 1350,
			Preset: -0.03951432369137308, InnerFraction: 0.2763715710647641,
			Recurve: 0.9943233058926836, RecurvePower: 1.016615928689202,
			TipMass: 0.0055, JointDamping: 4e-5, MassDamping: 3,
		},
		String:     String{EA: 198000, Mass: 0.007, NockMass: 0.0013, Damping: 1e-5},
		FullDraw:   0.69215,
		Provenance: "generic 70 in recurve of the reference data (computed, one of many that fit; no bow was measured)",
	}
}

// amoOffset is what the standard draw length adds to the distance from the
// pivot to the nock: 1.75 in (the standard definition of draw length; common practice).
const amoOffset = 1.75 * 0.0254

// PivotDraw converts a standard draw length, as archers quote it, into the
// nock's distance from the pivot, by taking off 1.75 in.
func PivotDraw(standard unit.Length) unit.Length { return standard - amoOffset }

// StandardDraw is the inverse of PivotDraw.
func StandardDraw(pivot unit.Length) unit.Length { return pivot + amoOffset }
