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

// Slopes is what each entry of one set-up moves, bow by plausible bow: the
// set-up is shot again with the entry one, two, three … steps away, and lines
// are drawn between. It computes a step when it is first asked for and keeps
// it; it is safe for concurrent use.
type Slopes struct {
	base      notebook.Settings
	hand      arrow.Hand
	distances []unit.Length

	// Fit, if set, is the bow fitted to its readings; without it the generic
	// family's spread stands behind every slope. Set it before the first look.
	Fit *FittedBow
	// Turn, if set, waits for this computation's turn before each look and
	// gives the function that ends it.
	Turn func(context.Context) (end func(), err error)

	mu    sync.Mutex
	known map[place]Shows
	bench bench
}

// slopeBows is how many plausible bows stand behind a slope's doubt.
const slopeBows = 20

// place is one entry so many steps from the base, seen sideways or up and down.
type place struct {
	key   string
	steps int
	up    bool
}

// mostSteps bounds how far from the base is looked; what lies beyond is drawn
// on from the last two places.
const mostSteps = 8

// NewSlopes prepares the slopes about a set-up, at the target for the
// distances given.
func NewSlopes(base notebook.Settings, hand arrow.Hand, distances ...unit.Length) *Slopes {
	d := slices.Clone(distances)
	slices.Sort(d)
	return &Slopes{base: base, hand: hand, distances: slices.Compact(d), known: map[place]Shows{}}
}

// Sees reports whether the slopes know the target at a distance.
func (s *Slopes) Sees(distance unit.Length) bool {
	return distance == 0 || slices.Contains(s.distances, distance)
}

// Base gives what the set-up itself shows.
func (s *Slopes) Base(ctx context.Context) (Shows, error) { return s.look(ctx, mover{}, 0, false) }

// look probes the base with one entry moved by so many steps.
func (s *Slopes) look(ctx context.Context, m mover, steps int, up bool) (Shows, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	at := place{m.key, steps, up}
	if steps == 0 {
		at = place{up: up}
	}
	if shows, ok := s.known[at]; ok {
		return shows, nil
	}
	moved := s.base
	if steps != 0 {
		from, _ := m.read(s.base)
		m.write(&moved, from+float64(steps)*m.step)
	}
	if s.Turn != nil {
		end, err := s.Turn(ctx)
		if err != nil {
			return Shows{}, err
		}
		defer end()
	}
	shows, err := s.shoot(ctx, moved, up)
	if err != nil {
		return shows, err
	}
	s.known[at] = shows
	return shows, nil
}

// shoot shows a set-up on the plausible bows, the base's sight left as it is.
func (s *Slopes) shoot(ctx context.Context, moved notebook.Settings, up bool) (out Shows, err error) {
	switch {
	case up:
		return s.Fit.rises(ctx, moved, slopeBows, s.distances)
	case s.Fit != nil:
		out, err = s.Fit.shows(ctx, moved, slopeBows, s.distances)
	default:
		out, err = probe(ctx, moved, s.hand, slopeBows, s.distances, &s.bench)
	}
	if reach := sightBeside(s.base, moved, false).Reach / sightBeside(s.base, s.base, false).Reach; err == nil && reach != 1 {
		out.carry(float64(reach), s.distances)
	}
	return out, err
}

// rises reports whether heights can be computed: only on a fitted bow, whose
// hook, balance, wire and string are in doubt together.
func (s *Slopes) rises() bool { return s.Fit != nil && s.Fit.rig.base.up.Withheld == "" }

// response is what moving one entry does to one quantity, bow by bow, the best
// first. A bow that fails at the base or at the first step is left out; one
// that fails further out is drawn on from where it last stood, so that the same
// bows stand behind every distance.
type response struct {
	signed []float64 // the change itself
	size   []float64 // the largest size on the way there: it never shrinks with the distance moved
	first  []float64 // size for one whole unit, from the first step to either side
	left   bool      // the best bow fails, or leaves the window, on the way
}

