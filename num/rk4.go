package num

import "math"

// RK4 is the classical fourth-order Runge–Kutta method with a fixed step
// (Kutta 1901), with events located inside the step. It is the workspace of
// one run at a time and allocates nothing after NewRK4.
type RK4 struct {
	k1, k2, k3, k4, z []float64
	start             []float64 // state at the start of the current step
	watch             watcher
	f                 Derivative
	t, h              float64 // the current step
	evaluations       int
}

// NewRK4 makes a stepper for n equations.
func NewRK4(n int) *RK4 {
	n = max(n, 0)
	block := make([]float64, 7*n)
	cut := func(i int) []float64 { return block[i*n : (i+1)*n : (i+1)*n] }
	return &RK4{k1: cut(0), k2: cut(1), k3: cut(2), k4: cut(3), z: cut(4), start: cut(5), watch: watcher{state: cut(6)}}
}

// Step advances y in place by one step h: four evaluations, no allocation.
func (r *RK4) Step(f Derivative, t, h float64, y []float64) {
	f(t, y, r.k1)
	r.rest(f, t, h, y, y)
}

// rest completes a step from y whose first slope is in k1, into out.
func (r *RK4) rest(f Derivative, t, h float64, y, out []float64) {
	for i, k := range r.k1 {
		r.z[i] = y[i] + 0.5*h*k
	}
	f(t+0.5*h, r.z, r.k2)
	for i, k := range r.k2 {
		r.z[i] = y[i] + 0.5*h*k
	}
	f(t+0.5*h, r.z, r.k3)
	for i, k := range r.k3 {
		r.z[i] = y[i] + h*k
	}
	f(t+h, r.z, r.k4)
	for i := range out {
		out[i] = y[i] + h/6*(r.k1[i]+2*(r.k2[i]+r.k3[i])+r.k4[i])
	}
	r.evaluations += 3
}

// inside takes a shorter step from the same start, so that a state inside the
// step has the method's full order. The first slope is still in k1.
func (r *RK4) inside(x float64, y []float64) { r.rest(r.f, r.t, x*r.h, r.start, y) }

// Run integrates from s.From to s.To in equal steps no longer than h, in
// place in y. At an event that ends the run, y is the state there. An event
// that crosses twice inside one step is not seen.
func (r *RK4) Run(f Derivative, y []float64, h float64, s Span) Outcome {
	out := Outcome{Status: BadInput, T: s.From, Event: -1}
	h = math.Abs(h)
	steps := math.Ceil(math.Abs(s.To-s.From)/h - 1e-9)
	if f == nil || !s.valid(len(r.k1), y) || !(h > 0) || !(steps < 1e9) {
		return out
	}
	r.f, r.h, r.evaluations = f, (s.To-s.From)/math.Max(1, steps), 0
	r.watch.start(&s, y)
	out.Status = Done
	if s.Times == nil && s.Observe != nil && !s.Observe(s.From, y) {
		out.Status = Stopped
	}
	for n := 0; out.Status == Done && n < int(math.Max(1, steps)); n++ {
		r.advance(f, y, &s, n, &out)
	}
	r.f = nil
	out.Evaluations, out.Hits = r.evaluations, r.watch.hits
	return out
}

// advance takes step n and deals with what happened in it.
func (r *RK4) advance(f Derivative, y []float64, s *Span, n int, out *Outcome) {
	r.t = s.From + float64(n)*r.h
	copy(r.start, y)
	f(r.t, y, r.k1)
	r.evaluations++
	r.rest(f, r.t, r.h, r.start, y)
	if !allFinite(y) {
		copy(y, r.start)
		out.Status = NotFinite
		return
	}
	end, event := r.watch.scan(s, r, r.t, r.h, y)
	if event >= 0 {
		if r.inside(end, y); !allFinite(y) {
			copy(y, r.start)
			out.Status = NotFinite
			return
		}
		out.Status, out.Event = AtEvent, event
	}
	out.Steps++
	out.T = r.t + end*r.h
	if !r.watch.report(s, r, r.t, r.h, end, y) && out.Status == Done {
		out.Status = Stopped
	}
}
