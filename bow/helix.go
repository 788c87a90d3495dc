package bow

import (
	"fmt"
	"math"

	"tautline/unit"
)

// The helix relations of a twisted cord (B11; Wuertz et al. 2010, equations
// as read there), for strands of length l0 at one helix radius r and a total
// twist θ = 2π·turns.

// ShorteningRigid is how much shorter a cord gets when its strands keep their
// length and their helix radius: L0 − √(L0² − θ²r²) (eq. 15).
func ShorteningRigid(l0, r unit.Length, turns float64) (unit.Length, error) {
	l, tr, err := helixInput(l0, r, turns)
	if err != nil {
		return 0, err
	}
	// the difference of two near numbers, written without cancellation
	return unit.Length(tr * tr / (l + math.Sqrt(l*l-tr*tr))), nil
}

// ShorteningVolume is the same when the cord keeps its volume and so thickens:
// L² = L0² − θ²r0²·L0/L (eq. 16). It describes real cords better up to medium
// twist (Hanlan, Davis & Durian 2023, abstract).
func ShorteningVolume(l0, r unit.Length, turns float64) (unit.Length, error) {
	l, tr, err := helixInput(l0, r, turns)
	if err != nil {
		return 0, err
	}
	// with x = L/L0 and q = (θr/L0)²: x³ − x + q = 0, the root near 1; it is
	// lost beyond q = 2/(3√3), where the cord can shorten no further
	q := tr * tr / (l * l)
	if q > 2/(3*math.Sqrt(3)) {
		return 0, twistTooFar(turns, l0)
	}
	y := 0.0 // y = 1 − x, so that small shortenings keep their digits
	for range 100 {
		f := 2*y - 3*y*y + y*y*y - q
		d := f / (2 - 6*y + 3*y*y)
		y -= d
		if math.Abs(d) <= 1e-16+1e-15*y {
			break
		}
	}
	return unit.Length(l * y), nil
}

// ShorteningSmall is the small-twist limit of both: 2π²·turns²·r²/L0 (eq. 17).
func ShorteningSmall(l0, r unit.Length, turns float64) unit.Length {
	return unit.Length(2*math.Pi*math.Pi*turns*turns) * r * r / l0
}

// HelixAngle is the strands' angle from the axis in a cord of rigid strands:
// tan α = θr/p with p the twisted length (eq. 18).
func HelixAngle(l0, r unit.Length, turns float64) (unit.Angle, error) {
	l, tr, err := helixInput(l0, r, turns)
	if err != nil {
		return 0, err
	}
	return unit.Angle(math.Asin(tr / l)), nil
}

// TorquePerForce is the torque that holds the twist, per newton of tension:
// θr²/p in metres (eq. 18).
func TorquePerForce(l0, r unit.Length, turns float64) (unit.Length, error) {
	a, err := HelixAngle(l0, r, turns)
	return r * unit.Length(math.Tan(float64(a))), err
}

// helixInput returns l0 and θr, refusing twists past the packing limit: a
// pitch below four helix radii, tan α = π/2, where two strands touch.
func helixInput(l0, r unit.Length, turns float64) (l, tr float64, err error) {
	l, tr = float64(l0), 2*math.Pi*math.Abs(turns)*float64(r)
	if !(l > 1e-6 && l < 1e6) {
		return 0, 0, &InputError{"l0", fmt.Sprintf("%g m is not a cord's length", l), "1650 mm"}
	}
	if !(r >= 0 && r < 1e6) || !(math.Abs(turns) < 1e9) {
		return 0, 0, &InputError{"r", fmt.Sprintf("radius %g m and %g turns make no helix", float64(r), turns), "0.8 mm and 20 turns"}
	}
	if tr/l > math.Sin(math.Atan(math.Pi/2)) {
		return 0, 0, twistTooFar(turns, l0)
	}
	return l, tr, nil
}

func twistTooFar(turns float64, l0 unit.Length) error {
	return &InputError{"turns", fmt.Sprintf("%.1f turns are more than a cord of %.0f mm can take", turns, float64(l0)*1e3), "20 turns"}
}
