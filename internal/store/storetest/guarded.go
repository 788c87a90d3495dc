package storetest

import (
	"context"
	"strings"
	"testing"

	"tautline/notebook"
)

// club is two archers' bows and those who look at them. The table of rights in
// guarded is written by hand, beside what each person was given here.
type club struct {
	store  notebook.Store // behind the guard
	people map[string]notebook.ID
	mine   map[string]Sample // each archer's records
	rest   map[string]Rest
}

// guarded: who may see, write and own what of an archer's, for every noun.
func guarded(t *testing.T, raw notebook.Store) {
	c := newClub(t, raw)
	const none, read, work, own = notebook.NoAccess, notebook.ReadAccess, notebook.WorkAccess, notebook.OwnAccess
	for _, row := range []struct {
		who         string
		ann, ben    notebook.Access // on Ann's, on Ben's
		seesTheBows int
	}{
		{"ann", own, none, 1},
		{"ben", none, own, 1},
		{"owner", read, read, 3},       // sees all, Emil's too
		{"coach", work, none, 1},       // Ann gave work on all
		{"other coach", none, read, 1}, // Ben gave a look at this bow
		{"viewer", read, none, 1},      // Ann gave work; a viewer only looks
		{"emil", none, none, 0},        // is let in no longer
		{"stranger", none, none, 0},
	} {
		actor := c.people[row.who]
		c.holds(t, row.who, actor, "ann", row.ann)
		c.holds(t, row.who, actor, "ben", row.ben)
		page, err := c.store.Bows().List(context.Background(), actor, notebook.Query{})
		if err != nil || len(page.Rows) != row.seesTheBows {
			t.Errorf("%s sees %d bows, %v; want %d", row.who, len(page.Rows), err, row.seesTheBows)
		}
	}
	c.roles(t)
	c.withdrawn(t)
}

func newClub(t *testing.T, raw notebook.Store) club {
	t.Helper()
	c := club{store: notebook.Guarded(raw), people: map[string]notebook.ID{}, mine: map[string]Sample{}, rest: map[string]Rest{}}
	roles := map[string]notebook.Role{"owner": notebook.OwnerRole, "coach": notebook.CoachRole, "other coach": notebook.CoachRole, "viewer": notebook.ViewerRole}
	hash, size, err := raw.Blobs().Add(context.Background(), strings.NewReader("twang"), 10)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"owner", "ann", "ben", "emil", "coach", "other coach", "viewer", "stranger"} {
		x := New()
		c.people[name] = x.Person.ID
		x.Person.Name, x.Person.Role = name, roles[name]
		if x.Person.Role == "" {
			x.Person.Role = notebook.ArcherRole
		}
		if name == "stranger" {
			continue // has an id, and is nobody
		}
		put(t, raw.People(), x.Person, notebook.Created)
		if x.Person.Role != notebook.ArcherRole {
			continue
		}
		rest := RestOf(x, hash, size)
		c.mine[name], c.rest[name] = x, rest
		put(t, raw.Bows(), x.Bow, notebook.Created)
		put(t, raw.SetUps(), x.SetUp, notebook.Created)
		put(t, raw.Trials(), x.Trial, notebook.Created)
		put(t, raw.Readings(), x.Reading, notebook.Created)
		put(t, raw.Recordings(), rest.Recording, notebook.Created)
		put(t, raw.Sessions(), rest.Session, notebook.Created)
		put(t, raw.Events(), rest.Event, notebook.Created)
		put(t, raw.Verdicts(), rest.Verdict, notebook.Created)
		put(t, raw.Ends(), rest.End, notebook.Created)
		put(t, raw.Onsets(), rest.Onsets, notebook.Created)
		put(t, raw.Fits(), rest.Fit, notebook.Created)
		put(t, raw.Forecasts(), rest.Forecast, notebook.Created)
		put(t, raw.Rulings(), rest.Ruling, notebook.Created)
	}
	out := c.mine["emil"].Person
	out.Disabled, out.Version = true, 2
	put(t, raw.People(), out, notebook.Updated)
	for _, s := range []notebook.Share{
		{Archer: c.people["ann"], With: c.people["coach"], May: notebook.MayWork},
		{Archer: c.people["ann"], Bow: c.mine["ann"].Bow.ID, With: c.people["viewer"], May: notebook.MayWork},
		{Archer: c.people["ben"], Bow: c.mine["ben"].Bow.ID, With: c.people["other coach"], May: notebook.MayRead},
	} {
		s.Stamp = notebook.Stamp{ID: notebook.NewID(), By: s.Archer, At: At}
		put(t, c.store.Shares(), s, notebook.Created)
	}
	return c
}

