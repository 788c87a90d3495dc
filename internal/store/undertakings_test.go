package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"tautline/notebook"
)

// opening opens a notebook and closes it; what a start could not finish is told
// by Undone.
func opening(ctx context.Context, in place, begin func()) error {
	begin()
	s, err := Open(ctx, in.home(), in.o)
	if err != nil {
		return err
	}
	return errors.Join(s.Undone(), s.Close())
}

// within does something with the open notebook, whose own opening does not fail.
func within(do func(context.Context, *Store, place) error) func(context.Context, place, func()) error {
	return func(ctx context.Context, in place, begin func()) error {
		s, err := Open(ctx, in.home(), in.o)
		if err != nil {
			return err
		}
		begin()
		err = do(ctx, s, in)
		return errors.Join(err, s.Writable(), s.Close())
	}
}

// laid makes a notebook in the home of a base, and closes it.
func laid(t *testing.T, in place, more func(s *Store, c small)) {
	t.Helper()
	s := openWith(t, in.home(), in.o)
	c := newSmall(t, s)
	if more != nil {
		more(s, c)
	}
	fatal(t, s.Close())
}

// killedIn leaves a folder as a program does that is killed.
func killedIn(t *testing.T, in place) {
	t.Helper()
	fatal(t, os.WriteFile(filepath.Join(in.home(), lockName), []byte("12345\n"), 0o600))
}

// undertakings are those of a notebook in a file.
func undertakings() []*undertaking {
	var out []*undertaking
	add := func(u undertaking) *undertaking { out = append(out, &u); return &u }
	plainly := func(t *testing.T, in place) { laid(t, in, nil) }

	add(undertaking{name: "a first opening", patient: true, do: opening, base: func(*testing.T, place) {}})
	add(undertaking{name: "an opening after a kill", do: opening, base: func(t *testing.T, in place) {
		laid(t, in, nil)
		killedIn(t, in)
	}, left: func(t *testing.T, in place, err error) {
		raw, bad := os.ReadFile(filepath.Join(in.home(), lockName))
		fatal(t, bad)
		if len(raw) == 0 && (strings.Contains(err.Error(), "checked") || strings.Contains(err.Error(), "flushed")) {
			t.Errorf("the next opening is not told to check what this one could not (%v)", err)
		}
	}})
	u := add(undertaking{name: "an update", do: opening, base: func(t *testing.T, in place) { copyFiles(t, past, in.home()) }, then: func(t *testing.T, in place) {
		pastRecords(t, in)
		backToPast(t, in)
	}})
	u.left = u.putAside
	add(undertaking{name: "a look", do: looking, base: plainly})
	add(undertaking{name: "a backup", once: true, do: within(backingUp), base: plainly, left: noBackupLeft})
	add(undertaking{name: "the daily backup", do: within(dailyBackup), base: plainly})
	add(undertaking{name: "a check of a backup", do: checking, base: backupAndNotebook, left: func(t *testing.T, _ place, err error) {
		if notebook.CodeOf(err) == notebook.Damaged {
			t.Errorf("a whole backup is said to be damaged: %v", err)
		}
	}})
	u = add(undertaking{name: "a restore", do: restores, goesOver: true, base: backupAndNotebook})
	u.left = u.putAside
	add(undertaking{name: "a restore where nothing is", do: restores, goesOver: true, base: func(t *testing.T, in place) {
		backupAndNotebook(t, in)
		fatal(t, os.RemoveAll(in.home()))
	}})
	for _, digest := range []bool{false, true} {
		u = add(undertaking{name: fmt.Sprintf("a restore of an older backup, with a digest only: %v", digest), do: restores, goesOver: true, unlogged: true, then: pastRecords, base: func(t *testing.T, in place) {
			pastBackup(t, past, in.backup(), digest)
		}})
		u.left = u.putAside
	}
	u = add(undertaking{name: "going back", do: goesBack, base: func(t *testing.T, in place) {
		copyFiles(t, past, in.home())
		fatal(t, openWith(t, in.home(), in.o).Close())
	}, seen: func(t *testing.T, in place) string {
		p, err := prepare(in.home(), in.o) // finishes what was begun, and brings nothing up to date
		fatal(t, err)
		fatal(t, p.Close())
		return rowsIn(t, filepath.Join(in.home(), databaseName))
	}})
	u.left = u.putAside
	add(personsExport())
	add(undertaking{name: "an import", do: within(importing), base: func(t *testing.T, in place) {
		s, _ := filled(t)
		fatal(t, s.ExportFolder(t.Context(), filepath.Join(in.base, "export")))
		laid(t, in, nil)
	}})
	add(undertaking{name: "an erasing that goes on", do: opening, then: nobodysName, base: unfinishedErasing})
	return out
}

