package server

import (
	"context"
	"sync"

	"tautline/notebook"
)

// corrections remembers, for each bow, which ends a later one replaces, so that
// only new ends are looked at.
type corrections struct {
	mu    sync.Mutex
	byBow map[notebook.ID]corrected
}

// corrected is what is known of a bow's ends.
type corrected struct {
	moment moment
	after  string // cursor of the newest end looked at
	wrong  map[notebook.ID]bool
}

func (c *corrections) recall(bow notebook.ID) corrected {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.byBow[bow]
}

func (c *corrections) keep(bow notebook.ID, known corrected) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.byBow == nil {
		c.byBow = map[notebook.ID]corrected{}
	}
	c.byBow[bow] = known
}

// correctedEnds are the ends that a later one replaces. A correction may name
// another set-up or session than the end it corrects, so that only the bow
// narrows the search; without one all that may be seen is searched.
func (s *server) correctedEnds(ctx context.Context, bow notebook.ID) (map[notebook.ID]bool, error) {
	if bow == "" {
		return s.correctedSince(ctx, notebook.Query{Correcting: true}, nil)
	}
	now, known := s.changes.at(bow), s.fixes.recall(bow)
	if known.wrong != nil && known.moment == now {
		return known.wrong, nil
	}
	if known.moment.Hidden != now.Hidden { // one of them may have gone out of sight
		known = corrected{}
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	last, err := s.Notebook.Ends().List(ctx, me.ID, notebook.Query{Bow: bow, Newest: true, Limit: 1})
	if err != nil {
		return nil, err
	}
	wrong, err := s.correctedSince(ctx, notebook.Query{Bow: bow, Correcting: true, After: known.after}, known.wrong)
	if err == nil {
		s.fixes.keep(bow, corrected{now, last.Last, wrong})
	}
	return wrong, err
}

// correctedSince adds what was corrected since to what is known, which is left
// as it is.
func (s *server) correctedSince(ctx context.Context, q notebook.Query, known map[notebook.ID]bool) (map[notebook.ID]bool, error) {
	fixes, err := all(ctx, s, s.Notebook.Ends(), q)
	if err != nil {
		return nil, err
	}
	if known != nil && len(fixes) == 0 {
		return known, nil
	}
	wrong := make(map[notebook.ID]bool, len(known)+len(fixes))
	for id := range known {
		wrong[id] = true
	}
	for _, e := range fixes {
		wrong[e.Corrects] = true
	}
	return wrong, nil
}
