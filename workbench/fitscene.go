package workbench

import (
	"math"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/notebook"
	"tautline/shot"
	"tautline/unit"
)

// scene is one set-up as the fitted model sees it: what follows from its
// settings, worked out once.
type scene struct {
	settings notebook.Settings
	limb     limbKey
	mass     unit.Mass // of the arrow
	side     Sideways
	sideErr  error // why the target cannot be predicted
	arrow    *arrow.Arrow
	up       Vertical
	turns    float64 // of the button
	turned   bool    // they were given
	sight    flight.Sight
}

// limbKey is all that bow and string need to know of a set-up; scenes that
// share it share the statics, and with the arrow's mass the shot.
type limbKey struct {
	brace, draw, offset unit.Length
	ea, mass, nock      float64 // string, against the fit's own
	weight              float64 // draw weight against the fit's own
}

// rig is what stays while a bow is fitted and wanted: the scaled bow, its
// parameters and the way the shot is computed.
type rig struct {
	fit     bow.Fit
	knobs   []knob
	moves   int // the first of knobs are the bow's moves
	prior   priorPlace
	hand    arrow.Hand
	base    *scene
	in      Inputs
	bundle  bow.Bundle
	string  bow.String // of the base set-up, as guessed
	upward  bool       // the sight's numbers grow upward
	model   shot.Model
	release func(kappa float64) arrow.Release
	// built, if not nil, changes the bow last: another way of losing energy,
	// for checking what that does to a fit.
	built func(*bow.Design)
}

// genericKappa is the release's usual push.
func genericKappa() float64 {
	if h, ok := arrow.GenericSetup().Release.(arrow.HalfSine); ok {
		return h.Kappa
	}
	return 0.2
}

// halfSine is the usual release law.
func halfSine(kappa float64) arrow.Release { return arrow.HalfSine{Kappa: kappa, Over: 0.003} }

// newRig takes a scaled bow apart into parameters.
func newRig(fit bow.Fit, in Inputs, s notebook.Settings, hand arrow.Hand) (*rig, error) {
	g := &rig{fit: fit, hand: hand, in: in, release: halfSine, model: shot.Resolved}
	guess, err := in.Known.String.Guess()
	if err != nil {
		return nil, err
	}
	g.string, g.bundle = guess.String, guess.Bundle
	if g.base, err = g.scene(s); err != nil {
		return nil, err
	}
	free, err := fit.Freedom()
	if err != nil {
		return nil, err
	}
	g.knobs = bowKnobs(free)
	g.moves = len(g.knobs)
	side := g.base.side
	if g.base.sideErr != nil {
		side = Sideways{Setup: arrow.GenericSetup()}
	}
	for _, k := range otherKnobs(in, side, s) {
		g.knobs = append(g.knobs, k)
	}
	g.prior = newPriorPlace(free.Precision, g.knobs)
	return g, nil
}

// at is the place of one of the parameters after the bow's moves.
func (g *rig) at(k int) int { return g.moves + k }

// scene works out what follows from settings. Only what the shot along the
// string needs is required; what the target needs may be missing.
func (g *rig) scene(s notebook.Settings) (*scene, error) {
	in, err := FromSettings(s)
	if err != nil {
		return nil, err
	}
	guess, err := in.Known.String.Guess()
	if err != nil {
		return nil, err
	}
	brace := in.Now
	if brace == 0 {
		brace = g.fit.Brace()
	}
	// the fit's own draw weight may have been read with a scale; only a set-up
	// that says another one asks for other limbs or bolts
	known := g.in.Known
	sc := &scene{settings: s, mass: in.ArrowMass}
	sc.limb = limbKey{
		brace: brace, draw: in.Known.Draw, offset: in.Known.PivotOffset - known.PivotOffset,
		ea: float64(guess.String.EA / g.string.EA), mass: float64(guess.String.Mass / g.string.Mass), nock: 1,
		weight: float64(in.Known.DrawWeight / known.DrawWeight),
	}
	if in.StringMass > 0 {
		own := g.in.StringMass
		if own == 0 {
			own = g.string.Mass
		}
		sc.limb.mass = float64(in.StringMass / own)
	} else if g.in.StringMass > 0 {
		sc.limb.mass = float64(guess.String.Mass / g.in.StringMass)
	}
	whose := s
	if g.base != nil {
		whose = g.base.settings
	}
	sc.sight = sightBeside(whose, s, false)
	if b := s.Button.Turns; b != nil {
		sc.turns, sc.turned = *b, true
	}
	sc.side, sc.sideErr = SidewaysFromSettings(s, g.hand)
	if sc.sideErr == nil {
		sc.arrow, sc.sideErr = arrow.New(sc.side.Arrow, arrow.Resolution{})
		sc.up = VerticalFromSettings(s, unit.Length(sc.side.Arrow.Diameter))
	}
	return sc, nil
}

// world is one bow, archer and air: the rig at one place of its parameters.
type world struct {
	*rig
	x []float64 // in the parameters' own units
}

// world is the rig at a place in prior standard deviations.
func (g *rig) world(u []float64) *world { return &world{g, g.prior.natural(u)} }

