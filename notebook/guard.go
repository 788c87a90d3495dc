package notebook

import (
	"context"
	"sync"
)

// Guarded is a store in which every call is checked against what the actor
// may do: what someone may not see is not found, what they may see but not
// change is refused with NotAllowed. A person's own notebook needs no guard.
// All writing must go through it, since it remembers who may do what.
func Guarded(s Store) Store { return &guard{Store: s} }

// Forget makes a guarded store look again who is in it, after a person was let
// in beside it; any other store is left alone.
func Forget(s Store) {
	if g, ok := s.(*guard); ok {
		g.forget()
	}
}

// guard remembers the club between changes.
type guard struct {
	Store
	mu    sync.Mutex
	known *Club
}

// club gives the club as it stands.
func (g *guard) club(ctx context.Context) (Club, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.known != nil {
		return *g.known, nil
	}
	people, err := Everything(ctx, g.Store.People(), "", Query{})
	if err != nil {
		return Club{}, err
	}
	bows, err := Everything(ctx, g.Store.Bows(), "", Query{})
	if err != nil {
		return Club{}, err
	}
	shares, err := Everything(ctx, g.Store.Shares(), "", Query{})
	if err != nil {
		return Club{}, err
	}
	c := NewClub(people, bows, shares)
	g.known = &c
	return c, nil
}

// forget makes the next call look again: a person, bow or share changed.
func (g *guard) forget() {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.known = nil
}

func notThere() error {
	return &Error{Code: NotFound, Message: "there is no such record", Hint: "go back to the list and open it from there"}
}

func notAllowed(what string) error {
	return &Error{Code: NotAllowed, Message: "you may not " + what, Hint: "ask whose bow it is, or the owner of the notebook"}
}

// guarded is one noun behind the guard.
type guarded[T Record] struct {
	g     *guard
	inner Records[T]
	// bow finds the bow that a record belongs to; "" for none.
	bow func(context.Context, *guard, T) (ID, error)
	// mayPut and maySee replace the usual rules, which are work and read on the
	// record's bow.
	mayPut func(context.Context, *guard, Club, ID, T) error
	maySee func(context.Context, *guard, Club, ID, T) (bool, error)
	// changes says that rights may follow from the noun.
	changes bool
}

// Put stores a record that the actor wrote and may write.
func (r guarded[T]) Put(ctx context.Context, actor ID, record T) (T, Outcome, error) {
	var none T
	club, err := r.g.club(ctx)
	if err != nil {
		return none, "", err
	}
	if err := r.refusal(ctx, club, actor, record); err != nil {
		return none, "", err
	}
	kept, outcome, err := r.inner.Put(ctx, actor, record)
	if CodeOf(err) == Different { // that another's record has this id is not for them to know
		if _, look := r.Get(ctx, actor, record.Stamped().ID); CodeOf(look) == NotFound {
			err = notThere()
		}
	}
	if r.changes {
		r.g.forget()
	}
	return kept, outcome, err
}

func (r guarded[T]) refusal(ctx context.Context, club Club, actor ID, record T) error {
	if _, ok := club.Known(actor); !ok && len(club.People) > 0 {
		return notAllowed("write in this notebook")
	}
	if r.mayPut != nil {
		return r.mayPut(ctx, r.g, club, actor, record)
	}
	if record.Stamped().By != actor {
		return notAllowed("write in another's name")
	}
	bow, err := r.bow(ctx, r.g, record)
	if err != nil {
		return err
	}
	if err := mayWork(club, actor, bow); err != nil {
		return err
	}
	return r.g.mayName(ctx, club, actor, record)
}

// mayWork says why the actor may not write something of a bow; of no bow at
// all everyone may who is no viewer.
func mayWork(club Club, actor, bow ID) error {
	access := club.Access(actor, bow)
	if bow == "" && club.People[actor].Role != ViewerRole {
		access = WorkAccess
	}
	switch {
	case bow != "" && access == NoAccess:
		return notThere()
	case access < WorkAccess:
		return notAllowed("change this bow")
	}
	return nil
}

// Get gives a record that the actor may see.
func (r guarded[T]) Get(ctx context.Context, actor ID, id ID) (T, error) {
	var none T
	club, err := r.g.club(ctx)
	if err != nil {
		return none, err
	}
	record, err := r.inner.Get(ctx, actor, id)
	if err != nil {
		return none, err
	}
	if seen, err := r.sees(ctx, club, actor, record); err != nil || !seen {
		return none, firstOf(err, notThere())
	}
	return record, nil
}

func firstOf(err, otherwise error) error {
	if err != nil {
		return err
	}
	return otherwise
}

func (r guarded[T]) sees(ctx context.Context, club Club, actor ID, record T) (bool, error) {
	if _, ok := club.Known(actor); !ok {
		return false, nil
	}
	if r.maySee != nil {
		return r.maySee(ctx, r.g, club, actor, record)
	}
	bow, err := r.bow(ctx, r.g, record)
	if bow == "" {
		return record.Stamped().By == actor || club.Governs(actor), err
	}
	return club.Access(actor, bow) >= ReadAccess, err
}

// List gives what of a page the actor may see. The store narrows it where it
// can; nouns without a bow of their own are looked at one by one, so that such
// a page may be short, or empty, and still have a next.
func (r guarded[T]) List(ctx context.Context, actor ID, q Query) (Page[T], error) {
	club, err := r.g.club(ctx)
	if err != nil {
		return Page[T]{}, err
	}
	if _, ok := club.Known(actor); !ok {
		return Page[T]{}, nil
	}
	bows, all := club.Readable(actor)
	if !all {
		q.Only = &Scope{Bows: bows, Writer: actor}
	}
	page, err := r.inner.List(ctx, actor, q)
	if err != nil || r.maySee == nil {
		return page, err
	}
	seen := page.Rows[:0]
	for _, row := range page.Rows {
		ok, err := r.maySee(ctx, r.g, club, actor, row)
		if err != nil {
			return Page[T]{}, err
		}
		if ok {
			seen = append(seen, row)
		}
	}
	page.Rows = seen
	return page, nil
}
