package workbench

import (
	"math"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// Where stabilisers and sight sit on a riser, and how their weight lies on
// them (common practice, no source).
const (
	bushingAhead unit.Length = 0.06 // the long rod's thread ahead of the grip
	sightMass    unit.Mass   = 0.25
	bareRiser    unit.Mass   = 1.2
	limbPair     unit.Mass   = 0.4
	limbBehind   unit.Length = 0.10 // the limbs' middle behind the grip
	riserDeep    unit.Length = 0.08 // the riser's own depth along the shot
	sideLean                 = 40 * math.Pi / 180
	atFarEnd                 = 0.5 // of a rod's weight; the rest lies along it
)

// inertia of the riser about the vertical through the grip (eq. 3 of
// docs/theory/forgiveness.md): thin rods m(a² + ab + b²)/3 and end weights m·b²
// (statics of rigid bodies, any textbook), for the rods that are given.
// Without any it stays 0 and the usual one is assumed.
func (out *Sideways) inertia(s notebook.Settings) {
	if len(s.Riser.Rods) == 0 {
		return
	}
	ext := orUsual(s.SightExt, usualExtension, func() {})
	parts := []arrow.Rod{
		{Mass: bareRiser, From: -riserDeep / 2, To: riserDeep / 2},
		{Mass: limbPair, From: limbBehind, To: limbBehind},
		{Mass: sightMass, From: riserToPivot, To: riserToPivot + ext},
	}
	front := bushingAhead
	for _, r := range s.Riser.Rods {
		if r.Place == "extender" {
			parts = append(parts, arrow.Rod{Mass: r.Mass.Value, From: front, To: front + r.Length.Value})
			front += r.Length.Value
		}
	}
	for _, r := range s.Riser.Rods {
		if r.Place != "extender" {
			parts = append(parts, rodParts(r, front)...)
		}
	}
	out.Inertia = arrow.YawInertia(parts...)
	out.note("The riser's inertia about the grip, %.2f kg m², is taken from its stabilisers, half of each rod's weight at its far end, side rods leaning back by 40°.", out.Inertia)
}

// rodParts are a rod and the weight at its end: a side rod points back and
// aside, any other straight ahead.
func rodParts(r notebook.Rod, front unit.Length) []arrow.Rod {
	end, weight := r.Mass.Value*atFarEnd, r.Mass.Value*(1-atFarEnd)
	if r.Place != "side" {
		tip := front + r.Length.Value
		return []arrow.Rod{{Mass: weight, From: front, To: tip}, {Mass: end, From: tip, To: tip}}
	}
	sin, cos := math.Sincos(sideLean)
	back, aside := front-r.Length.Value*unit.Length(cos), r.Length.Value*unit.Length(sin)
	return []arrow.Rod{
		// Along the shot and across it a slanted thin rod adds up (Pythagoras).
		{Mass: weight, From: front, To: back}, {Mass: weight, From: 0, To: aside},
		{Mass: end, From: back, To: back, Aside: aside},
	}
}