// past is the older version of which there is a notebook.
const past = "testdata/v4"

// pastRecords: the notebook holds the records of that version's fixture.
func pastRecords(t *testing.T, in place) {
	t.Helper()
	s := openWith(t, in.home(), in.o)
	var have bytes.Buffer
	want, err := os.ReadFile(filepath.Join(past, recordsName))
	if bad := s.writeRecords(t.Context(), s.read, &have); err != nil || bad != nil || !bytes.Equal(have.Bytes(), want) {
		t.Errorf("the records are not as they were: %v, %v", err, bad)
	}
	fatal(t, s.Close())
}

// backToPast: an update that failed between two of its steps has put two states
// aside; one goes back step by step, to the one that it began with.
func backToPast(t *testing.T, in place) {
	t.Helper()
	copies, err := filepath.Glob(filepath.Join(in.home(), copiesDir, "before-version-*"))
	fatal(t, err)
	if len(copies) < 2 {
		return
	}
	dir := t.TempDir()
	fatal(t, os.CopyFS(dir, os.DirFS(in.home())))
	for err == nil {
		_, err = GoBack(t.Context(), dir, Options{})
	}
	if notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("going back: %v", err)
	}
	if now := fmt.Sprint("testdata/v", versionOf(t, dir)); now != past {
		t.Errorf("gone back through %d copies it is %s", len(copies), now)
	}
}

// nobodysName: no file of the notebook holds the name of who was erased.
func nobodysName(t *testing.T, in place) {
	t.Helper()
	fatal(t, fs.WalkDir(os.DirFS(in.home()), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(filepath.Join(in.home(), name))
		if bytes.Contains(raw, []byte(leaver)) {
			t.Errorf("the name of who was erased is still in %s", name)
		}
		return err
	}))
}

// backupAndNotebook lays out a notebook, and the backup of another.
func backupAndNotebook(t *testing.T, in place) {
	s, x := filled(t)
	fixtureAccounts(t, s, x.Person.ID)
	_, err := s.id() // which a restore takes on
	fatal(t, err)
	fatal(t, backingUp(t.Context(), s, in))
	laid(t, in, nil)
}

func backingUp(ctx context.Context, s *Store, in place) error {
	if !IsBackup(in.backup()) { // as who was told that something is left is told to do
		if err := os.RemoveAll(in.backup()); err != nil {
			return err
		}
	}
	_, err := s.Backup(ctx, in.backup(), BackupOptions{})
	return err
}

func dailyBackup(ctx context.Context, s *Store, in place) error {
	_, err := s.AutoBackup(ctx, in.backup(), "daily")
	return err
}

func noBackupLeft(t *testing.T, in place, err error) {
	t.Helper()
	if _, left := os.Stat(in.backup()); !errors.Is(left, fs.ErrNotExist) && !strings.Contains(err.Error(), "what was begun is left in "+in.backup()+";") {
		t.Errorf("a backup that failed left its folder: %v", left)
	}
}

// unfinishedErasing lays out a notebook in which somebody is erased, and their
// place on the disk not overwritten yet.
func unfinishedErasing(t *testing.T, in place) {
	laid(t, in, func(s *Store, c small) {
		s.engine = crowded{s.engine}
		if _, err := s.Erase(t.Context(), c.ida.Person.ID); notebook.CodeOf(err) != notebook.DiskFull {
			t.Fatal(err)
		}
	})
}

func looking(ctx context.Context, in place, begin func()) error {
	begin()
	s, err := Look(ctx, in.home(), in.o)
	if err != nil {
		return err
	}
	return errors.Join(s.NoteExport(ctx), s.Close())
}

func checking(ctx context.Context, in place, begin func()) error {
	begin()
	_, err := CheckBackup(ctx, in.backup())
	return err
}

func restores(ctx context.Context, in place, begin func()) error {
	begin()
	return toldOfKept(Restore(ctx, in.backup(), in.home(), in.o))
}

