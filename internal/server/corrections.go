package server

import (
	"context"
	"slices"
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
	after  string         // cursor of the newest end looked at
	fixes  []notebook.End // what corrects others
	wrong  map[notebook.ID]notebook.ID
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

// correctedEnds are the ends that a later one replaces, with the one that does. A correction may name
// another set-up or session than the end it corrects, so that only the bow
// narrows the search; without one all that may be seen is searched.
func (s *server) correctedEnds(ctx context.Context, bow notebook.ID) (map[notebook.ID]notebook.ID, error) {
	if bow == "" {
		fixes, err := all(ctx, s, s.Notebook.Ends(), notebook.Query{Correcting: true})
		return notebook.Replaced(fixes), err
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
	more, err := all(ctx, s, s.Notebook.Ends(), notebook.Query{Bow: bow, Correcting: true, After: known.after})
	if err != nil {
		return nil, err
	}
	if len(more) > 0 || known.wrong == nil {
		for i := range more {
			more[i].Impacts = nil // they are not asked for again
		}
		known.fixes = append(slices.Clip(known.fixes), more...)
		known.wrong = notebook.Replaced(known.fixes)
	}
	s.fixes.keep(bow, corrected{now, last.Last, known.fixes, known.wrong})
	return known.wrong, nil
}
