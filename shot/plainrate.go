package shot

import "math"

// rate writes dy/dt: velocities, accelerations, power lost.
func (p *plain) rate(y, dydt []float64) {
	d := p.dof()
	n, kk := len(p.l), len(p.h)-1
	v, a := y[d:2*d], dydt[d:2*d]
	copy(dydt[:d], v)
	p.lost = 0
	p.limb(y)
	p.string(y)
	p.couples(y)
	p.dampMass()
	p.linkTensions(v)
	p.accelerate(a)
	// nock, and the string's nodes
	a[n] = p.gx[0] / p.nock
	p.nockAcc = a[n]
	for k := 1; k <= kk; k++ {
		a[n+1+k] = p.gx[k] / p.ms[k]
		a[n+1+kk+k] = p.gy[k] / p.ms[k]
	}
	dydt[2*d] = p.lost
}

// limb places the nodes and their velocities: r_i = r_{i−1} + l_i e_i,
// e_i = (sin θ_i, cos θ_i) (eq. 1), and clears the forces on them.
func (p *plain) limb(y []float64) {
	n, d := len(p.l), p.dof()
	p.rx[0], p.ry[0] = p.set.chain.X0+y[n+1], p.set.chain.Y0
	p.vx[0], p.vy[0] = y[d+n+1], 0
	for i, l := range p.l {
		s, c := math.Sincos(y[i])
		w := y[d+i]
		p.ex[i], p.ey[i] = s, c
		p.rx[i+1], p.ry[i+1] = p.rx[i]+l*s, p.ry[i]+l*c
		p.vx[i+1], p.vy[i+1] = p.vx[i]+l*w*c, p.vy[i]-l*w*s
	}
	copy(p.px, p.rx[1:])
	copy(p.py, p.ry[1:])
	clear(p.fx)
	clear(p.fy)
}

// string finds each segment's tension T = EA(ε + τ_S ε') for ε > 0, never
// negative (eq. 2), and pulls on what the segment joins. The outermost segment
// lies around the limb's nodes along the shortest path.
func (p *plain) string(y []float64) {
	n, d, kk := len(p.l), p.dof(), len(p.h)-1
	p.sx[0], p.sy[0], p.ux[0], p.uy[0] = y[n], 0, y[d+n], 0
	copy(p.sx[1:], y[n+2:n+2+kk])
	copy(p.sy[1:], y[n+2+kk:d])
	copy(p.ux[1:], y[d+n+2:d+n+2+kk])
	copy(p.uy[1:], y[d+n+2+kk:2*d])
	clear(p.gx)
	clear(p.gy)
	p.elastic, p.length = 0, 0
	for k := range kk {
		dx, dy := p.sx[k+1]-p.sx[k], p.sy[k+1]-p.sy[k]
		l := math.Hypot(dx, dy)
		ex, ey := dx/l, dy/l
		t := p.pull(k, l, ex*(p.ux[k+1]-p.ux[k])+ey*(p.uy[k+1]-p.uy[k]))
		p.gx[k] += t * ex
		p.gy[k] += t * ey
		p.gx[k+1] -= t * ex
		p.gy[k+1] -= t * ey
	}
	p.wrapped(kk)
}

// wrapped is the outermost segment, from the last string point round the limb
// to the tip.
func (p *plain) wrapped(k int) {
	p.wrap.Trace(p.sx[k], p.sy[k], p.px, p.py)
	rate, ux, uy := 0.0, p.ux[k], p.uy[k]
	for j, at := range p.wrap.Touch {
		vx, vy := p.vx[at+1], p.vy[at+1]
		rate += p.wrap.Ex[j]*(vx-ux) + p.wrap.Ey[j]*(vy-uy)
		ux, uy = vx, vy
	}
	t := p.pull(k, p.wrap.Length, rate)
	p.gx[k] += t * p.wrap.Ex[0]
	p.gy[k] += t * p.wrap.Ey[0]
	for j, at := range p.wrap.Touch {
		p.fx[at+1] -= t * p.wrap.Ex[j]
		p.fy[at+1] -= t * p.wrap.Ey[j]
		if j+1 < len(p.wrap.Touch) {
			p.fx[at+1] += t * p.wrap.Ex[j+1]
			p.fy[at+1] += t * p.wrap.Ey[j+1]
		}
	}
}

// pull is the tension of segment k, with its energy and losses noted.
func (p *plain) pull(k int, l, rate float64) float64 {
	h, ea := p.h[k], p.set.ea
	p.length += l
	strain := l/h - 1
	t := 0.0
	if strain > 0 {
		t = math.Max(0, ea*(strain+p.set.tauS*rate/h))
		p.elastic += ea * h * strain * strain / 2
	}
	p.lost += (t - ea*math.Max(0, strain)) * rate
	if k == 0 {
		p.pulling = t
	}
	return t
}

