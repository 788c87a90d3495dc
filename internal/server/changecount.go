package server

import (
	"context"
	"sync"

	"tautline/notebook"
)

// changeCount counts what was written, bow by bow, so that an answer made before
// can be told from one that is still right. Records never change and this
// process alone writes them while it is open: what is not counted here did not
// happen, but for what is told to forget.
type changeCount struct {
	mu      sync.Mutex
	hidden  int64
	common  int64
	ofBow   map[notebook.ID]int64
	hidOfIt map[notebook.ID]int64 // what of one bow alone went out of sight
}

// moment is where a bow's records stand.
type moment struct {
	Hidden int64 // how often something went out of sight, or came back
	Common int64 // changes of what belongs to no one bow
	OfBow  int64
}

// after tells whether a moment came later: every count only grows.
func (m moment) after(other moment) bool {
	return m.Hidden >= other.Hidden && m.Common >= other.Common && m.OfBow >= other.OfBow && m != other
}

// at gives a bow's moment. It is read before what it stands for.
func (c *changeCount) at(bow notebook.ID) moment {
	c.mu.Lock()
	defer c.mu.Unlock()
	return moment{c.hidden + c.hidOfIt[bow], c.common, c.ofBow[bow]}
}

// note counts a change of one bow.
func (c *changeCount) note(bow notebook.ID) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.ofBow == nil {
		c.ofBow = map[notebook.ID]int64{}
	}
	c.ofBow[bow]++
}

// forgetOf counts that something of one bow went out of sight, or came back.
func (c *changeCount) forgetOf(bow notebook.ID) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.hidOfIt == nil {
		c.hidOfIt = map[notebook.ID]int64{}
	}
	c.hidOfIt[bow]++
}

// noteCommon counts a change of what belongs to no one bow.
func (c *changeCount) noteCommon() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.common++
}

// forget counts what may have changed anything: a record went out of sight or
// came back, somebody was let in or left.
func (c *changeCount) forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.hidden++
}

// counting is a store whose writing is counted.
type counting struct {
	notebook.Store
	changes *changeCount
}

// counted is one noun of it.
type counted[T notebook.Record] struct {
	notebook.Records[T]
	note func(T)
}

// Put counts after the record is there, and before its writer is told. What
// failed may be there all the same.
func (c counted[T]) Put(ctx context.Context, actor notebook.ID, r T) (T, notebook.Outcome, error) {
	defer c.note(r)
	return c.Records.Put(ctx, actor, r)
}

// ofBow counts for one bow, ofAll for all of them.
func ofBow[T notebook.Record](c counting, records notebook.Records[T], bow func(T) notebook.ID) notebook.Records[T] {
	return counted[T]{records, func(r T) { c.changes.note(bow(r)) }}
}

func ofAll[T notebook.Record](c counting, records notebook.Records[T]) notebook.Records[T] {
	return counted[T]{records, func(T) { c.changes.noteCommon() }}
}

func (c counting) People() notebook.Records[notebook.Person] { return ofAll(c, c.Store.People()) }
func (c counting) Shares() notebook.Records[notebook.Share]  { return ofAll(c, c.Store.Shares()) }

// ofAnother counts for the bow of the record that one is about.
func ofAnother[T notebook.Record](c counting, records notebook.Records[T], about func(T) (notebook.Noun, notebook.ID)) notebook.Records[T] {
	return looking[T]{records, c, func(r T, bow notebook.ID) {
		if bow == "" {
			c.changes.noteCommon()
		} else {
			c.changes.note(bow)
		}
	}, about}
}

// looking is a noun whose records are about others: the bow is looked for
// before it is written, since afterwards a record may be out of sight.
type looking[T notebook.Record] struct {
	notebook.Records[T]
	c     counting
	note  func(r T, bow notebook.ID) // "" for none, or not known
	about func(T) (notebook.Noun, notebook.ID)
}

// Put counts as counted.Put does.
func (l looking[T]) Put(ctx context.Context, actor notebook.ID, r T) (T, notebook.Outcome, error) {
	noun, id := l.about(r)
	bow, err := notebook.BowOf(ctx, l.c.Store, noun, id)
	switch {
	case notebook.OfStorage(err):
		return r, "", err
	case err != nil:
		bow = "" // then for all: the store itself says what is wrong
	}
	defer l.note(r, bow)
	return l.Records.Put(ctx, actor, r)
}

func (c counting) Events() notebook.Records[notebook.TrialEvent] {
	return ofAnother(c, c.Store.Events(), func(r notebook.TrialEvent) (notebook.Noun, notebook.ID) { return notebook.TrialNoun, r.Trial })
}

func (c counting) Verdicts() notebook.Records[notebook.Verdict] {
	return ofAnother(c, c.Store.Verdicts(), func(r notebook.Verdict) (notebook.Noun, notebook.ID) { return notebook.TrialNoun, r.Trial })
}

func (c counting) Rulings() notebook.Records[notebook.Ruling] {
	return ofAnother(c, c.Store.Rulings(), func(r notebook.Ruling) (notebook.Noun, notebook.ID) { return notebook.AnyNoun, r.Target })
}

func (c counting) Fits() notebook.Records[notebook.Fit] {
	return ofBow(c, c.Store.Fits(), func(r notebook.Fit) notebook.ID { return r.Bow })
}

// Retractions are of one bow's records, or of what more than one bow hangs on.
func (c counting) Retractions() notebook.Records[notebook.Retraction] {
	note := func(r notebook.Retraction, bow notebook.ID) {
		if bow == "" || bow == r.Target { // a share, or a bow itself
			c.changes.forget()
		} else {
			c.changes.forgetOf(bow)
		}
	}
	return looking[notebook.Retraction]{c.Store.Retractions(), c, note, func(r notebook.Retraction) (notebook.Noun, notebook.ID) { return notebook.AnyNoun, r.Target }}
}

func (c counting) Bows() notebook.Records[notebook.Bow] {
	return ofBow(c, c.Store.Bows(), func(r notebook.Bow) notebook.ID { return r.ID })
}

func (c counting) SetUps() notebook.Records[notebook.SetUp] {
	return ofBow(c, c.Store.SetUps(), func(r notebook.SetUp) notebook.ID { return r.Bow })
}

func (c counting) Sessions() notebook.Records[notebook.Session] {
	return ofBow(c, c.Store.Sessions(), func(r notebook.Session) notebook.ID { return r.Bow })
}

func (c counting) Readings() notebook.Records[notebook.Reading] {
	return ofBow(c, c.Store.Readings(), func(r notebook.Reading) notebook.ID { return r.Bow })
}

func (c counting) Trials() notebook.Records[notebook.Trial] {
	return ofBow(c, c.Store.Trials(), func(r notebook.Trial) notebook.ID { return r.Bow })
}

func (c counting) Ends() notebook.Records[notebook.End] {
	return ofBow(c, c.Store.Ends(), func(r notebook.End) notebook.ID { return r.Bow })
}

// forget makes the server look again, after something was written beside its
// store.
func (s *server) forget() {
	notebook.Forget(s.Notebook.(counting).Store)
	s.changes.forget()
}