// holds tries every noun of an archer's as the actor.
func (c club) holds(t *testing.T, who string, actor notebook.ID, whose string, want notebook.Access) {
	t.Helper()
	x, rest := c.mine[whose], c.rest[whose]
	at := func() notebook.Stamp { return notebook.Stamp{ID: notebook.NewID(), By: actor, At: At} }
	probe(t, c.store.SetUps(), who, whose, actor, x.SetUp, want, func(r *notebook.SetUp) { r.Stamp = at() })
	probe(t, c.store.Sessions(), who, whose, actor, rest.Session, want, func(r *notebook.Session) { r.Stamp = at() })
	probe(t, c.store.Recordings(), who, whose, actor, rest.Recording, want, func(r *notebook.Recording) { r.Stamp = at() })
	probe(t, c.store.Readings(), who, whose, actor, x.Reading, want, func(r *notebook.Reading) { r.Stamp = at() })
	probe(t, c.store.Trials(), who, whose, actor, x.Trial, want, func(r *notebook.Trial) { r.Stamp = at() })
	probe(t, c.store.Events(), who, whose, actor, rest.Event, want, func(r *notebook.TrialEvent) { r.Stamp = at() })
	probe(t, c.store.Verdicts(), who, whose, actor, rest.Verdict, want, func(r *notebook.Verdict) { r.Stamp = at() })
	probe(t, c.store.Ends(), who, whose, actor, rest.End, want, func(r *notebook.End) { r.Stamp = at() })
	probe(t, c.store.Onsets(), who, whose, actor, rest.Onsets, want, func(r *notebook.Onsets) { r.Stamp = at() })
	probe(t, c.store.Fits(), who, whose, actor, rest.Fit, want, func(r *notebook.Fit) { r.Stamp = at() })
	probe(t, c.store.Forecasts(), who, whose, actor, rest.Forecast, want, func(r *notebook.Forecast) { r.Stamp = at() })
	probe(t, c.store.Rulings(), who, whose, actor, rest.Ruling, want, func(r *notebook.Ruling) { r.Stamp = at() })
	// in another's name, even on one's own bow
	forged := x.Reading
	forged.ID, forged.By = notebook.NewID(), c.people["owner"]
	if _, _, err := c.store.Readings().Put(context.Background(), actor, forged); err == nil && who != "owner" {
		t.Errorf("%s wrote a reading in the owner's name", who)
	}
	// another's set-up named in a record of one's own bow
	if own, ok := c.mine[who]; ok && want == notebook.NoAccess {
		hidden := own.Reading
		hidden.Stamp, hidden.SetUp, hidden.Trial = at(), x.SetUp.ID, ""
		if _, _, err := c.store.Readings().Put(context.Background(), actor, hidden); err == nil {
			t.Errorf("%s tied a reading to %s's set-up", who, whose)
		}
	}
}

// probe gets, lists, writes and retracts one record as the actor.
func probe[T notebook.Record](t *testing.T, records notebook.Records[T], who, whose string, actor notebook.ID, record T, want notebook.Access, restamp func(*T)) {
	t.Helper()
	ctx := context.Background()
	id := record.Stamped().ID
	_, err := records.Get(ctx, actor, id)
	if seen := err == nil; seen != (want >= notebook.ReadAccess) || !seen && notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("%s gets a %T of %s: %v", who, record, whose, err)
	}
	page, err := records.List(ctx, actor, notebook.Query{Limit: 1000})
	if err != nil {
		t.Errorf("%s lists %T: %v", who, record, err)
	}
	listed := false
	for _, r := range page.Rows {
		listed = listed || r.Stamped().ID == id
	}
	if listed != (want >= notebook.ReadAccess) {
		t.Errorf("%s lists a %T of %s: %v", who, record, whose, listed)
	}
	restamp(&record)
	_, outcome, err := records.Put(ctx, actor, record)
	code := notebook.CodeOf(err)
	switch {
	case want >= notebook.WorkAccess && outcome != notebook.Created,
		want == notebook.ReadAccess && code != notebook.NotAllowed,
		want == notebook.NoAccess && code != notebook.NotFound && code != notebook.NotAllowed:
		t.Errorf("%s writes a %T of %s: %q, %v", who, record, whose, outcome, err)
	}
}

// roles: nobody makes more of themselves, and who is out stays out.
func (c club) roles(t *testing.T) {
	t.Helper()
	ctx := context.Background()
	ann := c.mine["ann"].Person
	ann.Name, ann.Role, ann.Version = "ann", notebook.OwnerRole, 2
	if _, _, err := c.store.People().Put(ctx, ann.ID, ann); notebook.CodeOf(err) != notebook.NotAllowed {
		t.Errorf("an archer made herself owner: %v", err)
	}
	ann.Role, ann.Name = notebook.ArcherRole, "Ann K"
	if _, outcome, err := c.store.People().Put(ctx, ann.ID, ann); outcome != notebook.Updated {
		t.Errorf("an archer may not change her own name: %v", err)
	}
	emil := c.mine["emil"].Person
	emil.Disabled, emil.Version = false, 3
	if _, _, err := c.store.People().Put(ctx, emil.ID, emil); err == nil {
		t.Error("who was put out let himself in again")
	}
	given := c.mine["ann"].Bow
	given.Owner, given.Version = c.people["coach"], 2
	if _, _, err := c.store.Bows().Put(ctx, c.people["coach"], given); notebook.CodeOf(err) != notebook.NotAllowed {
		t.Errorf("a coach took a bow: %v", err)
	}
	page, err := c.store.People().List(ctx, c.people["ben"], notebook.Query{})
	if err != nil || len(page.Rows) != 3 { // himself, the owner, the other coach
		t.Errorf("Ben sees %d people, %v", len(page.Rows), err)
	}
}

// withdrawn: a share that is taken back shows nothing any more, at once.
func (c club) withdrawn(t *testing.T) {
	t.Helper()
	ctx, coach := context.Background(), c.people["coach"]
	shares, err := c.store.Shares().List(ctx, coach, notebook.Query{})
	if err != nil || len(shares.Rows) != 1 {
		t.Fatalf("the coach sees %d shares, %v", len(shares.Rows), err)
	}
	back := notebook.Retraction{Stamp: notebook.Stamp{ID: notebook.NewID(), By: c.people["ben"], At: At}, Target: shares.Rows[0].ID}
	if _, _, err := c.store.Retractions().Put(ctx, back.By, back); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("Ben withdrew what Ann gave: %v", err)
	}
	back.By = c.people["ann"]
	put(t, c.store.Retractions(), back, notebook.Created)
	if _, err := c.store.Readings().Get(ctx, coach, c.mine["ann"].Reading.ID); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("the coach still sees what is no longer shared: %v", err)
	}
}
