package workbench

import (
	"context"
	"math"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/shot"
	"tautline/unit"
)

// pairRun is one bow with two limbs of its own, strung, drawn and loosed with
// an arrow of one mass: what both planes of any shot from it start from. It is
// kept per bow and arrow mass; a change of shaft, button or rest needs no new
// one. It is never changed.
type pairRun struct {
	pair  *bow.Pair
	curve bow.PairCurve
	shot  shot.PairResult
	path  arrow.Path
	drive *arrow.Drive
}

// drawPoints are the equilibria on the way to full draw.
const drawPoints = 11

// newPairRun strings, draws and looses.
func newPairRun(m *bow.Model, set bow.PairSetup, brace unit.Length, cfg shot.PairConfig) (*pairRun, error) {
	p, err := m.NewPair(set, brace)
	if err != nil {
		return nil, err
	}
	r := &pairRun{pair: p}
	if r.curve, err = p.Draw(context.Background(), m.Design().FullDraw, drawPoints); err != nil {
		return nil, err
	}
	return r, r.loose(cfg)
}

// drives turns the path of nock and rest into what the arrow's two planes ask
// for.
func (r *pairRun) drives() (err error) {
	h := &r.shot.Path
	r.path = arrow.Path{
		Time: h.Time, NockX: h.NockX, NockV: h.NockV, Thrust: h.Thrust, NockY: h.NockY, NockVY: h.NockVY, NockAY: h.NockAY,
		RestX: h.RestX, RestY: h.RestY, RestVX: h.RestVX, RestVY: h.RestVY,
	}
	points := r.curve.Points
	last, before := points[len(points)-1], points[len(points)-2]
	r.drive, err = arrow.NewDrive(arrow.DriveTable{
		Time: typed[unit.Duration](h.Time), Nock: typed[unit.Length](h.NockX), Speed: typed[unit.Speed](h.NockV),
		Acceleration: h.Thrust, Tension: typed[unit.Force](h.Tension), Half: typed[unit.Length](h.Half), TipX: typed[unit.Length](h.TipX),
		Draw: unit.Force(h.Draw), DrawSlope: unit.Stiffness(float64(last.Force-before.Force) / float64(last.Nock-before.Nock)),
	})
	return err
}

// typed gives plain SI its unit.
func typed[T ~float64](in []float64) []T {
	out := make([]T, len(in))
	for i, x := range in {
		out[i] = T(x)
	}
	return out
}

// planes shoots arrows in both planes; it is for one goroutine at a time.
type planes struct {
	side *arrow.Simulator
	rise *arrow.RiseSimulator
}

func newPlanes() (planes, error) {
	side, err := arrow.NewSimulator(arrow.Config{Gaps: true})
	if err != nil {
		return planes{}, err
	}
	rise, err := arrow.NewRiseSimulator(0)
	return planes{side, rise}, err
}

// bothWays is one shot in both planes.
type bothWays struct {
	side arrow.Result
	rise arrow.RiseResult
}

// loose shoots sideways first: the rest asks how far aside the shaft is.
func (p planes) loose(r *pairRun, a *arrow.Arrow, set arrow.Setup, wire arrow.Wire, check arrow.UprightCheck) (out bothWays, err error) {
	if out.side, err = p.side.Shoot(a, r.drive, set); err != nil {
		return out, err
	}
	u := arrow.NewUpright(a, wire, out.side.History, check)
	out.rise, err = p.rise.Shoot(u, &r.path)
	return out, err
}

// launch joins both planes to the start of a flight.
func (b *bothWays) launch(a *arrow.Arrow) flight.Launch {
	l := launchOf(a, &b.side)
	c := &b.rise.Clear
	l.Climb = unit.Angle(math.Atan2(float64(c.Climb), float64(b.rise.Speed)))
	l.Pitch, l.PitchRate, l.Up = c.PitchUp, c.PitchRate, c.Up
	l.Ringing = nil
	for i, v := range b.side.Ringing[:min(4, len(b.side.Ringing))] {
		// the planes swing alike and apart: their mean squares add
		if i < len(b.rise.Ringing) {
			v.Amplitude = math.Hypot(v.Amplitude, b.rise.Ringing[i].Amplitude)
		}
		l.Ringing = append(l.Ringing, flight.Ringing{SquaredSpeed: a.SquaredSpeed(v, 13), Decay: v.Decay})
	}
	return l
}

// heights is what the target shows of one shot, up and down: m.
type heights struct {
	bare18, bare30 float64 // bare less fletched
	fletched30     float64 // against the arrow's line at full draw, level
	right18        float64
	right30        float64
	both           bothWays
}

// land flies the fletched arrow and its taped bare twin, both leaving level.
func (b *bothWays) land(a *arrow.Arrow, f flyers) (h heights, err error) {
	l := b.launch(a)
	h.both = *b
	at := func(fly *flight.Flyer, x unit.Length) flight.Impact {
		hit, e := fly.Fly(l, flight.Wind{}, x)
		if err == nil {
			err = e
		}
		return hit
	}
	near, far := at(f.fletched, 18), at(f.fletched, 30)
	bareNear, bareFar := at(f.bare, 18), at(f.bare, 30)
	h.bare18, h.bare30 = float64(bareNear.Up-near.Up), float64(bareFar.Up-far.Up)
	h.right18, h.right30 = float64(bareNear.Right-near.Right), float64(bareFar.Right-far.Right)
	h.fletched30 = float64(far.Up)
	return h, err
}
