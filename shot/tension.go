package shot

import "math"

// pull sets the tensions, the reduced forces of the string's nodes and the
// contact forces on the limb.
func (r *resolved) pull(v motion) (lost float64) {
	lost = r.tensions(v)
	r.bear(r.cable.reduce())
	return lost
}

// tensions sets T_k = Tm + ηEA(d_k + τ_S d_k') (eq. 9) and the force on each
// node of the string.
func (r *resolved) tensions(v motion) (lost float64) {
	c := &r.cable
	n, k := r.n, r.k
	ux, uy := v[n]+r.foot.svx, r.foot.svy
	us, ws := v[n+2:n+2+k], v[n+2+k:n+2+2*k]
	seg := c.seg[:k+1]
	rate := 0.0
	for i := range us {
		s := &seg[i]
		s.rate = s.ex*(us[i]-ux) + s.ey*(ws[i]-uy)
		rate += s.rate
		ux, uy = us[i], ws[i]
	}
	last := r.pathRate(v, ux, uy)
	seg[k].rate = last
	rate += last
	// string let out at the inner end does not stretch
	strainRate := (rate - (1+c.strain)*r.foot.growth) * c.inv
	mean := 0.0
	if c.strain > 0 {
		mean = math.Max(0, c.ea*(c.strain+c.tau*strainRate))
	}
	lost = (mean - c.base) * rate
	// node by node outward: what the segment before pulls back, the one after
	// pulls on
	rx, ry := c.rx[:k+1], c.ry[:k+1]
	softTau := c.soft * c.tau
	tx, ty := 0.0, 0.0
	growth := r.foot.growth * (1 + seg[0].d + c.strain)
	for i := range rx {
		s := &seg[i]
		spread := (s.rate-growth)*s.inv - strainRate
		growth = 0
		lost += softTau * spread * s.rate
		t := mean + c.soft*s.d + softTau*spread
		ex, ey := s.ex, s.ey
		if i == k {
			ex, ey = c.path[0].ex, c.path[0].ey
			c.end = t
		}
		if i == 0 {
			c.tension = t
		}
		fx, fy := t*ex, t*ey
		rx[i], ry[i] = fx-tx, fy-ty
		tx, ty = fx, fy
	}
	return lost
}

// reduce eliminates the forces on the string's nodes toward the tip (eq. 13)
// and returns what is left at the last one.
func (c *cable) reduce() (px, py float64) {
	rx, ry := c.rx[:c.k+1], c.ry[:c.k+1]
	for i := range rx {
		px = rx[i] - c.cx[i]*px
		py = ry[i] - c.cy[i]*py
		rx[i], ry[i] = px, py
	}
	return px, py
}

// pathRate is dl/dt of the segment that lies around the limb, from the last
// node moving at (ux, uy).
func (r *resolved) pathRate(v motion, ux, uy float64) (rate float64) {
	path := r.cable.path
	for _, w := range path[:len(path)-1] {
		p := &r.point[w.to]
		l := &r.link[p.link]
		// v_i + ω((f−1) l n − o e), n = (cos, −sin), e = (sin, cos)
		turn, back := v[p.link], p.along-l.len
		vx := l.vx + turn*(back*l.cos-p.off*l.sin)
		vy := l.vy - turn*(back*l.sin+p.off*l.cos)
		rate += w.ex*(vx-ux) + w.ey*(vy-uy)
		ux, uy = vx, vy
	}
	w, tip := &path[len(path)-1], &r.link[r.n-1]
	return rate + w.ex*(tip.vx-ux) + w.ey*(tip.vy-uy)
}

// bear puts the string's force on the tip and on the contact points; (px, py)
// is the reduced force of the last node.
func (r *resolved) bear(px, py float64) {
	c := &r.cable
	last := len(c.path) - 1
	w := &c.path[last]
	r.tipX, r.tipY = -c.end*w.ex-c.cx[r.k+1]*px, -c.end*w.ey-c.cy[r.k+1]*py
	r.rootX, r.rootY = 0, 0
	if last == 0 {
		return
	}
	for j := range c.path[:last] {
		in, out := &c.path[j], &c.path[j+1]
		gx, gy := c.end*(out.ex-in.ex), c.end*(out.ey-in.ey)
		p := &r.point[in.to]
		l := &r.link[p.link]
		l.fx, l.fy = l.fx+p.f*gx, l.fy+p.f*gy
		l.torque -= p.off * (gx*l.sin + gy*l.cos)
		if p.link == 0 {
			r.rootX, r.rootY = r.rootX+(1-p.f)*gx, r.rootY+(1-p.f)*gy
			continue
		}
		inner := &r.link[p.link-1]
		inner.fx, inner.fy = inner.fx+(1-p.f)*gx, inner.fy+(1-p.f)*gy
	}
	outer := &r.link[r.n-1]
	r.tipX, r.tipY = r.tipX+outer.fx, r.tipY+outer.fy
}

// release gives the string's nodes their accelerations, from the tip inward
// (eq. 13): a_k = r_k/p_k − c_{k+1} a_{k+1}.
func (r *resolved) release(a motion, ax, ay float64) (nockY float64) {
	c := &r.cable
	n, k := r.n, r.k
	xs, ys := a[n+2:n+2+k], a[n+2+k:n+2+2*k]
	for i := k; i > 0; i-- {
		ax = c.rx[i]*c.ix[i] - c.cx[i+1]*ax
		ay = c.ry[i]*c.iy[i] - c.cy[i+1]*ay
		xs[i-1], ys[i-1] = ax, ay
	}
	a[n] = c.rx[0]*c.ix[0] - c.cx[1]*ax
	return c.ry[0]*c.iy[0] - c.cy[1]*ay
}
