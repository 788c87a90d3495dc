package server

import (
	"context"

	"tautline/notebook"
)

// onceTold gives an answer about a bow from memory while nothing that it comes
// from has changed. Records never change and this process alone writes them:
// the newest of each kind and how often something went out of sight say what
// somebody sees of a bow. With no bow the answer is made anew.
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
	Who    notebook.ID
	As     int // version of the person: their units are in it
	Hidden int // how often something went out of sight, or came back
	Newest [5]notebook.ID
}

func (s *server) stateOf(ctx context.Context, bow notebook.ID) (out bowState, err error) {
	me, err := s.me(ctx)
	if err != nil {
		return out, err
	}
	out.Who, out.As = me.ID, me.Version
	_, out.Hidden = s.latest.recall("")
	q := notebook.Query{Bow: bow, Newest: true, Limit: 1}
	for i, look := range []func() (notebook.ID, error){
		func() (notebook.ID, error) { return newest(ctx, s.Notebook.Ends(), me.ID, q) },
		func() (notebook.ID, error) { return newest(ctx, s.Notebook.Readings(), me.ID, q) },
		func() (notebook.ID, error) { return newest(ctx, s.Notebook.SetUps(), me.ID, q) },
		func() (notebook.ID, error) { return newest(ctx, s.Notebook.Sessions(), me.ID, q) },
		func() (notebook.ID, error) { return newest(ctx, s.Notebook.Trials(), me.ID, q) },
	} {
		if out.Newest[i], err = look(); err != nil {
			return out, err
		}
	}
	return out, nil
}

// newest is the id of the record received last, "" for none.
func newest[T notebook.Record](ctx context.Context, records notebook.Records[T], actor notebook.ID, q notebook.Query) (notebook.ID, error) {
	page, err := records.List(ctx, actor, q)
	if err != nil || len(page.Rows) == 0 {
		return "", err
	}
	return page.Rows[0].Stamped().ID, nil
}
