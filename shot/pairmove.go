package shot

// inward (eq. V10) eliminates one part of the string's accelerations toward the nock,
// the limb's tip taken as still: with eight nodes or more, what the tip's own
// motion would add there is below 1e-8 of it.
type inward struct {
	c    []float64 // off_k/p_{k+1}, 0..K-1
	mass float64   // what the part adds at the nock
}

func newInward(c *cable) inward {
	in := inward{c: make([]float64, c.k), mass: c.diagX[0]}
	p := 0.0
	for k := c.k; k > 0; k-- {
		p2 := c.diagX[k]
		if k < c.k {
			p2 -= c.off[k] * c.off[k] / p
		}
		p = p2
		in.c[k-1] = c.off[k-1] / p
	}
	if c.k > 0 {
		in.mass -= c.off[0] * in.c[0]
	}
	return in
}

// force is what the nodes' forces come to at the nock.
func (in *inward) force(c *cable) (fx, fy float64) {
	fx, fy = c.rx[c.k], c.ry[c.k]
	for k := c.k - 1; k >= 0; k-- {
		fx = c.rx[k] - in.c[k]*fx
		fy = c.ry[k] - in.c[k]*fy
	}
	return fx, fy
}

// carry sets the string's elimination toward the tips, with an arrow of the
// given mass on the nock, and the rider's share in its height.
func (r *pair) carry(arrow float64) {
	up := 0.0
	if r.rider != nil && !r.flown {
		up = 1 / r.soft
	}
	for i, h := range r.half {
		other := r.inner[1-i].mass
		own := h.cable.diagX[0]
		h.cable.eliminate(own+other+arrow, own+other+up)
	}
}

// attached is the arrow's mass while it is on the string.
func (r *pair) attached() float64 {
	if r.flown {
		return 0
	}
	return r.set.side[0].arrow
}

// move computes the accelerations for rates v at the coordinates last placed,
// and returns the power lost to the outside: damping, hand and rest, less what
// fingers, thrust and gravity give.
func (r *pair) move(q, v, a motion, t float64) (lost float64) {
	s := &r.set
	r.tread(v)
	var force [2][2]float64 // of each part on the nock
	for i, h := range r.half {
		h.sweepOut(r.block(v, i))
		lost += h.tensions(r.block(v, i))
		force[i][0], force[i][1] = r.inner[i].force(&h.cable)
	}
	lost -= r.fingers()
	lift := r.lift(q)
	lost -= lift * r.tail(v)[atNockY]

	own := r.inner[0].mass + r.inner[1].mass
	ax := (force[0][0] + force[1][0]) / (own + r.attached())
	upward := r.ride(q, v, a, t, -ax, &lost) + lift

	var root [2][2]float64 // force of each limb on its root, before it moves
	for i, h := range r.half {
		c, o := &h.cable, 1-i
		c.rx[0] += force[o][0]
		c.ry[0] += sigmas[i] * (sigmas[o]*force[o][1] + upward)
		h.bear(c.reduce())
		bx, by, l := h.sweepIn(r.block(v, i))
		root[i] = [2]float64{bx, by}
		lost += l
	}
	acc := r.riser(q, v, root, &lost)
	tail := r.tail(a)
	tail[atRiserY], tail[atPitch] = acc[1], acc[2]
	nockX, nockY := 0.0, 0.0
	for i, h := range r.half {
		b, sg, arm := r.block(a, i), sigmas[i], r.arm[i]
		w2 := h.foot.rate * h.foot.rate
		turn := sg * acc[2]
		tx, ty := h.accelerate(r.block(v, i), b, acc[0]+arm[1]*turn-w2*arm[0], sg*acc[1]-arm[0]*turn-w2*arm[1])
		nockY += sg * h.release(b, tx, ty) / 2
		nockX += b[r.n] / 2
	}
	for i := range r.half {
		b := r.block(a, i)
		b[r.n], b[r.n+1] = nockX, acc[0]
	}
	tail[atNockY] = nockY
	r.shake(a, nockY)
	if s.clamped {
		tail[atRiserY], tail[atPitch] = 0, 0
	}
	return lost
}

// fingers is the power the opening fingers give the string while its part
// passes from the hook to the nock: ∂E/∂h h' (eq. V12).
func (r *pair) fingers() float64 {
	if r.hookVel == 0 {
		return 0
	}
	s := &r.set
	i := s.hookSide
	c := &r.half[i].cable
	ex, ey := c.seg[0].ex, c.seg[0].ey
	if c.k == 0 {
		ex, ey = c.path[0].ex, c.path[0].ey
	}
	along := s.stretched * (ex*s.away[0] + sigmas[i]*ey*s.away[1])
	d := c.seg[0].d
	rate := c.tension*along + c.base + c.base*c.base/(2*c.ea)
	rate += c.soft * d * (c.seg[0].l*c.seg[0].inv - d/2)
	return r.hookVel * rate
}

