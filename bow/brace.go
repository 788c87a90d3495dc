package bow

import (
	"errors"
	"fmt"
	"math"

	"tautline/unit"
)

// Limits of the search for a braced state: no bow is braced lower than lowest
// or with less than shortest of string half, and a march that leaves them has
// lost its way.
const (
	lowestBrace = 0.02 // m
	braceTol    = 1e-13
)

// ErrNoBrace is wrapped by the errors of Brace and BraceWithString when the
// bow cannot stand braced as asked.
var ErrNoBrace = errors.New("the bow cannot be braced like this")

// Brace finds the half string that braces the bow at the given height, the
// nock's distance from the pivot at rest, and the braced state: it holds the
// nock there and shortens the string from just taut until the string stands
// straight up at the nock, where it pulls neither way (eq. 13).
func (m *Model) Brace(height unit.Length) (State, error) {
	s := m.borrow()
	defer m.solvers.Put(s)
	if err := s.braceAt(float64(height)); err != nil {
		return State{}, err
	}
	return s.state(), nil
}

// braceAt marches the rest length down from just taut until the nock force
// changes sign, then closes in with Newton's method kept inside the bracket.
func (s *solver) braceAt(x float64) error {
	s.relax()
	if err := s.justTaut(x); err != nil {
		return err
	}
	long, short := s.l0, 0.0 // e_1x < 0 at long, > 0 at short once known
	stride := 0.002
	for range 400 {
		if err := s.hold(x, s.l0); err != nil {
			return err
		}
		tilt := s.wrap.Ex[0]
		if tilt < 0 {
			long = s.l0
		} else {
			short = s.l0
		}
		if math.Abs(tilt) <= braceTol || (short > 0 && long-short <= 1e-15) {
			return s.upright(x)
		}
		next := s.l0 - tilt/s.tiltSlope()
		switch {
		case short > 0:
			if !(next > short && next < long) {
				next = (short + long) / 2
			}
		default:
			// still shortening: trust Newton only forward and not far
			if !(next < s.l0) || s.l0-next > stride {
				next = s.l0 - stride
			}
			stride = math.Min(2*stride, 0.02)
		}
		if next < 0.3*long {
			break
		}
		s.shift(next - s.l0)
	}
	return fmt.Errorf("%w: no string length gives a brace height of %.1f mm; try one near 220 mm, or check the limb's shape", ErrNoBrace, x*1e3)
}

// justTaut sets l0 to the path's length around the unstressed limb.
func (s *solver) justTaut(x float64) error {
	s.hx, s.hy, s.l0 = x, 0, math.MaxFloat64
	s.update()
	s.l0 = s.wrap.Length
	if s.wrap.Ex[0] >= 0 || x < lowestBrace {
		return fmt.Errorf("%w: at a brace height of %.1f mm the unstrung limb needs no bending; brace it higher", ErrNoBrace, x*1e3)
	}
	s.l0 -= 1e-4
	return nil
}

// upright checks that the state found is a string under tension standing
// straight, not a jump of the limb between two shapes.
func (s *solver) upright(x float64) error {
	if s.tension <= 0 || math.Abs(s.wrap.Ex[0]) > 1e-9 {
		return fmt.Errorf("%w: at a brace height of %.1f mm the limb snaps between two shapes; try a higher brace or less recurve", ErrNoBrace, x*1e3)
	}
	return nil
}

// tiltSlope is d e_1x/d l0 along the equilibria with the nock held; it leaves
// dθ/dl0 in step. From H dθ/dl0 = (EA L/l0²) ∇L and ∂e_1x/∂θ_i = a_i e_1y/l_1.
func (s *solver) tiltSlope() float64 {
	m := s.c.N
	s.factor(m)
	k := s.ea * s.wrap.Length / (s.l0 * s.l0)
	for i := range m {
		s.step[i] = k * s.gradL[i]
	}
	substitute(s.f, s.step[:m], m)
	return dot(s.turnL[:m], s.step[:m]) * s.wrap.Ey[0] / s.wrap.Piece[0]
}

// shift changes l0 and moves the shape along the slope left by tiltSlope.
func (s *solver) shift(dl float64) {
	s.l0 += dl
	for i := range s.theta {
		s.theta[i] += dl * s.step[i]
	}
}

// BraceWithString finds the braced state for a given half string: the nock is
// free, and the rest length moves in small steps from one that is known to
// brace the bow (eq. 14). The starting height is a guess that only costs time.
func (m *Model) BraceWithString(halfRest unit.Length) (State, error) {
	s := m.borrow()
	defer m.solvers.Put(s)
	if err := s.braceWith(float64(halfRest), 0.32*float64(m.design.FullDraw)); err != nil {
		return State{}, err
	}
	return s.state(), nil
}

func (s *solver) braceWith(l0, guess float64) error {
	if !(l0 > 0) {
		return &InputError{"HalfRest", fmt.Sprintf("%g m is not a length of string", l0), "850 mm"}
	}
	err := s.anyBrace(guess)
	if err != nil {
		return err
	}
	const stride = 0.004
	from := s.l0
	steps := int(abs(l0-from)/stride) + 1
	for i := 1; i <= steps; i++ {
		if err := s.release(from + (l0-from)*float64(i)/float64(steps)); err != nil {
			return err
		}
		if s.tension <= 0 || s.hx < lowestBrace {
			return fmt.Errorf("%w: a half string of %.1f mm is too long to be taut; try a shorter string", ErrNoBrace, l0*1e3)
		}
	}
	return nil
}

// anyBrace braces at the guess or, failing that, at heights around it.
func (s *solver) anyBrace(guess float64) (err error) {
	for _, scale := range []float64{1, 1.2, 0.8, 1.45, 0.6} {
		if err = s.braceAt(scale * guess); err == nil {
			return nil
		}
	}
	return err
}

func abs(x float64) float64 { return math.Abs(x) }
