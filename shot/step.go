package shot

// advance is one Runge–Kutta–Nyström step of fourth order. If the string came
// to bear on other contact points than before, the forces had a kink inside the
// step, and it is done again in four (eq. 20).
func (r *resolved) advance(h float64) {
	r.save(&r.last)
	r.nystrom(h)
	r.touched = r.cable.touched()
	if r.touched != r.last.touched {
		r.restore(&r.last)
		for range 4 {
			r.nystrom(h / 4)
		}
		r.touched = r.cable.touched()
	}
	r.inspect()
}

// nystrom steps q and v (eq. 19). Stages two and three share their position,
// so a step costs three placements and four evaluations of the accelerations;
// the last, at the new state, is also the next step's first.
func (r *resolved) nystrom(h float64) {
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
	r.place(sq)
	lost2 := r.move(sv, k2)
	for i := range q {
		sv[i] = v[i] + half*k2[i]
	}
	lost3 := r.move(sv, k3)
	for i := range q {
		sq[i] = q[i] + h*(v[i]+half*k2[i])
		sv[i] = v[i] + h*k3[i]
	}
	r.place(sq)
	lost4 := r.move(sv, k4)
	sixth := h / 6
	for i := range q {
		mid := k2[i] + k3[i]
		q[i] += h * (v[i] + sixth*(a[i]+mid))
		v[i] += sixth * (a[i] + 2*mid + k4[i])
	}
	r.spent += sixth * (r.lostEnd + 2*(lost2+lost3) + lost4)
	r.evaluate()
}

// linearStep is nystrom for one oscillator.
func (r *resolved) linearStep(y, v, w, zeta float64) (float64, float64) {
	a := oscillator(y, v, w, zeta)
	mid := y + v/2 + a/8
	k2 := oscillator(mid, v+a/2, w, zeta)
	k3 := oscillator(mid, v+k2/2, w, zeta)
	k4 := oscillator(y+v+k2/2, v+k3, w, zeta)
	return y + v + (a+k2+k3)/6, v + (a+2*k2+2*k3+k4)/6
}
