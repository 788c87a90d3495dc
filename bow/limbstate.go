package bow

import "math"

// limbState is the working memory of one limb with its half of the string: the
// shape, the string's path, energy and the derivatives. It belongs to one
// solver and is never shared.
//
// The unknowns are the link angles and the free point of the string, so that
// the same pieces serve a nock that is held, a nock that is free along x, and
// a later bow with two different limbs.
type limbState struct {
	c  *Chain
	ea float64 // half string stiffness is ea/l0

	// where the root stands and which way the pocket points; a bow whose
	// riser turns moves them
	rootX, rootY, clamp float64

	theta    []float64
	hx, hy   float64 // the string's free point
	l0       float64 // half rest length
	sin, cos []float64
	px, py   []float64
	wrap     *Wrap
	bend     float64 // bending energy
	stretch  float64 // L-L0, positive when taut
	tension  float64
	energy   float64 // of one limb and half string
	gradL    []float64
	turnL    []float64 // a_i = dv_i × e of one piece
	diagL    []float64
}

func newLimbState(c *Chain, ea float64) *limbState {
	n, m := c.N, len(c.Contacts)
	block := make([]float64, 6*n+9+2*m)
	take := func(k int) []float64 {
		s := block[:k:k]
		block = block[k:]
		return s
	}
	return &limbState{
		c: c, ea: ea, wrap: NewWrap(m),
		rootX: c.X0, rootY: c.Y0, clamp: c.Phi0,
		theta: take(n), sin: take(n), cos: take(n), px: take(m), py: take(m),
		gradL: take(n + 3), turnL: take(n + 3), diagL: take(n + 3),
	}
}

// update computes shape, path, tension and energy for the present angles,
// free point and rest length (eqs 1, 7–10).
func (s *limbState) update() {
	s.points()
	s.bend = s.bendingEnergy()
	s.wrap.Trace(s.hx, s.hy, s.px, s.py)
	s.pull()
}

func (s *limbState) points() {
	c := s.c
	n := len(s.theta)
	length, sin, cos := c.Len[:n], s.sin[:n], s.cos[:n]
	contacts := c.Contacts
	px, py := s.px[:len(contacts)], s.py[:len(contacts)]
	rx, ry := s.rootX, s.rootY
	j := 0
	for i, th := range s.theta {
		sn, cs := math.Sincos(th)
		sin[i], cos[i] = sn, cs
		l := length[i]
		for ; j < len(contacts) && contacts[j].Link == i; j++ {
			f, o := contacts[j].F*l, contacts[j].O
			px[j], py[j] = rx+f*sn+o*cs, ry+f*cs-o*sn
		}
		rx, ry = rx+l*sn, ry+l*cs
	}
}

func (s *limbState) bendingEnergy() (v float64) {
	n := len(s.theta)
	k, beta := s.c.K[:n], s.c.Beta[:n]
	before := s.clamp
	for i, th := range s.theta {
		d := th - before - beta[i]
		v += k[i] * d * d
		before = th
	}
	return v / 2
}

// pull sets tension and energy from the path's length: ½(EA/L0)(L−L0)₊²
// (eq. 9).
func (s *limbState) pull() {
	s.stretch = s.wrap.Length - s.l0
	s.tension, s.energy = 0, s.bend
	if s.stretch > 0 {
		s.tension = s.ea / s.l0 * s.stretch
		s.energy += s.tension * s.stretch / 2
	}
}

// derivatives fills g with the gradient and h (row-major, row length m, lower
// triangle) with the exact Hessian of the energy. m is N for a held free
// point, N+1 when its x is an unknown too (eq. 11).
func (s *limbState) derivatives(g, h []float64, m int) {
	clear(h[:m*m])
	clear(g[:m])
	s.bendingDerivatives(g, h, m)
	if s.tension > 0 {
		s.stringDerivatives(g, h, m)
	}
}

func (s *limbState) bendingDerivatives(g, h []float64, m int) {
	n := len(s.theta)
	k, beta := s.c.K[:n], s.c.Beta[:n]
	before := s.clamp
	for i, th := range s.theta {
		moment := k[i] * (th - before - beta[i])
		before = th
		g[i] += moment
		h[i*m+i] += k[i]
		if i > 0 {
			g[i-1] -= moment
			h[i*m-m+i-1] += k[i]
			h[i*m+i-1] -= k[i]
		}
	}
}

// stringDerivatives adds T ∇L to g and (EA/L0) ∇L∇Lᵀ + T ∇²L to h.
func (s *limbState) stringDerivatives(g, h []float64, m int) {
	grad, diag := s.gradL[:m], s.diagL[:m]
	s.addPaths(h, m)
	t, k := s.tension, s.ea/s.l0
	for i, gi := range grad {
		g[i] += t * gi
		row := h[i*m : i*m+i+1]
		kg := k * gi
		for j := range row {
			row[j] += kg * grad[j]
		}
		row[i] += t * diag[i]
	}
}

// addPaths leaves ∇L and the diagonal part of ∇²L in gradL and diagL, and adds
// each piece's T/l · a aᵀ to h.
func (s *limbState) addPaths(h []float64, m int) {
	grad, diag := s.gradL[:m], s.diagL[:m]
	clear(grad)
	clear(diag)
	n := len(s.theta)
	// the first piece comes last, so that turnL is left holding its a_i
	for k := len(s.wrap.Touch) - 1; k >= 0; k-- {
		ex, ey, from := s.wrap.Ex[k], s.wrap.Ey[k], -1
		if k > 0 {
			from = s.wrap.Touch[k-1]
		}
		lo, hi := s.piece(from, s.wrap.Touch[k], ex, ey)
		scale := s.tension / s.wrap.Piece[k]
		a := s.turnL[:m]
		for i := lo; i <= hi; i++ {
			row, ai := h[i*m+lo:i*m+i+1], scale*a[i]
			for j := range row {
				row[j] += ai * a[lo+j]
			}
		}
		// the free point's own column: dv/dx = (−1, 0)
		if from < 0 && m > n {
			a[n] = -ey
			grad[n] -= ex
			row, ax := h[n*m:n*m+m], scale*a[n]
			for j := lo; j <= hi; j++ {
				row[j] += ax * a[j]
			}
			row[n] += ax * a[n]
		}
	}
}

// piece handles one straight piece from contact point from to contact point
// to along e: it adds to gradL and diagL, writes a_i into turnL and returns
// the range of links that move the piece.
func (s *limbState) piece(from, to int, ex, ey float64) (lo, hi int) {
	end := s.c.Contacts[to]
	hi = end.Link
	if from >= 0 {
		lo = s.c.Contacts[from].Link
	}
	n := hi + 1
	clear(s.turnL[n:])
	length, sin, cos := s.c.Len[:n], s.sin[:n], s.cos[:n]
	grad, diag, turn := s.gradL[:n], s.diagL[:n], s.turnL[:n]
	for i := lo; i < n; i++ {
		// how far along and off the link the piece's ends move with it
		f, o := length[i], 0.0
		if i == hi {
			f, o = f*end.F, end.O
		}
		if from >= 0 && i == lo {
			start := s.c.Contacts[from]
			f, o = f-length[i]*start.F, o-start.O
		}
		// dv = f·n − o·e_i with n = (cos, −sin), e_i = (sin, cos); d²v = −f·e_i − o·n
		along := sin[i]*ex + cos[i]*ey
		across := cos[i]*ex - sin[i]*ey
		grad[i] += f*across - o*along
		diag[i] += -f*along - o*across
		turn[i] = f*along + o*across
	}
	return lo, hi
}
