package store

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// restored opens a backup restored into a new folder.
func restored(t *testing.T, backup string) *Store {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "new")
	if _, err := Restore(t.Context(), backup, dir, Options{}); err != nil {
		t.Fatal(err)
	}
	return open(t, dir)
}

// backedUp makes a backup of a notebook.
func backedUp(t *testing.T, s *Store) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "backup")
	if _, err := s.Backup(t.Context(), to, BackupOptions{}); err != nil {
		t.Fatal(err)
	}
	return to
}

// T9: a restored backup gives the export of the moment it was made, on both
// engines and across them; what was there before is kept and can be restored
// in its turn. Sessions, tokens and open links end, passwords stay.
func TestRestore(t *testing.T) {
	ctx := context.Background()
	for name, engine := range map[string]func(*testing.T) (*Store, Options){
		"SQLite": func(t *testing.T) (*Store, Options) {
			s, err := Open(ctx, t.TempDir(), Options{})
			return s, fatal(t, err)
		},
		"PostgreSQL": func(t *testing.T) (*Store, Options) { return club(t) },
	} {
		t.Run(name, func(t *testing.T) {
			from, x := filled(t)
			oddly(t, from, x)
			fixtureAccounts(t, from, x.Person.ID)
			want, backup := exported(t, from), backedUp(t, from)

			s, o := engine(t)
			other, _ := filled(t)
			move(t, exported(t, other), s)
			before := exported(t, s)
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			r, err := Restore(ctx, backup, s.Dir(), o)
			if err != nil || !r.Whole || !r.LoggedIn || r.Report == nil || len(r.Report.Problems) > 0 {
				t.Fatalf("%+v, %v", r, err)
			}
			s = openWith(t, s.Dir(), o)
			if !bytes.Equal(exported(t, s), want) {
				t.Error("the restored notebook exports other bytes")
			}
			if _, err := s.AccountFor(ctx, fixtureLogin); err != nil {
				t.Errorf("the account: %v", err)
			}
			if _, err := s.CredentialBy(ctx, notebook.TokenCredential, fixtureHash, from.now()); notebook.CodeOf(err) != notebook.NotFound {
				t.Errorf("a token lives again: %v", err)
			}
			if log, err := s.Log(ctx, 0, 10); err != nil || len(log) != 3 || log[0].Status != 200 || log[0].What != "restore of the backup of "+r.Manifest.Made.Format(time.RFC3339) || !strings.HasPrefix(log[0].From, "command line") || time.Since(log[0].At) > time.Hour {
				t.Errorf("the log: %+v, %v", log, err)
			}
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			if _, err := Restore(ctx, r.Kept, s.Dir(), o); err != nil {
				t.Fatal(err)
			}
			if s = openWith(t, s.Dir(), o); !bytes.Equal(exported(t, s), before) {
				t.Error("what was kept is not what was there")
			}
		})
	}
}

func fatal(t *testing.T, err error) (o Options) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// bothEngines runs a test on each.
func bothEngines(t *testing.T, test func(t *testing.T, s *Store, o Options)) {
	t.Run("SQLite", func(t *testing.T) { test(t, open(t, t.TempDir()), Options{}) })
	t.Run("PostgreSQL", func(t *testing.T) { s, o := club(t); test(t, s, o) })
}

