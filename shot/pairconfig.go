package shot

import (
	"math"

	"tautline/bow"
	"tautline/unit"
)

// PairConfig says what a bow with two limbs of its own shoots, and how it is
// computed. Of Config, Model is Resolved or Lumped, Nodes 0 or at least 8, and
// After is not used.
type PairConfig struct {
	Config

	// Transfer is the time in which the string passes from the hook's place to
	// the nocking point as the fingers open; default 1 ms, usual 0.5 to 2
	// (assumed: nobody measured it).
	Transfer unit.Duration

	// PitchInertia of the riser with stabilisers about its balance point, in
	// the vertical plane, kg m²; default 0.25, usual 0.15 to 0.4.
	PitchInertia float64
	// BalanceX and BalanceY are the riser's balance point from the pressure
	// point; default −0.12 m and 0.
	BalanceX, BalanceY unit.Length
	// LiftStiffness and LiftDamping are the bow hand's vertical hold on the
	// grip; defaults 3 kN/m and 40 N s/m. Design.Riser has those along x.
	LiftStiffness unit.Stiffness
	LiftDamping   float64
	// Upright keeps the riser from turning: no real bow, a check of what it
	// does.
	Upright bool

	// Lift is the share of the draw force with which the fingers push the nock
	// up as they let go, over the first 3 mm of travel as a half sine; usual
	// −0.02 to 0.02.
	Lift float64
	// PitchRate is the bow arm's turning at release, rad/s, top toward the
	// archer: bow, string and arrow start with it. Usual −0.05 to 0.05.
	PitchRate float64

	// Rider is the arrow on the string in the vertical plane; nil leaves its
	// vertical inertia out, and the nock carries only what it has of the
	// string (the imposed form: the arrow's run follows on the path found).
	Rider Rider
}

// liftReach is the travel over which Lift acts.
const liftReach = 0.003

func (c PairConfig) withDefaults() PairConfig {
	c.Config = c.Config.withDefaults()
	def := func(x *float64, to float64) {
		if *x == 0 {
			*x = to
		}
	}
	def((*float64)(&c.Transfer), 1e-3)
	def(&c.PitchInertia, 0.25)
	def((*float64)(&c.BalanceX), -0.12)
	def((*float64)(&c.LiftStiffness), 3000)
	def(&c.LiftDamping, 40)
	return c
}

func (c PairConfig) validate() error {
	if err := c.Config.validate(); err != nil {
		return err
	}
	if c.Model.plain() {
		return &InputError{"Model", "two different limbs are shot with the production models only", "shot.Resolved or shot.Lumped"}
	}
	if c.Nodes != 0 && c.Nodes < 8 {
		return &InputError{"Nodes", "fewer than 8 string nodes tie the two tips' motions together", "10"}
	}
	return checkSpans([]span{
		{"Transfer", c.Transfer.Milliseconds(), 0.05, 10, "ms", "1 ms"},
		{"PitchInertia", c.PitchInertia, 0.005, 1e12, "kg m²", "0.25 kg m²"},
		{"BalanceX", c.BalanceX.Millimetres(), -1000, 500, "mm", "−120 mm"},
		{"BalanceY", c.BalanceY.Millimetres(), -500, 500, "mm", "0 mm"},
		{"LiftStiffness", float64(c.LiftStiffness), 0, 1e6, "N/m", "3000 N/m"},
		{"LiftDamping", c.LiftDamping, 0, 1e4, "N s/m", "40 N s/m"},
		{"Lift", c.Lift, -0.5, 0.5, "of the draw force", "0"},
		{"PitchRate", c.PitchRate, -2, 2, "rad/s", "0 rad/s"},
	})
}

// Rider is an arrow bending in the vertical plane, as modal amplitudes q of
// unit modal mass; arrow.Upright is one. Heights are up from the level through
// the pressure point. It keeps nothing between calls that a state depends on.
type Rider interface {
	// Modes is the number of amplitudes.
	Modes() int
	// Nock is the amplitudes' share in the nock's height; read-only.
	Nock() []float64
	// Line writes the amplitudes of the straight arrow through nock and rest.
	Line(nockX, nockY, restX, restY float64, q []float64)
	// Lie is Line with the sag of the arrow resting on both.
	Lie(nockX, nockY, restX, restY float64, q []float64)
	// Push writes the amplitudes' accelerations without the string's force on
	// the nock, and returns the rest's force on the shaft and the power that
	// leaves arrow and riser. nock is the nock's x, its rate, and the arrow's
	// acceleration toward the target; rest its x, y and their rates.
	Push(t float64, nock [3]float64, rest [4]float64, q, v, acc []float64) (push, lost float64)
	// Energy of bending and vertical motion.
	Energy(q, v []float64) float64
}

