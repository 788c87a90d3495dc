package shot

import "math"

// move computes the accelerations for rates v at the coordinates last placed,
// and returns the power lost.
func (r *resolved) move(v, a motion) (lost float64) {
	r.sweepOut(v)
	lost = r.pull(v)
	bx, limbs := r.sweepIn(v)
	lost += limbs
	ax := 0.0
	if !r.hand.clamped {
		// riser: (M_r/2 + A_xx) a_0 = −F_h − b_x (eq. 17)
		rate := v[r.n+1]
		damping := r.hand.damping * rate
		ax = (-r.hand.force - damping - bx) / (r.root + r.rootInertia)
		lost += damping * rate
	}
	a[r.n+1] = ax
	tx, ty := r.accelerate(v, a, ax)
	r.release(a, tx, ty)
	return lost
}

// sweepOut sets the velocities of the links' outer ends.
func (r *resolved) sweepOut(v motion) {
	vx, vy := v[r.n+1], 0.0
	links := r.link
	rates := v[:len(links)]
	for i := range links {
		l := &links[i]
		lw := l.len * rates[i]
		vx, vy = vx+lw*l.cos, vy-lw*l.sin
		l.vx, l.vy = vx, vy
	}
}

// pull sets the tensions T_k = Tm + ηEA(d_k + τ_S d_k') (eq. 9), the reduced
// forces of the string's nodes and the contact forces on the limb.
func (r *resolved) pull(v motion) (lost float64) {
	c := &r.cable
	n, k := r.n, r.k
	ux, uy := v[n], 0.0
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
	strainRate := rate * c.inv
	mean := 0.0
	if c.strain > 0 {
		mean = math.Max(0, c.ea*(c.strain+c.tau*strainRate))
	}
	lost = (mean - c.base) * rate
	// node by node outward: what the segment before pulls back, the one after
	// pulls on
	rx, ry := c.rx[:k+1], c.ry[:k+1]
	softTau := c.soft * c.tau
	tx, ty, px, py := 0.0, 0.0, 0.0, 0.0
	for i := range rx {
		s := &seg[i]
		spread := s.rate*s.inv - strainRate
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
		px = fx - tx - c.cx[i]*px
		py = fy - ty - c.cy[i]*py
		rx[i], ry[i] = px, py
		tx, ty = fx, fy
	}
	r.bear(px, py)
	return lost
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
	r.rootX = 0
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
			r.rootX += (1 - p.f) * gx
			continue
		}
		inner := &r.link[p.link-1]
		inner.fx, inner.fy = inner.fx+(1-p.f)*gx, inner.fy+(1-p.f)*gy
	}
	outer := &r.link[r.n-1]
	r.tipX, r.tipY = r.tipX+outer.fx, r.tipY+outer.fy
}

// sweepIn runs the articulated recursion's other half, tip to root (eqs 15,
// 16), each link in its own frame: b' = b − ω² l(A' + qI)e,
// t = ((M_{i+1} − M_i + Q_i)/l − b'_n)/D, and what t adds to b. The mass
// damping α of each bar acts on the velocities of its ends. It returns what
// reaches the root, and the power lost.
func (r *resolved) sweepIn(v motion) (root, lost float64) {
	links := r.link
	rates := v[:len(links)]
	end := &links[len(links)-1]
	tip := r.set.alpha * r.tip
	fx, fy := tip*end.vx-r.tipX, tip*end.vy-r.tipY
	lost = tip * (end.vx*end.vx + end.vy*end.vy)
	bn, be := fx*end.cos-fy*end.sin, fx*end.sin+fy*end.cos
	touching := len(r.cable.path) > 1
	outer := 0.0 // moment of the outer joint
	for i := len(links) - 1; i >= 0; i-- {
		l := &links[i]
		w := rates[i]
		turn, vx, vy := w, v[r.n+1], 0.0
		if i > 0 {
			turn, vx, vy = w-rates[i-1], links[i-1].vx, links[i-1].vy
		}
		damping := l.kTau * turn
		moment := l.moment + damping
		lost += damping * turn
		couple := outer - moment
		outer = moment
		// the inner end's velocity in the link's frame; the outer end's n part
		un, ue := vx*l.cos-vy*l.sin, vx*l.sin+vy*l.cos
		on := un + l.len*w
		w2 := w * w
		if touching {
			couple += l.torque
		}
		// what is known before b arrives
		dn, de := l.dq*un+l.dr*on, (l.dq+l.dr)*ue
		in, ie := l.dp*un+l.dq*on, (l.dp+l.dq)*ue
		lost += dn*on + in*un + (de+ie)*ue
		g := couple * l.inv
		gn, ge := l.c*(g+in)+l.s*(de+ie-w2*l.we), l.c*(de+ie-w2*l.we)-l.s*(g+in)
		g += w2*l.wn - dn
		// and what b makes of it
		g -= bn
		l.t = g * l.invD
		bn, be = gn+l.s*be+l.tn*g, ge+l.c*be+l.te*g
		if touching && i > 0 {
			f := &links[i-1]
			bn, be = bn-f.fx*f.cos+f.fy*f.sin, be-f.fx*f.sin-f.fy*f.cos
		}
	}
	if touching {
		bn -= r.rootX
		r.unload()
	}
	return bn, lost
}

// unload clears the contact forces for the next evaluation.
func (r *resolved) unload() {
	for i := range r.link {
		l := &r.link[i]
		l.fx, l.fy, l.torque = 0, 0, 0
	}
}

// accelerate runs outward (eq. 18): l θ” = t − (1+q/D) a_n − (A_ne/D) a_e,
// a_n ← a_n + l θ”, a_e ← a_e − l ω². It returns the tip's acceleration.
func (r *resolved) accelerate(v, a motion, root float64) (ax, ay float64) {
	links := r.link
	rates, acc := v[:len(links)], a[:len(links)]
	an, ae := root, 0.0
	for i := range links {
		l := &links[i]
		an, ae = l.c*an-l.s*ae, l.s*an+l.c*ae
		turn := l.t - l.on*an - l.oe*ae
		acc[i] = turn * l.inv
		an, ae = an+turn, ae-l.len*rates[i]*rates[i]
	}
	end := &links[len(links)-1]
	return an*end.cos + ae*end.sin, ae*end.cos - an*end.sin
}

// release gives the string's nodes their accelerations, from the tip inward
// (eq. 13): a_k = r_k/p_k − c_{k+1} a_{k+1}.
func (r *resolved) release(a motion, ax, ay float64) {
	c := &r.cable
	n, k := r.n, r.k
	xs, ys := a[n+2:n+2+k], a[n+2+k:n+2+2*k]
	for i := k; i > 0; i-- {
		ax = c.rx[i]*c.ix[i] - c.cx[i+1]*ax
		ay = c.ry[i]*c.iy[i] - c.cy[i+1]*ay
		xs[i-1], ys[i-1] = ax, ay
	}
	a[n] = c.rx[0]*c.ix[0] - c.cx[1]*ax
}
