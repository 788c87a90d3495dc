package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/notebook"
)

// undertaking is something that is done with the folder of a notebook, where
// databases and files are opened that are not the notebook's own pools.
type undertaking struct {
	name string
	// base lays out where it begins: the folder home of a notebook, if there is
	// one, and what else it needs beside that.
	base func(t *testing.T, base string)
	// do does it; from calls of begin on each may fail.
	do func(ctx context.Context, base string, o Options, begin func()) error
	// left looks at what a failure has left, before anything is opened again.
	left func(t *testing.T, base string, err error)
	// then looks at what is there in the end, before it is compared.
	then func(t *testing.T, base string)
	// goesOver is true where a failure need not be told if all is as after: of what
	// the next start does again, or where do compares what it gives.
	goesOver bool
	// patient lets the calls fail too that are tried again after a second.
	patient bool
	// unlogged is of what has no log of who did what until it is done: a line in it
	// may be missing.
	unlogged bool
	// seen gives what the notebook holds, where opening it would change that.
	seen   func(t *testing.T, base string) string
	before string // what it held
}

// home is the notebook's folder in the base of an undertaking.
const home = "notebook"

// T24: of what opens files and databases of its own (a first opening, an update,
// an opening after a kill, a backup and its check, a restore, going back, an
// erasing that goes on, an import, an export of a person) each call of the
// database is made to fail once. The failure is told, in our words; the notebook
// is the one or the other, never neither; nothing is left that a next try trips
// over; and done again it is as if nothing had failed. The usual run lets about a
// dozen calls of each fail, TAUTLINE_LONG=1 all of them.
func TestEveryCallOfAnOpeningFails(t *testing.T) {
	at := time.Now().Truncate(time.Second)
	o := Options{Now: func() time.Time { return at }, Program: "this"}
	tried := 0
	for i, u := range undertakings() {
		t.Run(u.name, func(t *testing.T) {
			tried += u.everyCall(t, o, rand.New(rand.NewPCG(24, uint64(i))))
		})
	}
	t.Logf("%d calls were made to fail", tried)
	if tried < 130 {
		t.Error("so few: is a database asked at all?")
	}
}

// everyCall does it whole, and then with one call after the other failing, and
// says how many those were.
func (u *undertaking) everyCall(t *testing.T, o Options, chance *rand.Rand) (tried int) {
	ctx, b, base := t.Context(), breakable(t), t.TempDir()
	b.patient = u.patient
	u.base(t, base)
	copied := func() string {
		dir := t.TempDir()
		fatal(t, os.CopyFS(dir, os.DirFS(base)))
		return dir
	}
	dir := copied()
	u.before = u.state(t, dir, o)
	dir = copied()
	if err := u.do(ctx, dir, o, func() { b.at(0) }); err != nil {
		t.Fatal(err)
	}
	all := b.calls
	after, files := u.state(t, dir, o), filesIn(t, dir)
	stride := max(1, all/12)
	if os.Getenv("TAUTLINE_LONG") != "" {
		stride = 1
	}
	first := 1 + chance.IntN(stride)
	for n := first; n <= all; n += stride {
		dir := copied()
		err := u.do(ctx, dir, o, func() { b.at(n) })
		fired, again := b.fired, b.again
		b.at(0)
		if !fired { // of what is done side by side the number may differ a little
			if fatal(t, err); n < all*9/10 {
				t.Fatalf("call %d of %d did not come", n, all)
			}
			break
		}
		tried++
		if err != nil || !again && !u.goesOver {
			told(t, n, err)
		}
		if u.left != nil {
			u.left(t, dir, err)
		}
		switch now := u.state(t, dir, o); {
		case err == nil && now != after:
			t.Errorf("call %d failed, nothing was told, and it is not as after: %s", n, differs(after, now))
		case now == u.before:
			if err := u.do(ctx, dir, o, func() {}); err != nil {
				t.Errorf("call %d failed; again: %v", n, err)
			}
			if now := u.state(t, dir, o); now != after {
				t.Errorf("call %d failed, and done again it is not as after: %s", n, differs(after, now))
			}
		case now == after:
		default:
			t.Errorf("call %d failed, and the notebook is neither as before nor as after: %s", n, differs(after, now))
		}
		if now := filesIn(t, dir); !slices.Equal(now, files) {
			t.Errorf("call %d failed, and done again the files are %q, not %q", n, now, files)
		}
		if t.Failed() {
			t.Fatalf("call %d of %d: it is enough", n, all)
		}
	}
	t.Logf("of %d calls %d were made to fail: from call %d on every %d.", all, tried, first, stride)
	return tried
}