// couples turns each joint's moment M_i = k_i[(θ_i−θ_{i−1}−β_i) + τ_L(ω_i−ω_{i−1})]
// (eq. 3) into a pair of forces on the ends of the links it acts on.
func (p *plain) couples(y []float64) {
	d := p.dof()
	before, wBefore := p.set.chain.Phi0, 0.0
	for i, k := range p.k {
		turn, w := y[i]-before-p.beta[i], y[d+i]-wBefore
		before, wBefore = y[i], y[d+i]
		m := k * (turn + p.set.tauL*w)
		p.lost += k * p.set.tauL * w * w
		p.couple(i, -m)
		if i > 0 {
			p.couple(i-1, m)
		}
	}
}

// couple applies the moment q, positive with θ, to link i as forces ±(q/l) n
// on its ends, n = (cos θ, −sin θ).
func (p *plain) couple(i int, q float64) {
	f := q / p.l[i]
	p.fx[i+1] += f * p.ey[i]
	p.fy[i+1] -= f * p.ex[i]
	p.fx[i] -= f * p.ey[i]
	p.fy[i] += f * p.ex[i]
}

// dampMass slows the limb's nodes by −α m v (eq. 4).
func (p *plain) dampMass() {
	for i := 1; i < len(p.m); i++ {
		am := p.set.alpha * p.m[i]
		p.fx[i] -= am * p.vx[i]
		p.fy[i] -= am * p.vy[i]
		p.lost += am * (p.vx[i]*p.vx[i] + p.vy[i]*p.vy[i])
	}
}

// linkTensions solves for the forces λ that keep the links' lengths (eq. 5):
//
//	−(e_i·e_{i−1}/m_{i−1}) λ_{i−1} + (1/m_i + 1/m_{i−1}) λ_i − (e_i·e_{i+1}/m_i) λ_{i+1}
//	    = e_i·(f_i/m_i − f_{i−1}/m_{i−1}) + l_i ω_i²
//
// The root moves along x only, with the riser, or not at all: for the first
// link 1/m_0 becomes e_1x²/m_0 or 0.
func (p *plain) linkTensions(v []float64) {
	hand := p.hand()
	p.fx[0] += hand
	for i := range p.l {
		ex, ey := p.ex[i], p.ey[i]
		in := 1 / p.m[i]
		fx, fy := p.fx[i]*in, p.fy[i]*in
		if i == 0 {
			fx, fy, in = p.rootAcc(p.fx[0]), 0, p.rootMobility()*ex*ex
		} else {
			p.lo[i] = -(ex*p.ex[i-1] + ey*p.ey[i-1]) * in
		}
		out := 1 / p.m[i+1]
		p.di[i] = in + out
		if i+1 < len(p.l) {
			p.up[i] = -(ex*p.ex[i+1] + ey*p.ey[i+1]) * out
		}
		p.lambda[i] = ex*(p.fx[i+1]*out-fx) + ey*(p.fy[i+1]*out-fy) + p.l[i]*v[i]*v[i]
	}
	solveTridiagonal(p.lo, p.di, p.up, p.lambda)
}

// hand is half the force of the bow hand on the riser along x: it balances
// full draw and gives way like a spring with a damper (eq. 6).
func (p *plain) hand() float64 {
	if p.set.clamped {
		return 0
	}
	x, v := p.rx[0]-p.set.chain.X0, p.vx[0]
	p.lost += p.set.handDamping / 2 * v * v
	return -(p.set.hold + p.set.handStiffness*x + p.set.handDamping*v) / 2
}

func (p *plain) rootMobility() float64 {
	if p.set.clamped {
		return 0
	}
	return 1 / p.m[0]
}

func (p *plain) rootAcc(fx float64) float64 { return fx * p.rootMobility() }

// accelerate turns forces and link tensions into a_i = (f_i − λ_i e_i + λ_{i+1} e_{i+1})/m_i
// and θ_i” = n_i·(a_i − a_{i−1})/l_i.
func (p *plain) accelerate(a []float64) {
	n := len(p.l)
	ax, ay := p.rootAcc(p.fx[0]+p.lambda[0]*p.ex[0]), 0.0
	a[n+1] = ax
	for i, l := range p.l {
		fx, fy := p.fx[i+1]-p.lambda[i]*p.ex[i], p.fy[i+1]-p.lambda[i]*p.ey[i]
		if i+1 < n {
			fx, fy = fx+p.lambda[i+1]*p.ex[i+1], fy+p.lambda[i+1]*p.ey[i+1]
		}
		bx, by := fx/p.m[i+1], fy/p.m[i+1]
		a[i] = (p.ey[i]*(bx-ax) - p.ex[i]*(by-ay)) / l
		ax, ay = bx, by
	}
}

// solveTridiagonal solves in place; the solution replaces b.
func solveTridiagonal(lo, di, up, b []float64) {
	for i := 1; i < len(b); i++ {
		w := lo[i] / di[i-1]
		di[i] -= w * up[i-1]
		b[i] -= w * b[i-1]
	}
	last := len(b) - 1
	b[last] /= di[last]
	for i := last - 1; i >= 0; i-- {
		b[i] = (b[i] - up[i]*b[i+1]) / di[i]
	}
}
