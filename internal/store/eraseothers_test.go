package store

import (
	"context"
	"maps"
	"os"
	"strings"
	"testing"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// T27: evenings that who goes began for everybody stay for those who shot at
// them, with their place; those at which nobody else shot go.
func TestEveningsAtWhichOthersShotStay(t *testing.T) {
	s, ctx := openWith(t, t.TempDir(), Options{}), t.Context()
	ida, ben := storetest.New(), storetest.New()
	storetest.PutAll(t, s, ida)
	storetest.PutAll(t, s, ben)
	begun := func(place string) notebook.ID {
		return put(t, s.Sessions(), notebook.Session{Stamp: notebook.Stamp{ID: notebook.NewID(), By: ida.Person.ID, At: storetest.At}, Place: place}).ID
	}
	read := func(x storetest.Sample, session notebook.ID) {
		x.Reading.ID, x.Reading.Session = notebook.NewID(), session
		put(t, s.Readings(), x.Reading)
	}
	both, alone, ends, empty := begun("the hall"), begun("the attic"), begun("the meadow"), begun("the yard")
	read(ida, both)
	read(ben, both)
	read(ida, both)
	read(ida, alone)
	end := storetest.RestOf(ben, "", 0).End
	end.Session = ends
	put(t, s.Ends(), end)
	_, err := s.Erase(ctx, ida.Person.ID)
	fatal(t, err)
	for id, place := range map[notebook.ID]string{both: "the hall", alone: "", ends: "the meadow", empty: ""} {
		if kept, err := s.Sessions().Get(ctx, ben.Person.ID, id); kept.Place != place || (notebook.CodeOf(err) == notebook.NotFound) != (place == "") {
			t.Errorf("the evening at %q is %+v, %v", place, kept, err)
		}
	}
}

// handTidied is an engine beside whose work somebody removes the note of what is
// to be removed, as the advice of a note that cannot be read is.
type handTidied struct {
	engine
	note string
}

func (e handTidied) overwrite(ctx context.Context, s *Store) error {
	if err := s.files.own.Remove(e.note); err != nil {
		return err
	}
	return e.engine.overwrite(ctx, s)
}

// A note that somebody removed by hand is no failure: nothing was left to do.
func TestNoteRemovedByHand(t *testing.T) {
	s, ctx := openWith(t, t.TempDir(), Options{}), t.Context()
	c := newSmall(t, s)
	s.engine = handTidied{s.engine, erasing + string(c.ida.Person.ID)}
	if _, err := s.Erase(ctx, c.ida.Person.ID); err != nil {
		t.Errorf("erasing beside it: %v", err)
	}
	if found := holding(t, c); found != nil {
		t.Errorf("the name is still in %v", found)
	}
}

// Who was put out, or only bears the name, was not erased: a note left of an
// erasing of theirs that did not happen takes nothing of what they are sending,
// and goes at the next start.
func TestWhoWasPutOutWasNotErased(t *testing.T) {
	s, ctx := openWith(t, t.TempDir(), Options{}), t.Context()
	out := storetest.New().Person
	put(t, s.People(), out)
	out.Disabled, out.Version = true, 2
	put(t, s.People(), out)
	sending := notebook.Upload{ID: notebook.NewID(), By: out.ID}
	_, err := s.Blobs().Append(ctx, sending, 0, strings.NewReader("twang"), 100)
	fatal(t, err)
	fatal(t, s.beginErasing(out.ID, nil))
	fatal(t, s.Close())
	s = openWith(t, s.Dir(), Options{})
	if held, err := s.Blobs().Held(ctx, sending); err != nil || held.Bytes != 5 {
		t.Errorf("of what they send %d bytes are left, %v", held.Bytes, err)
	}
	if _, err := s.files.own.Stat(erasing + string(out.ID)); !os.IsNotExist(err) {
		t.Errorf("the note after a start: %v", err)
	}
}

// Erasing somebody of whom nothing is here makes nobody of them, and leaves no
// note of it.
func TestErasingNobody(t *testing.T) {
	s, ctx := openWith(t, t.TempDir(), Options{}), t.Context()
	c, nobody := newSmall(t, s), notebook.NewID()
	before := recordsOf(t, s)
	if done, err := s.Erase(ctx, nobody); err != nil || len(done.Removed) > 0 || done.Reworded > 0 {
		t.Errorf("%+v, %v", done, err)
	}
	if p, err := s.People().Get(ctx, c.coach.ID, nobody); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("nobody became %+v, %v", p, err)
	}
	if after := recordsOf(t, s); !maps.Equal(before, after) {
		t.Errorf("%d records became %d", len(before), len(after))
	}
	if _, err := s.files.own.Stat(erasing + string(nobody)); !os.IsNotExist(err) {
		t.Errorf("the note of nobody: %v", err)
	}
}

// A recording that is gone already keeps nobody from being erased.
func TestErasingWithoutTheRecording(t *testing.T) {
	s := openWith(t, t.TempDir(), Options{})
	c := newSmall(t, s)
	fatal(t, s.files.sounds.Remove(c.ownFile))
	if _, err := s.Erase(t.Context(), c.ida.Person.ID); err != nil {
		t.Error(err)
	}
	if found := holding(t, c); found != nil {
		t.Errorf("the name is still in %v", found)
	}
}
