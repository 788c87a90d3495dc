package store

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// keptOf lists the names of a notebook's own backups, and how many others are
// beside them.
func keptOf(t *testing.T, in, dir string) (own []string, others int) {
	t.Helper()
	all, foreign, err := Backups(in, dir, Options{})
	fatal(t, err)
	for _, b := range all {
		own = append(own, filepath.Base(b.Dir))
	}
	return own, len(foreign)
}

// unnamed takes out of a backup whose it is, as before backups said so.
func unnamed(t *testing.T, dir string) {
	t.Helper()
	m, err := readManifest(dir)
	fatal(t, err)
	m.Notebook = ""
	raw, err := json.Marshal(m)
	fatal(t, err)
	fatal(t, os.WriteFile(filepath.Join(dir, backupName), raw, 0o600))
}

// T8: notebooks that keep their backups in one folder leave each other's alone:
// each lists, counts, rotates and forgets its own, and clears what it began
// itself. Backups from before they said whose they are count as one's own.
func TestTwoNotebooksInOneFolderOfBackups(t *testing.T) {
	bothEngines(t, func(t *testing.T, s *Store, _ Options) {
		ctx, in, now := t.Context(), filepath.Join(t.TempDir(), "kept"), storetest.At
		other, x := filled(t)
		for _, one := range []*Store{s, other} {
			one.now = func() time.Time { return now }
		}
		for range 9 {
			for _, one := range []*Store{s, other} {
				_, err := one.AutoBackup(ctx, in, "daily")
				fatal(t, err)
				now = now.Add(time.Hour)
			}
			now = now.Add(22 * time.Hour)
		}
		mine, others := keptOf(t, in, s.dir)
		theirs, _ := keptOf(t, in, other.dir)
		if len(mine) != len(theirs) || len(mine) < keepDays || others != len(theirs) {
			t.Fatalf("%d and %d are kept, and %d are another's", len(mine), len(theirs), others)
		}
		newest, err := Latest(in, s.dir, Options{})
		if err != nil || filepath.Base(newest.Dir) != mine[len(mine)-1] || newest.Manifest.Made.After(now.Add(-23*time.Hour)) {
			t.Errorf("the latest is %s, %v", newest.Dir, err)
		}
		fresh := &Keeper{Store: open(t, t.TempDir()), In: in}
		if foreign, err := fresh.Look(); err != nil || foreign != 2*len(mine) || !fresh.Standing().Last.IsZero() {
			t.Errorf("a new notebook has a backup of %v; %d are another's, %v", fresh.Standing().Last, foreign, err)
		}
		if _, err := Latest(in, fresh.Store.dir, Options{}); notebook.CodeOf(err) != notebook.NotFound {
			t.Errorf("its latest: %v", err)
		}
		id, err := other.id()
		fatal(t, err)
		began := filepath.Join(in, begun+string(id)+"-"+now.Format(backupTime))
		fatal(t, os.Mkdir(began, 0o700))
		unnamed(t, filepath.Join(in, mine[0]))
		if own, others := keptOf(t, in, other.dir); len(own) != len(theirs)+1 || others != len(mine)-1 {
			t.Errorf("with one from before, own are %v, and %d are another's", own, others)
		}
		_, err = other.Erase(ctx, x.Person.ID)
		fatal(t, err)
		now = now.Add(forgetTime + 24*time.Hour)
		_, err = s.AutoBackup(ctx, in, "daily")
		fatal(t, err)
		if again, _ := keptOf(t, in, other.dir); !slices.Equal(again, theirs) { // what was of either is surplus
			t.Errorf("another's are %v, were %v", again, theirs)
		}
		if _, err := os.Stat(began); err != nil {
			t.Errorf("what another began: %v", err)
		}
		_, err = other.AutoBackup(ctx, in, "daily")
		fatal(t, err)
		if again, _ := keptOf(t, in, other.dir); len(again) != 1 {
			t.Errorf("of who was erased 91 days ago there are %v", again)
		}
		if _, err := os.Stat(began); !os.IsNotExist(err) {
			t.Errorf("what it began: %v", err)
		}
	})
}

