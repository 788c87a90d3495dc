package bow

import (
	"fmt"
	"math"

	"tautline/unit"
)

// PairSetup is what makes the two halves of a bow differ, and where hand,
// string, arrow and rest meet. The zero value is the symmetric bow. Heights are
// along the riser from the pivot, positive up.
type PairSetup struct {
	// UpperStiffness and LowerStiffness multiply each limb's bending
	// stiffness; 0 takes 1, usual 0.97 to 1.05. Not measurable at home.
	UpperStiffness, LowerStiffness float64

	// Tiller is the string's distance from the upper limb's root less that
	// from the lower one's, at brace, square to the string; usual 0 to 6 mm.
	Tiller unit.Length

	// Nock is the arrow's axis above the square through the rest, at brace:
	// the bow square's reading less the radii of shaft and nock (see
	// NockCentre); usual 0 to 8 mm.
	Nock unit.Length

	// Hook is how far below the nocking point the fingers' force acts, along
	// the string; usual 2 to 12 mm. Below zero it acts above.
	Hook unit.Length

	// RestX and RestY are where the shaft's axis lies over the rest; usual 0
	// and 30 to 50 mm.
	RestX, RestY unit.Length

	// Pressure is the height of the point at which the hand presses; usual
	// −15 to 10 mm. It also stands for a torque M of the grip: M over the
	// draw force.
	Pressure unit.Length
}

// NockCentre turns a bow square's reading, to the lower edge of the upper
// locator, into PairSetup.Nock: the locator sits on the nock, the square on
// the rest, so both radii come off.
func NockCentre(reading, shaftDiameter, nockDiameter unit.Length) unit.Length {
	return reading - (shaftDiameter+nockDiameter)/2
}

// Validate names the first entry that cannot be used.
func (p PairSetup) Validate() error {
	for _, l := range []limit{
		{"UpperStiffness", p.UpperStiffness, 0, 3, 1, "", "1"},
		{"LowerStiffness", p.LowerStiffness, 0, 3, 1, "", "1.02"},
		mm("Tiller", p.Tiller, -0.03, 0.03, "3 mm"),
		mm("Nock", p.Nock, -0.04, 0.06, "4 mm"),
		mm("Hook", p.Hook, -0.04, 0.09, "6 mm"),
		mm("RestX", p.RestX, -0.1, 0.1, "0 mm"),
		mm("RestY", p.RestY, -0.05, 0.12, "40 mm"),
		mm("Pressure", p.Pressure, -0.05, 0.05, "0 mm"),
	} {
		if err := l.check(); err != nil {
			return err
		}
	}
	return nil
}

// Pair is a bow with two limbs of its own each, strung: brace height, tiller
// and nocking point are met. It is never changed after NewPair and may be used
// by many goroutines at once.
type Pair struct {
	design Design
	setup  PairSetup
	limb   [2]*Chain // upper, lower; each in its own frame, y outward
	ea     float64
	brace  PairState
}

// sigma mirrors a limb's own frame into the bow's: up for the upper one.
var sigma = [2]float64{1, -1}

// NewPair braces the bow of m with the given set-up: it finds the string's
// length and the difference of the pocket angles that give the brace height
// and the tiller asked for (docs/theory/vertical.md,
// eqs V1 to V7).
func (m *Model) NewPair(setup PairSetup, brace unit.Length) (*Pair, error) {
	if err := setup.Validate(); err != nil {
		return nil, err
	}
	symmetric, err := m.Brace(brace)
	if err != nil {
		return nil, err
	}
	p := &Pair{design: m.design, setup: setup, ea: m.ea}
	for i, factor := range []float64{setup.UpperStiffness, setup.LowerStiffness} {
		if factor == 0 {
			factor = 1
		}
		p.limb[i] = m.chain.altered(factor, sigma[i]*float64(setup.Pressure))
	}
	s := newPairSolver(p.limb, p.ea)
	s.begin(symmetric, -float64(setup.Pressure))
	if err := s.string(float64(brace), float64(setup.Tiller), -float64(setup.Pressure)); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrNoBrace, err)
	}
	s.nockOn(setup)
	p.brace = s.state(setup)
	return p, nil
}

