package workbench

import (
	"context"
	"math"

	"tautline/arrow"
	"tautline/flight"
	"tautline/unit"
)

// strike is what one plausible set-up does, at every distance.
type strike struct {
	at     []landing
	shot   arrow.Result
	window arrow.Window
	walk   walk
	weight float64
	err    error
}

// landing is one distance, in m and m/s.
type landing struct {
	elevation    unit.Angle // that brings the fletched arrow to the centre's height
	right, up    float64    // of the fletched arrow
	bare         float64    // less the fletched arrow
	speed, drift float64
}

// shoot is the whole way from one member's string to the target. With sights,
// the elevations of the same member before a change, the sight stays as it
// was and the arrow lands higher or lower; a longer draw takes the eye away
// from its pin.
func (t *TargetModel) shoot(j int, m moved, distances []unit.Length, sights []landing) (s strike) {
	member, cfg := t.bow.members[j], t.bow.shotConfig()
	cfg.ArrowMass = m.mass
	brace, err := member.model.Brace(m.brace + member.shift)
	if err != nil {
		return strike{err: err}
	}
	curve, err := member.model.Curve(context.Background(), brace, member.model.Design().FullDraw+m.longer, curvePoints)
	if err != nil {
		return strike{err: err}
	}
	drive, err := driveOf(member.model, curve.Brace, curve.Full, drawSlope(curve), cfg)
	if err != nil {
		return strike{err: err}
	}
	sim, err := arrow.NewSimulator(arrow.Config{})
	if err != nil {
		return strike{err: err}
	}
	one, err := sim.Judge(m.arrow, drive, t.unknown[j].apply(m.set))
	if err != nil {
		return strike{err: err}
	}
	s = strike{shot: one.Result, window: one.Window, weight: float64(curve.DrawWeight())}
	l := launchOf(m.arrow, &one.Result)
	if s.walk, err = m.fly.walk(l); err != nil {
		return strike{err: err}
	}
	reach := t.reach()
	for i, d := range distances {
		var sight *landing
		if sights != nil {
			sight = &landing{elevation: pinCarried(sights[i].elevation, d, reach, m.longer)}
		}
		at, err := m.fly.land(l, d, sight)
		if err != nil {
			return strike{err: err}
		}
		s.at = append(s.at, at)
	}
	return s
}

// reach is how far the set-up's pin stands from the eye.
func (t *TargetModel) reach() unit.Length {
	sight, _ := sightOf(t.settings, false)
	return sight.Reach
}

// curvePoints of a draw curve: as bow.Model.Draw takes.
const curvePoints = 25

// BareReach is how far a bare shaft is predicted, and should be shot: it may
// fly wide.
const BareReach unit.Length = 30

// land lets the fletched arrow go, and its bare twin from the same shot.
func (f flyers) land(l flight.Launch, d unit.Length, sight *landing) (out landing, err error) {
	out.bare = math.NaN()
	if d <= BareReach {
		if out.bare, err = f.apart(l, d); err != nil {
			return out, err
		}
	}
	var hit flight.Impact
	if sight == nil {
		out.elevation, hit, err = f.fletched.Aim(l, flight.Wind{}, d, 0)
		l.Elevation = out.elevation
	} else {
		l.Elevation, out.elevation = sight.elevation, sight.elevation
		hit, err = f.fletched.Fly(l, flight.Wind{}, d)
	}
	if err != nil {
		return out, err
	}
	drift, err := f.fletched.Drift(l, d)
	out.right, out.up = float64(hit.Right), float64(hit.Up)
	out.speed, out.drift = float64(hit.Speed), float64(drift)
	return out, err
}
