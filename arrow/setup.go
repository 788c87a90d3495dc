package arrow

import (
	"errors"
	"fmt"
	"math"

	"tautline/unit"
)

// Hand says for which hand the bow is built: the side the arrow lies on.
type Hand int

const (
	// RightHanded: the archer draws with the right hand, outward is left.
	RightHanded Hand = iota
	// LeftHanded is the mirror.
	LeftHanded
)

// String says "right-handed" or "left-handed".
func (h Hand) String() string {
	if h == LeftHanded {
		return "left-handed"
	}
	return "right-handed"
}

// right turns an outward value into one positive to the right.
func (h Hand) right(outward float64) float64 {
	if h == LeftHanded {
		return outward
	}
	return -outward
}

// Setup is everything sideways that is not the arrow or the drive. Outward
// values are positive away from the riser's side, so that the same numbers
// describe a right-handed bow and its left-handed mirror.
type Setup struct {
	Hand   Hand
	Button Button
	String StringSide
	Tips   Tips

	// CentreShot (Y_b) is the shaft's axis at the button outward of the
	// string plane, the plunger just touched; usual 0 to 3 mm.
	CentreShot unit.Length

	// NockAside is the nock's place at release outward of the string plane,
	// 0 unless the draw hand is off line; usual −2 to 2 mm.
	NockAside unit.Length

	// Release is the fingers' law; nil for a machine that lets go straight.
	Release Release

	// Riser is nil for a riser that does not turn.
	Riser *Riser
}

// Button is the pressure button (eq. 9).
type Button struct {
	// Place along the arrow from the pivot, positive toward the archer;
	// usual −5 to 10 mm.
	Place unit.Length
	// Preload is the force at which the plunger starts to move, usual 0.5 to
	// 4 N. Nobody reads it off a button: it comes from a spring, turns from a
	// marked zero and a fitted newtons-per-turn.
	Preload unit.Force
	// Stiffness of its spring, usual 0.3 to 3 N/mm.
	Stiffness unit.Stiffness
	// Damping of the plunger in N s/m, usual 0 to 3.
	Damping float64
	// Travel until it stops, usual 2 to 5 mm.
	Travel unit.Length
	// Contact is the stiffness of shaft wall and plunger tip, usual 20 to
	// 100 N/mm; the stop has half of it.
	Contact unit.Stiffness
	// Proud is how far the plunger stands out from the riser's wall, usual
	// 8 to 18 mm; 0 if unknown. Only the gap between vane and riser needs it.
	Proud unit.Length
}

// StringSide is what the nock carries of the string, sideways (eq. 6).
type StringSide struct {
	// Carried is the mass that moves with the nock (m_s): a third of the
	// string and what is served on it; usual 2 to 5 g.
	Carried unit.Mass
	// Damping of the nock's sideways motion in N s/m, usual 0 to 0.3.
	Damping float64
}

// Tips are the limb tips, which give way sideways (eq. 7). Never measured by
// hanging a weight sideways on a braced limb: the string can jump off.
type Tips struct {
	// Stiffness of one tip (k_t), about 1 N/mm with a wide doubt.
	Stiffness unit.Stiffness
	// Mass of one tip that moves with it (m_t), usual 10 to 30 g.
	Mass unit.Mass
	// DampingRatio of tip on its stiffness, usual 0.02 to 0.1.
	DampingRatio float64
	// Rigid holds the tips still: no real bow, a check of what they do.
	Rigid bool
}

// damping of one tip in N s/m.
func (t Tips) damping() float64 {
	return 2 * t.DampingRatio * math.Sqrt(float64(t.Stiffness)*float64(t.Mass))
}

// GenericSetup is the set-up of the checks against an independent engine:
// invented, ordinary for a 44 lbf recurve.
func GenericSetup() Setup {
	return Setup{
		Button: Button{
			Preload: 1.5, Stiffness: 1000, Damping: 1, Travel: 0.004, Contact: 40000, Proud: 0.012,
		},
		String:     StringSide{Carried: 0.010 / 3, Damping: 0.1},
		Tips:       Tips{Stiffness: 1100, Mass: 0.018, DampingRatio: 0.05},
		CentreShot: 0.0005,
		Release:    HalfSine{Kappa: 0.2, Over: 0.003},
	}
}

// Validate reports every field outside what the model is meant for, all joined
// in one error of InputErrors.
func (s Setup) Validate() error {
	b := s.Button
	errs := []error{checkAll([]limit{
		{"Hand", float64(s.Hand), 0, 1, 1, "", "RightHanded or LeftHanded"},
		mm("Button.Place", b.Place, -0.1, 0.1, "0 mm"),
		{"Button.Preload", float64(b.Preload), 0, 50, 1, "N", "1.5 N"},
		{"Button.Stiffness", float64(b.Stiffness), 0, 1e5, 1e-3, "N/mm", "1 N/mm"},
		{"Button.Damping", b.Damping, 0, 10, 1, "N s/m", "1 N s/m"},
		mm("Button.Travel", b.Travel, 0, 0.02, "4 mm"),
		{"Button.Contact", float64(b.Contact), 1e3, 2e5, 1e-3, "N/mm", "40 N/mm"},
		mm("Button.Proud", b.Proud, 0, 0.05, "12 mm"),
		gram("String.Carried", s.String.Carried, 0, 0.03, "3.3 g"),
		{"String.Damping", s.String.Damping, 0, 10, 1, "N s/m", "0.1 N s/m"},
		{"Tips.Stiffness", float64(s.Tips.Stiffness), 50, 1e5, 1e-3, "N/mm", "1 N/mm"},
		gram("Tips.Mass", s.Tips.Mass, 0.001, 0.2, "18 g"),
		{"Tips.DampingRatio", s.Tips.DampingRatio, 0, 1, 1, "", "0.05"},
		mm("CentreShot", s.CentreShot, -0.03, 0.03, "1 mm"),
		mm("NockAside", s.NockAside, -0.03, 0.03, "0 mm"),
	})}
	if r := s.Release; r != nil {
		if reach := float64(r.Reach()); !(reach > 0 && reach <= 0.1) {
			errs = append(errs, &InputError{"Release", fmt.Sprintf("the fingers' reach of %g m is outside 0 to 0.1 m", reach), "3 mm"})
		}
	}
	if s.Riser != nil {
		errs = append(errs, s.Riser.Validate())
		if s.Tips.Rigid {
			errs = append(errs, &InputError{"Tips.Rigid", "rigid tips are for a riser that does not turn", "Tips.Rigid false"})
		}
	}
	return errors.Join(errs...)
}
