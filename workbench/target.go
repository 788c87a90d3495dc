package workbench

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/shot"
	"tautline/unit"
)

// Sideways is what the target needs to know beyond the bow: the arrow, and the
// set-up in the horizontal plane. SidewaysFromSettings makes it from a
// notebook's settings.
type Sideways struct {
	Arrow arrow.Design
	Setup arrow.Setup
	// CentreKnown: the centre shot was read, not assumed.
	CentreKnown bool
	// PinAhead is how far the sight's pin stands ahead of the pivot.
	PinAhead unit.Length
	// Inertia of the riser with its stabilisers about the grip, kg m²; 0 when
	// none are given. Only forgiveness needs it.
	Inertia float64
	// Air defaults to the standard air.
	Air flight.Air
	// Assumed says in words what was filled in because it was not given.
	Assumed []string
}

// Impact is what the target and the bow show of one set-up, each with the
// span of 90 % of the plausible bows, buttons, releases and limb tips. Right is
// right as seen from the shooting line, for every archer. Absolute places are
// not to be trusted before anything was fitted: look at changes.
//
// It leaves out what shot, arrow and flight leave out: the vertical plane of
// the string, spin, gusts.
type Impact struct {
	// Bare18 and Bare30 are the bare shaft, its tail taped to equal mass, less
	// the fletched arrow at 18 and 30 m.
	Bare18, Bare30 Estimate[unit.Length]
	// Right70 is the fletched arrow at 70 m from the string plane's line.
	Right70 Estimate[unit.Length]
	// Speed70 is its speed there, Drift70 its drift per m/s of crosswind.
	Speed70 Estimate[unit.Speed]
	Drift70 Estimate[unit.Length]
	// TailGap is the smallest gap between the shaft's tail and the button.
	TailGap Estimate[unit.Length]
	// ContactEnd is when the shaft last touched the button, from release.
	ContactEnd Estimate[unit.Duration]
	// YawRate of the arrow as it flies off, rad/s, positive when the point
	// turns right.
	YawRate Estimate[float64]
	// Mode1 is the arrow's first free bending frequency in hertz.
	Mode1 float64
	// ThrustRatio is peak thrust over the shaft's buckling load.
	ThrustRatio Estimate[float64]
	// Window says whether a bare shaft tells stiff from weak here, and why not.
	Window arrow.Window
	// InShare is the share of the plausible set-ups that are in the window.
	InShare float64
	// WalkBack is the line of fletched arrows over many distances.
	WalkBack WalkBack
	Bows     int // plausible set-ups behind the intervals
}

// LeastInShare is the share of plausible set-ups that must lie in the window
// before stiff or weak is said of this one: more likely in than not.
const LeastInShare = 0.5

// Tuning is what a bare shaft's place would say of the shaft.
type Tuning string

// The answers.
const (
	Weak       Tuning = "weak"
	Stiff      Tuning = "stiff"
	CannotTell Tuning = "cannot tell"
)

// Tuning says how the fletched arrow's bare twin would read, and the reason
// when nothing may be said: outside the window, or a span on both sides.
func (i Impact) Tuning(hand arrow.Hand) (Tuning, string) {
	switch {
	case !i.Window.In:
		return CannotTell, i.Window.Reason
	case i.InShare < LeastInShare:
		return CannotTell, "for too many plausible buttons and releases the bare shaft does not tell stiff from weak here"
	case i.Bare30.Low <= 0 && i.Bare30.High >= 0:
		return CannotTell, "the plausible set-ups put the bare shaft on both sides"
	}
	if (i.Bare30.Value > 0) == (hand == arrow.RightHanded) {
		return Weak, ""
	}
	return Stiff, ""
}

// stretch is one set-up's values of what nobody measured.
type stretch struct {
	preload, stiffness, kappa, tips float64     // factors
	centre                          unit.Length // added
}

// Doubts of the sideways priors, as one standard deviation of the logarithm
// (assumed): nobody reads newtons off a button, and no release was measured.
// Two of them span what is called plausible of an ordinary bow: preload 0.75
// to 3 N, spring 0.5 to 2 N/mm, release 0.13 to 0.30 of the draw force (the
// nock 1 to 2.2 mm aside), tips 0.74 to 1.6 N/mm.
const (
	preloadDoubt   = 0.35
	stiffnessDoubt = 0.35
	kappaDoubt     = 0.20
	tipsDoubt      = 0.20
	centreDoubt    = 0.5 * unit.Millimetre
)