// state opens the notebook and gives all that it holds.
func (u *undertaking) state(t *testing.T, base string, o Options) string {
	t.Helper()
	if u.seen != nil {
		return u.seen(t, base)
	}
	dir := filepath.Join(base, home)
	if !Exists(dir) && !unfinishedPlacing(dir) {
		return ""
	}
	s, err := Open(t.Context(), dir, o)
	fatal(t, err)
	if err := s.Undone(); err != nil {
		t.Errorf("at an opening was left: %v", err)
	}
	if r, err := s.Verify(t.Context()); err != nil || len(r.Problems) > 0 {
		t.Errorf("the notebook is not whole: %q, %v", r.Problems, err)
	}
	fatal(t, s.Close())
	if u.then != nil {
		u.then(t, base)
	}
	rows := rowsIn(t, filepath.Join(dir, databaseName))
	if u.unlogged {
		rows = regexp.MustCompile(`(?m)^audit\|.*$`).ReplaceAllString(rows, "")
	}
	return rows
}

// stamped is a time in a file's name.
var stamped = regexp.MustCompile(`[\d-]{8,10}T\d{6}Z(-\d+)?`)

// filesIn names what lies in a folder, but for what was put aside.
func filesIn(t *testing.T, dir string) (out []string) {
	t.Helper()
	fatal(t, fs.WalkDir(os.DirFS(dir), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if strings.HasPrefix(name, home+"/"+copiesDir+"/before-") {
			return fs.SkipDir
		}
		if !d.IsDir() {
			out = append(out, stamped.ReplaceAllString(name, "TIME"))
		}
		return nil
	}))
	slices.Sort(out)
	return slices.Compact(out)
}

// putAside demands of each copy that was put aside that it is proved, or is the
// notebook from before as it was.
func (u *undertaking) putAside(t *testing.T, base string, _ error) {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(base, home, copiesDir, "before-*"))
	fatal(t, err)
	for _, dir := range all {
		m, err := readManifest(dir)
		switch {
		case err == nil:
			root, bad := openFolder(dir)
			fatal(t, bad)
			err = errors.Join(m.checkDatabase(t.Context(), root), root.Close())
		case Exists(dir) && rowsIn(t, filepath.Join(dir, databaseName)) == u.before:
			err = nil
		}
		if err != nil {
			t.Errorf("what was put aside in %s: %v", filepath.Base(dir), err)
		}
	}
}

// opening opens a notebook and closes it; what a start could not finish is told
// by Undone.
func opening(ctx context.Context, base string, o Options, begin func()) error {
	begin()
	s, err := Open(ctx, filepath.Join(base, home), o)
	if err != nil {
		return err
	}
	return errors.Join(s.Undone(), s.Close())
}

// within does something with the open notebook, whose own opening does not fail.
func within(do func(context.Context, *Store, string) error) func(context.Context, string, Options, func()) error {
	return func(ctx context.Context, base string, o Options, begin func()) error {
		s, err := Open(ctx, filepath.Join(base, home), o)
		if err != nil {
			return err
		}
		begin()
		err = do(ctx, s, base)
		return errors.Join(err, s.Writable(), s.Close())
	}
}

// laid makes a notebook in the home of a base, and closes it.
func laid(t *testing.T, base string, more func(s *Store, c small)) {
	t.Helper()
	s := openWith(t, filepath.Join(base, home), Options{})
	c := newSmall(t, s)
	if more != nil {
		more(s, c)
	}
	fatal(t, s.Close())
}

