package shot

import (
	"fmt"

	"tautline/unit"
)

// Result is one shot. Energies are those of the whole bow and add up:
// Stored = Arrow + Residual + Riser + Hand + Lost, to within Audit·Stored.
type Result struct {
	Model Model

	Speed        unit.Speed    // of the arrow as it leaves
	Efficiency   float64       // Arrow / Stored
	TimeOnString unit.Duration // from release to separation

	// PastBrace is the nock's distance from the pivot at separation less the
	// brace height: negative when the string has run through its place at
	// rest, as it nearly always does (usual −5 to −40 mm). The arrow's force
	// is flat there, so it is good to ±5 mm in the resolved model.
	PastBrace unit.Length

	Stored   unit.Energy // W, put in from brace to full draw
	Arrow    unit.Energy // motion of the arrow
	Residual unit.Energy // motion and deformation left in limbs and string beyond brace
	Riser    unit.Energy // motion of the riser
	Hand     unit.Energy // work done on the bow hand's spring
	Lost     unit.Energy // damping in limbs, string and hand

	PeakForce   unit.Force // greatest force on the arrow
	PeakTension unit.Force // greatest string tension at the nock

	// Audit is the energy the integration itself gained or lost up to
	// separation, over Stored. Above AuditLimit there is no Result.
	Audit float64

	// Ringing is set when Config.After is.
	Ringing *Ringing

	// History is set when Config.History is.
	History *History

	// Step is the time step used and Steps how many there were.
	Step  unit.Duration
	Steps int

	// Warnings are sentences for the reader; usually none.
	Warnings []string
}

// Ringing is what the bow does once the arrow has left. Late vibration is
// chaotic (the string goes slack and snaps taut), so Mean is one draw from a
// scatter, not a smooth function of brace height: compare it only over many
// shots or large changes.
type Ringing struct {
	Duration unit.Duration
	Mean     unit.Energy // residual energy in limbs and string, averaged over Duration
	Last     unit.Energy // the same at the end
	Audit    float64     // as Result.Audit, to the end
}

// History holds the shot step by step, from release to separation and on for
// Config.After. Places are measured from where the pivot stood at release: take
// RiserX off for places fixed to the riser. Times are not evenly spaced at
// separation, which is itself an entry (index Separation).
type History struct {
	Separation int // index of the instant of separation, the arrow still on

	Time     []unit.Duration
	Nock     []unit.Length // nock's fore-and-aft place
	Speed    []unit.Speed  // of the nock along x, negative toward the target
	Force    []unit.Force  // on the arrow, positive toward the target; 0 after separation
	Tension  []unit.Force  // string tension at the nock
	TipX     []unit.Length // upper limb tip's fore-and-aft place
	TipY     []unit.Length // upper limb tip's height above the arrow line
	Half     []unit.Length // half string's length from nock to tip, stretched, along its path
	RiserX   []unit.Length // riser's displacement, positive toward the archer
	ArrowAcc []float64     // arrow's acceleration toward the target, m/s²; 0 after separation
}

// AuditLimit is the share of the stored energy that the integration may gain
// or lose before a shot is refused.
const AuditLimit = 1e-4

// ShotError is a shot that could not be computed, or must not be believed.
type ShotError struct {
	Time         float64 // s since release
	Problem, Try string
}

func (e *ShotError) Error() string {
	return fmt.Sprintf("shot, %.2f ms after release: %s; try %s", e.Time*1e3, e.Problem, e.Try)
}