// toldOfKept gives what is told where what was there could not be proved.
func toldOfKept(r Restored, err error) error {
	if err == nil && r.Kept != "" && !r.Whole {
		return &notebook.Error{Code: notebook.Unavailable, Message: "what was there is kept as it was", Hint: r.Kept}
	}
	return err
}

func goesBack(ctx context.Context, in place, begin func()) error {
	begin()
	return toldOfKept(GoBack(ctx, in.home(), in.o))
}

func importing(ctx context.Context, s *Store, in place) error {
	r, err := s.ImportPath(ctx, filepath.Join(in.base, "export"), ImportOptions{})
	if err == nil && len(r.Problems) > 0 {
		return &notebook.Error{Code: notebook.Invalid, Message: r.Problems[0].Message, Hint: "it is said of a line"}
	}
	return err
}

// personsExport is put together in a notebook of its own.
func personsExport() undertaking {
	var person notebook.ID
	var whole []byte
	return undertaking{name: "an export of a person", goesOver: true, base: func(t *testing.T, in place) {
		laid(t, in, func(_ *Store, c small) { person = c.ida.Person.ID })
	}, do: within(func(ctx context.Context, s *Store, _ place) error {
		var out bytes.Buffer
		err := s.ExportPerson(ctx, person, &out)
		switch {
		case err != nil:
			return err
		case whole == nil:
			whole = out.Bytes()
		case !bytes.Equal(whole, out.Bytes()):
			return fmt.Errorf("%d bytes were exported, not %d", out.Len(), len(whole))
		}
		return nil
	})}
}

// serverUndertakings are those of a notebook in a PostgreSQL database.
func serverUndertakings() []*undertaking {
	plainly := func(t *testing.T, in place) { laid(t, in, nil) }
	updated := func(t *testing.T, in place) {
		copyFiles(t, past, in.home())
		pastIn(t, past, in.o)
	}
	return []*undertaking{
		{name: "a first opening", do: opening, base: func(*testing.T, place) {}},
		{name: "an update", do: opening, base: updated, then: func(t *testing.T, in place) {
			pastRecords(t, in)
			if all := schemas(t, in); !strings.Contains(all, "before_version_5_TIME") {
				t.Errorf("put aside is %q", all)
			}
		}},
		{name: "a look", do: looking, base: plainly},
		{name: "a backup", once: true, do: within(backingUp), base: plainly, left: noBackupLeft},
		{name: "the daily backup", do: within(dailyBackup), base: plainly},
		{name: "a restore", do: restores, goesOver: true, base: backupAndNotebook},
		{name: "a restore of an older backup", do: restores, goesOver: true, unlogged: true, base: func(t *testing.T, in place) {
			pastBackup(t, past, in.backup(), false)
		}},
		{name: "going back", do: goesBack, base: func(t *testing.T, in place) {
			updated(t, in)
			fatal(t, openWith(t, in.home(), in.o).Close())
		}, seen: func(t *testing.T, in place) string { return schemas(t, in) + in.rows(t) }},
		{name: "an erasing that goes on", do: opening, base: unfinishedErasing},
		{name: "letting a role serve", base: plainly, do: within(func(ctx context.Context, s *Store, _ place) error {
			return s.ServeAs(ctx, "pg_monitor") // one that every server has
		}), seen: func(t *testing.T, in place) string {
			return in.asked(t, "SELECT relname || ' ' || coalesce(relacl::text, '') FROM pg_class WHERE relnamespace = current_schema()::regnamespace UNION ALL SELECT proname || ' ' || coalesce(proacl::text, '') FROM pg_proc WHERE pronamespace = current_schema()::regnamespace ORDER BY 1")
		}},
	}
}

// schemas names those of the database, with what is in each.
func schemas(t *testing.T, in place) string {
	t.Helper()
	all := in.asked(t, "SELECT schemaname || ' ' || count(*) FROM pg_tables WHERE schemaname NOT IN ('pg_catalog', 'information_schema') GROUP BY schemaname ORDER BY 1")
	return regexp.MustCompile(`\d{8}t\d{6}z`).ReplaceAllString(all, "TIME")
}

// asked gives the lines that a query on a server's database gives.
func (p place) asked(t *testing.T, query string) string {
	t.Helper()
	e, err := p.o.engine(p.home())
	fatal(t, err)
	db, err := e.open(plain)
	fatal(t, err)
	lines, err := names(t.Context(), db, query)
	fatal(t, errors.Join(err, db.Close()))
	return strings.Join(lines, "\n") + "\n"
}
