package shot

import (
	"math/rand/v2"

	"tautline/bow"
	"tautline/unit"
)

// randomBow varies the generic bow by its inputs alone, over the span that
// string.md section 4 names: Φ0, EI and EA ±50 %, limb length ±8 %, recurve
// ±35 %, masses ±30 to 50 %, brace height 190 to 250 mm, three in ten undamped.
func randomBow(r *rand.Rand) (bow.Design, unit.Length, Config) {
	d := bow.Generic()
	vary := func(share float64) float64 { return 1 + share*(2*r.Float64()-1) }
	d.Riser.PocketAngle *= unit.Angle(vary(0.5))
	d.Limb.Length *= unit.Length(vary(0.08))
	d.Limb.Recurve *= unit.Angle(vary(0.35))
	d.Limb.StiffnessScale *= vary(0.5)
	d.String.EA *= unit.Force(vary(0.5))
	d.Limb.TipMass *= unit.Mass(vary(0.5))
	d.Limb.Density *= vary(0.3)
	d.String.Mass *= unit.Mass(vary(0.3))
	d.String.NockMass *= unit.Mass(vary(0.5))
	d.Riser.Mass *= unit.Mass(vary(0.3))
	cfg := Config{ArrowMass: unit.Mass(0.022 * vary(0.3)), ClipForce: 5}
	brace := unit.Length(0.190 + 0.060*r.Float64())
	if r.Float64() < 0.3 {
		d.Limb.JointDamping, d.Limb.MassDamping, d.String.Damping = 0, 0, 0
	}
	return d, brace, cfg
}
