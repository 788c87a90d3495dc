package arrow

import "math"

// plunger is the button in SI, ready for the inner loop.
type plunger struct {
	preload, c float64
	contact    float64 // stiffness of the shaft's wall and the tip
	series     float64 // of wall and spring one behind the other
	knee       float64 // penetration at which the plunger starts to move
	ramp       float64 // penetration over which damping sets in
	stop       float64 // penetration beyond the knee at which it stops
	share      float64 // of the penetration beyond the knee that the plunger moves
}

// softKnee spreads the onset of damping where there is next to no preload, so
// that the force does not jump at touch: 20 µm, half of what the wall gives
// under an ordinary preload.
const softKnee = 20e-6

func newPlunger(b Button) plunger {
	k, contact := float64(b.Stiffness), float64(b.Contact)
	p := plunger{preload: float64(b.Preload), c: b.Damping, contact: contact}
	p.series = k * contact / (k + contact)
	p.share = contact / (k + contact)
	p.knee = p.preload / contact
	p.ramp = math.Max(p.knee, softKnee)
	p.stop = float64(b.Travel) / p.share
	return p
}

// force is the push on the shaft at penetration pen and its rate (eq. 9):
// the shaft's wall alone up to the preload, then wall and spring in series
// with the damper, then the stop. Never a pull.
func (p *plunger) force(pen, rate float64) float64 {
	if pen <= 0 {
		return 0
	}
	f := p.c * math.Min(1, pen/p.ramp) * rate
	d := pen - p.knee
	switch {
	case d <= 0:
		f += p.contact * pen
	case d <= p.stop:
		f += p.preload + p.series*d
	default:
		f += p.preload + p.series*p.stop + p.contact/2*(d-p.stop)
	}
	return math.Max(0, f)
}

// travel is how far the plunger has moved at penetration pen.
func (p *plunger) travel(pen float64) float64 {
	return p.share * math.Min(p.stop, math.Max(0, pen-p.knee))
}
