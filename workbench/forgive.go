package workbench

import (
	"fmt"
	"math"
	"math/rand/v2"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/num"
	"tautline/shot"
	"tautline/unit"
)

// Source is one thing an archer does not repeat exactly.
type Source int

// The sources of model.md section 6 that act in the horizontal plane.
const (
	Aim         Source = iota // direction of the line of sight
	ArmRate                   // bow arm turning at release
	BowTorque                 // hand's twist on the grip, held and kept up
	ReleaseSize               // share of the draw force the fingers push aside with
	ReleaseSide               // draw hand off the string's plane
	DrawLength                // full draw
	NockFit                   // pull at which the nock lets go
	ArrowMass                 // arrow to arrow
	ShaftSpine                // arrow to arrow
	sources
)

// sourceKeys are the names in by_source.
var sourceKeys = [sources]string{
	"aim", "arm_rate", "bow_torque", "release_size", "release_side", "draw_length", "nock_fit", "arrow_mass", "spine",
}

// String is the source's key.
func (s Source) String() string { return sourceKeys[s] }

// Repeatability holds one standard deviation for each Source, in SI: rad,
// rad/s, N m, share of the draw force, m, m, N, kg, m (static spine).
type Repeatability [sources]float64

// UsualRepeatability is that of a good club archer with a clicker and matched
// arrows. Every figure is assumed; measured ones replace them.
func UsualRepeatability() Repeatability {
	return Repeatability{
		Aim: 1e-3, ArmRate: 0.02, BowTorque: 0.05, ReleaseSize: 0.02, ReleaseSide: 0.5e-3,
		DrawLength: 1.5e-3, NockFit: 1, ArrowMass: 0.1e-3, ShaftSpine: float64(8 * unit.ThousandthInch),
	}
}

// lane is one bow at one brace height, drawn, aimed at 70 m, ready for shots
// with errors. It is for one goroutine at a time.
type lane struct {
	limb      *bow.Model
	curve     bow.Curve
	cfg       shot.Config
	drive     *arrow.Drive // without errors
	arrow     *arrow.Arrow
	set       arrow.Setup
	sim       *arrow.Simulator
	air       flight.Air
	fly       flyers
	elevation unit.Angle
	// lever is how far the pin stands ahead of the pivot over its distance
	// from the eye: what a turned riser adds to the line of the shot (eq. 2).
	lever float64
}

// farTarget is where forgiveness is judged.
const farTarget unit.Length = 70

// newLane braces, draws, shoots once and aims.
func (b *BowModel) newLane(m member, height unit.Length, model shot.Model, a *arrow.Arrow, set arrow.Setup, side *Sideways) (*lane, error) {
	l := &lane{limb: m.model, cfg: b.shotConfig(), arrow: a, set: set, air: side.Air}
	l.cfg.Model, l.cfg.ArrowMass = model, a.Design().Mass()
	var err error
	if model != shot.Resolved {
		if l.limb, err = shot.NewModel(m.model.Design(), l.cfg); err != nil {
			return nil, err
		}
	}
	if l.curve, err = l.limb.Draw(height + m.shift); err != nil {
		return nil, err
	}
	if l.drive, err = driveOf(l.limb, l.curve.Brace, l.curve.Full, drawSlope(l.curve), l.cfg); err != nil {
		return nil, err
	}
	if l.fly, err = newFlyers(a.Design(), side.Air); err != nil {
		return nil, err
	}
	if l.sim, err = arrow.NewSimulator(arrow.Config{}); err != nil {
		return nil, err
	}
	ahead := float64(side.PinAhead)
	l.lever = ahead / (float64(l.curve.Full.Nock) + ahead)
	return l, l.aim()
}

// aim finds the elevation for the error-free shot.
func (l *lane) aim() error {
	r, err := l.sim.Shoot(l.arrow, l.drive, l.set)
	if err != nil {
		return err
	}
	l.elevation, _, err = l.fly.fletched.Aim(launchOf(l.arrow, &r), flight.Wind{}, farTarget, 0)
	return err
}

