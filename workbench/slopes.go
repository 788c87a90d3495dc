package workbench

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// Slopes is what each entry of one set-up moves, bow by plausible bow, by
// central differences about that set-up. It computes an entry when it is first
// asked for and keeps it; it is safe for concurrent use.
type Slopes struct {
	base      notebook.Settings
	hand      arrow.Hand
	distances []unit.Length

	mu    sync.Mutex
	known map[string]apart
}

// apart are two probes of one entry and how far they lie apart.
type apart struct {
	below, above Shows
	by           float64
}

// NewSlopes prepares the slopes about a set-up, at the target for the
// distances given.
func NewSlopes(base notebook.Settings, hand arrow.Hand, distances ...unit.Length) *Slopes {
	d := slices.Clone(distances)
	slices.Sort(d)
	return &Slopes{base: base, hand: hand, distances: slices.Compact(d), known: map[string]apart{}}
}

// Sees reports whether the slopes know the target at a distance.
func (s *Slopes) Sees(distance unit.Length) bool {
	return distance == 0 || slices.Contains(s.distances, distance)
}

// each gives a quantity's slope per unit of an entry for every plausible bow,
// NaN where that bow fails; the best bow's is first. nil: the model does not
// know this entry, or the set-up does not say it.
func (s *Slopes) each(ctx context.Context, key string, q Quantity) ([]float64, error) {
	m, ok := moverOf(key)
	if !ok || m.write == nil {
		return nil, nil
	}
	at, noted := m.read(s.base)
	if !noted {
		return nil, nil
	}
	p, err := s.pair(ctx, m, at)
	if err != nil {
		return nil, err
	}
	a, b := p.below.of[q], p.above.of[q]
	if len(a) == 0 || len(a) != len(b) {
		return nil, nil
	}
	out := make([]float64, len(a))
	for i := range a {
		if out[i] = math.NaN(); p.below.ok[i] && p.above.ok[i] {
			out[i] = (b[i] - a[i]) / p.by
		}
	}
	return out, nil
}

// pair probes an entry a step below and a step above.
func (s *Slopes) pair(ctx context.Context, m mover, at float64) (apart, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if p, ok := s.known[m.key]; ok {
		return p, nil
	}
	p := apart{by: 2 * m.step}
	for _, side := range []struct {
		to   *Shows
		sign float64
	}{{&p.below, -1}, {&p.above, 1}} {
		moved := s.base
		m.write(&moved, at+side.sign*m.step)
		var err error
		if *side.to, err = Probe(ctx, moved, s.hand, s.distances...); err != nil {
			return p, fmt.Errorf("%s: %w", notebook.Label(m.key), err)
		}
	}
	s.known[m.key] = p
	return p, nil
}

// bounds are the ends of 90 % of the plausible slopes, the best inside.
func bounds(c []float64) Estimate[float64] {
	var members []float64
	for _, v := range c[1:] {
		if !math.IsNaN(v) {
			members = append(members, v)
		}
	}
	return estimate(c[0], members)
}