// T10, D6: after an update one command brings the data back as they were, so
// that the program from before works on them again; what was written since is
// kept.
func TestGoBack(t *testing.T) {
	bothEngines(t, func(t *testing.T, s *Store, o Options) {
		ctx := t.Context()
		from, x := filled(t)
		move(t, exported(t, from), s)
		before := exported(t, s)
		if err := s.migrate(ctx, nextVersion(t, "CREATE TABLE later (seq INTEGER PRIMARY KEY AUTOINCREMENT, a TEXT);\nDROP TABLE onsets;\n")); err != nil {
			t.Fatal(err)
		}
		since := x.Reading
		since.ID = notebook.NewID()
		if _, _, err := s.Readings().Put(ctx, x.Person.ID, since); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(ctx, s.Dir(), o); notebook.CodeOf(err) != notebook.TooNew {
			t.Errorf("the program from before opened the newer notebook: %v", err)
		}
		r, err := GoBack(ctx, s.Dir(), o)
		if err != nil || !r.Whole || r.Manifest.Version != newest() {
			t.Fatalf("%+v, %v", r, err)
		}
		back := openWith(t, s.Dir(), o)
		if !bytes.Equal(exported(t, back), before) {
			t.Error("the records are not as they were before the update")
		}
		if log, err := back.Log(ctx, 0, 1); err != nil || len(log) != 1 || !strings.HasPrefix(log[0].What, "going back to the state of 20") || !strings.HasPrefix(log[0].From, "command line") {
			t.Errorf("the log: %+v, %v", log, err)
		}
		if _, err := back.Readings().Get(ctx, x.Person.ID, since.ID); notebook.CodeOf(err) != notebook.NotFound {
			t.Errorf("a reading from after the update: %v", err)
		}
		more := x.Reading // and it can be worked on: keys and numbering came back
		more.ID = notebook.NewID()
		if _, outcome, err := back.Readings().Put(ctx, x.Person.ID, more); err != nil || outcome != notebook.Created {
			t.Errorf("a reading after going back: %v, %v", outcome, err)
		}
		if _, _, err := back.Readings().Put(ctx, x.Person.ID, refused(x)); notebook.CodeOf(err) != notebook.Invalid {
			t.Errorf("a reading of no set-up: %v", err)
		}
		if err := back.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := GoBack(ctx, s.Dir(), o); notebook.CodeOf(err) != notebook.NotFound {
			t.Errorf("going back a second time: %v", err)
		}
	})
}

