package store

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// T27: whatever somebody calls themselves, erasing them ends, and the words that
// are put in names' place are never taken for a name, neither those of this
// erasing nor those that an earlier one left in others' texts.
func TestErasingNamesLikeThePlaceholder(t *testing.T) {
	const others = "a former member said so, the Former Member too; A FORMER MEMBER"
	for _, c := range []struct{ name, wrote, stays string }{
		{"Member", "by a member, Member; member", "by a member, Member; member"},
		{"MEMBER", "a member", "a member"},
		{"Former", "former form", "former form"},
		{"former member", "Former Member, a former  member", "Former Member, a former  member"},
		{"A Former", "a former one", "a former one"},
		{"A FORMER MEMBER", "a former member", "a former member"},
		{"a", "a bow", "a bow"},
		{"form", "form, a former", "a former member, a former"},
		{"Member Jo", "Member Jo member  jo,MEMBER JO Jo", "a former member a former member,a former member Jo"},
		{"member a", "member a member a", "a former member a former member"},
		{"jo a", "jo a Jo A jo a former member", "a former member a former member a former member former member"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, ctx := openWith(t, t.TempDir(), Options{}), t.Context()
			x, y := storetest.New(), storetest.New()
			x.Person.Name = c.name
			storetest.PutAll(t, s, y)
			put(t, s.People(), x.Person)
			noted := func(by notebook.ID, note string) notebook.ID {
				r := y.Reading
				r.ID, r.By, r.Note = notebook.NewID(), by, note
				return put(t, s.Readings(), r).ID
			}
			own, other := noted(x.Person.ID, c.wrote), noted(y.Person.ID, others)
			done := make(chan error, 1)
			go func() { _, err := s.Erase(ctx, x.Person.ID); done <- err }()
			select {
			case err := <-done:
				fatal(t, err)
			case <-time.After(2 * time.Minute):
				t.Fatal("erasing does not end")
			}
			for id, want := range map[notebook.ID]string{own: c.stays, other: others} {
				if r, err := s.Readings().Get(ctx, y.Person.ID, id); err != nil || r.Note != want {
					t.Errorf("the note is %q, not %q, %v", r.Note, want, err)
				}
			}
		})
	}
}

// looked is a context that ends after it was asked a few times, and tells nobody.
type looked struct {
	context.Context
	left *int
}

func (l looked) Err() error {
	if *l.left--; *l.left < 0 {
		return context.Canceled
	}
	return nil
}

// Rewriting a long notebook's texts is given up between two records when nobody
// waits for it any more.
func TestRewordingCanBeGivenUp(t *testing.T) {
	s, ctx := openWith(t, t.TempDir(), Options{}), t.Context()
	c := newSmall(t, s)
	err := s.change(ctx, func(tx *sql.Tx) error {
		names, err := s.namesOf(ctx, tx, c.ida.Person.ID)
		fatal(t, err)
		left := 1
		_, err = typed[notebook.Reading]{&s.readings, notebook.ReadingNoun}.reword(looked{ctx, &left}, tx, names)
		return err
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("it went on: %v", err)
	}
}

// T27: erasing somebody leaves others' tokens, codes and links as they are, but
// for the full name in what they are called: neither a single word nor a name
// taken on before leaving cuts anybody's programs off.
func TestErasingLeavesOthersTokens(t *testing.T) {
	both(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		x, y, z := storetest.New(), storetest.New(), storetest.New()
		for version, name := range []string{"Club", "spreadsheet", "score sheet"} { // the last two just before leaving
			x.Person.Name, x.Person.Version = name, version+1
			put(t, s.People(), x.Person)
		}
		z.Person.Name = leaver
		put(t, s.People(), y.Person)
		put(t, s.People(), z.Person)
		give := func(kind notebook.CredentialKind, person notebook.ID, name string) {
			fatal(t, s.SaveCredential(ctx, notebook.Credential{
				ID: notebook.NewID(), Kind: kind, Hash: string(notebook.NewID()), By: y.Person.ID, Person: person, Name: name, Made: time.Now().UTC(), Expires: time.Now().UTC().Add(time.Hour),
			}))
		}
		const token, link = notebook.TokenCredential, notebook.InvitationCredential
		for _, name := range []string{"club spreadsheet", "the score sheet", "with IDA  Falkenstjerna", "Ida"} {
			give(token, y.Person.ID, name)
		}
		give(token, x.Person.ID, "my own")
		give(link, "", "Club spreadsheet, Thursdays")
		give(link, "", "for "+leaver)
		give(link, y.Person.ID, "who knows "+leaver)
		called := func(kind notebook.CredentialKind) (out []string) {
			all, err := s.Credentials(ctx, kind, "", time.Now())
			fatal(t, err)
			for _, c := range all {
				out = append(out, c.Name)
			}
			slices.Sort(out)
			return out
		}
		hold := func(kind notebook.CredentialKind, want ...string) {
			t.Helper()
			if have := called(kind); !slices.Equal(have, want) {
				t.Errorf("there are %q, not %q", have, want)
			}
		}
		_, err := s.Erase(ctx, x.Person.ID)
		fatal(t, err)
		hold(token, "Ida", "club spreadsheet", "the score sheet", "with IDA  Falkenstjerna")
		hold(link, "Club spreadsheet, Thursdays", "for "+leaver, "who knows "+leaver)
		_, err = s.Erase(ctx, z.Person.ID)
		fatal(t, err)
		hold(token, "Ida", "club spreadsheet", "the score sheet", "with "+FormerMember)
		hold(link, "Club spreadsheet, Thursdays", "who knows "+FormerMember)
		if strings.Contains(strings.Join(append(called(token), called(link)...), " "), "alkenstjerna") {
			t.Error("the name is still there")
		}
	})
}
