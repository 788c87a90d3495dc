package arrow

import "math"

// lay computes the mode shapes at the button for the middle and the end of a
// step.
func (s *Simulator) lay(a *Arrow, at []instant) {
	for half := 1; half <= 2; half++ {
		a.fill(at[half].x-s.eq.xb, s.phi[half], s.slope[half])
	}
}

// next makes the end of a step the start of the next.
func (s *Simulator) next() {
	s.phi[0], s.phi[2] = s.phi[2], s.phi[0]
	s.slope[0], s.slope[2] = s.slope[2], s.slope[0]
}

// onString steps from release to separation.
func (s *Simulator) onString(r *recorder) {
	steps := (len(s.grid) - 1) / 2
	h := r.drive.separation / float64(steps)
	r.arrow.fill(s.grid[0].x-s.eq.xb, s.phi[0], s.slope[0])
	for i := range steps {
		at := s.grid[2*i : 2*i+3]
		s.lay(r.arrow, at)
		s.eq.rates(&at[0], s.phi[0], s.slope[0], s.y, s.k1)
		r.see(s, &at[0])
		s.advance(&at[1], &at[2], h)
		s.next()
	}
}

// offString steps from separation until the tail has passed the button. The
// nock keeps its speed.
func (s *Simulator) offString(r *recorder) instant {
	s.eq.attached = false
	sep := s.grid[len(s.grid)-1]
	sep.a, sep.k = 0, 0
	run := (sep.x - s.eq.xb) / -sep.v
	steps := max(1, int(math.Ceil(run/s.step(r.arrow, r.drive)-1e-9)))
	h := run / float64(steps)
	s.swing.set(r.arrow, s.eq.riser != nil, h/2)
	t0 := r.drive.separation
	var at [3]instant
	for i := range steps {
		for half := range 3 {
			at[half] = sep
			t := (float64(i) + float64(half)/2) * h
			at[half].x += sep.v * t
			at[half].t = t0 + t
		}
		s.lay(r.arrow, at[:])
		s.eq.loose(&at[0], s.phi[0], s.slope[0], s.y, s.k1)
		r.see(s, &at[0])
		s.coast(&at[1], &at[2], h)
		s.next()
	}
	s.eq.loose(&at[2], s.phi[0], s.slope[0], s.y, s.k1)
	r.see(s, &at[2])
	return at[2]
}

// advance completes one Runge–Kutta step whose first slope is in k1.
func (s *Simulator) advance(mid, end *instant, h float64) {
	e, y, z := &s.eq, s.y, s.z
	k1, k2, k3, k4 := s.k1[:len(y)], s.k2[:len(y)], s.k3[:len(y)], s.k4[:len(y)]
	z = z[:len(y)]
	for i, k := range k1 {
		z[i] = y[i] + 0.5*h*k
	}
	e.rates(mid, s.phi[1], s.slope[1], z, k2)
	for i, k := range k2 {
		z[i] = y[i] + 0.5*h*k
	}
	e.rates(mid, s.phi[1], s.slope[1], z, k3)
	for i, k := range k3 {
		z[i] = y[i] + h*k
	}
	e.rates(end, s.phi[2], s.slope[2], z, k4)
	for i := range y {
		y[i] += h / 6 * (k1[i] + 2*(k2[i]+k3[i]) + k4[i])
	}
}
