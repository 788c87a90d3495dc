package arrow

import (
	"math"

	"tautline/unit"
)

// Result is one shot, sideways. "Right" is right as seen from the shooting
// line, for every archer; "outward" is away from the riser's side.
type Result struct {
	Speed        unit.Speed    // along the shot, at separation
	TimeOnString unit.Duration // from release to separation

	// Separation is the arrow's motion as it leaves the string, Clear as its
	// nock passes the button, from where it flies.
	Separation, Clear Motion

	// NockMax is the nock's greatest place outward of the string plane, at
	// NockMaxTime; NockLeaves and NockLeavesSpeed are its place and speed
	// outward at separation.
	NockMax         unit.Length
	NockMaxTime     unit.Duration
	NockLeaves      unit.Length
	NockLeavesSpeed unit.Speed

	// ButtonPeak is the greatest force on the button, ButtonTravel how far it
	// was pushed in, LastContact when the shaft touched it last. Bottomed: it
	// ran against its stop.
	ButtonPeak   unit.Force
	ButtonTravel unit.Length
	LastContact  unit.Duration
	Bottomed     bool

	// TailGap is the smallest gap between shaft and button while the last
	// 85 mm pass it; negative when they pressed on it. TailStrike: they did.
	TailGap    unit.Length
	TailStrike bool
	// VaneRiserGap is the smallest gap between the vanes and the riser's wall
	// as they pass, one vane pointing outward. HasVaneGap is false without
	// vanes or without Button.Proud.
	VaneRiserGap unit.Length
	HasVaneGap   bool

	// PeakThrust is the greatest push on the nock as a mean over 2 ms,
	// ThrustRatio its ratio to Arrow.BucklingForce: how soft this shaft is for
	// this bow. Ordinary shafts lie between 0.8 and 1.1.
	PeakThrust  unit.Force
	ThrustRatio float64

	// Ringing are the bending modes still swinging at Clear, lowest first.
	Ringing []Vibration

	// RiserYawStart and RiserYawExit are the riser's turn at release and at
	// separation, positive when the bow points right; zero for a riser that
	// does not turn. RiserYawRate is in rad/s at separation.
	RiserYawStart, RiserYawExit unit.Angle
	RiserYawRate                float64

	// Step is the time step used.
	Step unit.Duration

	// History is set when Config.History is.
	History *History
}

// Motion is the arrow as a rigid body at one moment.
type Motion struct {
	Time       unit.Duration // since release
	Ahead      unit.Length   // centre of mass ahead of the pivot, toward the target
	Right      unit.Length   // centre of mass right of the string plane
	RightSpeed unit.Speed    // of the centre of mass
	YawRight   unit.Angle    // point turned to the right
	YawRate    float64       // rad/s, positive when the point turns right
}

// Direction is where the centre of mass goes: positive to the right of the
// line of the shot.
func (r *Result) Direction() unit.Angle {
	return unit.Angle(math.Atan2(float64(r.Clear.RightSpeed), float64(r.Speed)))
}

// Vibration is one bending mode in free swing.
type Vibration struct {
	Mode      int     // 1 is the lowest
	Frequency float64 // Hz
	Amplitude float64 // modal, √kg·m: Arrow.Shape gives metres per unit
	Decay     float64 // 1/s: the amplitude falls as exp(−Decay·t)
}

// SquaredSpeed is the mean square of the sideways speed of a vibration, in
// m²/s², at n places spread evenly from the nock's groove to the shaft's end.
func (a *Arrow) SquaredSpeed(v Vibration, n int) []float64 {
	out := make([]float64, max(n, 0))
	for i := range out {
		s := float64(a.design.Length) * float64(i) / math.Max(1, float64(n-1))
		d, _, _ := a.Shape(v.Mode, unit.Length(s))
		w := 2 * math.Pi * v.Frequency * v.Amplitude * d
		out[i] = w * w / 2
	}
	return out
}

// History is the shot step by step, outward values.
type History struct {
	Separation int // index of the step at separation
	Time       []unit.Duration
	Nock       []unit.Length // the nock's place
	Gap        []unit.Length // shaft to button; negative when pressed in
	Push       []unit.Force  // of the button on the shaft
	Amplitudes [][]float64   // modal, for Arrow.Deflection
}

// Deflection is the shaft's place outward of the string plane at s from the
// nock, for modal amplitudes of History.
func (a *Arrow) Deflection(amplitudes []float64, s unit.Length) unit.Length {
	phi, slope := make([]float64, a.n), make([]float64, a.n)
	a.fill(float64(s), phi, slope)
	sum := 0.0
	for j := range min(a.n, len(amplitudes)) {
		sum += phi[j] * amplitudes[j]
	}
	return unit.Length(sum)
}

// TailLength is the part of the shaft, vanes included, that must pass the
// button without touching it.
const TailLength unit.Length = 0.085
