package shot

import (
	"fmt"
	"math"

	"tautline/unit"
)

// Once the arrow has left, the string goes slack and snaps taut: afterStep is
// the longest step there, and a span whose energy balance fails is run again
// with half the step, at most halvings times.
const (
	afterStep = 25e-6
	halvings  = 4
)

// ringMargin is the share of the half string kept free between the last node
// and the limb at brace when the ringing is followed. Then the string slaps the
// limb further in than during the shot, and a node there would lose contact.
const ringMargin = 0.22

// ring follows the bow for Config.After from separation at time t on. The
// resolved string is cut again for it, with its nodes further from the limb,
// and shot from full draw: that moves the speed by some cm/s, not the result's.
func (s *Simulator) ring(t float64) (*Ringing, error) {
	e := s.eng
	if s.ringer != nil {
		e = s.ringer
		kept := *s
		s.quiet = true
		_, err := s.loose(e)
		*s = kept
		if err != nil {
			return nil, err
		}
	}
	w := ringing{e: e, base: s.set.vBrace, start: s.start, stored: s.set.stored()}
	w.arrow = e.energies().arrow
	e.drop()
	e.mark()
	room := s.history.len()
	step := math.Min(afterStep, s.dt/2)
	for range halvings + 1 {
		if s.follow(&w, t, step); w.audit <= AuditLimit {
			return &Ringing{Duration: s.cfg.After, Mean: unit.Energy(w.mean), Last: unit.Energy(w.last), Audit: w.audit}, nil
		}
		s.history.truncate(room)
		e.rewind()
		step /= 2
	}
	span := float64(s.cfg.After)
	return nil, &ShotError{t + span, fmt.Sprintf("the energy balance of the ringing bow is off by %.2g of the stored energy", w.audit), "a shorter After"}
}

// ringing is the account of one span after separation.
type ringing struct {
	e                          engine
	base, start, arrow, stored float64 // energy at brace, at release, gone with the arrow, W
	mean, last, audit          float64
}

// residual is the energy in limbs and string above that at brace.
func (w *ringing) residual() float64 {
	now := w.e.energies()
	return now.limbs + now.string - w.base
}

// follow advances over Config.After in steps of at most step.
func (s *Simulator) follow(w *ringing, t, step float64) {
	span := float64(s.cfg.After)
	n := math.Ceil(span / step)
	h := span / n
	sum := w.residual() / 2
	for i := 1.0; i <= n; i++ {
		w.e.advance(h)
		s.record(w.e, t+i*h)
		w.last = w.residual()
		sum += w.last
	}
	w.mean = (sum - w.last/2) / n
	w.audit = math.Abs(w.e.energies().total()+w.arrow-w.start) / w.stored
}