// killedIn leaves a folder as a program does that is killed.
func killedIn(t *testing.T, base string) {
	t.Helper()
	fatal(t, os.WriteFile(filepath.Join(base, home, lockName), []byte("12345\n"), 0o600))
}

// undertakings are those of a notebook in a file.
func undertakings() []*undertaking {
	var out []*undertaking
	add := func(u undertaking) *undertaking { out = append(out, &u); return &u }
	plainly := func(t *testing.T, base string) { laid(t, base, nil) }

	add(undertaking{name: "a first opening", patient: true, do: opening, base: func(*testing.T, string) {}})
	add(undertaking{name: "an opening after a kill", do: opening, base: func(t *testing.T, base string) {
		laid(t, base, nil)
		killedIn(t, base)
	}, left: func(t *testing.T, base string, err error) {
		raw, bad := os.ReadFile(filepath.Join(base, home, lockName))
		fatal(t, bad)
		if len(raw) == 0 && (strings.Contains(err.Error(), "checked") || strings.Contains(err.Error(), "flushed")) {
			t.Errorf("the next opening is not told to check what this one could not (%v)", err)
		}
	}})
	u := add(undertaking{name: "an update", do: opening, base: func(t *testing.T, base string) { copyFiles(t, past, filepath.Join(base, home)) }, then: func(t *testing.T, base string) {
		pastRecords(t, base)
		backToPast(t, base)
	}})
	u.left = u.putAside
	add(undertaking{name: "a look", do: looking, base: plainly})
	add(undertaking{name: "a backup", do: within(backingUp), base: plainly, left: func(t *testing.T, base string, err error) {
		if _, left := os.Stat(backupIn(base)); !errors.Is(left, fs.ErrNotExist) {
			t.Errorf("a backup that failed left its folder: %v", left)
		}
	}})
	add(undertaking{name: "the daily backup", base: plainly, do: within(func(ctx context.Context, s *Store, base string) error {
		_, err := s.AutoBackup(ctx, backupIn(base), "daily")
		return err
	})})
	add(undertaking{name: "a check of a backup", do: checking, base: backupAndNotebook})
	u = add(undertaking{name: "a restore", do: restores, goesOver: true, base: backupAndNotebook})
	u.left = u.putAside
	add(undertaking{name: "a restore where nothing is", do: restores, goesOver: true, base: func(t *testing.T, base string) {
		backupAndNotebook(t, base)
		fatal(t, os.RemoveAll(filepath.Join(base, home)))
	}})
	for _, digest := range []bool{false, true} {
		u = add(undertaking{name: fmt.Sprintf("a restore of an older backup, with a digest only: %v", digest), do: restores, goesOver: true, unlogged: true, then: pastRecords, base: func(t *testing.T, base string) {
			pastBackup(t, past, backupIn(base), digest)
		}})
		u.left = u.putAside
	}
	u = add(undertaking{name: "going back", do: goesBack, base: func(t *testing.T, base string) {
		copyFiles(t, past, filepath.Join(base, home))
		fatal(t, openWith(t, filepath.Join(base, home), Options{}).Close())
	}, seen: func(t *testing.T, base string) string {
		p, err := prepare(filepath.Join(base, home), Options{}) // finishes what was begun, and brings nothing up to date
		fatal(t, err)
		fatal(t, p.Close())
		return rowsIn(t, filepath.Join(base, home, databaseName))
	}})
	u.left = u.putAside
	add(personsExport())
	add(undertaking{name: "an import", do: within(importing), base: func(t *testing.T, base string) {
		s, _ := filled(t)
		fatal(t, s.ExportFolder(t.Context(), filepath.Join(base, "export")))
		laid(t, base, nil)
	}})
	add(undertaking{name: "an erasing that goes on", do: opening, then: nobodysName, base: func(t *testing.T, base string) {
		laid(t, base, func(s *Store, c small) {
			s.engine = crowded{s.engine}
			if _, err := s.Erase(t.Context(), c.ida.Person.ID); notebook.CodeOf(err) != notebook.DiskFull {
				t.Fatal(err)
			}
		})
	}})
	return out
}

