package shot

import "math"

func sinPi(x float64) float64 { return math.Sin(math.Pi * x) }

// advance is one step; where the string came to bear on other contact points
// it is done again in four, as in resolved.
func (r *pair) advance(h float64) {
	r.save(&r.last)
	r.nystrom(h)
	if r.kinked() {
		r.restore(&r.last)
		for range 4 {
			r.nystrom(h / 4)
		}
		r.kinked()
	}
	for _, half := range r.half {
		half.inspect()
	}
}

// kinked tells whether contact points changed, and remembers them.
func (r *pair) kinked() (changed bool) {
	for i, h := range r.half {
		now := h.cable.touched()
		changed = changed || now != r.touched[i]
		r.touched[i] = now
	}
	return changed
}

// nystrom is resolved.nystrom with the time.
func (r *pair) nystrom(h float64) {
	q, v, a := r.q, r.v, r.a
	dim := len(q)
	v, a = v[:dim], a[:dim]
	sq, sv := r.stage.q[:dim], r.stage.v[:dim]
	k2, k3, k4 := r.stage.k2[:dim], r.stage.k3[:dim], r.stage.k4[:dim]
	half := h / 2
	for i := range q {
		sq[i] = q[i] + half*(v[i]+half/2*a[i])
		sv[i] = v[i] + half*a[i]
	}
	r.place(sq, r.t+half)
	lost2 := r.move(sq, sv, k2, r.t+half)
	for i := range q {
		sv[i] = v[i] + half*k2[i]
	}
	lost3 := r.move(sq, sv, k3, r.t+half)
	for i := range q {
		sq[i] = q[i] + h*(v[i]+half*k2[i])
		sv[i] = v[i] + h*k3[i]
	}
	r.place(sq, r.t+h)
	lost4 := r.move(sq, sv, k4, r.t+h)
	sixth := h / 6
	for i := range q {
		mid := k2[i] + k3[i]
		q[i] += h * (v[i] + sixth*(a[i]+mid))
		v[i] += sixth * (a[i] + 2*mid + k4[i])
	}
	r.spent += sixth * (r.lostEnd + 2*(lost2+lost3) + lost4)
	r.t += h
	r.evaluate()
}

func (r *pair) undo()   { r.restore(&r.last) }
func (r *pair) mark()   { r.save(&r.kept) }
func (r *pair) rewind() { r.restore(&r.kept) }

func (r *pair) save(s *pairSnapshot) {
	copy(s.q, r.q)
	copy(s.v, r.v)
	copy(s.a, r.a)
	s.t, s.lostEnd, s.spent, s.touched = r.t, r.lostEnd, r.spent, r.touched
	s.flown, s.arrowX, s.arrowV, s.flownTime = r.flown, r.arrowX, r.arrowV, r.flownAt
}

func (r *pair) restore(s *pairSnapshot) {
	copy(r.q, s.q)
	copy(r.v, s.v)
	copy(r.a, s.a)
	r.t, r.lostEnd, r.spent, r.touched = s.t, s.lostEnd, s.spent, s.touched
	r.flown, r.arrowX, r.arrowV, r.flownAt = s.flown, s.arrowX, s.arrowV, s.flownTime
}

// drop lets the arrow go.
func (r *pair) drop() {
	r.arrowX, r.arrowV, r.flownAt = r.half[0].q[r.n], r.half[0].v[r.n], r.t
	r.flown = true
	r.carry(0)
	r.evaluate()
}

// push is the force of the string on the arrow, toward the target.
func (r *pair) push() float64 {
	if r.flown {
		return 0
	}
	return -r.set.side[0].arrow * r.a[r.n]
}

// tension is the string's at the nock, the mean of both parts.
func (r *pair) tension() float64 {
	return (r.half[0].cable.tension + r.half[1].cable.tension) / 2
}

// energies sums up where the energy is; hand and fingers are in lost.
func (r *pair) energies() (e energies) {
	r.tread(r.v)
	for _, h := range r.half {
		e.limbs += h.bending() + h.limbMotion(h.v)
		e.string += h.stretching() + h.stringMotion(h.v)
	}
	nock := r.v[r.n]
	if !r.flown {
		e.arrow = r.set.side[0].arrow * nock * nock / 2
	}
	tv := r.tail(r.v)
	w := tv[atPitch]
	cx, cy := r.v[r.n+1]+r.balance[1]*w, tv[atRiserY]-r.balance[0]*w
	e.riser = (r.set.mass*(cx*cx+cy*cy) + r.set.inertia*w*w) / 2
	if r.rider != nil {
		e.riser += r.rider.Energy(r.amplitudes(r.q), r.amplitudes(r.v))
	}
	e.lost = r.spent
	return e
}

// clearance is the smallest gap between string and limb seen since load.
func (r *pair) clearance() float64 { return math.Min(r.half[0].gap, r.half[1].gap) }