// pairSetting is everything one shot of a pair starts from, in SI.
type pairSetting struct {
	side               [2]setting
	root               [2][2]float64 // X0, Y0 of each limb from the pressure point
	cfg                PairConfig
	nockMass           float64
	mass, inertia      float64 // of the riser
	balance            [2]float64
	rest               [2]float64 // on the riser
	pull               [2]float64 // of the fingers at full draw
	kx, cx, ky, cy     float64    // of the hand
	clamped            bool
	phi, nockX, nockY  float64
	hookSide           int     // which part of the string starts at the hook
	hook               float64 // its distance from the nock, unstretched
	stretched          float64 // 1 + ε of that piece
	away               [2]float64
	vBrace, vFull      float64
	tipBrace, tipDrawn [2][2]float64 // on the riser, each limb's own frame
	brace              float64       // nock's distance at brace
}

// newPairSetting reads a strung pair and its drawn state.
func newPairSetting(p *bow.Pair, full bow.PairState, cfg PairConfig) pairSetting {
	d, set, brace := p.Design(), p.Setup(), p.Brace()
	st := full.ArrowLevel()
	s := pairSetting{
		cfg: cfg, nockMass: float64(d.String.NockMass), mass: float64(d.Riser.Mass), inertia: cfg.PitchInertia,
		balance: [2]float64{float64(cfg.BalanceX), float64(cfg.BalanceY)},
		rest:    [2]float64{float64(set.RestX), float64(set.RestY - set.Pressure)},
		pull:    [2]float64{float64(st.ForceX), float64(st.ForceY)},
		kx:      float64(d.Riser.HandStiffness), cx: d.Riser.HandDamping, ky: float64(cfg.LiftStiffness), cy: cfg.LiftDamping,
		clamped: d.Riser.Clamped, phi: float64(st.Pitch), nockX: float64(st.NockX), nockY: float64(st.NockY),
		hookSide: 1, hook: float64(set.Hook), vBrace: float64(brace.Energy), vFull: float64(st.Energy),
		brace: math.Hypot(float64(brace.NockX-brace.RestX), float64(brace.NockY-brace.RestY)),
	}
	if s.hook < 0 {
		s.hookSide, s.hook = 0, -s.hook
	}
	if cfg.Upright {
		s.inertia = 1e9
	}
	other := [2]unit.Force{st.TensionUpper, st.TensionLower}[1-s.hookSide]
	s.stretched = 1 + float64(other)/float64(d.String.EA)
	if s.hook > 0 {
		long := s.hook * s.stretched
		s.away = [2]float64{float64(st.NockX-st.HookX) / long, float64(st.NockY-st.HookY) / long}
	}
	upper, lower := p.Chains()
	rest := [2]float64{float64(st.RestUpper), float64(st.RestLower)}
	wrapped := [2]float64{float64(brace.WrappedUpper), float64(brace.WrappedLower)}
	theta, atBrace := [2][]float64{st.Upper, st.Lower}, [2][]float64{brace.Upper, brace.Lower}
	for i, c := range []*bow.Chain{upper, lower} {
		s.root[i] = [2]float64{c.X0, c.Y0}
		s.side[i] = setting{
			chain: c, l0: rest[i], ea: float64(d.String.EA), nockMass: float64(d.String.NockMass), arrow: float64(cfg.ArrowMass),
			// as if both halves were like this one
			stringMass: 2 * float64(d.String.Mass) * rest[i] / (rest[0] + rest[1]),
			tauL:       float64(d.Limb.JointDamping), tauS: float64(d.String.Damping), alpha: d.Limb.MassDamping,
			riser: float64(d.Riser.Mass), handStiffness: s.kx, handDamping: s.cx, clamped: s.clamped,
			clip: float64(cfg.ClipForce), nock: s.nockX, hold: s.pull[0],
			vBrace: s.vBrace, vFull: s.vFull, wrapped: wrapped[i] / rest[i], theta: theta[i],
		}
		s.tipBrace[i] = tipOf(c, atBrace[i], sigmas[i]*float64(brace.Pitch))
		s.tipDrawn[i] = tipOf(c, theta[i], sigmas[i]*s.phi)
	}
	return s
}

// tipOf is the limb's tip in the riser's frame, from the root.
func tipOf(c *bow.Chain, theta []float64, psi float64) (tip [2]float64) {
	for i, th := range theta {
		sin, cos := math.Sincos(th - psi)
		tip[0] += c.Len[i] * sin
		tip[1] += c.Len[i] * cos
	}
	return tip
}

// stored is W.
func (s *pairSetting) stored() float64 { return s.vFull - s.vBrace }

// transfer is how far the hook's place still is from the nock, unstretched, and
// its rate (eq. V11): h(1 − 3u² + 2u³), u = t/τ_h.
func (s *pairSetting) transfer(t float64) (h, rate float64) {
	u := t / float64(s.cfg.Transfer)
	if u >= 1 || s.hook == 0 {
		return 0, 0
	}
	return s.hook * (1 - u*u*(3-2*u)), -6 * s.hook * u * (1 - u) / float64(s.cfg.Transfer)
}