// draws are the plausible values; the first is the middle. They depend on n
// alone, so that two predictions differ only by what was changed.
func draws(n int, centreKnown bool) []stretch {
	r := rand.New(rand.NewPCG(seed, 70))
	out := []stretch{{1, 1, 1, 1, 0}}
	log := func(sd float64) float64 { return math.Exp(sd * max(-2, min(2, r.NormFloat64()))) }
	for range n - 1 {
		d := stretch{log(preloadDoubt), log(stiffnessDoubt), log(kappaDoubt), log(tipsDoubt), 0}
		off := centreDoubt * unit.Length(r.NormFloat64())
		if !centreKnown {
			d.centre = off
		}
		out = append(out, d)
	}
	return out
}

// apply makes a set-up of the middle one.
func (d stretch) apply(s arrow.Setup) arrow.Setup {
	s.Button.Preload *= unit.Force(d.preload)
	s.Button.Stiffness *= unit.Stiffness(d.stiffness)
	s.Tips.Stiffness *= unit.Stiffness(d.tips)
	s.CentreShot += d.centre
	if h, ok := s.Release.(arrow.HalfSine); ok {
		h.Kappa *= d.kappa
		s.Release = h
	}
	return s
}

// driveOf shoots one bow and writes down what it does to the arrow. Places are
// those of shot.History, which start at the pivot: the riser's few millimetres
// of recoil stay in, so that the nock's speed is its rate.
func driveOf(m *bow.Model, brace, full bow.State, slope unit.Stiffness, cfg shot.Config) (*arrow.Drive, error) {
	cfg.History = true
	sim, err := shot.NewSimulatorAt(m, brace, full, cfg)
	if err != nil {
		return nil, err
	}
	r, err := sim.Run()
	if err != nil {
		return nil, err
	}
	return driveFrom(r, full, slope)
}

// driveFrom writes down what a shot with its history does to the arrow.
func driveFrom(r shot.Result, full bow.State, slope unit.Stiffness) (*arrow.Drive, error) {
	h, n := r.History, r.History.Separation+1
	return arrow.NewDrive(arrow.DriveTable{
		Time: h.Time[:n], Nock: h.Nock[:n], Speed: h.Speed[:n], Acceleration: h.ArrowAcc[:n], Tension: h.Tension[:n],
		Half: h.Half[:n], TipX: h.TipX[:n], Draw: full.Force, DrawSlope: slope,
	})
}

// drawSlope is the draw curve's slope at full draw.
func drawSlope(c bow.Curve) unit.Stiffness {
	last, before := c.Points[len(c.Points)-1], c.Points[len(c.Points)-2]
	return unit.Stiffness(float64(last.Force-before.Force) / float64(last.Nock-before.Nock))
}

// flyers are one fletched arrow and its bare twin ready to fly. It is never
// changed.
type flyers struct{ fletched, bare *flight.Flyer }

func newFlyers(d arrow.Design, air flight.Air) (f flyers, err error) {
	if f.fletched, err = flight.New(bodyOf(d), air); err != nil {
		return f, err
	}
	f.bare, err = flight.New(bodyOf(d.BareTaped()), air)
	return f, err
}

// bodyOf is the design as the air sees it.
func bodyOf(d arrow.Design) flight.Body {
	b := flight.Body{Mass: d.Mass(), Length: d.Length, Balance: d.Balance(), Inertia: d.Inertia(), Diameter: d.Diameter, Drag: flight.BareDrag()}
	if f := d.Fletching; f.Count > 0 {
		b.Vanes, b.Drag = flight.Vanes{Count: f.Count, Height: f.Height, Size: f.Size, Place: f.Place}, flight.FletchedDrag()
	}
	return b
}

// launchOf turns a shot into the start of a flight. The four lowest bending
// modes hold all but a hundredth of what still swings.
func launchOf(a *arrow.Arrow, r *arrow.Result) flight.Launch {
	l := flight.Launch{
		Speed: r.Speed, Drift: r.Direction(), Yaw: r.Clear.YawRight, YawRate: r.Clear.YawRate,
		Ahead: r.Clear.Ahead, Right: r.Clear.Right,
	}
	for _, v := range r.Ringing[:min(4, len(r.Ringing))] {
		l.Ringing = append(l.Ringing, flight.Ringing{SquaredSpeed: a.SquaredSpeed(v, 13), Decay: v.Decay})
	}
	return l
}

// hole is what one plausible set-up puts on the target.
type hole struct {
	bare18, bare30, right70, drift70 float64
	speed70                          float64
	walk                             walk
	shot                             arrow.Result
	window                           arrow.Window
	err                              error
}

// fly lets the fletched arrow and its bare twin go from the same shot. At 18
// and 30 m both leave level; at 70 m the arrow is aimed.
func (f flyers) fly(a *arrow.Arrow, r *arrow.Result) (h hole, err error) {
	l := launchOf(a, r)
	if h.bare18, err = f.apart(l, 18); err != nil {
		return h, err
	}
	if h.bare30, err = f.apart(l, 30); err != nil {
		return h, err
	}
	elevation, far, err := f.fletched.Aim(l, flight.Wind{}, 70, 0)
	if err != nil {
		return h, err
	}
	l.Elevation = elevation
	drift, err := f.fletched.Drift(l, 70)
	h.right70, h.speed70, h.drift70 = float64(far.Right), float64(far.Speed), float64(drift)
	return h, err
}

