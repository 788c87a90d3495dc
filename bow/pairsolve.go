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

// A string is taken as found when brace height and tiller are met within
// stringTol; the sensitivities are read off over nudge.
const (
	stringTol  = 1e-11 // m
	nudge      = 1e-6  // m of string, rad of pocket
	stringTurn = 0.02  // rad, longest turn of the pockets in one step
	stringStep = 0.01  // m, longest change of the string in one step
)

// string finds rest length and difference of the pocket angles that meet brace
// height and tiller, from a braced start (eqs V5, V6). middle is the pivot's
// height. The chains' pockets turn with it.
func (s *pairSolver) string(brace, tiller, middle float64) error {
	turn := 0.0
	for range 60 {
		if err := s.minimise(heldRiser); err != nil {
			return err
		}
		if s.side[0].tension <= 0 {
			return errors.New("the string is slack")
		}
		b, t := s.measure(middle)
		if math.Abs(b-brace) <= stringTol && math.Abs(t-tiller) <= stringTol {
			return believable(turn)
		}
		var db, dt [2]float64
		for p := range db {
			db[p], dt[p] = s.slope(p, middle, b, t)
		}
		det := db[0]*dt[1] - db[1]*dt[0]
		length := ((brace-b)*dt[1] - (tiller-t)*db[1]) / det
		pocket := ((tiller-t)*db[0] - (brace-b)*dt[0]) / det
		short := math.Min(1, math.Min(stringStep/math.Abs(length), stringTurn/math.Abs(pocket)))
		turn += short * pocket
		for i, side := range s.side {
			side.l0 += short * length / 2
			side.c.turnPocket(sigma[i] * short * pocket / 2)
		}
	}
	return fmt.Errorf("no string and no turn of the pockets give a brace height of %.1f mm with a tiller of %.1f mm", brace*1e3, tiller*1e3)
}

// believable refuses pockets no bolt can reach.
func believable(turn float64) error {
	if math.Abs(turn) > 0.15 {
		return fmt.Errorf("limbs and tiller ask for pockets %.1f degrees apart", turn*180/math.Pi)
	}
	return nil
}

// measure reads brace height and tiller off the strung bow: with n square to
// the string toward the archer, n·(H − pivot), and n·(H − root) for either
// limb.
func (s *pairSolver) measure(middle float64) (brace, tiller float64) {
	w := s.side[0].wrap
	nx, ny := w.Ey[0], -w.Ex[0]
	brace = nx*s.hx + ny*(s.hy-middle)
	up, low := s.side[0].c, s.side[1].c
	return brace, nx*(low.X0-up.X0) + ny*(-low.Y0-up.Y0)
}

// slope is what parameter p, the string's length or the pockets' difference,
// does to brace height and tiller: from H dq = −∂g/∂p, read off a small move.
func (s *pairSolver) slope(p int, middle, b, t float64) (db, dt float64) {
	const w = heldRiser
	n, m := s.n, w.size(s.n)
	s.derivatives(w)
	s.factor(m)
	clear(s.step[:m])
	for i, side := range s.side {
		at := s.step[i*n : i*n+n]
		if p == 1 {
			at[0] += sigma[i] * side.c.K[0] / 2
			continue
		}
		// −∂g/∂l0 = EA L/l0² ∇L
		k := side.ea * side.wrap.Length / (side.l0 * side.l0) / 2
		for j := range at {
			at[j] += k * side.gradL[j]
		}
		s.step[2*n] += k * side.gradL[n+1]
		s.step[2*n+1] += k * sigma[i] * side.gradL[n+2]
	}
	substitute(s.f, s.step[:m], m)
	s.remember(w)
	s.move(w, nudge)
	b1, t1 := s.measure(middle)
	s.move(w, 0)
	return (b1 - b) / nudge, (t1 - t) / nudge
}