// right is where the fletched arrow lands with errors e, in m. The mass's
// error acts through the bow's shot and the flight; that it also changes the
// shaft's frequencies, by 0.2 %, is left out.
func (l *lane) right(e *[sources]float64) (float64, error) {
	drive, err := l.driveWith(e)
	if err != nil {
		return 0, err
	}
	a := l.arrow
	if e[ShaftSpine] != 0 {
		if a, err = a.WithSpine(a.Design().Spine + unit.Spine(e[ShaftSpine])); err != nil {
			return 0, err
		}
	}
	r, err := l.sim.Shoot(a, drive, l.setWith(e))
	if err != nil {
		return 0, err
	}
	// (2) the archer turns the whole bow until the pin, carried aside by the
	// riser's turn, covers the target.
	go70 := launchOf(a, &r)
	go70.Drift -= unit.Angle(l.lever * float64(r.RiserYawStart))
	go70.Bearing, go70.Elevation = unit.Angle(e[Aim]), l.elevation
	f := l.fly.fletched
	if e[ArrowMass] != 0 {
		body := bodyOf(l.arrow.Design())
		body.Mass += unit.Mass(e[ArrowMass])
		if f, err = flight.New(body, l.air); err != nil {
			return 0, err
		}
	}
	hit, err := f.Fly(go70, flight.Wind{}, farTarget)
	return float64(hit.Right), err
}

// driveWith shoots the bow anew where the errors touch the shot along the
// string.
func (l *lane) driveWith(e *[sources]float64) (*arrow.Drive, error) {
	if e[DrawLength] == 0 && e[NockFit] == 0 && e[ArrowMass] == 0 {
		return l.drive, nil
	}
	full, cfg := l.curve.Full, l.cfg
	if d := e[DrawLength]; d != 0 {
		var err error
		if full, err = l.limb.At(full, full.Nock+unit.Length(d)); err != nil {
			return nil, err
		}
	}
	cfg.ClipForce = max(0, cfg.ClipForce+unit.Force(e[NockFit]))
	cfg.ArrowMass += unit.Mass(e[ArrowMass])
	return driveOf(l.limb, l.curve.Brace, full, drawSlope(l.curve), cfg)
}

// setWith is the set-up with the archer's errors.
func (l *lane) setWith(e *[sources]float64) arrow.Setup {
	set := l.set
	if set.Riser != nil {
		riser := *set.Riser
		riser.ArmRate += e[ArmRate]
		riser.HeldTorque += e[BowTorque]
		set.Riser = &riser
	}
	if h, ok := set.Release.(arrow.HalfSine); ok {
		h.Kappa += e[ReleaseSize]
		set.Release = h
	}
	set.NockAside += unit.Length(e[ReleaseSide])
	return set
}

// effects are J·σ: what one standard deviation of each source moves the
// arrow, m, by central differences over ±σ (eq. 1).
func (l *lane) effects(sd Repeatability) (out [sources]float64, err error) {
	for s := range out {
		var at [2]float64
		for i, side := range []float64{-1, 1} {
			var e [sources]float64
			e[s] = side * sd[s]
			if at[i], err = l.right(&e); err != nil {
				return out, fmt.Errorf("%v ± %g: %w", Source(s), sd[s], err)
			}
		}
		out[s] = (at[1] - at[0]) / 2
	}
	return out, nil
}

// total is √(J Σ Jᵀ) of the sources from first on; they are independent.
func total(effects [sources]float64, first Source) float64 {
	sum := 0.0
	for _, e := range effects[first:] {
		sum += e * e
	}
	return math.Sqrt(sum)
}

// ghosts shoots n arrows with errors drawn for all sources at once, the same
// errors at every call (common random numbers). It returns the spread of the
// whole map and that of its linearisation on the same errors.
func (l *lane) ghosts(sd Repeatability, effects [sources]float64, n int) (whole, linear float64, err error) {
	r := rand.New(rand.NewPCG(seed, 72))
	at, line := make([]float64, n), make([]float64, n)
	for i := range n {
		var e [sources]float64
		for s := range e {
			z := r.NormFloat64()
			e[s] = z * sd[s]
			line[i] += z * effects[s]
		}
		if at[i], err = l.right(&e); err != nil {
			return 0, 0, err
		}
	}
	return deviation(at), deviation(line), nil
}