// other is the value of a parameter after the bow's moves.
func (w *world) other(k int) float64 { return w.x[w.moves+k] }

// stands is a bow braced and drawn.
type stands struct {
	model       *bow.Model
	brace, full bow.State
	slope       unit.Stiffness
	square      unit.Length // true brace height less what is read
}

// stand braces and draws the bow of a scene.
func (w *world) stand(l limbKey) (s stands, err error) {
	d, square, err := w.fit.Moved(w.x[:w.moves])
	if err != nil {
		return s, err
	}
	times := func(k int) float64 { return math.Exp(w.other(k)) }
	if w.in.StringMass > 0 {
		d.String.Mass = w.in.StringMass
	}
	d.Limb.Density *= times(kLimbMass)
	d.Limb.TipMass *= unit.Mass(times(kTipMass))
	d.Limb.JointDamping *= unit.Duration(times(kJointDamping))
	d.Limb.MassDamping *= times(kMassDamping)
	d.String.Mass *= unit.Mass(l.mass * times(kStringMass))
	d.String.NockMass *= unit.Mass(l.nock * times(kNockMass))
	d.String.EA *= unit.Force(l.ea)
	d.Limb.StiffnessScale *= l.weight
	d.Riser.PocketX -= l.offset
	d.FullDraw = l.draw
	if w.built != nil {
		w.built(&d)
	}
	m, err := shot.NewModel(d, w.shotConfig(20*unit.Gram))
	if err != nil {
		return s, err
	}
	s = stands{model: m, square: square}
	if s.brace, err = m.Brace(l.brace + square); err != nil {
		return s, err
	}
	const back = 0.015
	before, err := m.At(s.brace, l.draw-back)
	if err != nil {
		return s, err
	}
	if s.full, err = m.At(before, l.draw); err != nil {
		return s, err
	}
	s.slope = unit.Stiffness(float64(s.full.Force-before.Force) / back)
	return s, nil
}

func (w *world) shotConfig(mass unit.Mass) shot.Config {
	clip := w.in.ClipForce
	if clip == 0 {
		clip = defaultClip
	}
	return shot.Config{ArrowMass: mass, ClipForce: clip, Model: w.model}
}

// loosed is a shot along the string.
type loosed struct {
	result shot.Result
	drive  *arrow.Drive
}

// loose shoots; with the drive for the arrow's sideways motion if wanted.
func (w *world) loose(s stands, mass unit.Mass, drive bool) (out loosed, err error) {
	cfg := w.shotConfig(mass)
	cfg.History = drive
	sim, err := shot.NewSimulatorAt(s.model, s.brace, s.full, cfg)
	if err != nil {
		return out, err
	}
	if out.result, err = sim.Run(); err != nil || !drive {
		return out, err
	}
	out.drive, err = driveFrom(out.result, s.full, s.slope)
	out.result.History = nil
	return out, err
}

// sideways is the set-up of a scene at these parameters.
func (w *world) sideways(sc *scene) arrow.Setup {
	set := sc.side.Setup
	spring := float64(set.Button.Stiffness) * math.Exp(w.other(kButtonSpring))
	set.Button.Stiffness = unit.Stiffness(spring)
	if sc.turned {
		force := float64(zeroPreload) + w.other(kButtonZero) + spring*float64(threadPitch)*math.Exp(w.other(kButtonThread))*sc.turns
		set.Button.Preload = unit.Force(math.Min(float64(mostPreload), math.Max(0, force)))
	} else {
		set.Button.Preload *= unit.Force(math.Exp(w.other(kButtonThread)))
		set.Button.Preload = max(0, set.Button.Preload+unit.Force(w.other(kButtonZero)))
	}
	set.Tips.Stiffness *= unit.Stiffness(math.Exp(w.other(kTips)))
	set.CentreShot += unit.Length(w.other(kCentre))
	set.Release = w.release(genericKappa() * math.Exp(w.other(kRelease)))
	return set
}

// left is an arrow that has left the bow.
type left struct {
	result arrow.Result
	launch flight.Launch
}

// leave computes the arrow's way out.
func (w *world) leave(sim *arrow.Simulator, sc *scene, d *arrow.Drive) (out left, err error) {
	out.result, err = sim.Shoot(sc.arrow, d, w.sideways(sc))
	if err == nil {
		out.launch = launchOf(sc.arrow, &out.result)
	}
	return out, err
}

// flyers of a scene at these parameters.
func (w *world) flyers(sc *scene) (f flyers, err error) {
	made := func(d arrow.Design) (*flight.Flyer, error) {
		b := bodyOf(d)
		drag := math.Exp(w.other(kDrag))
		b.Drag.Laminar, b.Drag.Turbulent = b.Drag.Laminar*drag, b.Drag.Turbulent*drag
		b.Slopes = b.EstimatedSlopes()
		b.Slopes.Crossflow *= math.Exp(w.other(kCrossflow))
		b.Slopes.VaneArea *= math.Exp(w.other(kVanes))
		return flight.New(b, sc.side.Air)
	}
	if f.fletched, err = made(sc.side.Arrow); err != nil {
		return f, err
	}
	f.bare, err = made(sc.side.Arrow.BareTaped())
	return f, err
}
