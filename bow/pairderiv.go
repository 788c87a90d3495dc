package bow

import "math"

// turnTo moves one limb's root with the riser turned by psi in the limb's own
// frame (eq. V1): r0 = (X0 cos ψ + Y0 sin ψ, −X0 sin ψ + Y0 cos ψ).
func (s *limbState) turnTo(psi float64) {
	sin, cos := math.Sincos(psi)
	x, y := s.c.X0, s.c.Y0
	s.rootX, s.rootY = x*cos+y*sin, y*cos-x*sin
	s.clamp = s.c.Phi0 + psi
}

// sideDerivatives fills g with the gradient and h with the exact Hessian
// (lower triangle, row length N+3) of one limb and its part of the string over
// link angles, riser turn ψ, and the free point's x and y (eqs V3, V4).
func (s *limbState) sideDerivatives(g, h []float64) {
	n := len(s.theta)
	m := n + 3
	clear(h[:m*m])
	clear(g[:m])
	s.bendingDerivatives(g, h, m)
	// the pocket turns with the riser
	k := s.c.K[0]
	g[n] -= k * (s.theta[0] - s.clamp - s.c.Beta[0])
	h[n*m+n] += k
	h[n*m] -= k
	if s.tension > 0 {
		s.sidePaths(h, m)
		s.spreadString(g, h, m)
	}
}

// spreadString adds T ∇L to g, and (EA/L0) ∇L∇Lᵀ with the diagonal part of
// T ∇²L to h.
func (s *limbState) spreadString(g, h []float64, m int) {
	grad, diag := s.gradL[:m], s.diagL[:m]
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

// sidePaths is addPaths with the riser's turn and both of the free point's
// coordinates: only the first piece, between free point and limb, sees them.
func (s *limbState) sidePaths(h []float64, m int) {
	grad, diag := s.gradL[:m], s.diagL[:m]
	clear(grad)
	clear(diag)
	n := len(s.theta)
	for k := len(s.wrap.Touch) - 1; k >= 0; k-- {
		ex, ey, from := s.wrap.Ex[k], s.wrap.Ey[k], -1
		if k > 0 {
			from = s.wrap.Touch[k-1]
		}
		lo, hi := s.piece(from, s.wrap.Touch[k], ex, ey)
		scale := s.tension / s.wrap.Piece[k]
		a := s.turnL[:m]
		for i := lo; i <= hi; i++ {
			addRow(h[i*m+lo:i*m+i+1], scale*a[i], a[lo:])
		}
		if from >= 0 {
			continue
		}
		// dv/dψ = (r0_y, −r0_x), dv/dHx = (−1, 0), dv/dHy = (0, −1)
		x, y := s.rootX, s.rootY
		a[n], a[n+1], a[n+2] = y*ey+x*ex, -ey, ex
		grad[n] += y*ex - x*ey
		grad[n+1] -= ex
		grad[n+2] -= ey
		diag[n] -= x*ex + y*ey
		for i := n; i < m; i++ {
			row, ai := h[i*m:i*m+i+1], scale*a[i]
			addRow(row[lo:hi+1], ai, a[lo:])
			addRow(row[n:], ai, a[n:])
		}
	}
}

// addRow adds f·a to row.
func addRow(row []float64, f float64, a []float64) {
	a = a[:len(row)]
	for j := range row {
		row[j] += f * a[j]
	}
}
