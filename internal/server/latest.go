package server

import (
	"context"
	"sync"
	"time"

	"tautline/notebook"
)

// latest remembers, for each set-up, what was read last.
type latest struct {
	mu      sync.Mutex
	bySetUp map[notebook.ID]lastRead
}

// lastRead is what is known of a set-up's readings.
type lastRead struct {
	moment moment
	brace  *notebook.Reading // the last brace height outside of trials
	at     time.Time         // of the last reading
}

func (l *latest) recall(setup notebook.ID) (known lastRead, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	known, ok = l.bySetUp[setup]
	return known, ok
}

func (l *latest) keep(setup notebook.ID, r lastRead) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.bySetUp == nil {
		l.bySetUp = map[notebook.ID]lastRead{}
	}
	l.bySetUp[setup] = r
}

// lastReadOn gives what was read last on a set-up.
func (s *server) lastReadOn(ctx context.Context, setup notebook.SetUp) (lastRead, error) {
	now := lastRead{moment: s.changes.at(setup.Bow)}
	if known, ok := s.latest.recall(setup.ID); ok && known.moment == now.moment {
		return known, nil
	}
	me, err := s.me(ctx)
	if err != nil {
		return now, err
	}
	q := notebook.Query{Bow: setup.Bow, SetUp: setup.ID, Newest: true, Limit: 1}
	page, err := s.Notebook.Readings().List(ctx, me.ID, q)
	if err != nil {
		return now, err
	}
	if len(page.Rows) > 0 {
		now.at = page.Rows[0].At
	}
	if now.brace, err = s.lastBrace(ctx, me.ID, q); err != nil {
		return now, err
	}
	s.latest.keep(setup.ID, now)
	return now, nil
}

// lastBrace goes back from the newest brace height to one outside of a trial;
// nil: there is none.
func (s *server) lastBrace(ctx context.Context, actor notebook.ID, q notebook.Query) (*notebook.Reading, error) {
	q.Kind, q.Limit = notebook.ReadBrace, 20
	for rows, err := range notebook.Pages(ctx, s.Notebook.Readings(), actor, q) {
		if err != nil {
			return nil, err
		}
		for _, r := range rows {
			if r.Trial == "" {
				return &r, nil
			}
		}
	}
	return nil, nil
}
