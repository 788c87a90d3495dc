package arrow

import (
	"math"

	"tautline/unit"
)

// Riser is the handle with its stabilisers turning about the grip in the
// horizontal plane (eq. 10), carrying button, string plane and limb tips. The
// grip itself stays in place. Angles are positive when the archer's side of
// the bow turns outward, so that a point at x moves outward by x·angle.
type Riser struct {
	// Inertia about the vertical through the grip, kg m²; usual 0.15 to 0.35
	// with stabilisers. From the user's rods and weights.
	Inertia float64
	// HandStiffness in N m/rad and HandDamping in N m s/rad hold it to the
	// hand: usual 0 to 30 and 0 to 0.5, assumed, of little effect within the
	// shot.
	HandStiffness, HandDamping float64
	// HeldTorque acts on the riser before and after release, in N m: the hand's
	// twist on the grip that full draw balances; usual −0.3 to 0.3.
	HeldTorque float64
	// ReleaseTorque starts at release, in N m.
	ReleaseTorque float64
	// ArmRate is the bow arm's turning at release, rad/s, with which riser,
	// string and arrow all start; usual −0.05 to 0.05.
	ArmRate float64
}

// Validate reports every field outside what the model is meant for.
func (r Riser) Validate() error {
	return checkAll([]limit{
		{"Riser.Inertia", r.Inertia, 0.02, math.MaxFloat64, 1, "kg m²", "0.25 kg m²"},
		{"Riser.HandStiffness", r.HandStiffness, 0, 1e4, 1, "N m/rad", "10 N m/rad"},
		{"Riser.HandDamping", r.HandDamping, 0, 50, 1, "N m s/rad", "0.2 N m s/rad"},
		{"Riser.HeldTorque", r.HeldTorque, -5, 5, 1, "N m", "0.1 N m"},
		{"Riser.ReleaseTorque", r.ReleaseTorque, -5, 5, 1, "N m", "0.1 N m"},
		{"Riser.ArmRate", r.ArmRate, -2, 2, 1, "rad/s", "0.02 rad/s"},
	})
}

// stance is the bow's sideways state just before release (eq. 12).
type stance struct {
	turn float64 // ψ_0 of the riser
	tip  float64 // w, the tips' give in the riser's frame
}

// hold finds the stance in which fingers at y0 and the held torque balance. It
// needs tips that hold the string in the riser's plane: 2 k_t x_t > F_L.
func (r *Riser) hold(at *instant, kt, y0 float64) stance {
	f := at.k * (at.x - at.tip) // static: the tips do not accelerate
	w := -r.HeldTorque / (2*kt*at.tip - f)
	return stance{
		turn: (at.k*(y0-w) - 2*kt*w) / (at.k*at.tip + f),
		tip:  w,
	}
}

// Rod is one mass or rod on the riser, for YawInertia.
type Rod struct {
	Mass unit.Mass
	// From and To are the distances of its ends from the grip along the line
	// of the shot; equal for a weight. Positive either way.
	From, To unit.Length
	// Aside is its distance from the vertical plane through the grip.
	Aside unit.Length
}

// YawInertia adds up rods and weights about the vertical through the grip,
// kg m²: for a rod along the shot m (a² + ab + b²)/3 + m·aside², exact for
// thin rods.
func YawInertia(parts ...Rod) float64 {
	sum := 0.0
	for _, p := range parts {
		a, b, y := float64(p.From), float64(p.To), float64(p.Aside)
		sum += float64(p.Mass) * ((a*a+a*b+b*b)/3 + y*y)
	}
	return sum
}
