package shot

import "math"

// place computes all that depends on the coordinates alone.
func (r *resolved) place(q motion) {
	r.placeLimb(q)
	r.placeString(q)
	r.inertia()
}

// placeLimb sets directions, nodes and joint moments (eqs 1, 3).
func (r *resolved) placeLimb(q motion) {
	if !r.paired {
		riser := q[r.n+1]
		r.hand.force = r.hand.hold + r.hand.stiffness*riser
		r.foot.x = r.x0 + riser
	}
	x, y := r.foot.x, r.foot.y
	before, sin, cos := 0.0, 0.0, 1.0
	turn := r.set.chain.Phi0 + r.foot.turn
	links := r.link
	theta := q[:len(links)]
	for i := range links {
		l := &links[i]
		th := theta[i]
		s, c := sincos(th)
		x, y = x+l.len*s, y+l.len*c
		l.sin, l.cos, l.x, l.y = s, c, x, y
		l.c, l.s = c*cos+s*sin, s*cos-c*sin
		l.moment = l.k * (th - before - turn - l.beta)
		before, sin, cos, turn = th, s, c, 0
	}
}

// placeString sets directions, lengths and elastic state of the string
// (eqs 7–9).
func (r *resolved) placeString(q motion) {
	c := &r.cable
	n, k := r.n, r.k
	x, y := q[n]+r.foot.sx, r.foot.sy
	xs, ys := q[n+2:n+2+k], q[n+2+k:n+2+2*k]
	seg := c.seg[:k+1]
	length := 0.0
	for i := range xs {
		s := &seg[i]
		dx, dy := xs[i]-x, ys[i]-y
		l := math.Sqrt(dx*dx + dy*dy)
		inv := 1 / l
		s.ex, s.ey, s.l = dx*inv, dy*inv, l
		length += l
		x, y = xs[i], ys[i]
	}
	seg[k].l = r.wrap(x, y)
	length += seg[k].l
	c.length = length
	c.strain = length*c.inv - 1
	c.base = c.ea * math.Max(0, c.strain)
	for i := range seg {
		s := &seg[i]
		s.d = s.l*s.inv - 1 - c.strain
	}
}

// wrap finds the shortest path from the last string node (x, y) round the
// contact points above it to the tip, fills cable.path and returns its length
// (eq. 10). As long as every point lies behind the straight line, that is the
// path.
func (r *resolved) wrap(x, y float64) float64 {
	points := r.point
	tip := len(points) - 1
	end := &r.link[r.n-1]
	dx, dy := end.x-x, end.y-y
	straight := true
	low := tip
	for low > 0 {
		p := &points[low-1]
		l := &r.link[p.link]
		// the outer node, moved back along the link and out toward the archer
		back := l.len - p.along
		p.x = l.x - back*l.sin + p.off*l.cos
		p.y = l.y - back*l.cos - p.off*l.sin
		if p.y <= y {
			break
		}
		low--
		straight = straight && (p.x-x)*dy <= (p.y-y)*dx
	}
	c := &r.cable
	c.from = low
	c.path = c.path[:0]
	points[tip].x, points[tip].y = end.x, end.y
	if straight {
		return c.extend(dx, dy, tip)
	}
	return r.giftWrap(x, y, low)
}

// giftWrap turns round each point that lies farthest toward the archer as
// seen from the one before.
func (r *resolved) giftWrap(x, y float64, low int) (length float64) {
	points := r.point
	tip := len(points) - 1
	for at := low - 1; at < tip; {
		best := tip
		bx, by := points[tip].x-x, points[tip].y-y
		for j := tip - 1; j > at; j-- {
			dx, dy := points[j].x-x, points[j].y-y
			if dx*by-dy*bx > 0 {
				best, bx, by = j, dx, dy
			}
		}
		length += r.cable.extend(bx, by, best)
		x, y, at = points[best].x, points[best].y, best
	}
	return length
}

// extend adds a piece to the path and returns its length.
func (c *cable) extend(dx, dy float64, to int) float64 {
	l := math.Sqrt(dx*dx + dy*dy)
	c.path = append(c.path, piece{dx / l, dy / l, l, to})
	return l
}

// inertia runs the articulated recursion's half that depends on position only,
// tip to root (eqs 14–16), each link in its own frame. What hangs on the outer
// end resists with A. With D = A_nn + r, the link passes inward
//
//	A_nn = p − q²/D,  A_ne = −q A_ne/D,  A_ee = A_ee + m − A_ne²/D,
//
// turned into the next frame by (c, s). In the turned form only one division,
// one product and one difference wait for the link before.
func (r *resolved) inertia() {
	links := r.link
	end := &links[len(links)-1]
	mx, my := r.tip+r.cable.tipX, r.tip+r.cable.tipY
	ann := end.cos*end.cos*mx + end.sin*end.sin*my
	aee := end.sin*end.sin*mx + end.cos*end.cos*my
	ane := end.sin * end.cos * (mx - my)
	for i := len(links) - 1; i >= 0; i-- {
		l := &links[i]
		c, s, p, q := l.c, l.s, l.p, l.q
		inv := 1 / (ann + l.r)
		tn, te := c*q+s*ane, c*ane-s*q
		ee := aee + l.mass
		l.ane, l.invD = ane, inv
		l.tn, l.te = tn*inv, te*inv
		l.wn, l.we = l.len*ane, l.len*(aee+l.qr)
		l.on, l.oe = 1+q*inv, ane*inv
		cc, ss := c*c, s*s
		ann = cc*p + ss*ee - tn*tn*inv
		aee = ss*p + cc*ee - te*te*inv
		ane = c*s*(ee-p) - tn*te*inv
	}
	r.rootInertia, r.rootXY, r.rootYY = ann, ane, aee
}

// inspect keeps the smallest gap seen between string and limb where the model
// lets them pass: the string below its last node looks for no contact, so the
// first contact point below that node must lie behind it, and the node itself
// before the limb.
func (r *resolved) inspect() {
	from, k := r.cable.from, r.k
	if k == 0 || from == 0 {
		return
	}
	p, up := &r.point[from-1], &r.point[from]
	x, y := r.q[r.n+1+k], r.q[r.n+1+2*k]
	s := &r.cable.seg[k-1]
	r.gap = math.Min(r.gap, (p.y-y)*s.ex-(p.x-x)*s.ey)
	dx, dy := up.x-p.x, up.y-p.y
	r.gap = math.Min(r.gap, ((x-p.x)*dy-(y-p.y)*dx)/math.Hypot(dx, dy))
}
