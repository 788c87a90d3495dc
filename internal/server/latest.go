package server

import (
	"context"
	"sync"
	"time"

	"tautline/notebook"
)

// latest remembers, for each set-up, what was read last, so that the bench does
// not read ten thousand readings each time it is looked at. This process alone
// writes the notebook while it is open, so only new readings have to be looked
// at; a retraction makes it forget.
type latest struct {
	mu      sync.Mutex
	bySetUp map[notebook.ID]lastRead
	times   int // how often it forgot: what was read before may not be kept after
}

// lastRead is what is known of a set-up's readings.
type lastRead struct {
	after string            // cursor from which new readings are looked at
	brace *notebook.Reading // the last brace height outside of trials
	at    time.Time         // of the last reading
}

// pageOfLatest is how many readings are looked at again each time.
const pageOfLatest = 100

// forget drops what is known: a record went out of sight, or came back.
func (l *latest) forget() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.bySetUp = nil
	l.times++
}

func (l *latest) recall(setup notebook.ID) (known lastRead, times int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.bySetUp[setup], l.times
}

func (l *latest) keep(setup notebook.ID, r lastRead, times int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if times != l.times {
		return
	}
	if l.bySetUp == nil {
		l.bySetUp = map[notebook.ID]lastRead{}
	}
	l.bySetUp[setup] = r
}

// lastReadOn gives what was read last on a set-up.
func (s *server) lastReadOn(ctx context.Context, setup notebook.SetUp) (lastRead, error) {
	me, err := s.me(ctx)
	if err != nil {
		return lastRead{}, err
	}
	known, times := s.latest.recall(setup.ID)
	q := notebook.Query{Bow: setup.Bow, SetUp: setup.ID, After: known.after, Limit: pageOfLatest}
	for {
		page, err := s.Notebook.Readings().List(ctx, me.ID, q)
		if err != nil {
			return lastRead{}, err
		}
		for _, r := range page.Rows {
			known.at = r.At
			if r.Kind == notebook.ReadBrace && r.Trial == "" {
				known.brace = &r
			}
		}
		if page.Next == "" {
			known.after = q.After
			s.latest.keep(setup.ID, known, times)
			return known, nil
		}
		q.After = page.Next
	}
}