// apart is the bare shaft less the fletched arrow, m, both leaving level.
func (f flyers) apart(l flight.Launch, x unit.Length) (float64, error) {
	bare, one := f.bare.Fly(l, flight.Wind{}, x)
	fletched, two := f.fletched.Fly(l, flight.Wind{}, x)
	return float64(bare.Right - fletched.Right), errors.Join(one, two)
}

// chain is the whole way from one member's string to the target.
func (b *BowModel) chain(m member, height unit.Length, model shot.Model, a *arrow.Arrow, set arrow.Setup, f flyers) (h hole) {
	cfg := b.shotConfig()
	cfg.Model = model
	limb := m.model
	if model != shot.Resolved {
		limb, h.err = shot.NewModel(m.model.Design(), cfg)
	}
	var curve bow.Curve
	if h.err == nil {
		curve, h.err = limb.Draw(height + m.shift)
	}
	var drive *arrow.Drive
	if h.err == nil {
		drive, h.err = driveOf(limb, curve.Brace, curve.Full, drawSlope(curve), cfg)
	}
	if h.err != nil {
		return h
	}
	return judged(drive, a, set, f)
}

// judged is the arrow's part of the chain, with its neighbours in spine for
// the window.
func judged(d *arrow.Drive, a *arrow.Arrow, set arrow.Setup, f flyers) (h hole) {
	sim, err := arrow.NewSimulator(arrow.Config{})
	if err != nil {
		return hole{err: err}
	}
	j, err := sim.Judge(a, d, set)
	if err != nil {
		return hole{err: err}
	}
	h, h.err = f.fly(a, &j.Result)
	if h.err == nil {
		h.walk, h.err = f.walk(launchOf(a, &j.Result))
	}
	h.shot, h.window = j.Result, j.Window
	return h
}

// Target predicts what the target shows at a brace height, with the string
// model asked for (shot.Resolved or shot.Lumped). It takes about 3 ms for each
// plausible bow, on all cores; ctx stops it.
func (b *BowModel) Target(ctx context.Context, side Sideways, height unit.Length, model shot.Model) (Impact, error) {
	a, err := arrow.New(side.Arrow, arrow.Resolution{})
	if err != nil {
		return Impact{}, err
	}
	f, err := newFlyers(side.Arrow, side.Air)
	if err != nil {
		return Impact{}, err
	}
	n := len(b.members)
	unknown := draws(n, side.CentreKnown)
	holes := make([]hole, n)
	err = each(ctx, n, func(j int) {
		holes[j] = b.chain(b.members[j], height, model, a, unknown[j].apply(side.Setup), f)
	})
	if err != nil {
		return Impact{}, err
	}
	if holes[0].err != nil {
		return Impact{}, holes[0].err
	}
	return impact(a, holes), nil
}

// impact gathers the holes; plausible bows that could not be shot are left
// out.
func impact(a *arrow.Arrow, holes []hole) Impact {
	var good []hole
	in := 0
	for _, h := range holes[1:] {
		if h.err == nil {
			good = append(good, h)
			if h.window.In {
				in++
			}
		}
	}
	best := holes[0]
	out := Impact{
		Bare18: gather[unit.Length](best, good, func(h hole) float64 { return h.bare18 }),
		Bare30: gather[unit.Length](best, good, func(h hole) float64 { return h.bare30 }),

		Right70:     gather[unit.Length](best, good, func(h hole) float64 { return h.right70 }),
		Speed70:     gather[unit.Speed](best, good, func(h hole) float64 { return h.speed70 }),
		Drift70:     gather[unit.Length](best, good, func(h hole) float64 { return h.drift70 }),
		TailGap:     gather[unit.Length](best, good, func(h hole) float64 { return float64(h.shot.TailGap) }),
		ContactEnd:  gather[unit.Duration](best, good, func(h hole) float64 { return float64(h.shot.LastContact) }),
		YawRate:     gather[float64](best, good, func(h hole) float64 { return h.shot.Clear.YawRate }),
		ThrustRatio: gather[float64](best, good, func(h hole) float64 { return h.shot.ThrustRatio }),
		Mode1:       a.Frequencies()[0], Window: best.window, Bows: len(good), WalkBack: walkBack(best, good),
	}
	if len(good) > 0 {
		out.InShare = float64(in) / float64(len(good))
	}
	return out
}

func gather[T ~float64](best hole, good []hole, of func(hole) float64) Estimate[T] {
	v := make([]float64, len(good))
	for i, h := range good {
		v[i] = of(h)
	}
	return estimate(T(of(best)), v)
}
