package shot

import (
	"tautline/bow"
)

// setting is everything one shot starts from, in bare SI units. Lengths of
// string are halves; masses and forces are those of the whole bow.
type setting struct {
	chain *bow.Chain

	l0, ea                      float64 // half rest length; stretching stiffness
	stringMass, nockMass, arrow float64
	tauL, tauS, alpha           float64 // damping of joints, string, limb mass
	riser                       float64
	handStiffness, handDamping  float64
	clamped                     bool
	clip                        float64 // force that holds the nock on the string
	brace, nock                 float64 // nock's place at brace and at full draw
	hold                        float64 // draw force, which the bow hand balances
	vBrace, vFull               float64 // elastic energy at brace and full draw
	wrapped                     float64 // share of the half string lying on the limb at brace
	theta                       []float64
}

// newSetting reads a bow's model and its two equilibria.
func newSetting(m *bow.Model, brace, full bow.State, cfg Config) setting {
	d := m.Design()
	return setting{
		chain: m.Chain(),
		l0:    float64(full.HalfRest), ea: float64(d.String.EA),
		stringMass: float64(d.String.Mass), nockMass: float64(d.String.NockMass), arrow: float64(cfg.ArrowMass),
		tauL: float64(d.Limb.JointDamping), tauS: float64(d.String.Damping), alpha: d.Limb.MassDamping,
		riser: float64(d.Riser.Mass), clamped: d.Riser.Clamped,
		handStiffness: float64(d.Riser.HandStiffness), handDamping: d.Riser.HandDamping,
		clip:  float64(cfg.ClipForce),
		brace: float64(brace.Nock), nock: float64(full.Nock), hold: float64(full.Force),
		vBrace: float64(brace.Energy), vFull: float64(full.Energy),
		wrapped: float64(brace.Wrapped / brace.HalfRest),
		theta:   full.Theta,
	}
}

// stored is W, the energy put in from brace to full draw.
func (s *setting) stored() float64 { return s.vFull - s.vBrace }
