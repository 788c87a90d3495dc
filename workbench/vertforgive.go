package workbench

import (
	"context"
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/shot"
	"tautline/unit"
)

// UpSource is one thing an archer does not repeat exactly that moves the arrow
// up or down.
type UpSource int

// The sources of the vertical plane (docs/theory/vertical.md, section 4).
const (
	UpAim        UpSource = iota // height of the line of sight
	UpArmRate                    // bow arm pitching at release
	UpHook                       // how the fingers share the pull: where it acts on the string
	UpPressure                   // where the hand presses on the grip
	UpRelease                    // fingers pushing the nock up or down
	UpDrawLength                 // full draw
	UpNockFit                    // pull at which the nock lets go
	UpArrowMass                  // arrow to arrow
	UpShaftSpine                 // arrow to arrow
	upSources
)

var upKeys = [upSources]string{
	"aim", "arm_pitch_rate", "hook_pressure", "hand_pressure", "release_lift", "draw_length", "nock_fit", "arrow_mass", "spine",
}

// String is the source's key.
func (s UpSource) String() string { return upKeys[s] }

// UpRepeatability holds one standard deviation for each UpSource, in SI: rad,
// rad/s, m, m, share of the draw force, m, N, kg, m (static spine).
type UpRepeatability [upSources]float64

// upFrom takes what both planes share from the sideways figures; a millimetre
// of hook and of hand and half a per cent of the draw force are assumed.
func upFrom(r Repeatability) UpRepeatability {
	return UpRepeatability{
		UpAim: r[Aim], UpArmRate: r[ArmRate], UpHook: 1e-3, UpPressure: 1e-3, UpRelease: 0.005,
		UpDrawLength: r[DrawLength], UpNockFit: r[NockFit], UpArrowMass: r[ArrowMass], UpShaftSpine: r[ShaftSpine],
	}
}

// tallLane is one bow at one brace height, strung and drawn, aimed at 70 m, ready
// for shots with errors up and down. It is for one goroutine at a time.
type tallLane struct {
	model  *bow.Model
	brace  unit.Length
	v      Vertical
	base   *pairRun
	arrow  *arrow.Arrow
	set    arrow.Setup
	planes planes
	air    flight.Air
	fly    *flight.Flyer
	// elevation of the shot without errors, ahead how far the pin stands ahead
	// of the pivot, reach how far from the eye; a riser that stands otherwise
	// at full draw carries the pin up or down.
	elevation    unit.Angle
	ahead, reach unit.Length
	pitch        unit.Angle // of the riser at full draw, the arrow level
}

func (b *BowModel) newTallLane(m member, st forgiveStand, side *Sideways, v Vertical) (*tallLane, error) {
	a := st.arrow
	l := &tallLane{model: m.model, brace: st.brace + m.shift, v: b.pairConfig(v), arrow: a, set: st.set(side.Setup), air: side.Air}
	l.v.Shot.ArrowMass = a.Design().Mass()
	l.set.Riser = nil // height is asked; yaw has no part in it
	var err error
	if l.planes, err = newPlanes(); err != nil {
		return nil, err
	}
	if l.fly, err = flight.New(bodyOf(a.Design()), side.Air); err != nil {
		return nil, err
	}
	if l.base, err = newPairRun(l.model, l.v.Setup, l.brace, l.v.Shot); err != nil {
		return nil, err
	}
	full := l.base.curve.Full.ArrowLevel()
	l.pitch = full.Pitch
	l.ahead, l.reach = side.PinAhead, full.NockX+side.PinAhead
	both, err := l.planes.loose(l.base, a, l.set, l.v.Wire, arrow.UprightCheck{})
	if err != nil {
		return nil, err
	}
	l.elevation, _, err = l.fly.Aim(both.launch(a), flight.Wind{}, farTarget, 0)
	return l, err
}

