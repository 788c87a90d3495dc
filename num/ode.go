package num

import "math"

// Derivative fills dy with the derivative of the state y at time t. It must
// not keep or change y.
type Derivative func(t float64, y, dy []float64)

// Event is watched during a run: it happens where Value changes sign.
type Event struct {
	// Value is a continuous function of the state; it must not keep or change y.
	Value func(t float64, y []float64) float64
	// Direction +1 counts only rising, −1 only falling, 0 all crossings.
	Direction int
	// Ends: the run ends there, with the state at the event.
	Ends bool
}

// Span is what to integrate: from where to where, watching what.
type Span struct {
	From, To float64
	Events   []Event
	// EventTolerance is the error allowed in the time of an event, as a
	// fraction of the step it lies in; default 1e-12. The time is then as good
	// as the method's own error.
	EventTolerance float64
	// Times, if given, are the times at which Observe is called (increasing in
	// the direction of the run); else Observe is called after every step.
	Times []float64
	// Observe sees the states; returning false stops the run. It must not keep
	// or change y. It is called at From too, unless Times is given.
	Observe func(t float64, y []float64) bool
}

// Hit is one crossing of an event.
type Hit struct {
	Event int     // index in Span.Events
	T     float64 // when
}

// Outcome is how a run ended. The state is in the caller's y.
type Outcome struct {
	Status      Status
	T           float64 // time reached
	Steps       int     // accepted
	Rejected    int     // tried in vain (adaptive only)
	Evaluations int     // of the derivative
	Event       int     // the event that ended the run; −1 otherwise
	// Hits lists the crossings in order. The slice belongs to the stepper and
	// is overwritten by its next run.
	Hits []Hit
}

// valid checks what can be checked before the first step.
func (s *Span) valid(n int, y []float64) bool {
	if len(y) != n || !(math.Abs(s.From) < 1e300) || !(math.Abs(s.To) < 1e300) || !allFinite(y) {
		return false
	}
	for i := range s.Events {
		if s.Events[i].Value == nil {
			return false
		}
	}
	dir := math.Copysign(1, s.To-s.From)
	for i, t := range s.Times {
		if !finite(t) || i > 0 && (t-s.Times[i-1])*dir < 0 {
			return false
		}
	}
	return true
}

// tolerance is EventTolerance with its default.
func (s *Span) tolerance() float64 {
	if s.EventTolerance > 0 {
		return s.EventTolerance
	}
	return 1e-12
}

// interior gives the state inside the last step, at the fraction x of it.
type interior interface {
	inside(x float64, y []float64)
}

// watcher follows the events of a run; it belongs to a stepper.
type watcher struct {
	before, after []float64 // event values at both ends of the step
	state         []float64 // scratch
	hits          []Hit
	next          int // the next of Span.Times
}

// start evaluates the events at the beginning.
func (w *watcher) start(s *Span, y []float64) {
	w.before = resize(w.before, len(s.Events))
	w.after = resize(w.after, len(s.Events))
	w.hits = w.hits[:0]
	w.next = 0
	for i := range s.Events {
		w.before[i] = s.Events[i].Value(s.From, y)
	}
}

// resize returns v with length n, allocating only to grow.
func resize(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	return v[:n]
}

// scan looks for crossings in the step from t0 of length h that ended in y.
// It returns the fraction of the step at which the run must end (1: nowhere)
// and the event that ends it.
func (w *watcher) scan(s *Span, in interior, t0, h float64, y []float64) (end float64, event int) {
	end, event = 1, -1
	first := len(w.hits)
	for i := range s.Events {
		w.after[i] = s.Events[i].Value(t0+h, y)
		if !crosses(s.Events[i].Direction, w.before[i], w.after[i]) {
			continue
		}
		x := w.locate(s, in, i, t0, h)
		w.record(first, Hit{Event: i, T: t0 + x*h}, h)
		if s.Events[i].Ends && (event < 0 || x < end) {
			end, event = x, i
		}
	}
	w.dropAfter(first, t0+end*h, h)
	copy(w.before, w.after)
	return end, event
}

// crosses decides whether a pair of values counts. A value of exactly zero at
// the start was counted in the step before, or is where the run began.
func crosses(direction int, before, after float64) bool {
	rising := before < 0 && after >= 0
	falling := before > 0 && after <= 0
	return direction >= 0 && rising || direction <= 0 && falling
}

// locate finds the crossing of event i as a fraction of the step.
func (w *watcher) locate(s *Span, in interior, i int, t0, h float64) float64 {
	value := func(x float64) float64 {
		in.inside(x, w.state)
		return s.Events[i].Value(t0+x*h, w.state)
	}
	r := brent(value, 0, w.before[i], 1, w.after[i], s.tolerance(), 100)
	return r.X
}

// record keeps the hits of one step in the order of time.
func (w *watcher) record(first int, hit Hit, h float64) {
	w.hits = append(w.hits, hit)
	for k := len(w.hits) - 1; k > first && (w.hits[k].T-w.hits[k-1].T)*h < 0; k-- {
		w.hits[k], w.hits[k-1] = w.hits[k-1], w.hits[k]
	}
}

// dropAfter forgets hits beyond the end of the run.
func (w *watcher) dropAfter(first int, t, h float64) {
	for len(w.hits) > first && (w.hits[len(w.hits)-1].T-t)*h > 0 {
		w.hits = w.hits[:len(w.hits)-1]
	}
}

// report calls Observe for the step from t0 of length h, up to the fraction
// end of it; y is the state at that end. False means stop.
func (w *watcher) report(s *Span, in interior, t0, h, end float64, y []float64) bool {
	if s.Observe == nil {
		return true
	}
	if s.Times == nil {
		return s.Observe(t0+end*h, y)
	}
	for w.next < len(s.Times) {
		x := 1.0
		if h != 0 {
			x = (s.Times[w.next] - t0) / h
		}
		if x > end {
			return true
		}
		in.inside(math.Max(0, x), w.state)
		if !s.Observe(s.Times[w.next], w.state) {
			return false
		}
		w.next++
	}
	return true
}
