package arrow

// equations holds everything the right-hand side needs, in SI. The state is
// q_0 … q_{n−1}, tip place y_t, riser turn ψ, then their rates.
type equations struct {
	n           int
	stiff, damp []float64 // ω², 2ζω
	g, nock     []float64
	carried     float64 // m_s
	share       float64 // m_s/(1 + m_s p·p)
	cNock       float64
	kt, mt, ct  float64
	rigidTips   bool
	yb, xb      float64
	pl          plunger
	release     Release
	reach       float64
	aside       float64
	riser       *Riser
	turn0       float64

	attached bool
	// What the last evaluation saw at the button.
	pen, push float64
}

// rates fills dy with the derivative of y (eqs 4 to 10).
func (e *equations) rates(at *instant, phi, slope, y, dy []float64) {
	n := e.n
	m := n + 2
	q, v := y[:n], y[m:m+n]
	acc := dy[m : m+n]
	copy(dy[:m], y[m:])

	e.touch(at, phi, slope, q, v, y[n+1], y[m+n+1])

	// Elastic forces, damping, button (eq. 4).
	stiff, damp, ph := e.stiff[:n], e.damp[:n], phi[:n]
	for j := range acc {
		acc[j] = ph[j]*e.push - stiff[j]*q[j] - damp[j]*v[j]
	}
	e.thrust(at.a, q, acc)
	e.string(at, q, v, acc, y, dy)
	dy[m+n+1] = e.turnRiser(at, y)
}

// loose fills acc with what pushes once the arrow is off the string: the
// button, and the hand on the riser. The rest of the motion is known in closed
// form.
func (e *equations) loose(at *instant, phi, slope, y, acc []float64) {
	n := e.n
	m := n + 2
	e.touch(at, phi, slope, y[:n], y[m:m+n], y[n+1], y[m+n+1])
	for j, p := range phi[:n] {
		acc[j] = p * e.push
	}
	acc[n], acc[n+1] = 0, e.turnRiser(at, y)
}

// touch finds the button's push.
func (e *equations) touch(at *instant, phi, slope, q, v []float64, turn, turnRate float64) {
	phi, slope, v = phi[:len(q)], slope[:len(q)], v[:len(q)]
	var place, rate, lean float64
	for j, x := range q {
		place += phi[j] * x
		rate += phi[j] * v[j]
		lean += slope[j] * x
	}
	e.pen = e.yb + e.xb*turn - place
	e.push = e.pl.force(e.pen, e.xb*turnRate-rate-at.v*lean)
}

// thrust adds a·G q: compression makes the shaft softer. The shift mode has
// no slope and takes no part. G is symmetric, so its rows serve as columns,
// two at a time to keep the sums independent.
func (e *equations) thrust(a float64, q, acc []float64) {
	n := e.n
	acc = acc[1:n]
	j := 1
	for ; j+1 < n; j += 2 {
		c, d := a*q[j], a*q[j+1]
		left := e.g[j*n+1 : (j+1)*n][:len(acc)]
		right := e.g[(j+1)*n+1 : (j+2)*n][:len(acc)]
		for i := range acc {
			acc[i] += c*left[i] + d*right[i]
		}
	}
	if j < n {
		c, left := a*q[j], e.g[j*n+1 : (j+1)*n][:len(acc)]
		for i := range acc {
			acc[i] += c * left[i]
		}
	}
}

// string adds the string's sideways force on the nock (eq. 6), the mass it
// carries (eq. 5), and moves the tips (eq. 7).
func (e *equations) string(at *instant, q, v, acc, y, dy []float64) {
	n, m := e.n, e.n+2
	p := e.nock[:n]
	var place, rate float64
	for j, x := range q {
		place += p[j] * x
		rate += p[j] * v[j]
	}
	tip, tipRate, turn, turnRate := y[n], y[m+n], y[n+1], y[m+n+1]
	pull := at.k * (tip - place)
	force := pull - e.cNock*rate
	if at.travel < e.reach {
		force += e.release.Push(Fingers{
			Travel: at.travel, Rate: -at.v, Draw: at.draw, Aside: place - e.aside, Outward: rate,
		})
	}
	dot := 0.0
	for j := range acc {
		acc[j] += p[j] * force
		dot += p[j] * acc[j]
	}
	dot *= e.share
	for j := range acc {
		acc[j] -= p[j] * dot
	}
	if e.rigidTips {
		dy[m+n] = 0
		return
	}
	// Give w and its rate in the riser's frame.
	w := tip - at.tip*turn
	wRate := tipRate - at.tip*turnRate - at.tipV*turn
	dy[m+n] = (-pull - 2*(e.kt*w+e.ct*wRate) - at.limb*turn) / (2 * e.mt)
}

// turnRiser is the moment balance of the riser about the grip (eq. 10). Once
// the arrow is off, the slack string and the tips no longer take part.
func (e *equations) turnRiser(at *instant, y []float64) float64 {
	n, m := e.n, e.n+2
	r := e.riser
	if r == nil {
		return 0
	}
	turn, turnRate := y[n+1], y[m+n+1]
	moment := r.ReleaseTorque - e.xb*e.push
	moment -= r.HandStiffness*(turn-e.turn0-r.ArmRate*at.t) + r.HandDamping*(turnRate-r.ArmRate)
	if e.attached {
		w := y[n] - at.tip*turn
		wRate := y[m+n] - at.tip*turnRate - at.tipV*turn
		moment += r.HeldTorque + at.tip*2*(e.kt*w+e.ct*wRate) - at.limb*w
	}
	return moment / r.Inertia
}