// T9: a restored notebook is the one that its backup was made of, on another
// machine too, and the next day's backup joins the others; a backup from before
// they said whose they are changes nothing of that.
func TestRestoredNotebookGoesOnAsItself(t *testing.T) {
	bothEngines(t, func(t *testing.T, s *Store, o Options) {
		ctx, in := t.Context(), filepath.Join(t.TempDir(), "kept")
		from, _ := filled(t)
		_, err := from.AutoBackup(ctx, in, "daily")
		fatal(t, err)
		id, err := from.id()
		fatal(t, err)
		before, err := s.id()
		fatal(t, err)
		fatal(t, s.Close())
		newMachine := filepath.Join(t.TempDir(), "new")
		b, err := Latest(in, newMachine, Options{})
		fatal(t, err)
		if b.Manifest.Notebook != id {
			t.Errorf("the backup is of %q, not %q", b.Manifest.Notebook, id)
		}
		r, err := Restore(ctx, b.Dir, s.Dir(), o)
		if err != nil || !r.TakenOn {
			t.Fatalf("%+v, %v", r, err)
		}
		kept, err := readManifest(r.Kept)
		if err != nil || kept.Notebook != before {
			t.Errorf("what was there before is of %q, not %q, %v", kept.Notebook, before, err)
		}
		s = openWith(t, s.Dir(), o)
		if have, err := s.id(); err != nil || have != id {
			t.Errorf("it goes on as %q, not %q, %v", have, id, err)
		}
		_, err = s.AutoBackup(ctx, in, "daily")
		fatal(t, err)
		if own, others := keptOf(t, in, from.dir); others != 0 || len(own) == 0 {
			t.Errorf("its own are %v, %d of another", own, others)
		}
		fatal(t, s.Close())
		unnamed(t, r.Kept)
		if r, err = Restore(ctx, r.Kept, s.Dir(), o); err != nil || r.TakenOn {
			t.Fatalf("%+v, %v", r, err)
		}
		s = openWith(t, s.Dir(), o)
		if have, err := s.id(); err != nil || have != id {
			t.Errorf("after an old backup it goes on as %q, not %q, %v", have, id, err)
		}
	})
}

// A stop in the middle of a restore leaves no notebook under another's id.
func TestStoppedRestoreTakesTheIDOn(t *testing.T) {
	from, _ := filled(t)
	backup, dir := backedUp(t, from), filepath.Join(t.TempDir(), "new")
	raw, err := os.ReadFile(filepath.Join(backup, databaseName))
	fatal(t, err)
	fatal(t, os.MkdirAll(dir, 0o700))
	fatal(t, os.WriteFile(filepath.Join(dir, stagedName), raw, 0o600))
	id := notebook.NewID()
	fatal(t, os.WriteFile(filepath.Join(dir, markName), []byte(`{"keep":"","notebook":"`+string(id)+`"}`), 0o600))
	if have, err := open(t, dir).id(); err != nil || have != id {
		t.Errorf("it goes on as %q, not %q, %v", have, id, err)
	}
}

// Where no notebook is yet, the newest backup is only taken when all are of one.
func TestLatestOfSeveralNotebooks(t *testing.T) {
	in, nowhere := filepath.Join(t.TempDir(), "kept"), filepath.Join(t.TempDir(), "new")
	for range 2 {
		s, _ := filled(t)
		if _, err := Latest(in, nowhere, Options{}); notebook.CodeOf(err) != notebook.NotFound && err != nil {
			t.Errorf("of one notebook: %v", err)
		}
		_, err := s.AutoBackup(t.Context(), in, "daily")
		fatal(t, err)
	}
	if _, err := Latest(in, nowhere, Options{}); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("of two: %v", err)
	}
	old := open(t, t.TempDir()) // that no program has told from others yet
	if own, others := keptOf(t, in, old.dir); len(own) != 0 || others != 2 {
		t.Errorf("its own are %v, %d are another's", own, others)
	}
}

