package shot

// move computes the accelerations for rates v at the coordinates last placed,
// and returns the power lost.
func (r *resolved) move(v, a motion) (lost float64) {
	r.sweepOut(v)
	lost = r.pull(v)
	bx, _, limbs := r.sweepIn(v)
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
	tx, ty := r.accelerate(v, a, ax, 0)
	r.release(a, tx, ty)
	return lost
}

// sweepOut sets the velocities of the links' outer ends.
func (r *resolved) sweepOut(v motion) {
	if !r.paired {
		r.foot.vx = v[r.n+1]
	}
	vx, vy := r.foot.vx, r.foot.vy
	links := r.link
	rates := v[:len(links)]
	for i := range links {
		l := &links[i]
		lw := l.len * rates[i]
		vx, vy = vx+lw*l.cos, vy-lw*l.sin
		l.vx, l.vy = vx, vy
	}
}

// sweepIn runs the articulated recursion's other half, tip to root (eqs 15,
// 16), each link in its own frame: b' = b − ω² l(A' + qI)e,
// t = ((M_{i+1} − M_i + Q_i)/l − b'_n)/D, and what t adds to b. The mass
// damping α of each bar acts on the velocities of its ends. It returns what
// reaches the root, and the power lost.
func (r *resolved) sweepIn(v motion) (rootX, rootY, lost float64) {
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
		turn, vx, vy := w-r.foot.rate, r.foot.vx, r.foot.vy
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
		bn, be = bn-r.rootX, be-r.rootY
		r.unload()
	}
	r.rootMoment = outer
	return bn, be, lost
}

// unload clears the contact forces for the next evaluation.
func (r *resolved) unload() {
	for i := range r.link {
		l := &r.link[i]
		l.fx, l.fy, l.torque = 0, 0, 0
	}
}

// accelerate runs outward (eq. 18): l θ″ = t − (1+q/D) a_n − (A_ne/D) a_e,
// a_n ← a_n + l θ″, a_e ← a_e − l ω². It returns the tip's acceleration.
func (r *resolved) accelerate(v, a motion, rootX, rootY float64) (ax, ay float64) {
	links := r.link
	rates, acc := v[:len(links)], a[:len(links)]
	an, ae := rootX, rootY
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
