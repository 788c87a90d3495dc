package shot

import (
	"fmt"
	"math"
)

// stepper is a motion that can be stepped and taken back.
type stepper interface {
	advance(h float64) // one step of h seconds
	undo()             // go back to before the last step
	mark()             // remember this state
	rewind()           // go back to it
	push() float64     // force on the arrow toward the target
}

// engine is a model of the bow in motion: half a bow, its state, and one way
// to step it. The run loop knows nothing else.
type engine interface {
	stepper
	load(theta []float64) // at rest at full draw, the arrow on
	drop()                // the arrow leaves
	tension() float64     // of the string at the nock
	energies() energies
	sample() sample
	clearance() float64 // smallest gap between string and limb so far

	// what the search for a stable step and the linear modes ask of a state
	dof() int
	coordinates(q []float64)
	accelerations(q, v, a []float64)
	// linearStep is one step with h = 1 of y'' = −ω²y − 2ζω y'
	linearStep(y, v, w, zeta float64) (float64, float64)
}

// energies says where the whole bow's energy is, J. Limbs and string are
// counted with both their motion and their deformation.
type energies struct {
	limbs, string, arrow, riser, hand, lost float64
}

func (e energies) total() float64 {
	return e.limbs + e.string + e.arrow + e.riser + e.hand + e.lost
}

// sample is what the history keeps of one instant, SI.
type sample struct {
	nock, speed, acc float64
	tension          float64
	tipX, tipY, half float64
	riser            float64
}

// longest is the longest an arrow may stay on the string.
const longest = 0.1

// loose runs e from full draw until the arrow leaves, and stops at that instant
// with the arrow still on.
func (s *Simulator) loose(e engine) (t float64, err error) {
	e.load(s.set.theta)
	before := e.push()
	s.record(e, 0)
	for t < longest {
		e.advance(s.dt)
		s.steps++
		force := e.push()
		switch {
		case !(math.Abs(force) < 1e6):
			return t, &ShotError{t, "the motion ran away: the step is unstable", "a shorter Step"}
		case e.clearance() < -deepest:
			return t, &ShotError{t, fmt.Sprintf("the string has passed %.1f mm through the limb", -1e3*e.clearance()), "a smaller Fraction or a shorter Step"}
		case force < -s.set.clip:
			t += s.pinpoint(e, before+s.set.clip, force+s.set.clip)
			s.record(e, t)
			return t, nil
		}
		t += s.dt
		before = force
		s.record(e, t)
	}
	return t, &ShotError{t, "the arrow is still on the string", "an ArrowMass of 15 to 40 g, a ClipForce of 0 to 10 N"}
}

// A string that seems to run through the limb by less than tolerated is
// rounding of the belly into a polygon; up to deepest it is worth a warning,
// beyond it the shot is not believed.
const (
	tolerated = 0.05e-3
	deepest   = 1e-3
)

// Tolerances of the separation: 1e-7 N on the arrow's force, far below what a
// nock feels, or 1e-12 s.
const (
	forceTol = 1e-7
	timeTol  = 1e-12
)

// pinpoint finds the part of the last step after which the arrow's force
// crosses −F_clip and leaves the engine there (eq. 22): the secant rule kept inside the
// bracket, each try two half steps from the step's start.
func (s *Simulator) pinpoint(e stepper, fLo, fHi float64) float64 {
	e.undo()
	e.mark()
	lo, hi := 0.0, s.dt
	side := 0
	for {
		h := hi - fHi*(hi-lo)/(fHi-fLo)
		if !(h > lo && h < hi) {
			h = (lo + hi) / 2
		}
		e.rewind()
		e.advance(h / 2)
		e.advance(h / 2)
		f := e.push() + s.set.clip
		if math.Abs(f) <= forceTol || hi-lo <= timeTol {
			return h
		}
		// an end kept twice has its value halved, so that the bracket closes
		// from both sides (the Illinois rule)
		if f > 0 {
			lo, fLo = h, f
			if side > 0 {
				fHi /= 2
			}
			side = 1
		} else {
			hi, fHi = h, f
			if side < 0 {
				fLo /= 2
			}
			side = -1
		}
	}
}
