package bow

import (
	"errors"
	"fmt"
	"math"
)

// pairSolver finds equilibria of two limbs, a riser that turns and a string in
// two parts that meet at the free point: Newton's method as in solver. It
// belongs to one call and is never shared.
//
// Unknowns: the upper limb's angles, the lower one's, then either the riser's
// turn (the free point held: drawn) or the free point's x and y (the riser held
// upright: braced).
type pairSolver struct {
	side        [2]*limbState
	n           int
	phi, hx, hy float64
	energy      float64

	gs, hs    []float64 // one limb's derivatives
	g, h, f   []float64
	step, old []float64
	iter      int
}

// held says what the third group of unknowns is.
type held int

const (
	heldString held = iota // the free point is held, the riser turns
	heldRiser              // the riser is held, the free point moves
)

func (w held) size(n int) int { return 2*n + 1 + int(w) }

func newPairSolver(limb [2]*Chain, ea float64) *pairSolver {
	n := limb[0].N
	m := 2*n + 2
	s := &pairSolver{n: n, gs: make([]float64, n+3), hs: make([]float64, (n+3)*(n+3))}
	for i, c := range limb {
		s.side[i] = newLimbState(c, ea)
	}
	block := make([]float64, 3*m+2*m*m)
	s.g, s.step, s.old = block[:m:m], block[m:2*m:2*m], block[2*m:3*m:3*m]
	s.h, s.f = block[3*m:3*m+m*m:3*m+m*m], block[3*m+m*m:]
	return s
}

// begin starts from the symmetric bow at rest, whose middle stands at height y.
func (s *pairSolver) begin(st State, y float64) {
	for _, side := range s.side {
		copy(side.theta, st.Theta)
		side.l0 = float64(st.HalfRest)
	}
	s.phi, s.hx, s.hy = 0, float64(st.Nock), y
}

// update computes shapes, paths and the whole energy (eq. V2).
func (s *pairSolver) update() {
	s.energy = 0
	for i, side := range s.side {
		side.turnTo(sigma[i] * s.phi)
		side.hx, side.hy = s.hx, sigma[i]*s.hy
		side.update()
		s.energy += side.energy
	}
}

// derivatives assembles both limbs: ψ = σφ and the free point's own height σy.
func (s *pairSolver) derivatives(w held) {
	n, m, one := s.n, w.size(s.n), s.n+3
	clear(s.g[:m])
	clear(s.h[:m*m])
	for i, side := range s.side {
		side.sideDerivatives(s.gs, s.hs)
		at := i * n
		copy(s.g[at:at+n], s.gs[:n])
		for r := range n {
			copy(s.h[(at+r)*m+at:(at+r)*m+at+r+1], s.hs[r*one:r*one+r+1])
		}
		if w == heldString {
			s.border(2*n, m, at, n, sigma[i])
			s.h[2*n*m+2*n] += s.hs[n*one+n]
			continue
		}
		s.border(2*n, m, at, n+1, 1)
		s.border(2*n+1, m, at, n+2, sigma[i])
		s.h[2*n*m+2*n] += s.hs[(n+1)*one+n+1]
		s.h[(2*n+1)*m+2*n] += sigma[i] * s.hs[(n+2)*one+n+1]
		s.h[(2*n+1)*m+2*n+1] += s.hs[(n+2)*one+n+2]
	}
}

// border adds one limb's part of the row of a shared unknown.
func (s *pairSolver) border(row, m, at, from int, factor float64) {
	one := s.n + 3
	s.g[row] += factor * s.gs[from]
	out := s.h[row*m+at : row*m+at+s.n]
	for j := range out {
		out[j] += factor * s.hs[from*one+j]
	}
}

// minimise runs Newton's method to the equilibrium.
func (s *pairSolver) minimise(w held) error {
	m := w.size(s.n)
	s.update()
	tol := forceTol + rounding*s.side[0].ea
	for range maxNewton {
		s.derivatives(w)
		if norm(s.g[:m]) <= tol {
			return nil
		}
		s.iter++
		s.factor(m)
		for i := range m {
			s.step[i] = -s.g[i]
		}
		substitute(s.f, s.step[:m], m)
		if !s.search(w) {
			break
		}
	}
	s.derivatives(w)
	if r := norm(s.g[:m]); !(r <= 1e3*tol) {
		return fmt.Errorf("the bow does not settle: %.2g N m are left over with the hook at %.1f mm", r, s.hx*1e3)
	}
	return nil
}

// factor makes the Cholesky factor of the Hessian, shifted along the diagonal
// until it is positive.
func (s *pairSolver) factor(m int) {
	copy(s.f[:m*m], s.h[:m*m])
	shift := 0.0
	for !cholesky(s.f[:m*m], m) {
		copy(s.f[:m*m], s.h[:m*m])
		shift = math.Max(4*shift, 1e-3*(1+trace(s.h, m)/float64(m)))
		for i := range m {
			s.f[i*m+i] += shift
		}
	}
}

