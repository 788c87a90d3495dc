package shot

import "math"

// energies sums up where the whole bow's energy is.
func (r *resolved) energies() energies {
	var e energies
	nock := r.v[r.n]
	e.limbs = r.limbEnergy()
	e.string = r.stringEnergy()
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

// limbEnergy is bending and motion of both limbs.
func (r *resolved) limbEnergy() (e float64) {
	before := r.set.chain.Phi0
	ux, uy := r.v[r.n+1], 0.0
	for i := range r.link {
		l, j := &r.link[i], &r.joint[i]
		turn := r.q[i] - before - j.beta
		before = r.q[i]
		e += j.k * turn * turn
		e += l.p*(ux*ux+uy*uy) + 2*l.q*(ux*l.vx+uy*l.vy) + l.r*(l.vx*l.vx+l.vy*l.vy)
		ux, uy = l.vx, l.vy
	}
	return e + r.tip*(ux*ux+uy*uy)
}

// stringEnergy is stretch and motion of the whole string with the nocking
// point (eq. 8).
func (r *resolved) stringEnergy() (e float64) {
	c := &r.cable
	stretch := math.Max(0, c.strain)
	e = c.ea * c.l0 * stretch * stretch
	n, k := r.n, r.k
	ux, uy := r.v[n], 0.0
	for i := range c.seg {
		s := &c.seg[i]
		e += c.soft * s.h * s.d * s.d
		vx, vy := r.link[r.n-1].vx, r.link[r.n-1].vy
		if i < k {
			vx, vy = r.v[n+2+i], r.v[n+2+k+i]
		}
		e += c.diagX[i]*(ux*ux+uy*uy) + 2*c.off[i]*(ux*vx+uy*vy)
		ux, uy = vx, vy
	}
	return e + c.diagX[k+1]*(ux*ux+uy*uy)
}

func (r *resolved) sample() sample {
	end := &r.link[r.n-1]
	return sample{
		nock: r.q[r.n], speed: r.v[r.n], acc: r.a[r.n], tension: r.cable.tension,
		tipX: end.x, tipY: end.y, half: r.cable.length, riser: r.q[r.n+1],
	}
}

func (r *resolved) fault() string { return "" }
