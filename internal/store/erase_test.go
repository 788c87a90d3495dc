package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// leaver is the invented person who goes.
const leaver = "Ida Falkenstjerna"

// small is a club of two archers and a coach. Ida's bow has every noun, some
// of it by the coach; she wrote on Ben's bow, and Ben wrote of her.
type small struct {
	s        *Store
	ida, ben storetest.Sample
	idas     storetest.Rest
	coach    notebook.Person
	shared   notebook.Session // the coach's evening, of nobody's bow
	helped   notebook.Reading // Ida's, on Ben's bow
	told     notebook.Reading // Ben's, of Ida
	coached  notebook.Reading // the coach's, on Ida's bow
	ownFile  string
}

func put[T notebook.Record](t *testing.T, records notebook.Records[T], r T) T {
	t.Helper()
	kept, _, err := records.Put(context.Background(), r.Stamped().By, r)
	if err != nil {
		t.Fatalf("%T: %v", r, err)
	}
	return kept
}

func newSmall(t *testing.T, s *Store) small {
	t.Helper()
	ctx := context.Background()
	c := small{s: s, ida: storetest.New(), ben: storetest.New()}
	c.ida.Person.Name, c.ben.Person.Name, c.ida.Bow.Name = leaver, "Ben Osei", leaver+"'s Heron"
	c.coach = storetest.New().Person
	c.coach.Name, c.coach.Role = "Cora Lind", notebook.CoachRole
	hash, size, err := s.Blobs().Add(ctx, strings.NewReader("RIFF said by "+leaver), 1000)
	if err != nil {
		t.Fatal(err)
	}
	c.ownFile = hash
	c.idas = storetest.RestOf(c.ida, hash, size)
	c.idas.Share.With = c.coach.ID
	put(t, s.People(), c.coach)
	for _, x := range []storetest.Sample{c.ida, c.ben} {
		put(t, s.People(), x.Person)
		put(t, s.Bows(), x.Bow)
		put(t, s.SetUps(), x.SetUp)
		put(t, s.Trials(), x.Trial)
		put(t, s.Readings(), x.Reading)
	}
	again := c.ida.Person
	again.Name, again.Version = "Ida F. Falkenstjerna", 2
	put(t, s.People(), again)
	putRest(t, s, c.idas)
	stamp := func(by notebook.ID) notebook.Stamp {
		return notebook.Stamp{ID: notebook.NewID(), By: by, At: storetest.At}
	}
	c.shared = put(t, s.Sessions(), notebook.Session{Stamp: stamp(c.coach.ID), Place: "the hall", Note: "Ben's bow creaks"})
	reading := func(x storetest.Sample, by notebook.ID, note string) notebook.Reading {
		return put(t, s.Readings(), notebook.Reading{Stamp: stamp(by), Bow: x.Bow.ID, SetUp: x.SetUp.ID, Session: c.shared.ID, Kind: notebook.ReadBrace, Value: 0.221, Text: "22.1 cm", Note: note})
	}
	c.helped = reading(c.ben, c.ida.Person.ID, "held by me, IDA  falkenstjerna")
	c.told = reading(c.ben, c.ben.Person.ID, "with "+leaver+", "+leaver+" and Ida")
	c.coached = reading(c.ida, c.coach.ID, "checked")
	if err := s.SaveAccount(ctx, notebook.Account{Person: c.ida.Person.ID, Login: "falkenstjerna", Hash: "x", Made: storetest.At}); err != nil {
		t.Fatal(err)
	}
	for _, k := range []notebook.Credential{
		{Kind: notebook.RecoveryCredential, Person: c.ida.Person.ID}, {Kind: notebook.InvitationCredential, By: c.ben.Person.ID, Name: leaver + ", Thursdays"},
		{Kind: notebook.InvitationCredential, By: c.ben.Person.ID, Name: "Emil"},
	} {
		k.ID, k.Hash, k.Expires = notebook.NewID(), string(notebook.NewID()), time.Now().Add(time.Hour)
		if err := s.SaveCredential(ctx, k); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

func putRest(t *testing.T, s *Store, r storetest.Rest) {
	t.Helper()
	put(t, s.Sessions(), r.Session)
	put(t, s.Recordings(), r.Recording)
	put(t, s.Events(), r.Event)
	put(t, s.Verdicts(), r.Verdict)
	put(t, s.Ends(), r.End)
	put(t, s.Onsets(), r.Onsets)
	put(t, s.Fits(), r.Fit)
	put(t, s.Forecasts(), r.Forecast)
	put(t, s.Rulings(), r.Ruling)
	put(t, s.Shares(), r.Share)
	put(t, s.Retractions(), r.Retraction)
}

// T27, GDPR 15 and 20: a person's export reads into a notebook of their own,
// with everything on their bows, the recordings too, and nobody else's name.
func TestExportPerson(t *testing.T) {
	both(t, func(t *testing.T, s *Store) {
		c, ctx := newSmall(t, s), context.Background()
		var file bytes.Buffer
		if err := s.ExportPerson(ctx, c.ida.Person.ID, &file); err != nil {
			t.Fatal(err)
		}
		home := openWith(t, t.TempDir(), Options{})
		move(t, file.Bytes(), home)
		if r, err := home.Verify(ctx); err != nil || len(r.Problems) > 0 {
			t.Errorf("at home: %+v, %v", r, err)
		}
		counts, err := s.Belongings(ctx, c.ida.Person.ID)
		if err != nil {
			t.Fatal(err)
		}
		r, err := home.Verify(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for noun, n := range counts {
			want := map[notebook.Noun]int{notebook.PersonNoun: 3, notebook.SessionNoun: 2}[noun] // two versions and the coach; the coach's evening
			if want == 0 {
				want = n
			}
			if r.Counts[string(noun)] != want {
				t.Errorf("%d of noun %s came along, want %d", r.Counts[string(noun)], noun, want)
			}
		}
		if first, err := home.People().List(ctx, "", notebook.Query{Limit: 1}); err != nil || len(first.Rows) != 1 || first.Rows[0].ID != c.ida.Person.ID {
			t.Errorf("it would be the notebook of %+v, %v", first.Rows, err)
		}
		var all bytes.Buffer
		if err := home.writeRecords(ctx, home.read, &all); err != nil {
			t.Fatal(err)
		}
		for _, other := range []string{"Ben", "Osei", "Cora", "Lind", string(c.helped.ID), string(c.told.ID)} {
			if strings.Contains(all.String(), other) {
				t.Errorf("%s left with Ida", other)
			}
		}
		if !strings.Contains(all.String(), string(c.coached.ID)) {
			t.Error("what the coach wrote on her bow stayed behind")
		}
		if left, err := filepath.Glob(filepath.Join(s.Dir(), leaving+"*")); err != nil || len(left) > 0 {
			t.Errorf("left over: %v, %v", left, err)
		}
	})
}

// T27, GDPR 17: after a person was erased the name stands nowhere in the bytes
// of the database, its journal or the sound files; what others have is as it
// was, but for the name in their texts.
func TestErase(t *testing.T) {
	both(t, func(t *testing.T, s *Store) {
		c, ctx := newSmall(t, s), context.Background()
		if holding(t, c) == nil {
			t.Fatal("the search finds nothing while the name is there")
		}
		before := recordsOf(t, s)
		done, err := s.Erase(ctx, c.ida.Person.ID)
		if err != nil {
			t.Fatal(err)
		}
		if done.Removed[notebook.BowNoun] != 1 || done.Removed[notebook.ReadingNoun] != 2 || done.Reworded != 2 {
			t.Errorf("taken out: %+v", done)
		}
		if found := holding(t, c); found != nil {
			t.Errorf("the name is still in %v", found)
		}
		if r, err := s.Verify(ctx); err != nil || len(r.Problems) > 0 {
			t.Errorf("afterwards: %+v, %v", r, err)
		}
		checkRest(t, c, before)
		if _, err := s.Erase(ctx, c.ida.Person.ID); err != nil {
			t.Errorf("once more: %v", err)
		}
	})
}

// T27: the copy that was made before an update holds the name too. It goes with
// the person, for going back to it would bring them back; what a restore put
// aside goes after 90 days.
func TestEraseFromCopies(t *testing.T) {
	bothEngines(t, func(t *testing.T, s *Store, o Options) {
		ctx := t.Context()
		c := newSmall(t, s)
		if err := s.migrate(ctx, nextVersion(t, "CREATE TABLE later (seq INTEGER PRIMARY KEY AUTOINCREMENT, a TEXT);\n")); err != nil {
			t.Fatal(err)
		}
		aside, err := s.putAside(ctx)
		if err != nil || len(aside) != 1 || !aside[0].update {
			t.Fatalf("%+v, %v", aside, err)
		}
		s.now = func() time.Time { return time.Now().Add(2 * time.Second) } // names of schemas hold seconds
		done, err := s.Erase(ctx, c.ida.Person.ID)
		if err != nil || done.Copies != 1 {
			t.Fatalf("%+v, %v", done, err)
		}
		if found := holding(t, c); found != nil {
			t.Errorf("the name is still in %v", found)
		}
		fatal(t, s.Close())
		if _, err := GoBack(ctx, s.Dir(), o); notebook.CodeOf(err) != notebook.NotFound {
			t.Errorf("going back to where she was: %v", err)
		}
	})
}

// Who asked is gone as soon as the records are: the closed page keeps neither
// the copies nor the bytes.
func TestEraseGoesOnWithoutWhoAsked(t *testing.T) {
	bothEngines(t, func(t *testing.T, s *Store, o Options) {
		c := newSmall(t, s)
		fatal(t, s.migrate(t.Context(), nextVersion(t, "CREATE TABLE later (seq INTEGER PRIMARY KEY AUTOINCREMENT, a TEXT);\n")))
		ctx, leave := context.WithCancel(t.Context())
		s.now = func() time.Time {
			var committed bool
			fatal(t, s.read.QueryRow("SELECT EXISTS (SELECT 1 FROM people WHERE body LIKE '%"+FormerMember+"%')").Scan(&committed))
			if committed {
				leave()
			}
			return time.Now().Add(2 * time.Second) // names of schemas hold seconds
		}
		done, err := s.Erase(ctx, c.ida.Person.ID)
		if err != nil || done.Copies != 1 || ctx.Err() == nil {
			t.Errorf("%+v, %v; the asking ended: %v", done, err, ctx.Err())
		}
		if found := holding(t, c); found != nil {
			t.Errorf("the name is still in %v", found)
		}
	})
}

// killed is what a test's program dies of.
type killed struct{}

// T27: a program that is killed as soon as the records are gone leaves the
// name and the recording behind; the next start removes them. Without
// the note of what was begun it would not, which shows that the test can see.
func TestErasingGoesOnAtTheNextStart(t *testing.T) {
	bothEngines(t, func(t *testing.T, s *Store, o Options) {
		ctx := t.Context()
		c := newSmall(t, s)
		s.now = func() time.Time {
			var committed bool
			fatal(t, s.read.QueryRow("SELECT EXISTS (SELECT 1 FROM people WHERE body LIKE '%"+FormerMember+"%')").Scan(&committed))
			if committed {
				panic(killed{})
			}
			return time.Now()
		}
		func() {
			defer func() {
				if p := recover(); p != (killed{}) {
					t.Errorf("it ended by %v", p)
				}
			}()
			_, _ = s.Erase(ctx, c.ida.Person.ID)
		}()
		left, noted := t.TempDir(), t.TempDir()
		for _, to := range []string{left, noted} {
			fatal(t, os.CopyFS(to, os.DirFS(s.Dir())))
		}
		fatal(t, os.Remove(filepath.Join(left, erasing+string(c.ida.Person.ID))))
		fatal(t, s.Close())
		for dir, finished := range map[string]bool{left: false, noted: true} {
			c.s = openWith(t, dir, o)
			_, gone := c.s.files.sounds.Stat(c.ownFile)
			if finished != os.IsNotExist(gone) {
				t.Errorf("finished: %v, and of the recording: %v", finished, gone)
			}
			if found := holding(t, c); finished && found != nil {
				t.Errorf("the name is still in %v", found)
			}
			fatal(t, c.s.Close())
		}
	})
}

// T27: what could not be overwritten is overwritten with the next backup, and a
// note of somebody who stayed is taken away at a start only: later they may just
// be going.
func TestErasingGoesOnWithTheNextBackup(t *testing.T) {
	s, ctx := openWith(t, t.TempDir(), Options{}), t.Context()
	c := newSmall(t, s)
	whole := s.engine
	s.engine = crowded{whole}
	if _, err := s.Erase(ctx, c.ida.Person.ID); notebook.CodeOf(err) != notebook.DiskFull || !strings.Contains(err.Error(), "the records are gone") {
		t.Fatalf("a full disk gave %v", err)
	}
	backups := filepath.Join(s.Dir(), "backups")
	if err := s.forget(ctx, backups); notebook.CodeOf(err) != notebook.DiskFull {
		t.Errorf("the backup does not tell of it: %v", err)
	}
	s.engine = whole
	fatal(t, s.beginErasing(c.ben.Person.ID, nil))
	fatal(t, s.forget(ctx, backups))
	noted := func(id notebook.ID) bool {
		_, err := s.files.own.Stat(erasing + string(id))
		return err == nil
	}
	if noted(c.ida.Person.ID) || !noted(c.ben.Person.ID) {
		t.Error("the note of who went stayed, or that of who may be going did not")
	}
	fatal(t, s.Close())
	s = openWith(t, s.Dir(), Options{})
	if noted(c.ben.Person.ID) {
		t.Error("the note of who stayed is still there after a start")
	}
	if p, err := s.People().Get(ctx, c.ben.Person.ID, c.ben.Person.ID); err != nil || p.Name != c.ben.Person.Name {
		t.Errorf("who stayed is %+v, %v", p, err)
	}
}

// T27: a recording that cannot be removed is not forgotten by erasing once more,
// nor keeps it the other bytes; a note that cannot be read keeps nothing else.
func TestErasingRemembersWhatItCouldNotRemove(t *testing.T) {
	bothEngines(t, func(t *testing.T, s *Store, o Options) {
		c, ctx := newSmall(t, s), t.Context()
		note := erasing + string(c.ida.Person.ID)
		fatal(t, s.files.sounds.Remove(c.ownFile))
		fatal(t, s.files.sounds.Mkdir(c.ownFile, 0o700)) // which is not removed while something is in it
		in, err := s.files.sounds.Create(c.ownFile + "/x")
		fatal(t, err)
		fatal(t, in.Close())
		for range 2 {
			if _, err := s.Erase(ctx, c.ida.Person.ID); notebook.CodeOf(err) != notebook.Unavailable {
				t.Errorf("a recording that stays gave %v", err)
			}
			if sounds, err := s.notedSounds(c.ida.Person.ID); err != nil || len(sounds) != 1 || sounds[0] != c.ownFile {
				t.Errorf("noted are %v, %v", sounds, err)
			}
			if found := holding(t, c); found != nil {
				t.Errorf("the name is still in %v", found)
			}
		}
		old := time.Now().Add(-2 * sweptAfter)
		fatal(t, os.Chtimes(pathIn(s.files.sounds, c.ownFile), old, old))
		fatal(t, s.Close())
		s = openWith(t, s.Dir(), o) // nothing is stopped by it
		c.s = s
		if err := s.Undone(); notebook.CodeOf(err) != notebook.Unavailable || s.Writable() != nil {
			t.Errorf("a start tells %v; writing: %v", err, s.Writable())
		}
		fatal(t, s.files.own.WriteFile(note, []byte("{torn"), 0o600))
		if err := s.resumeErasing(ctx, false); notebook.CodeOf(err) != notebook.Unavailable {
			t.Errorf("a torn note gave %v", err)
		}
		if _, err := s.files.own.Stat(note); err != nil {
			t.Errorf("a torn note is gone: %v", err)
		}
		fatal(t, s.files.own.WriteFile(note, []byte(`["`+c.ownFile+`"]`), 0o600))
		fatal(t, s.files.sounds.Remove(c.ownFile+"/x"))
		fatal(t, s.resumeErasing(ctx, false))
		if _, err := s.files.own.Stat(note); !os.IsNotExist(err) {
			t.Errorf("when all is done the note: %v", err)
		}
		if _, err := s.files.sounds.Stat(c.ownFile); !os.IsNotExist(err) {
			t.Errorf("when all is done the recording: %v", err)
		}
	})
}

// T27: who cannot be noted first is not erased, and that is said.
func TestNobodyIsErasedWithoutANote(t *testing.T) {
	s, ctx := openWith(t, t.TempDir(), Options{}), t.Context()
	c := newSmall(t, s)
	fatal(t, s.files.own.Mkdir(erasing+string(c.ida.Person.ID), 0o700)) // where the note would stand
	_, err := s.Erase(ctx, c.ida.Person.ID)
	var e *notebook.Error
	if !errors.As(err, &e) || !strings.Contains(e.Message, "nobody was erased") || e.Hint == "" || e.Cause == nil {
		t.Errorf("erasing gave %v", err)
	}
	if p, err := s.People().Get(ctx, c.ida.Person.ID, c.ida.Person.ID); err != nil || p.Name != "Ida F. Falkenstjerna" || p.Disabled {
		t.Errorf("who was not erased is %+v, %v", p, err)
	}
	if err := s.Writable(); err != nil {
		t.Errorf("it stopped the writing: %v", err)
	}
}

// What a start cannot go on with is said, and nothing is stopped by it; the note
// of somebody of whom this database knows nothing stays, for it may be of another.
func TestWhatAStartCannotFinish(t *testing.T) {
	s, ctx := openWith(t, t.TempDir(), Options{}), t.Context()
	c := newSmall(t, s)
	strange, called := notebook.NewID(), c.ben.Person
	called.Name, called.Version = FormerMember, 2
	put(t, s.People(), called) // who only bears that name, and lives
	for _, id := range []notebook.ID{strange, called.ID} {
		fatal(t, s.beginErasing(id, nil))
	}
	sending := notebook.Upload{ID: notebook.NewID(), By: called.ID}
	_, err := s.Blobs().Append(ctx, sending, 0, strings.NewReader("twang"), 100)
	fatal(t, err)
	_, err = s.Erase(ctx, c.ida.Person.ID)
	fatal(t, err)
	fatal(t, s.files.own.WriteFile(erasing+string(c.ida.Person.ID), []byte("{torn"), 0o600))
	fatal(t, s.Close())
	s = openWith(t, s.Dir(), Options{})
	if err := s.Undone(); err == nil || s.Writable() != nil {
		t.Errorf("told is %v; writing: %v", err, s.Writable())
	}
	for id, stays := range map[notebook.ID]bool{strange: true, called.ID: false, c.ida.Person.ID: true} {
		if _, err := s.files.own.Stat(erasing + string(id)); (err == nil) != stays {
			t.Errorf("the note of %s: %v, to stay: %v", id, err, stays)
		}
	}
	if held, err := s.Blobs().Held(ctx, sending); err != nil || held.Bytes != 5 {
		t.Errorf("of who stayed %d bytes are left, %v", held.Bytes, err)
	}
	s.broken.Store(&notebook.Error{Code: notebook.ReadOnly})
	if err := s.resumeErasing(ctx, false); err != nil {
		t.Errorf("after a disk error: %v", err)
	}
}

// While somebody reads for long, the tables of PostgreSQL are not waited for:
// all who come later would wait behind. It is done once that is over.
func TestErasingWaitsForNobody(t *testing.T) {
	s, _ := club(t)
	ctx := t.Context()
	c := newSmall(t, s)
	long, err := s.read.BeginTx(ctx, nil)
	fatal(t, err)
	var n int
	fatal(t, long.QueryRow("SELECT count(*) FROM readings").Scan(&n))
	if _, err := s.Erase(ctx, c.ida.Person.ID); notebook.CodeOf(err) != notebook.Busy || !strings.Contains(err.Error(), "others are reading") {
		t.Errorf("beside a long look: %v", err)
	}
	if _, _, err := s.People().Put(ctx, c.ben.Person.ID, storetest.New().Person); err != nil {
		t.Errorf("writing afterwards: %v", err)
	}
	fatal(t, long.Rollback())
	fatal(t, s.resumeErasing(ctx, false))
	if found := holding(t, c); found != nil {
		t.Errorf("the name is still in %v", found)
	}
}

// crowded is an engine without room to write the database anew.
type crowded struct{ engine }

func (crowded) overwrite(context.Context, *Store) error {
	return &notebook.Error{Code: notebook.DiskFull, Message: "no room"}
}

// T27: what was left by going back holds what nobody else has; it goes 90 days
// after the erasing.
func TestWhatWasLeftIsForgotten(t *testing.T) {
	bothEngines(t, func(t *testing.T, s *Store, o Options) {
		ctx := t.Context()
		c := newSmall(t, s)
		if err := s.migrate(ctx, nextVersion(t, "CREATE TABLE later (seq INTEGER PRIMARY KEY AUTOINCREMENT, a TEXT);\n")); err != nil {
			t.Fatal(err)
		}
		fatal(t, s.Close())
		if _, err := GoBack(ctx, s.Dir(), o); err != nil {
			t.Fatal(err)
		}
		c.s = openWith(t, s.Dir(), o)
		kept := func() (n int) {
			t.Helper()
			aside, err := c.s.putAside(ctx)
			fatal(t, err)
			for _, a := range aside {
				if !a.update {
					n++
				}
			}
			return n
		}
		now := time.Now().Add(2 * time.Second)
		c.s.now = func() time.Time { return now }
		if _, err := c.s.Erase(ctx, c.ida.Person.ID); err != nil || kept() != 1 {
			t.Fatalf("%d left, %v", kept(), err)
		}
		for _, try := range []struct{ day, want int }{{89, 1}, {91, 0}} {
			now = time.Now().AddDate(0, 0, try.day)
			fatal(t, c.s.forget(ctx, filepath.Join(s.Dir(), "backups")))
			if n := kept(); n != try.want {
				t.Errorf("%d days after there are %d", try.day, n)
			}
		}
		if found := holding(t, c); found != nil {
			t.Errorf("the name is still in %v", found)
		}
	})
}

// checkRest: what stays is what it was, but for the texts that held the name.
func checkRest(t *testing.T, c small, before map[notebook.ID]string) {
	t.Helper()
	after := recordsOf(t, c.s)
	for id, body := range after {
		switch id {
		case c.ida.Person.ID:
			if !strings.Contains(body, FormerMember) || !strings.Contains(body, `"disabled":true`) {
				t.Errorf("Ida is %s", body)
			}
		case c.helped.ID, c.told.ID:
			if strings.Count(body, FormerMember) != strings.Count(strings.ToLower(strings.Join(strings.Fields(before[id]), " ")), strings.ToLower(leaver)) {
				t.Errorf("%s became %s", before[id], body)
			}
			if !strings.Contains(body, `"value":0.221`) {
				t.Errorf("the reading itself was changed: %s", body)
			}
		default:
			if body != before[id] {
				t.Errorf("%s became %s", before[id], body)
			}
		}
	}
	for _, id := range []notebook.ID{c.ben.Bow.ID, c.ben.Reading.ID, c.coach.ID, c.shared.ID} {
		if after[id] == "" {
			t.Errorf("%s of others is gone", before[id])
		}
	}
	if _, err := c.s.files.sounds.Stat(c.ownFile); err == nil {
		t.Error("her recording is still there")
	}
	links, err := c.s.Credentials(context.Background(), notebook.InvitationCredential, "", time.Now())
	if err != nil || len(links) != 1 || links[0].Name != "Emil" {
		t.Errorf("links: %+v, %v", links, err)
	}
}

// recordsOf is the last version of every record, as stored.
func recordsOf(t *testing.T, s *Store) map[notebook.ID]string {
	t.Helper()
	out := map[notebook.ID]string{}
	for _, k := range s.shelves() {
		err := k.dump(context.Background(), s.read, func(raw json.RawMessage) error {
			r, err := k.read(raw)
			if err != nil {
				return err
			}
			body, err := json.Marshal(r)
			out[r.Stamped().ID] = string(body)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// holding lists the files in whose bytes the name stands. Of PostgreSQL it
// reads the tables after a checkpoint; its journal goes round in its own time.
func holding(t *testing.T, c small) (found []string) {
	t.Helper()
	roots := []string{c.s.Dir()}
	if _, ok := c.s.engine.(postgres); ok {
		if _, err := c.s.write.Exec("CHECKPOINT"); err != nil {
			t.Fatal(err)
		}
		var database string
		if err := c.s.write.QueryRow("SELECT oid::text FROM pg_database WHERE datname = current_database()").Scan(&database); err != nil {
			t.Fatal(err)
		}
		roots = append(roots, filepath.Join(started.Data(), "base", database))
	}
	for _, root := range roots {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return ignoreGone(err)
			}
			body, err := os.ReadFile(path)
			body = bytes.ToLower(body)
			for _, name := range []string{"ida falkenstjerna", "falkenstjerna"} {
				if bytes.Contains(body, []byte(name)) {
					found = append(found, path)
					break
				}
			}
			return ignoreGone(err)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return found
}

// ignoreGone: the server removes files while they are read.
func ignoreGone(err error) error {
	if os.IsNotExist(err) {
		return nil
	}
	return err
}

// A name that was taken on shortly before leaving changes nobody's texts: who
// goes cannot rewrite what others wrote.
func TestNamesTakenOnToDoHarm(t *testing.T) {
	s := openWith(t, t.TempDir(), Options{})
	x, y := storetest.New(), storetest.New()
	x.Person.Name = "Rob"
	put(t, s.People(), x.Person)
	x.Person.Name, x.Person.Version = "brace height", 2
	put(t, s.People(), x.Person)
	put(t, s.People(), y.Person)
	put(t, s.Bows(), y.Bow)
	put(t, s.SetUps(), y.SetUp)
	put(t, s.Trials(), y.Trial)
	y.Reading.Note = "brace height, as Rob said"
	put(t, s.Readings(), y.Reading)
	done, err := s.Erase(context.Background(), x.Person.ID)
	if err != nil || done.Reworded != 0 {
		t.Errorf("%+v, %v", done, err)
	}
}
