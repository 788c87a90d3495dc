package bow

import (
	"math/rand/v2"

	"tautline/unit"
)

// randomBow varies the generic bow by inputs alone, over the span string.md
// section 4 was tried on: Φ0 and EI, EA ±50 %, L ±8 %, Rec ±35 %, masses
// ±30…50 %; the draw weight of each is what comes out.
func randomBow(r *rand.Rand) (Design, unit.Length) {
	d := Generic()
	vary := func(share float64) float64 { return 1 + share*(2*r.Float64()-1) }
	d.Riser.PocketAngle *= unit.Angle(vary(0.5))
	d.Limb.Length *= unit.Length(vary(0.08))
	d.Limb.Recurve *= unit.Angle(vary(0.35))
	d.Limb.StiffnessScale *= vary(0.5)
	d.String.EA *= unit.Force(vary(0.5))
	d.Limb.TipMass *= unit.Mass(vary(0.5))
	d.Limb.Density *= vary(0.3)
	d.String.Mass *= unit.Mass(vary(0.3))
	return d, unit.Length(0.190 + 0.060*r.Float64())
}