// An id that cannot be read is told, and made up anew by nobody: the backups
// would be another's then.
func TestDamagedID(t *testing.T) {
	s, _ := filled(t)
	in := filepath.Join(t.TempDir(), "kept")
	_, err := s.AutoBackup(t.Context(), in, "daily")
	fatal(t, err)
	id, err := s.id()
	fatal(t, err)
	fatal(t, os.WriteFile(filepath.Join(s.dir, idName), []byte("torn"), 0o600))
	if _, err := s.AutoBackup(t.Context(), in, "daily"); notebook.CodeOf(err) != notebook.Damaged {
		t.Errorf("a backup: %v", err)
	}
	if _, _, err := Backups(in, s.dir, Options{}); notebook.CodeOf(err) != notebook.Damaged {
		t.Errorf("the list: %v", err)
	}
	all, err := filepath.Glob(filepath.Join(in, "*"))
	fatal(t, err)
	fatal(t, s.Close())
	if r, err := Restore(t.Context(), all[0], s.dir, Options{}); err != nil || !r.TakenOn {
		t.Fatalf("a restore: %+v, %v", r, err)
	}
	if have, err := open(t, s.dir).id(); err != nil || have != id {
		t.Errorf("after it: %q, not %q, %v", have, id, err)
	}
}

// While another's program is an older one, whose backups say nothing of whose
// they are, a notebook's own stay, are the newest for it, and are made in time.
func TestBackupsBesideAnOlderProgram(t *testing.T) {
	in, now := filepath.Join(t.TempDir(), "kept"), storetest.At.Truncate(24*time.Hour)
	s, _ := filled(t)
	old, _ := filled(t)
	unnamedAt := func(at time.Time) {
		to := filepath.Join(in, at.Format(backupTime))
		old.now = func() time.Time { return at }
		_, err := old.Backup(t.Context(), to, BackupOptions{})
		fatal(t, err)
		unnamed(t, to)
	}
	s.now = func() time.Time { return now }
	unnamedAt(now.Add(-4 * time.Hour))
	k := &Keeper{Store: s, In: in}
	if others, err := k.Look(); err != nil || others != 0 || k.Standing().Last.IsZero() || !k.due(24*time.Hour) {
		t.Errorf("where none says whose it is, the last is of %v (due %v), %d are another's, %v", k.Standing().Last, k.due(24*time.Hour), others, err)
	}
	var want []string
	for range 6 {
		now = now.Add(24 * time.Hour)
		_, err := s.AutoBackup(t.Context(), in, "daily")
		fatal(t, err)
		want = append(want, now.Format(backupTime))
		unnamedAt(now.Add(2 * time.Hour))
	}
	own, others := keptOf(t, in, s.dir)
	if !slices.Equal(own[1:], want) || others != 6 {
		t.Errorf("kept are %v, %d are another's; made were %v", own, others, want)
	}
	if b, err := Latest(in, s.dir, Options{}); err != nil || filepath.Base(b.Dir) != want[5] {
		t.Errorf("the latest is %s, %v", b.Dir, err)
	}
	fresh := &Keeper{Store: s, In: in}
	if others, err := fresh.Look(); err != nil || others != 6 || !fresh.Standing().Last.Equal(now) || fresh.due(24*time.Hour) {
		t.Errorf("after a start the last is of %v, %d are another's, %v", fresh.Standing().Last, others, err)
	}
	if b, err := Latest(in, filepath.Join(t.TempDir(), "new"), Options{}); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("on a new machine the latest is %s, %v", b.Dir, err)
	}
}

// On a server's database a notebook that no program has told from others yet is
// there all the same: the newest in a shared folder is not taken for its own.
func TestLatestBeforeTheFirstStartOnAServer(t *testing.T) {
	in, dir, other := filepath.Join(t.TempDir(), "kept"), t.TempDir(), open(t, t.TempDir())
	_, err := other.AutoBackup(t.Context(), in, "daily")
	fatal(t, err)
	o := Options{Database: "postgres://localhost/club"} // which is not asked
	if b, err := Latest(in, dir, o); err != nil {
		t.Errorf("on a new machine: %s, %v", b.Dir, err)
	}
	fatal(t, os.Mkdir(filepath.Join(dir, recordingsDir), 0o700))
	if b, err := Latest(in, dir, o); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("of another it takes %s, %v", b.Dir, err)
	}
	if b, err := Latest(in, dir, Options{}); err != nil {
		t.Errorf("after a restore into a file that was given up: %s, %v", b.Dir, err)
	}
}
