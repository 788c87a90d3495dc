package arrow

import (
	"math"

	"tautline/unit"
)

// Wire is the arrow rest seen from the side: a springy wire under the shaft
// that can only push (docs/theory/vertical.md, eqs V17, V18). It has no mass, no
// friction, and does not fold away sideways.
type Wire struct {
	// Stiffness where the shaft lies, usual 0.8 to 16 N/mm; zero takes 3.
	Stiffness unit.Stiffness
	// Damping in N s/m; zero takes 1.
	Damping float64
	// Reach is how far the wire sticks out past the shaft's axis, the shaft on
	// the button; usual 0 to 4 mm. A shaft that has moved aside by more lies
	// beside it.
	Reach unit.Length
	// Gate says when the shaft is over the wire.
	Gate Gate
	// Until is when GateUntil opens.
	Until unit.Duration
}

// Gate is how the wire knows whether the shaft is over it.
type Gate int

const (
	// GateAside compares Reach with the shaft's sideways gap from the button
	// in this shot.
	GateAside Gate = iota
	// GateAlways leaves the shaft over the wire to the end: no real shot, a
	// check of what the gate does.
	GateAlways
	// GateUntil lets the shaft leave the wire at the time Until.
	GateUntil
)

// gateWidth is the sideways motion over which the wire's end loses the shaft.
const gateWidth = 0.5e-3

// restRamp is the penetration over which the wire's damping sets in.
const restRamp = 50e-6

// wire is a Wire in SI, with the sideways gap of one shot.
type wire struct {
	k, c, reach float64
	gate        Gate
	until       float64
	time, gap   []float64
	at          int // row last looked at
}

func (w *Wire) ready(h *History) wire {
	r := wire{k: float64(w.Stiffness), c: w.Damping, reach: float64(w.Reach), gate: w.Gate, until: float64(w.Until)}
	if r.k == 0 {
		r.k = 3000
	}
	if r.c == 0 {
		r.c = 1
	}
	if h != nil && w.Gate == GateAside {
		r.time, r.gap = floats(h.Time), floats(h.Gap)
	}
	return r
}

// aside is the shaft's sideways gap from the button at time t.
func (w *wire) aside(t float64) float64 {
	last := len(w.time) - 1
	if last < 1 {
		return 0
	}
	if w.at > 0 && w.time[w.at] > t {
		w.at = 0
	}
	for w.at < last-1 && w.time[w.at+1] < t {
		w.at++
	}
	i := w.at
	f := (t - w.time[i]) / (w.time[i+1] - w.time[i])
	return w.gap[i] + math.Min(1, math.Max(0, f))*(w.gap[i+1]-w.gap[i])
}

// share is how much of the wire is under the shaft: r(t) = clamp((w − g)/0.5 mm
// + ½).
func (w *wire) share(t float64) (share, beyond float64) {
	switch w.gate {
	case GateAlways:
		return 1, math.Inf(-1)
	case GateUntil:
		if t < w.until {
			return 1, math.Inf(-1)
		}
		return 0, math.Inf(1)
	}
	beyond = w.aside(t) - w.reach
	return math.Min(1, math.Max(0, 0.5-beyond/gateWidth)), beyond
}

// push is the wire's force at penetration pen and its rate.
func (w *wire) push(share, pen, rate float64) float64 {
	if pen <= 0 || share <= 0 {
		return 0
	}
	return math.Max(0, share*(w.k*pen+w.c*math.Min(1, pen/restRamp)*rate))
}
