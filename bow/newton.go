package bow

import (
	"fmt"
	"math"
)

// solver finds equilibria of one limb with half the string: Newton's method on
// the energy with a shifted Cholesky factor, a cap on the step and Armijo's
// rule. It belongs to one call and is never shared.
type solver struct {
	*limbState
	g, h, f   []float64 // gradient, Hessian, its factor
	step, old []float64
	iter      int // Newton steps since the solver was made
}

// Numbers of the iteration. stepCap keeps a link from swinging past the part
// of the energy that the Hessian describes; forceTol is far above the rounding
// of the gradient (1e-11 N m) and far below anything readable.
const (
	stepCap   = 0.2   // rad, or m for the nock
	forceTol  = 1e-9  // N m, N
	rounding  = 1e-15 // of the string's force, per newton of EA
	maxNewton = 200
	armijo    = 1e-4
)

func newSolver(c *Chain, ea float64) *solver {
	s := &solver{limbState: newLimbState(c, ea)}
	s.room()
	s.relax()
	return s
}

// room makes the working memory.
func (s *solver) room() {
	m := s.c.N + 1
	block := make([]float64, 3*m+2*m*m)
	s.g, s.step, s.old = block[:m:m], block[m:2*m:2*m], block[2*m:3*m:3*m]
	s.h, s.f = block[3*m:3*m+m*m:3*m+m*m], block[3*m+m*m:]
}

// relax puts the limb in its unstressed shape.
func (s *solver) relax() { copy(s.theta, s.c.Natural) }

// hold finds the equilibrium with the nock held at x and the half string of
// rest length l0, from the present shape.
func (s *solver) hold(x, l0 float64) error {
	s.hx, s.hy, s.l0 = x, 0, l0
	return s.minimise(s.c.N)
}

// release finds the equilibrium with the nock free along x, from the present
// shape and nock.
func (s *solver) release(l0 float64) error {
	s.hy, s.l0 = 0, l0
	return s.minimise(s.c.N + 1)
}

// minimise runs Newton's method in the first m unknowns. On success h's factor
// is that of the last step taken from, for the sensitivities.
func (s *solver) minimise(m int) error {
	s.update()
	tol := forceTol + rounding*s.ea
	for range maxNewton {
		s.derivatives(s.g, s.h, m)
		if norm(s.g[:m]) <= tol {
			return nil
		}
		s.iter++
		s.factor(m)
		for i := range m {
			s.step[i] = -s.g[i]
		}
		substitute(s.f, s.step[:m], m)
		if !s.search(m) {
			break
		}
	}
	s.derivatives(s.g, s.h, m)
	if r := norm(s.g[:m]); !(r <= 1e3*tol) {
		return fmt.Errorf("the bow does not settle: %.2g N m are left over with the nock at %.1f mm and a half string of %.1f mm", r, s.hx*1e3, s.l0*1e3)
	}
	return nil
}

// factor makes the Cholesky factor of the Hessian, shifted along the diagonal
// until it is positive.
func (s *solver) factor(m int) {
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

// search moves along the step, shortened to the cap and then until the energy
// falls. It reports false when rounding leaves nothing to gain.
func (s *solver) search(m int) bool {
	n := len(s.theta)
	largest := norm(s.step[:m])
	t := 1.0
	if largest > stepCap {
		t = stepCap / largest
	}
	slope := dot(s.g[:m], s.step[:m])
	before, x := s.energy, s.hx
	copy(s.old, s.theta)
	// below this gain the energy's own rounding decides; Newton's step is
	// then the better judge
	trust := -slope < 1e-10*(1+math.Abs(before))
	for range 40 {
		for i := range s.theta {
			s.theta[i] = s.old[i] + t*s.step[i]
		}
		if m > n {
			s.hx = x + t*s.step[n]
		}
		s.update()
		if trust || s.energy <= before+armijo*t*slope {
			return true
		}
		t /= 2
	}
	return false
}

// cholesky factors the lower triangle of a (row length m) in place and
// leaves the reciprocals of the diagonal on it; it reports whether the matrix
// was safely positive.
func cholesky(a []float64, m int) bool {
	for i := range m {
		ri := a[i*m : i*m+i+1]
		size := ri[i]
		for j := range i {
			rj := a[j*m : j*m+j+1]
			sum := ri[j]
			for k, v := range rj[:j] {
				sum -= ri[k] * v
			}
			ri[j] = sum * rj[j]
		}
		d := size
		for _, v := range ri[:i] {
			d -= v * v
		}
		if !(d > 1e-13*math.Abs(size)) || math.IsInf(d, 1) {
			return false
		}
		ri[i] = 1 / math.Sqrt(d)
	}
	return true
}

// substitute solves L Lᵀ x = b in place with a factor from cholesky.
func substitute(a, b []float64, m int) {
	b = b[:m]
	for i := range b {
		row := a[i*m : i*m+i+1]
		sum := b[i]
		for k, v := range row[:i] {
			sum -= v * b[k]
		}
		b[i] = sum * row[i]
	}
	for i := m - 1; i >= 0; i-- {
		row := a[i*m : i*m+i+1]
		x := b[i] * row[i]
		b[i] = x
		for k, v := range row[:i] {
			b[k] -= v * x
		}
	}
}

func norm(v []float64) (largest float64) {
	for _, x := range v {
		if x = math.Abs(x); !(x <= largest) {
			largest = x
		}
	}
	return largest
}

func dot(a, b []float64) (sum float64) {
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}

func trace(a []float64, m int) (sum float64) {
	for i := range m {
		sum += math.Abs(a[i*m+i])
	}
	return sum
}
