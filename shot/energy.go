package shot

import "math"

// energies sums up where the whole bow's energy is.
func (r *resolved) energies() energies {
	var e energies
	nock := r.v[r.n]
	e.limbs = 2*r.bending() + 2*r.limbMotion(r.v)
	e.string = 2*r.stretching() + 2*r.stringMotion(r.v)
	if !r.flown {
		e.arrow = r.set.arrow * nock * nock / 2
	}
	x, v := r.q[r.n+1], r.v[r.n+1]
	e.riser = r.root * v * v
	if !r.hand.clamped {
		e.hand = 2*r.hand.hold*x + r.hand.stiffness*x*x
	}
	e.lost = 2 * r.spent
	return e
}

// bending is the elastic energy of one limb, ½ Σ k_i (θ_i − θ_{i−1} − β_i)².
func (r *resolved) bending() (e float64) {
	before := r.set.chain.Phi0 + r.foot.turn
	for i := range r.link {
		l := &r.link[i]
		turn := r.q[i] - before - l.beta
		before = r.q[i]
		e += l.k * turn * turn / 2
	}
	return e
}

// stretching is the elastic energy of half the string (eq. 8).
func (r *resolved) stretching() float64 {
	c := &r.cable
	stretch := math.Max(0, c.strain)
	e := c.ea * c.l0 * stretch * stretch / 2
	for i := range c.seg {
		e += c.soft * c.seg[i].h * c.seg[i].d * c.seg[i].d / 2
	}
	return e
}

// limbMotion is the kinetic energy of one limb moving at rates v where it
// stands: ½ Σ (p v_{i−1}² + 2q v_{i−1}·v_i + r v_i²) and the tip.
func (r *resolved) limbMotion(v motion) (e float64) {
	r.sweepOut(v)
	ux, uy := r.foot.vx, r.foot.vy
	for i := range r.link {
		l := &r.link[i]
		e += l.p*(ux*ux+uy*uy) + 2*l.q*(ux*l.vx+uy*l.vy) + l.r*(l.vx*l.vx+l.vy*l.vy)
		ux, uy = l.vx, l.vy
	}
	return (e + r.tip*(ux*ux+uy*uy)) / 2
}

// stringMotion is the kinetic energy of half the string with half the nocking
// point, for rates v last swept by limbMotion.
func (r *resolved) stringMotion(v motion) (e float64) {
	c := &r.cable
	n, k := r.n, r.k
	end := &r.link[n-1]
	ux, uy := v[n], r.foot.nockVY
	for i := range c.seg {
		vx, vy := end.vx, end.vy
		if i < k {
			vx, vy = v[n+2+i], v[n+2+k+i]
		}
		e += c.diagX[i]*(ux*ux+uy*uy) + 2*c.off[i]*(ux*vx+uy*vy)
		ux, uy = vx, vy
	}
	return (e + c.diagX[k+1]*(ux*ux+uy*uy)) / 2
}

// kinetic is the kinetic energy of half the bow without the arrow, at rates v.
func (r *resolved) kinetic(v motion) float64 {
	riser := v[r.n+1]
	return r.limbMotion(v) + r.stringMotion(v) + r.root*riser*riser/2
}

func (r *resolved) sample() sample {
	end := &r.link[r.n-1]
	return sample{
		nock: r.q[r.n], speed: r.v[r.n], acc: r.a[r.n],
		tipX: end.x, tipY: end.y, half: r.cable.length, riser: r.q[r.n+1], tension: r.cable.tension,
	}
}

// clearance is the smallest gap between string and limb seen since load.
func (r *resolved) clearance() float64 { return r.gap }