// of gives the response to moving an entry by delta; ok is false when the
// model does not know the entry, or the set-up does not say it.
func (s *Slopes) of(ctx context.Context, key string, delta float64, q Quantity) (r response, ok bool, err error) {
	m, known := moverOf(key)
	if q.Kind == OfBareUp {
		if !s.rises() {
			return r, false, nil
		}
		m = m.upright()
	}
	if !known || m.write == nil {
		return r, false, nil
	}
	if _, noted := m.read(s.base); !noted {
		return r, false, nil
	}
	way, err := s.way(ctx, m, delta, q)
	if err != nil || way == nil {
		return r, false, err
	}
	aside := way[:1] // nothing to the other side: it is set as well as it is known
	if m.again > 0 {
		if aside, err = s.way(ctx, m, math.Copysign(m.step, -delta), q); err != nil {
			return r, false, err
		}
	}
	var own ownError
	if s.Fit != nil {
		if own, err = s.Fit.ownError(m, s.base, q, len(way[0])); err != nil {
			return r, false, err
		}
	}
	for i := range way[0] {
		line := make([]float64, len(way))
		for k := range way {
			line[k] = way[k][i] - way[0][i]
		}
		whole := len(line)
		if gap := slices.IndexFunc(line, math.IsNaN); gap >= 0 {
			line = line[:gap]
		}
		if i == 0 {
			r.left = len(line) < whole
		}
		if len(line) < 2 {
			if i == 0 {
				return r, false, nil
			}
			continue
		}
		at, most := along(line, math.Abs(delta)/m.step)
		first := math.Abs(line[1]) / m.step
		if back := aside[len(aside)-1][i] - aside[0][i]; !math.IsNaN(back) {
			first = max(first, math.Abs(back)/m.step)
		}
		at, most, first = own.widen(i, delta, at, most, first)
		r.signed, r.size, r.first = append(r.signed, at), append(r.size, most), append(r.first, first)
	}
	return r, len(r.size) >= leastBows, nil
}

// way is a quantity at the base and at every step up to delta, NaN where a bow
// fails; nil where the model gives no such quantity. It holds at least one
// step.
func (s *Slopes) way(ctx context.Context, m mover, delta float64, q Quantity) ([][]float64, error) {
	n := min(mostSteps, max(1, int(math.Ceil(math.Abs(delta)/m.step-1e-9))))
	var out [][]float64
	for k := range n + 1 {
		shows, err := s.look(ctx, m, int(math.Copysign(float64(k), delta)), q.Kind == OfBareUp)
		if err != nil && k > 1 {
			return out, nil // the model cannot stand that far: drawn on
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", notebook.Label(m.key), err)
		}
		values := shows.of[q]
		if len(values) == 0 {
			return nil, nil
		}
		row := make([]float64, len(values))
		for i := range values {
			if row[i] = values[i]; !shows.ok[i] {
				row[i] = math.NaN()
			}
		}
		out = append(out, row)
	}
	return out, nil
}

// along reads a line drawn through places at 0, 1, 2 … at x, and the largest
// size it had on the way. Beyond the last place the last piece is drawn on.
func along(line []float64, x float64) (at, most float64) {
	k := min(int(x), len(line)-2)
	at = line[k] + (x-float64(k))*(line[k+1]-line[k])
	for _, v := range line[:k+1] {
		most = max(most, math.Abs(v))
	}
	return at, max(most, math.Abs(at))
}

// perUnit is the best bow's slope of a quantity at the base, from one step to
// either side; 0 where there is none.
func (s *Slopes) perUnit(ctx context.Context, key string, q Quantity) (float64, error) {
	m, _ := moverOf(key)
	if q.Kind == OfBareUp {
		m = m.upright()
	}
	up, ok, err := s.of(ctx, key, m.step, q)
	if err != nil || !ok {
		return 0, err
	}
	down, ok, err := s.of(ctx, key, -m.step, q)
	if err != nil || !ok {
		return 0, err
	}
	return (up.signed[0] - down.signed[0]) / (2 * m.step), nil
}

// likely and far are the sizes that half of the plausible bows exceed, and
// that nineteen of twenty and the best stay within.
func likely(size []float64) float64 {
	v := slices.Sorted(slices.Values(size))
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}

func far(size []float64) float64 {
	v := slices.Sorted(slices.Values(size))
	return max(size[0], v[int(math.Ceil(0.95*float64(len(v))))-1])
}