// lift is the fingers' upward push on the nock.
func (r *pair) lift(q motion) float64 {
	s := &r.set
	if s.cfg.Lift == 0 {
		return 0
	}
	x := (s.nockX - q[r.n]) / liftReach
	if x <= 0 || x >= 1 {
		return 0
	}
	return s.cfg.Lift * s.pull[0] * sinPi(x)
}

// ride lets the rider push: it leaves the accelerations without the string's
// force in a, and returns the force its mass at the nock is given by them.
func (r *pair) ride(q, v, a motion, t, thrust float64, lost *float64) float64 {
	r.restPush = 0
	if r.rider == nil {
		return 0
	}
	nock := [3]float64{q[r.n], v[r.n], thrust}
	if r.flown {
		nock = [3]float64{r.arrowX + r.arrowV*(t-r.flownAt), r.arrowV, 0}
	}
	tv := r.tail(v)
	rest := [4]float64{
		q[r.n+1] + r.restArm[0], r.tail(q)[atRiserY] + r.restArm[1],
		v[r.n+1] + r.restArm[1]*tv[atPitch], tv[atRiserY] - r.restArm[0]*tv[atPitch],
	}
	push, power := r.rider.Push(t, nock, rest, r.amplitudes(q), r.amplitudes(v), r.amplitudes(a))
	r.restPush = push
	*lost += power
	if r.flown {
		return 0
	}
	sum := 0.0
	for j, f := range r.amplitudes(a) {
		sum += r.p[j] * f
	}
	return sum / r.soft
}

// shake adds what the string does to the rider: the force that gives its nock
// the acceleration found.
func (r *pair) shake(a motion, nockY float64) {
	if r.rider == nil || r.flown {
		return
	}
	acc := r.amplitudes(a)
	sum := 0.0
	for j, f := range acc {
		sum += r.p[j] * f
	}
	pull := (nockY - sum) / r.soft
	for j := range acc {
		acc[j] += r.p[j] * pull
	}
}

// riser solves for the accelerations of the pressure point and of the pitch
// (eq. V9). It adds the power given to the hand.
func (r *pair) riser(q, v motion, root [2][2]float64, lost *float64) [3]float64 {
	s := &r.set
	if s.clamped {
		return [3]float64{}
	}
	tq, tv := r.tail(q), r.tail(v)
	x, y, vx, vy, w := q[r.n+1], tq[atRiserY], v[r.n+1], tv[atRiserY], tv[atPitch]
	fx := s.pull[0] + s.kx*x + s.cx*vx
	fy := s.ky*y + s.cy*vy
	if s.pull[0] != 0 {
		fy += s.pull[1] / s.pull[0] * fx
	}
	*lost += fx*vx + fy*vy
	c, m := r.balance, s.mass
	mat := [3][3]float64{
		{m, 0, m * c[1]}, {0, m, -m * c[0]}, {m * c[1], -m * c[0], m*(c[0]*c[0]+c[1]*c[1]) + s.inertia},
	}
	f := [3]float64{-fx + m*w*w*c[0], -fy + m*w*w*c[1] - r.restPush, r.restPush * r.restArm[0]}
	for i, h := range r.half {
		sg, arm := sigmas[i], r.arm[i]
		axx, axy, ayy := h.rootInertia, h.rootXY, h.rootYY
		// J = [[1, 0, σ r_y], [0, σ, −σ r_x]]
		jx, jy := sg*arm[1], -sg*arm[0]
		w2 := h.foot.rate * h.foot.rate
		bx := root[i][0] - w2*(axx*arm[0]+axy*arm[1])
		by := root[i][1] - w2*(axy*arm[0]+ayy*arm[1])
		f[0] -= bx
		f[1] -= sg * by
		f[2] += sg*h.rootMoment - jx*bx - jy*by
		mat[0][0] += axx
		mat[1][1] += ayy
		mat[0][1] += sg * axy
		ux, uy := axx*jx+axy*jy, axy*jx+ayy*jy
		mat[0][2] += ux
		mat[1][2] += sg * uy
		mat[2][2] += jx*ux + jy*uy
	}
	mat[1][0], mat[2][0], mat[2][1] = mat[0][1], mat[0][2], mat[1][2]
	return solve3(mat, f)
}

// solve3 solves a symmetric positive system by elimination.
func solve3(a [3][3]float64, b [3]float64) (x [3]float64) {
	f := a[1][0] / a[0][0]
	a[1][1] -= f * a[0][1]
	a[1][2] -= f * a[0][2]
	b[1] -= f * b[0]
	g := a[2][0] / a[0][0]
	a[2][1] -= g * a[0][1]
	a[2][2] -= g * a[0][2]
	b[2] -= g * b[0]
	g = a[2][1] / a[1][1]
	a[2][2] -= g * a[1][2]
	b[2] -= g * b[1]
	x[2] = b[2] / a[2][2]
	x[1] = (b[1] - a[1][2]*x[2]) / a[1][1]
	x[0] = (b[0] - a[0][1]*x[1] - a[0][2]*x[2]) / a[0][0]
	return x
}