// up is where the fletched arrow lands with errors e, m.
func (l *tallLane) up(e *[upSources]float64) (float64, error) {
	r, err := l.runWith(e)
	if err != nil {
		return 0, err
	}
	a, f := l.arrow, l.fly
	if e[UpShaftSpine] != 0 {
		if a, err = a.WithSpine(a.Design().Spine + unit.Spine(e[UpShaftSpine])); err != nil {
			return 0, err
		}
	}
	both, err := l.planes.loose(r, a, l.set, l.v.Wire, arrow.UprightCheck{})
	if err != nil {
		return 0, err
	}
	if e[UpArrowMass] != 0 {
		body := bodyOf(l.arrow.Design())
		body.Mass += unit.Mass(e[UpArrowMass])
		if f, err = flight.New(body, l.air); err != nil {
			return 0, err
		}
	}
	out := both.launch(a)
	// the archer tilts the whole bow until the pin, carried up by the riser's
	// stand and away from the eye by a longer draw, covers the target
	full := r.curve.Full.ArrowLevel()
	farther := full.NockX + l.ahead - l.reach
	tilt := float64(l.ahead/(l.reach+farther)) * float64(full.Pitch-l.pitch)
	out.Elevation = pinCarried(l.elevation, farTarget, l.reach, farther) + unit.Angle(e[UpAim]-tilt)
	hit, err := f.Fly(out, flight.Wind{}, farTarget)
	return float64(hit.Up), err
}

// runWith strings, draws and looses anew as far as the errors touch it.
func (l *tallLane) runWith(e *[upSources]float64) (*pairRun, error) {
	set, cfg := l.v.Setup, l.v.Shot
	set.Hook += unit.Length(e[UpHook])
	set.Pressure += unit.Length(e[UpPressure])
	cfg.PitchRate += e[UpArmRate]
	cfg.Lift += e[UpRelease]
	cfg.ClipForce = max(0, cfg.ClipForce+unit.Force(e[UpNockFit]))
	cfg.ArrowMass += unit.Mass(e[UpArrowMass])
	switch {
	case set != l.v.Setup:
		return newPairRun(l.model, set, l.brace, cfg)
	case e[UpDrawLength] != 0:
		r := &pairRun{pair: l.base.pair}
		var err error
		if r.curve, err = r.pair.Draw(context.Background(), l.model.Design().FullDraw+unit.Length(e[UpDrawLength]), drawPoints); err != nil {
			return nil, err
		}
		return r, r.loose(cfg)
	case cfg == l.v.Shot:
		return l.base, nil
	}
	r := &pairRun{pair: l.base.pair, curve: l.base.curve}
	return r, r.loose(cfg)
}

// loose shoots the drawn bow.
func (r *pairRun) loose(cfg shot.PairConfig) error {
	sim, err := shot.NewPairSimulator(r.pair, r.curve.Full, cfg)
	if err != nil {
		return err
	}
	if r.shot, err = sim.Run(); err != nil {
		return err
	}
	return r.drives()
}

// effects are what one standard deviation of each source moves the arrow up, m.
func (l *tallLane) effects(sd UpRepeatability) (out [upSources]float64, err error) {
	for s := range out {
		var at [2]float64
		for i, side := range []float64{-1, 1} {
			var e [upSources]float64
			e[s] = side * sd[s]
			if at[i], err = l.up(&e); err != nil {
				return out, fmt.Errorf("%v ± %g: %w", UpSource(s), sd[s], err)
			}
		}
		out[s] = (at[1] - at[0]) / 2
	}
	return out, nil
}

// fillUp writes the spread in height into the rows of the table, or why there is
// none; the sideways answer never fails for it.
func (b *BowModel) fillUp(ctx context.Context, side *Sideways, q ForgiveQuestion, stands []forgiveStand, rows []ForgiveRow) error {
	v := q.Upright
	reason := ""
	switch {
	case v == nil:
		reason = "not asked"
	case v.Withheld != "":
		reason = v.Withheld
	}
	effects, errs := make([][upSources]float64, len(rows)), make([]error, len(rows))
	if reason == "" {
		if err := each(ctx, len(rows), func(i int) {
			var l *tallLane
			if l, errs[i] = b.newTallLane(b.members[0], stands[i], side, *v); errs[i] == nil {
				effects[i], errs[i] = l.effects(upFrom(q.Repeat))
			}
		}); err != nil {
			return err
		}
	}
	for i := range rows {
		row := &rows[i]
		switch {
		case reason != "":
			row.VerticalReason = reason
		case errs[i] != nil:
			row.VerticalReason = "the vertical plane cannot be computed here: " + errs[i].Error()
		default:
			row.BySourceUp = map[string]float64{}
			sum := 0.0
			for s, e := range effects[i] {
				row.BySourceUp[upKeys[s]] = math.Abs(e)
				sum += e * e
			}
			total := math.Sqrt(sum)
			row.Vertical = &total
		}
	}
	return nil
}