// altered is the limb with other springs, its root nearer the pressure point
// by nearer.
func (c *Chain) altered(stiffness, nearer float64) *Chain {
	out := *c
	out.K = make([]float64, len(c.K))
	for i, k := range c.K {
		out.K[i] = stiffness * k
	}
	out.Natural = append([]float64(nil), c.Natural...)
	out.Y0 -= nearer
	return &out
}

// turnPocket turns the limb's pocket, and with it the whole unstressed limb.
func (c *Chain) turnPocket(by float64) {
	c.Phi0 += by
	for i := range c.Natural {
		c.Natural[i] += by
	}
}

// Design returns the description the pair was made from.
func (p *Pair) Design() Design { return p.design }

// Setup returns what the pair was strung with.
func (p *Pair) Setup() PairSetup { return p.setup }

// Chains returns the upper and the lower limb, each in its own frame with y
// outward from the pressure point; shared and read-only.
func (p *Pair) Chains() (upper, lower *Chain) { return p.limb[0], p.limb[1] }

// Brace is the strung bow at rest, the riser upright.
func (p *Pair) Brace() PairState { return p.brace }

// PocketDifference is how much further toward the archer the upper pocket
// points than the lower one: what the limb bolts must do for the tiller.
func (p *Pair) PocketDifference() unit.Angle {
	return unit.Angle(p.limb[0].Phi0 - p.limb[1].Phi0)
}

// PairState is one equilibrium of a Pair. The origin is the hand's pressure
// point, x toward the archer, y up.
type PairState struct {
	// Upper and Lower are the link angles, root first, each in its limb's own
	// frame: from outward, positive toward the archer.
	Upper, Lower []float64
	Pitch        unit.Angle // riser, positive when its top leans toward the archer

	NockX, NockY unit.Length
	HookX, HookY unit.Length
	RestX, RestY unit.Length // the shaft's axis over the rest

	// RestUpper and RestLower are the string's unstretched lengths from the
	// nocking point to the tips.
	RestUpper, RestLower       unit.Length
	TensionUpper, TensionLower unit.Force
	ForceX, ForceY             unit.Force  // of the fingers on the string
	Energy                     unit.Energy // elastic, limbs and string
	MomentUpper, MomentLower   float64     // of each limb on its pocket, N m
	// WrappedUpper and WrappedLower are the lengths of string beyond the first
	// contact with each limb.
	WrappedUpper, WrappedLower unit.Length
}

// Rotated is the state seen from a frame turned the other way: everything
// turns about the pressure point, top toward the archer, by g.
func (st PairState) Rotated(g unit.Angle) PairState {
	sin, cos := math.Sincos(float64(g))
	turn := func(x, y unit.Length) (unit.Length, unit.Length) {
		return x*unit.Length(cos) + y*unit.Length(sin), y*unit.Length(cos) - x*unit.Length(sin)
	}
	out := st
	out.Upper, out.Lower = append([]float64(nil), st.Upper...), append([]float64(nil), st.Lower...)
	for i := range out.Upper {
		out.Upper[i] += float64(g)
		out.Lower[i] -= float64(g)
	}
	out.Pitch += g
	out.NockX, out.NockY = turn(st.NockX, st.NockY)
	out.HookX, out.HookY = turn(st.HookX, st.HookY)
	out.RestX, out.RestY = turn(st.RestX, st.RestY)
	fx, fy := float64(st.ForceX), float64(st.ForceY)
	out.ForceX, out.ForceY = unit.Force(fx*cos+fy*sin), unit.Force(fy*cos-fx*sin)
	return out
}

// ArrowLevel is the state turned until the line from nock to rest is
// horizontal, as the arrow lies in the archer's hands.
func (st PairState) ArrowLevel() PairState {
	dx, dy := float64(st.NockX-st.RestX), float64(st.NockY-st.RestY)
	return st.Rotated(unit.Angle(math.Atan2(dy, dx)))
}

// Force is the size of the fingers' pull.
func (st PairState) Force() unit.Force {
	return unit.Force(math.Hypot(float64(st.ForceX), float64(st.ForceY)))
}

// ForceLine is how steeply the fingers' pull, which runs to the pressure point,
// falls below the arrow's line, rad.
func (st PairState) ForceLine() unit.Angle {
	level := st.ArrowLevel()
	return unit.Angle(math.Atan2(float64(level.HookY), float64(level.HookX)))
}
