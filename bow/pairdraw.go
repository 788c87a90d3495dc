package bow

import (
	"context"
	"math"

	"tautline/unit"
)

// restAt is where the shaft's axis lies over the rest with the riser turned by
// phi, from the pressure point.
func restAt(set PairSetup, phi float64) (x, y float64) {
	sin, cos := math.Sincos(phi)
	rx, ry := float64(set.RestX), float64(set.RestY-set.Pressure)
	return rx*cos + ry*sin, ry*cos - rx*sin
}

// nockOn puts the nocking point on the braced string, at the foot of the
// square through the rest plus the nock's height, and the free point where
// the fingers will hook (eq. V7). The braced shape does not depend on it.
func (s *pairSolver) nockOn(set PairSetup) {
	w, stretch := s.side[0].wrap, 1+s.side[0].tension/s.side[0].ea
	ex, ey := w.Ex[0], w.Ey[0]
	rx, ry := restAt(set, 0)
	up := (rx-s.hx)*ex + (ry-s.hy)*ey + float64(set.Nock) // of the nock, along the string
	hook := up - float64(set.Hook)*stretch
	for i, side := range s.side {
		side.l0 = (side.wrap.Length - sigma[i]*hook) / stretch
	}
	s.hx, s.hy = s.hx+hook*ex, s.hy+hook*ey
	s.update()
}

// nock is where the nocking point lies: on the part of the string away from
// the hook, whose kink the free point is (eq. V7).
func (s *pairSolver) nock(hook float64) (x, y float64) {
	i := 0
	if hook < 0 {
		i = 1
	}
	side := s.side[i]
	along := math.Abs(hook) * (1 + side.tension/side.ea)
	return s.hx + along*side.wrap.Ex[0], s.hy + sigma[i]*along*side.wrap.Ey[0]
}

// state copies the equilibrium.
func (s *pairSolver) state(set PairSetup) PairState {
	hook := float64(set.Hook)
	nx, ny := s.nock(hook)
	rx, ry := restAt(set, s.phi)
	st := PairState{
		Upper: append([]float64(nil), s.side[0].theta...), Lower: append([]float64(nil), s.side[1].theta...),
		Pitch: unit.Angle(s.phi),
		NockX: unit.Length(nx), NockY: unit.Length(ny), HookX: unit.Length(s.hx), HookY: unit.Length(s.hy),
		RestX: unit.Length(rx), RestY: unit.Length(ry),
		RestUpper: unit.Length(s.side[0].l0 - hook), RestLower: unit.Length(s.side[1].l0 + hook),
		TensionUpper: unit.Force(s.side[0].tension), TensionLower: unit.Force(s.side[1].tension),
		Energy:      unit.Energy(s.energy),
		MomentUpper: s.side[0].rootMoment(), MomentLower: s.side[1].rootMoment(),
		WrappedUpper: s.side[0].wrapped(), WrappedLower: s.side[1].wrapped(),
	}
	for i, side := range s.side {
		// dV/dH of one part of the string is −T e
		st.ForceX -= unit.Force(side.tension * side.wrap.Ex[0])
		st.ForceY -= unit.Force(sigma[i] * side.tension * side.wrap.Ey[0])
	}
	return st
}

// rootMoment is the limb's bending moment at its pocket, positive when the
// string bends it toward the archer.
func (s *limbState) rootMoment() float64 {
	return s.c.K[0] * (s.theta[0] - s.clamp - s.c.Beta[0])
}

// wrapped is the length of string beyond its first contact with the limb.
func (s *limbState) wrapped() unit.Length { return unit.Length(s.wrap.Length - s.wrap.Piece[0]) }

// load puts the solver into a known state of this pair.
func (s *pairSolver) load(st PairState, hook float64) {
	copy(s.side[0].theta, st.Upper)
	copy(s.side[1].theta, st.Lower)
	s.side[0].l0, s.side[1].l0 = float64(st.RestUpper)+hook, float64(st.RestLower)-hook
	s.phi, s.hx, s.hy = float64(st.Pitch), float64(st.HookX), float64(st.HookY)
	s.update()
}

// PairPoint is one place of a pair's draw.
type PairPoint struct {
	Nock  unit.Length // distance from the pressure point along the arrow's line
	Force unit.Force
	// NockRise is how far the nock has risen over the bow square's line, which
	// is fixed to the riser and square to the string at brace: the static nock
	// path.
	NockRise unit.Length
	Stored   unit.Energy // since brace
}