// past is the older version of which there is a notebook.
const past = "testdata/v4"

// pastRecords: the notebook holds the records of that version's fixture.
func pastRecords(t *testing.T, base string) {
	t.Helper()
	s := openWith(t, filepath.Join(base, home), Options{})
	var have bytes.Buffer
	want, err := os.ReadFile(filepath.Join(past, recordsName))
	if bad := s.writeRecords(t.Context(), s.read, &have); err != nil || bad != nil || !bytes.Equal(have.Bytes(), want) {
		t.Errorf("the records are not as they were: %v, %v", err, bad)
	}
	fatal(t, s.Close())
}

// backToPast: an update that failed between two of its steps has put two states
// aside; one goes back step by step, to the one that it began with.
func backToPast(t *testing.T, base string) {
	t.Helper()
	copies, err := filepath.Glob(filepath.Join(base, home, copiesDir, "before-version-*"))
	fatal(t, err)
	if len(copies) < 2 {
		return
	}
	dir := t.TempDir()
	fatal(t, os.CopyFS(dir, os.DirFS(filepath.Join(base, home))))
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
func nobodysName(t *testing.T, base string) {
	t.Helper()
	fatal(t, fs.WalkDir(os.DirFS(filepath.Join(base, home)), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(filepath.Join(base, home, name))
		if bytes.Contains(raw, []byte(leaver)) {
			t.Errorf("the name of who was erased is still in %s", name)
		}
		return err
	}))
}

func backupIn(base string) string { return filepath.Join(base, "backup") }

// backupAndNotebook lays out a notebook, and the backup of another.
func backupAndNotebook(t *testing.T, base string) {
	s, x := filled(t)
	fixtureAccounts(t, s, x.Person.ID)
	fatal(t, backingUp(t.Context(), s, base))
	laid(t, base, nil)
}

func backingUp(ctx context.Context, s *Store, base string) error {
	_, err := s.Backup(ctx, backupIn(base), BackupOptions{})
	return err
}

func looking(ctx context.Context, base string, o Options, begin func()) error {
	begin()
	s, err := Look(ctx, filepath.Join(base, home), o)
	if err != nil {
		return err
	}
	return errors.Join(s.NoteExport(ctx), s.Close())
}

func checking(ctx context.Context, base string, _ Options, begin func()) error {
	begin()
	_, err := CheckBackup(ctx, backupIn(base))
	if notebook.CodeOf(err) == notebook.Damaged {
		return fmt.Errorf("a whole backup is said to be damaged: %v", err)
	}
	return err
}

func restores(ctx context.Context, base string, o Options, begin func()) error {
	begin()
	return toldOfKept(Restore(ctx, backupIn(base), filepath.Join(base, home), o))
}

// toldOfKept gives what is told where what was there could not be proved.
func toldOfKept(r Restored, err error) error {
	if err == nil && r.Kept != "" && !r.Whole {
		return &notebook.Error{Code: notebook.Unavailable, Message: "what was there is kept as it was", Hint: r.Kept}
	}
	return err
}

func goesBack(ctx context.Context, base string, o Options, begin func()) error {
	begin()
	return toldOfKept(GoBack(ctx, filepath.Join(base, home), o))
}

func importing(ctx context.Context, s *Store, base string) error {
	r, err := s.ImportPath(ctx, filepath.Join(base, "export"), ImportOptions{})
	if err == nil && len(r.Problems) > 0 {
		return fmt.Errorf("it is said of a line: %v", r.Problems)
	}
	return err
}

// personsExport is put together in a notebook of its own.
func personsExport() undertaking {
	var person notebook.ID
	var whole []byte
	return undertaking{name: "an export of a person", goesOver: true, base: func(t *testing.T, base string) {
		laid(t, base, func(_ *Store, c small) { person = c.ida.Person.ID })
	}, do: within(func(ctx context.Context, s *Store, _ string) error {
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
