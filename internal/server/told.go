package server

import (
	"context"

	"tautline/notebook"
)

// mostTold is how many large answers are kept: a club's evening.
const mostTold = 128

// onceTold gives an answer about a bow from memory while nothing that it comes
// from has changed. With no bow the answer is made anew.
func onceTold[T any](ctx context.Context, s *server, bow notebook.ID, about []any, tell func() (T, error)) (T, error) {
	var none T
	if bow == "" {
		return tell()
	}
	state, err := s.stateOf(ctx, bow)
	if err != nil {
		return none, err
	}
	key, err := fingerprint(append(about, state)...)
	if err != nil {
		return none, err
	}
	if known, ok := s.told.recall(key); ok {
		return known.(T), nil
	}
	answer, err := tell()
	if err == nil {
		s.told.keep(key, answer)
	}
	return answer, err
}

// bowState is what somebody sees of a bow.
type bowState struct {
	Who notebook.ID
	As  int // version of the person: their units are in it
	At  moment
	Bow notebook.ID
}

func (s *server) stateOf(ctx context.Context, bow notebook.ID) (bowState, error) {
	at := s.changes.at(bow)
	me, err := s.me(ctx)
	return bowState{me.ID, me.Version, at, bow}, err
}

// benchView is a bow's page from memory while nothing has changed of it: an
// owner's bench is of every bow in the club.
func (s *server) benchView(ctx context.Context, bow notebook.Bow) (bowView, error) {
	state, err := s.stateOf(ctx, bow.ID)
	if err != nil {
		return bowView{}, err
	}
	if known, ok := s.bench.recall(string(state.Who) + string(bow.ID)); ok && known.state == state {
		return known.view, nil
	}
	view, err := s.viewBow(ctx, bow)
	if err == nil {
		s.bench.replace(string(state.Who)+string(bow.ID), benched{state, view})
	}
	return view, err
}

// benched is a bow's page with the state it shows.
type benched struct {
	state bowState
	view  bowView
}

// mostBenched is how many are kept: every bow of a club for its owner, and
// everybody's own.
const mostBenched = 1024