// T9: a damaged backup is refused before anything is replaced.
func TestDamagedBackupReplacesNothing(t *testing.T) {
	bothEngines(t, func(t *testing.T, s *Store, o Options) {
		from, _ := filled(t)
		backup := backedUp(t, from)
		other, _ := filled(t)
		move(t, exported(t, other), s)
		before := exported(t, s)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		raw, err := os.ReadFile(filepath.Join(backup, databaseName))
		if err != nil {
			t.Fatal(err)
		}
		raw[len(raw)/2] ^= 4
		if err := os.WriteFile(filepath.Join(backup, databaseName), raw, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Restore(t.Context(), backup, s.Dir(), o); notebook.CodeOf(err) != notebook.Damaged {
			t.Errorf("a flipped bit gave %v", err)
		}
		if copies, err := filepath.Glob(filepath.Join(s.Dir(), copiesDir, "*")); err != nil || len(copies) > 0 {
			t.Errorf("a refused restore left %v, %v", copies, err)
		}
		if again := openWith(t, s.Dir(), o); !bytes.Equal(exported(t, again), before) {
			t.Error("the notebook changed")
		}
	})
}

// A restore that was stopped after any of its steps is finished by the next
// opening; the old journal never meets the new database.
func TestInterruptedRestoreIsFinished(t *testing.T) {
	from, _ := filled(t)
	backup, want := backedUp(t, from), exported(t, from)
	for gone := range 4 { // of the old files, in the order of clearPlace
		dir := t.TempDir()
		s, err := Open(t.Context(), dir, Options{})
		fatal(t, err)
		other, _ := filled(t)
		move(t, exported(t, other), s)
		fatal(t, s.Close())
		for _, name := range []string{databaseName + "-wal", databaseName + "-shm"} { // as a kill leaves them
			fatal(t, os.WriteFile(filepath.Join(dir, name), []byte("left"), 0o600))
		}
		fatal(t, copiedFile(filepath.Join(backup, databaseName), filepath.Join(dir, stagedName)))
		fatal(t, os.WriteFile(filepath.Join(dir, markName), []byte(`{"keep":"copies/old"}`), 0o600))
		for _, name := range []string{databaseName + "-wal", databaseName + "-shm", databaseName}[:gone] {
			fatal(t, moved(t, dir, name))
		}
		if _, err := Look(t.Context(), dir, Options{}); notebook.CodeOf(err) != notebook.Busy {
			t.Errorf("after %d steps a look gave %v", gone, err)
		}
		again := open(t, dir)
		if !bytes.Equal(exported(t, again), want) {
			t.Errorf("after %d steps the next opening did not finish", gone)
		}
		if old, err := os.Stat(filepath.Join(dir, copiesDir, "old", databaseName)); err != nil || old.Size() < 10_000 {
			t.Errorf("after %d steps the old database is not kept: %v", gone, err)
		}
	}
}

// A notebook that cannot be read is kept as it is, sound files included, when
// a backup takes its place.
func TestRuinedNotebookIsKeptAsItIs(t *testing.T) {
	from, _ := filled(t)
	backup := backedUp(t, from)
	dir := t.TempDir()
	fatal(t, os.MkdirAll(filepath.Join(dir, recordingsDir), 0o700))
	fatal(t, os.WriteFile(filepath.Join(dir, databaseName), bytes.Repeat([]byte("ruin"), 5000), 0o600))
	fatal(t, os.WriteFile(filepath.Join(dir, recordingsDir, "lonely"), []byte("twang"), 0o600))
	r, err := Restore(t.Context(), backup, dir, Options{})
	if err != nil || r.Whole || r.Kept == "" {
		t.Fatalf("%+v, %v", r, err)
	}
	for name, size := range map[string]int64{databaseName: 20_000, filepath.Join(recordingsDir, "lonely"): 5} {
		if info, err := os.Stat(filepath.Join(r.Kept, name)); err != nil || info.Size() != size {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Backups of a version before sums were kept, and of every past version, are
// restored and brought up to date.
func TestPastBackupsAreRestored(t *testing.T) {
	versions, err := filepath.Glob("testdata/v*")
	fatal(t, err)
	for _, from := range versions {
		for _, how := range []string{"with sums", "with a digest only"} {
			dir := t.TempDir()
			pastBackup(t, from, dir, how == "with a digest only")
			var have bytes.Buffer
			s := restored(t, dir)
			fatal(t, s.writeRecords(t.Context(), s.read, &have))
			if want, err := os.ReadFile(filepath.Join(from, recordsName)); err != nil || !bytes.Equal(have.Bytes(), want) {
				t.Errorf("%s %s: other records, %v", from, how, err)
			}
		}
	}
}

// pastBackup makes a backup of a past version's fixture, one that says of itself
// what those of its time did, or what those from before sums were kept did.
func pastBackup(t *testing.T, from, dir string, digest bool) {
	t.Helper()
	copyFiles(t, from, dir)
	m := Manifest{Made: storetest.At, Recordings: 1, SoundBytes: 7}
	journal, err := openSQLite(filepath.Join(dir, databaseName), plain)
	fatal(t, err)
	_, err = journal.Exec("PRAGMA journal_mode = DELETE")
	fatal(t, errors.Join(err, journal.Close()))
	db, err := openSQLite(filepath.Join(dir, databaseName), inspector)
	fatal(t, err)
	m.Tables, err = tableSums(t.Context(), lite{}, db)
	fatal(t, err)
	if digest {
		var s Store
		s.tables()
		old, err := s.verify(t.Context(), lite{}, db, placesOf(t, dir).sounds)
		fatal(t, err)
		m = Manifest{Made: storetest.At, Report: &old}
	} else {
		fatal(t, m.proveDatabase(t.Context(), placesOf(t, dir).own))
		m.Database, err = sumFile(t.Context(), placesOf(t, dir).own, databaseName)
		fatal(t, err)
	}
	fatal(t, db.Close())
	fatal(t, writeManifest(placesOf(t, dir).own, m))
}

// moved does one step of clearing the place, as a stop after it leaves it.
func moved(t *testing.T, dir, name string) error {
	t.Helper()
	f, err := makeFolders(dir, nil)
	fatal(t, err)
	return errors.Join(f.moveAway(name, "copies/old"), f.close())
}

// Indexes and references are taken away while PostgreSQL is filled; all of them
// are there again afterwards, and a refused backup has not touched them.
func TestPostgresKeepsItsKeys(t *testing.T) {
	from, _ := filled(t)
	backup := backedUp(t, from)
	s, o := club(t)
	keys := func(s *Store) []string {
		out, err := names(t.Context(), s.read, "SELECT indexdef FROM pg_indexes WHERE schemaname = current_schema() UNION ALL "+
			"SELECT conrelid::regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid) FROM pg_constraint WHERE connamespace = current_schema()::regnamespace ORDER BY 1")
		fatal(t, err)
		return out
	}
	before := keys(s)
	fatal(t, s.Close())
	_, err := Restore(t.Context(), backup, s.Dir(), o)
	fatal(t, err)
	if after := keys(openWith(t, s.Dir(), o)); !slices.Equal(after, before) || len(before) < 50 {
		t.Errorf("%d keys before, %d after: %q, %q", len(before), len(after), before, after)
	}
}

// Given up at any moment, a backup leaves nothing, and a restore the one
// notebook or the other.
func TestGivenUp(t *testing.T) {
	from, _ := filled(t)
	backup, fresh := backedUp(t, from), exported(t, from)
	bothEngines(t, func(t *testing.T, s *Store, o Options) {
		other, _ := filled(t)
		move(t, exported(t, other), s)
		old := exported(t, s)
		fatal(t, s.Close())
		given, whole := 0, 0
		for after := time.Millisecond; whole == 0; after += after/2 + time.Millisecond {
			to := filepath.Join(t.TempDir(), "backup")
			s := openWith(t, s.Dir(), o)
			ctx, stop := context.WithTimeout(t.Context(), after)
			_, err := s.Backup(ctx, to, BackupOptions{})
			stop()
			if _, left := os.Stat(to); (left == nil) != (err == nil) {
				t.Errorf("a backup given up after %v: %v, and its folder: %v", after, err, left)
			}
			fatal(t, s.Close())
			ctx, stop = context.WithTimeout(t.Context(), after)
			_, err = Restore(ctx, backup, s.Dir(), o)
			stop()
			again := openWith(t, s.Dir(), o)
			have := exported(t, again)
			switch {
			case err == nil && bytes.Equal(have, fresh):
				whole++
			case err == nil || !bytes.Equal(have, old) && !bytes.Equal(have, fresh):
				t.Fatalf("given up after %v: %v, and the notebook is neither", after, err)
			default:
				given++
			}
			fatal(t, again.Close())
		}
		if given == 0 {
			t.Error("nothing was given up")
		}
	})
}

// A copy that could neither be made nor removed never passes for the notebook
// that is replaced: nothing is replaced then, and it is told what to remove.
func TestCopyBeforeARestoreThatIsLeftHalf(t *testing.T) {
	from, _ := filled(t)
	s, _ := filled(t)
	backup, dir, want := backedUp(t, from), s.Dir(), exported(t, s)
	fatal(t, s.Close())
	copies, aside, asked := filepath.Join(dir, copiesDir), filepath.Join(dir, "aside"), 0
	o := Options{Now: func() time.Time {
		if asked++; asked == 2 { // the folder of the copy is made: what leads there is gone from now on
			fatal(t, os.Rename(copies, aside))
			fatal(t, os.WriteFile(copies, nil, 0o600))
		}
		return storetest.At
	}}
	r, err := Restore(t.Context(), backup, dir, o)
	if err == nil || !strings.Contains(err.Error(), "what was begun is left in "+r.Kept) {
		t.Errorf("it is told: %v", err)
	}
	fatal(t, os.Remove(copies))
	fatal(t, os.Rename(aside, copies))
	if _, err := os.Stat(filepath.Join(r.Kept, databaseName)); err != nil {
		t.Errorf("nothing was begun, so this tries nothing: %v", err)
	}
	if have := exported(t, open(t, dir)); !bytes.Equal(have, want) {
		t.Error("the notebook is another now")
	}
}
