package arrow

import "math"

// swing is the exact motion of free oscillators over a time: place and rate
// after it are linear in those before (eq. 16).
type swing struct {
	placePlace, placeRate, ratePlace, rateRate []float64
}

func (w *swing) resize(n int) {
	block := make([]float64, 4*n)
	cut := func(i int) []float64 { return block[i*n : (i+1)*n : (i+1)*n] }
	w.placePlace, w.placeRate, w.ratePlace, w.rateRate = cut(0), cut(1), cut(2), cut(3)
}

// set prepares for the time t: the arrow's modes, then the tips, which stay,
// then the riser, which turns on if it can.
func (w *swing) set(a *Arrow, turns bool, t float64) {
	for j, omega := range a.omega {
		if omega == 0 {
			w.put(j, 1, t, 0, 1)
			continue
		}
		fade := a.zeta * omega
		damped := omega * math.Sqrt(1-a.zeta*a.zeta)
		sin, cos := math.Sincos(damped * t)
		e := math.Exp(-fade * t)
		lag := fade / damped * sin
		w.put(j, e*(cos+lag), e*sin/damped, -e*omega*omega/damped*sin, e*(cos-lag))
	}
	w.put(a.n, 1, 0, 0, 1)
	if turns {
		w.put(a.n+1, 1, t, 0, 1)
	} else {
		w.put(a.n+1, 1, 0, 0, 1)
	}
}

func (w *swing) put(j int, pp, pr, rp, rr float64) {
	w.placePlace[j], w.placeRate[j], w.ratePlace[j], w.rateRate[j] = pp, pr, rp, rr
}

// apply moves the state y on into out; they may be the same.
func (w *swing) apply(y, out []float64) {
	m := len(y) / 2
	for j := range m {
		q, v := y[j], y[m+j]
		out[j] = w.placePlace[j]*q + w.placeRate[j]*v
		out[m+j] = w.ratePlace[j]*q + w.rateRate[j]*v
	}
}

// push adds to y what accelerations acc, each lasting for h at the start of
// the time, have become at its end.
func (w *swing) push(h float64, acc, y []float64) {
	m := len(y) / 2
	for j := range m {
		y[j] += h * w.placeRate[j] * acc[j]
		y[m+j] += h * w.rateRate[j] * acc[j]
	}
}

// coast takes one step h off the string: the classical Runge–Kutta method in
// coordinates that swing with the modes (Lawson, SIAM J. Numer. Anal. 4, 1967),
// so that free vibration is exact whatever the step. The push at the start is
// in k1; w is set to half the step.
func (s *Simulator) coast(mid, end *instant, h float64) {
	e, w, y, z := &s.eq, &s.swing, s.y, s.z
	m := len(y) / 2
	k1, k2, k3, k4 := s.k1[:m], s.k2[:m], s.k3[:m], s.k4[:m]
	w.apply(y, y)
	copy(z, y)
	w.push(h/2, k1, z)
	e.loose(mid, s.phi[1], s.slope[1], z, k2)
	copy(z, y)
	kick(z, h/2, k2)
	e.loose(mid, s.phi[1], s.slope[1], z, k3)
	copy(z, y)
	kick(z, h, k3)
	w.apply(z, z)
	e.loose(end, s.phi[2], s.slope[2], z, k4)

	w.push(h/6, k1, y)
	kick(y, h/3, k2)
	kick(y, h/3, k3)
	w.apply(y, y)
	kick(y, h/6, k4)
}

// kick adds h·acc to the rates of y.
func kick(y []float64, h float64, acc []float64) {
	rates := y[len(y)/2:]
	for j, k := range acc {
		rates[j] += h * k
	}
}