// move puts the unknowns at old + t·step.
func (s *pairSolver) move(w held, t float64) {
	n := s.n
	for i, side := range s.side {
		for j := range side.theta {
			side.theta[j] = s.old[i*n+j] + t*s.step[i*n+j]
		}
	}
	if w == heldString {
		s.phi = s.old[2*n] + t*s.step[2*n]
	} else {
		s.hx, s.hy = s.old[2*n]+t*s.step[2*n], s.old[2*n+1]+t*s.step[2*n+1]
	}
	s.update()
}

// remember keeps the unknowns in old.
func (s *pairSolver) remember(w held) {
	n := s.n
	copy(s.old, s.side[0].theta)
	copy(s.old[n:], s.side[1].theta)
	if w == heldString {
		s.old[2*n] = s.phi
	} else {
		s.old[2*n], s.old[2*n+1] = s.hx, s.hy
	}
}

// search moves along the step, shortened to the cap and then until the energy
// falls; false when rounding leaves nothing to gain.
func (s *pairSolver) search(w held) bool {
	m := w.size(s.n)
	t := math.Min(1, stepCap/norm(s.step[:m]))
	slope := dot(s.g[:m], s.step[:m])
	before := s.energy
	s.remember(w)
	trust := -slope < 1e-10*(1+math.Abs(before))
	for range 40 {
		s.move(w, t)
		if trust || s.energy <= before+armijo*t*slope {
			return true
		}
		t /= 2
	}
	return false
}

// A string is taken as found when it stands straight within straightTol at both
// limbs and their tensions agree within tensionTol.
const (
	straightTol = 1e-12
	tensionTol  = 1e-9 // of the tension
)

// string finds the two parts' rest lengths and the difference of the pocket
// angles that meet brace height and tiller (eqs V5, V6). The string's line is
// known: each limb alone is strung to it, until it pulls along the line and
// nowhere else; the pockets then turn against each other until both pull alike.
// middle is the pivot's height. The chains' pockets turn with it.
func (s *pairSolver) string(brace, tiller, middle float64) error {
	up, low := s.side[0].c, s.side[1].c
	// in the frame in which the string stands upright, the riser leans
	lean := -math.Asin(tiller / (up.Y0 + low.Y0))
	x := brace + middle*math.Sin(lean)
	var limb [2]*solver
	for i, side := range s.side {
		limb[i] = &solver{limbState: side}
		limb[i].room()
		side.turnTo(sigma[i] * lean)
		for j := range side.theta {
			side.theta[j] += sigma[i] * lean
		}
	}
	pull := func(turn float64) (float64, error) {
		for i, l := range limb {
			l.c.turnPocket(sigma[i] * turn / 2)
			l.turnTo(sigma[i] * lean)
			if err := l.straighten(x); err != nil {
				return 0, err
			}
		}
		return (limb[0].tension - limb[1].tension) / limb[0].tension, nil
	}
	if err := s.balance(pull); err != nil {
		return err
	}
	for i, side := range s.side {
		for j := range side.theta {
			side.theta[j] -= sigma[i] * lean
		}
	}
	sin, cos := math.Sincos(-lean)
	s.phi, s.hx, s.hy = 0, x*cos, -x*sin
	s.update()
	return s.stands()
}

// balance turns the pockets until pull is zero, by the secant rule.
func (s *pairSolver) balance(pull func(turn float64) (float64, error)) error {
	miss, err := pull(0)
	total, step := 0.0, -0.5*miss
	for range 40 {
		if err != nil {
			return err
		}
		if math.Abs(miss) <= tensionTol {
			return nil
		}
		step = math.Max(-0.03, math.Min(0.03, step))
		if total += step; math.Abs(total) > 0.2 {
			break
		}
		before := miss
		if miss, err = pull(step); miss == before {
			break
		}
		step *= miss / (before - miss)
	}
	return errors.New("no turn of the limb pockets makes both limbs pull alike with this tiller; check the tiller's reading")
}

// straighten changes the rest length until the string held at x stands upright,
// from the present shape; from the unstressed limb if that leads nowhere.
func (s *solver) straighten(x float64) error {
	for range 30 {
		if s.hold(x, s.l0) != nil || s.tension <= 0 {
			break
		}
		tilt := s.wrap.Ex[0]
		if math.Abs(tilt) <= straightTol {
			return nil
		}
		change := -tilt / s.tiltSlope()
		if !(math.Abs(change) < 0.02) {
			break
		}
		s.shift(change)
	}
	return s.braceAt(x)
}

// stands refuses a bow that would not stay strung: a pair of limbs that gains
// by one bending up and the other giving way, the string sliding with them. A
// symmetric computation does not see it. A quarter of the plausible bows of an
// ordinary description fall to it, whatever the number of links: real limbs do
// not, so such bows are no candidates.
func (s *pairSolver) stands() error {
	m := heldRiser.size(s.n)
	s.derivatives(heldRiser)
	copy(s.f[:m*m], s.h[:m*m])
	if !cholesky(s.f[:m*m], m) {
		return errors.New("it would not stay strung: one limb would bend up and the other give way; no real bow does, so check draw weight, draw length, bow length and brace height against each other")
	}
	return nil
}