// PairCurve is a pair drawn from brace to full draw.
type PairCurve struct {
	// Full is drawn in the pull frame: no torque at the pressure point, so the
	// fingers' pull runs through it and the hook lies on y = 0.
	Full   PairState
	Points []PairPoint
	Stored unit.Energy
}

// NockRise is the static nock travel from brace to full draw.
func (c PairCurve) NockRise() unit.Length { return c.Points[len(c.Points)-1].NockRise }

// Draw pulls the string from brace in points−1 nearly equal steps until the
// nock stands at full from the pressure point along the arrow's line, the riser
// free to turn about the pressure point (eq. V8). The context can stop it.
func (p *Pair) Draw(ctx context.Context, full unit.Length, points int) (PairCurve, error) {
	if points < 2 || points > 10000 {
		return PairCurve{}, &InputError{"points", "a curve has 2 to 10000 points", "11"}
	}
	s := newPairSolver(p.limb, p.ea)
	start := p.pulled()
	s.load(start, float64(p.setup.Hook))
	x0 := s.hx
	if float64(full) <= x0 {
		return PairCurve{}, &InputError{"full", "full draw is not behind the brace height", "692 mm from the pivot for a 29 in draw"}
	}
	c := PairCurve{Points: make([]PairPoint, 1, points)}
	c.Points[0] = p.point(start)
	s.remember(heldString)
	m := heldString.size(s.n)
	e := newExtrapolation(s.old[:m])
	clear(s.step)
	for i := 1; i < points; i++ {
		if err := ctx.Err(); err != nil {
			return PairCurve{}, err
		}
		e.predict(s.old[:m])
		if err := s.pullTo(x0 + (float64(full)-x0)*float64(i)/float64(points-1)); err != nil {
			return PairCurve{}, err
		}
		e.push(s.old[:m])
		if i < points-1 {
			c.Points = append(c.Points, p.point(s.state(p.setup)))
		}
	}
	var err error
	if c.Full, err = s.arrowAt(full, p.setup); err != nil {
		return PairCurve{}, err
	}
	c.Points = append(c.Points, p.point(c.Full))
	c.Stored = c.Full.Energy - p.brace.Energy
	return c, nil
}

// pullTo holds the hook at x and finds the equilibrium, starting from old.
func (s *pairSolver) pullTo(x float64) error {
	s.hx, s.hy = x, 0
	clear(s.step)
	s.move(heldString, 0)
	if err := s.minimise(heldString); err != nil {
		return err
	}
	s.remember(heldString)
	return nil
}

// arrowAt moves the hook until the nock stands where the draw length asks,
// along the arrow's line.
func (s *pairSolver) arrowAt(full unit.Length, set PairSetup) (PairState, error) {
	st := s.state(set)
	for range 8 {
		miss := float64(full - st.ArrowLevel().NockX)
		if math.Abs(miss) < 1e-12 {
			break
		}
		if err := s.pullTo(s.hx + miss); err != nil {
			return PairState{}, err
		}
		st = s.state(set)
	}
	return st, nil
}

// pulled is the braced bow turned about the pressure point until the hook lies
// level with it.
func (p *Pair) pulled() PairState {
	return p.brace.Rotated(unit.Angle(math.Atan2(float64(p.brace.HookY), float64(p.brace.HookX))))
}

func (p *Pair) point(st PairState) PairPoint {
	return PairPoint{
		Nock: st.ArrowLevel().NockX, Force: st.Force(), Stored: st.Energy - p.brace.Energy,
		NockRise: p.NockHeight(st) - p.setup.Nock,
	}
}

// NockHeight is the nock's height over the bow square's line: fixed to the
// riser, through the rest, and square to the string at brace.
func (p *Pair) NockHeight(st PairState) unit.Length {
	// The tiller is the string's tilt against the line through both roots.
	roots := p.limb[0].Y0 + p.limb[1].Y0
	tilt := math.Asin(float64(p.setup.Tiller)/roots) + float64(st.Pitch)
	sin, cos := math.Sincos(tilt)
	return (st.NockX-st.RestX)*unit.Length(sin) + (st.NockY-st.RestY)*unit.Length(cos)
}
