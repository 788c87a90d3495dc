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
	mu     sync.Mutex
	hidden int64
	common int64
	byBow  map[notebook.ID]int64
}

// moment is where a bow's records stand.
type moment struct {
	Hidden int64 // how often something went out of sight, or came back
	Common int64 // changes of what belongs to no one bow
	OfBow  int64
}

// at gives a bow's moment. It is read before what it stands for.
func (c *changeCount) at(bow notebook.ID) moment {
	c.mu.Lock()
	defer c.mu.Unlock()
	return moment{c.hidden, c.common, c.byBow[bow]}
}

// note counts a change of one bow.
func (c *changeCount) note(bow notebook.ID) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.byBow == nil {
		c.byBow = map[notebook.ID]int64{}
	}
	c.byBow[bow]++
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

func (c counting) Events() notebook.Records[notebook.TrialEvent] {
	return ofAll(c, c.Store.Events())
}

func (c counting) Retractions() notebook.Records[notebook.Retraction] {
	return counted[notebook.Retraction]{c.Store.Retractions(), func(notebook.Retraction) { c.changes.forget() }}
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
