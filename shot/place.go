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
	n := r.n
	riser := q[n+1]
	x, y := r.x0+riser, r.y0
	r.hand.force = r.hand.hold + r.hand.stiffness*riser
	before := r.set.chain.Phi0
	links := r.link
	joints, theta := r.joint[:len(links)], q[:len(links)]
	for i := range links {
		l, j := &links[i], &joints[i]
		th := theta[i]
		s, c := math.Sincos(th)
		x, y = x+l.len*s, y+l.len*c
		l.sin, l.cos, l.x, l.y = s, c, x, y
		j.moment = j.k * (th - before - j.beta)
		before = th
	}
}

// placeString sets directions, lengths and elastic state of the string
// (eqs 7–9).
func (r *resolved) placeString(q motion) {
	c := &r.cable
	n, k := r.n, r.k
	x, y := q[n], 0.0
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
	if straight {
		return c.extend(dx, dy, tip)
	}
	points[tip].x, points[tip].y = end.x, end.y
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
// tip to root (eqs 14–16): A' = A + r I, u = (A' + qI) n, D = n·u − q,
// A ← A' + (p+2q) I − u uᵀ/D.
func (r *resolved) inertia() {
	axx, axy, ayy := r.tip+r.cable.tipX, 0.0, r.tip+r.cable.tipY
	links := r.link
	for i := len(links) - 1; i >= 0; i-- {
		l := &links[i]
		s, c := l.sin, l.cos
		axx, ayy = axx+l.r, ayy+l.r
		bxx, byy := axx+l.q, ayy+l.q
		// n = (cos, −sin), e = (sin, cos)
		ux, uy := bxx*c-axy*s, axy*c-byy*s
		d := c*ux - s*uy - l.q
		inv := 1 / d
		l.ux, l.uy, l.invD = ux, uy, inv
		l.wx, l.wy = l.len*(bxx*s+axy*c), l.len*(axy*s+byy*c)
		tx := ux * inv
		axx += l.pq - tx*ux
		axy -= tx * uy
		ayy += l.pq - uy*inv*uy
	}
	r.rootInertia = axx
}