func deviation(v []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sum += (x - mean) * (x - mean)
	}
	return math.Sqrt(sum / float64(len(v)-1))
}

// Treatment is what is done about the tune when the brace height changes.
type Treatment string

// The three treatments, always shown together.
const (
	AllElseFixed    Treatment = "nothing else changed"
	RetunedBySpine  Treatment = "re-tuned by spine"
	RetunedByButton Treatment = "re-tuned by button"
)

// bare30 is the bare shaft less the fletched arrow at 30 m, m.
func (l *lane) bare30(a *arrow.Arrow, set arrow.Setup) (float64, error) {
	r, err := l.sim.Shoot(a, l.drive, set)
	if err != nil {
		return 0, err
	}
	go30 := launchOf(a, &r)
	bare, err := l.fly.bare.Fly(go30, flight.Wind{}, 30)
	if err != nil {
		return 0, err
	}
	fletched, err := l.fly.fletched.Fly(go30, flight.Wind{}, 30)
	return float64(bare.Right - fletched.Right), err
}

// How far a re-tuning may go, and how close it must come at 30 m.
const (
	spineReach            = 80 * unit.ThousandthInch
	leastPreload          = 0.1
	preloadReach          = 3.0 // N
	retunedWithin         = 1e-3
	retuneTries           = 30
	spineStep, buttonStep = float64(0.2 * unit.ThousandthInch), 0.002
)

// retune changes spine or preload until the bare shaft stands where it stood
// (want, m at 30 m); ok is false where it cannot be done.
func (l *lane) retune(how Treatment, want float64) (ok bool, err error) {
	if how == AllElseFixed {
		return true, nil
	}
	middle, reach, step := float64(l.arrow.Design().Spine), float64(spineReach), spineStep
	if how == RetunedByButton {
		middle, reach, step = float64(l.set.Button.Preload), preloadReach, buttonStep
	}
	var failed error
	miss := func(x float64) float64 {
		a, set, err := l.with(how, x)
		if err == nil {
			var d float64
			if d, err = l.bare30(a, set); err == nil {
				return d - want
			}
		}
		failed = err
		return math.NaN()
	}
	low, high, found := crossing(miss, middle, reach, leastOf[how])
	if failed != nil || !found {
		return false, failed
	}
	root := num.FindRoot(miss, low, high, step, retuneTries)
	if failed != nil || math.Abs(root.Residual) > retunedWithin {
		return false, failed
	}
	l.arrow, l.set, err = l.with(how, root.X)
	if err != nil {
		return false, err
	}
	return true, l.aim()
}

// leastOf is the smallest value that a re-tuning may set.
var leastOf = map[Treatment]float64{RetunedBySpine: float64(150 * unit.ThousandthInch), RetunedByButton: leastPreload}

// crossing brackets the zero of f nearest to middle, in steps that grow to
// either side up to reach.
func crossing(f func(float64) float64, middle, reach, least float64) (low, high float64, found bool) {
	const steps = 8
	at := f(middle)
	last := [2]float64{middle, middle}
	for k := 1; k <= steps; k++ {
		for i, side := range []float64{-1, 1} {
			x := max(least, middle+side*reach*float64(k*k)/(steps*steps))
			if x == last[i] {
				continue
			}
			if f(x)*at <= 0 {
				return min(x, last[i]), max(x, last[i]), true
			}
			last[i] = x
		}
	}
	return 0, 0, false
}

// with is the arrow or the set-up with another spine or preload.
func (l *lane) with(how Treatment, x float64) (*arrow.Arrow, arrow.Setup, error) {
	if how == RetunedBySpine {
		a, err := l.arrow.WithSpine(unit.Spine(x))
		return a, l.set, err
	}
	set := l.set
	set.Button.Preload = unit.Force(x)
	return l.arrow, set, nil
}
