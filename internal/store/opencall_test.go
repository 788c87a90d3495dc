package store

import (
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
)

// undertaking is something that is done with the folder of a notebook, where
// databases and files are opened that are not the notebook's own pools.
type undertaking struct {
	name string
	// base lays out where it begins: the folder home of a notebook, if there is
	// one, and what else it needs beside that.
	base func(t *testing.T, in place)
	// do does it; from calls of begin on each may fail.
	do func(ctx context.Context, in place, begin func()) error
	// left looks at what a failure has left, before anything is opened again.
	left func(t *testing.T, in place, err error)
	// then looks at what is there in the end, before it is compared.
	then func(t *testing.T, in place)
	// goesOver is true where a failure need not be told if all is as after: of what
	// the next start does again, or where do compares what it gives.
	goesOver bool
	// once is true of what refuses to be done again.
	once bool
	// patient lets the calls fail too that are tried again after a second.
	patient bool
	// unlogged is of what has no log of who did what until it is done: a line in it
	// may be missing.
	unlogged bool
	// seen gives what the notebook holds, where opening it would change that.
	seen   func(t *testing.T, in place) string
	before string // what it held
}

// place is where something is undertaken: a folder, and the database where that
// is on a server.
type place struct {
	base string
	o    Options
}

// home is the notebook's folder.
func (p place) home() string { return filepath.Join(p.base, "notebook") }

// backup is the folder of a backup, or of backups.
func (p place) backup() string { return filepath.Join(p.base, "backup") }

// copied makes a place like this one.
func (p place) copied(t *testing.T) place {
	t.Helper()
	to := place{t.TempDir(), p.o}
	fatal(t, os.CopyFS(to.base, os.DirFS(p.base)))
	if p.o.Database != "" {
		to.o.Database = copiedDatabase(t, p.o.Database)
	}
	return to
}

// T24: of what opens files and databases of its own (a first opening, an update,
// an opening after a kill, a backup and its check, a restore, going back, an
// erasing that goes on, an import, an export of a person) each call of the
// database is made to fail, once and for good. It is told, in our words; the
// notebook is the one or the other, never neither; nothing is left that a next
// try trips over; and done again it is as if nothing had failed. The usual run
// lets some calls of each fail, TAUTLINE_LONG=1 all of them.
func TestEveryCallOfAnOpeningFails(t *testing.T) {
	eachFails(t, undertakings(), 8, func(*testing.T) Options { return Options{} })
}

// The same where the notebook is in a PostgreSQL database.
func TestEveryCallOfAnOpeningFailsOnPostgres(t *testing.T) {
	eachFails(t, serverUndertakings(), 2, func(t *testing.T) Options { return emptyDatabase(t) })
}

func eachFails(t *testing.T, all []*undertaking, some int, options func(*testing.T) Options) {
	at, tried := time.Now().Truncate(time.Second), 0
	for i, u := range all {
		t.Run(u.name, func(t *testing.T) {
			in := place{t.TempDir(), options(t)}
			in.o.Now, in.o.Program = func() time.Time { return at }, "this"
			tried += u.everyCall(t, in, some, rand.New(rand.NewPCG(24, uint64(i))))
		})
	}
	t.Logf("%d calls were made to fail", tried)
	if tried < some*len(all)*2/3 {
		t.Error("so few: is a database asked at all?")
	}
}

// everyCall does it whole, and then with one call after the other failing, and
// says how many those were.
func (u *undertaking) everyCall(t *testing.T, in place, some int, chance *rand.Rand) (tried int) {
	b := breakable(t)
	b.patient = u.patient
	all := 0
	after, files := u.whole(t, in, func() { b.at(0, false) }, func() { all = b.calls })
	stride, modes := max(1, all/some), 2
	if os.Getenv("TAUTLINE_LONG") != "" {
		stride = 1
	}
	if u.patient {
		modes = 1
	}
	first := 1 + chance.IntN(stride)
	for n := first; n <= all; n += stride {
		for mode := range modes {
			if stride > 1 && modes > 1 && mode != (n-first)/stride%2 {
				continue // the one and the other in turn
			}
			f := fault{fmt.Sprint("call ", n), func() { b.at(n, mode == 1) }, func() (bool, bool) {
				defer b.at(0, false)
				return b.fired, b.again
			}}
			if came, _ := u.one(t, in.copied(t), f, after, files); !came { // of what is done side by side the number may differ a little
				if n < all*9/10 {
					t.Fatalf("call %d of %d did not come", n, all)
				}
				continue
			}
			if tried++; t.Failed() {
				t.Fatalf("call %d of %d, for good: %v: it is enough", n, all, mode == 1)
			}
		}
	}
	t.Logf("of %d calls %d were made to fail: from call %d on every %d.", all, tried, first, stride)
	return tried
}

// whole lays it out, and does it without a fault.
func (u *undertaking) whole(t *testing.T, in place, begin, end func()) (after string, files []string) {
	t.Helper()
	u.base(t, in)
	u.before = u.state(t, in.copied(t))
	whole := in.copied(t)
	fatal(t, u.do(t.Context(), whole, begin))
	end()
	return u.state(t, whole), filesIn(t, whole)
}

// fault is something that fails between begin and end, which says whether it did,
// and whether it was tried again by whoever asked.
type fault struct {
	name  string
	begin func()
	end   func() (came, again bool)
}

// one does it with a fault, and says whether that came and what was told.
func (u *undertaking) one(t *testing.T, in place, f fault, after string, files []string) (came bool, err error) {
	t.Helper()
	err = u.do(t.Context(), in, f.begin)
	came, again := f.end()
	if !came {
		fatal(t, err)
		return false, nil
	}
	if err != nil || !again && !u.goesOver {
		told(t, f.name, err)
	}
	if u.left != nil && err != nil {
		u.left(t, in, err)
	}
	switch now := u.state(t, in); {
	case err == nil && now != after:
		t.Errorf("%s failed, nothing was told, and it is not as after: %s", f.name, differs(after, now))
	case now == u.before && (err != nil || now == after && !u.once):
		if err := u.do(t.Context(), in, func() {}); err != nil {
			t.Errorf("%s failed; again: %v", f.name, err)
		}
		if now := u.state(t, in); now != after {
			t.Errorf("%s failed, and done again it is not as after: %s", f.name, differs(after, now))
		}
	case now != after:
		t.Errorf("%s failed, and the notebook is neither as before nor as after: %s", f.name, differs(after, now))
	}
	if now := filesIn(t, in); !slices.Equal(now, files) {
		t.Errorf("%s failed, and done again the files are %q, not %q", f.name, now, files)
	}
	in.done(t)
	return true, err
}

// state opens the notebook and gives all that it holds.
func (u *undertaking) state(t *testing.T, in place) string {
	t.Helper()
	if u.seen != nil {
		return u.seen(t, in)
	}
	if in.o.Database == "" && !Exists(in.home()) && !unfinishedPlacing(in.home()) {
		return ""
	}
	s, err := Open(t.Context(), in.home(), in.o)
	fatal(t, err)
	if err := s.Undone(); err != nil {
		t.Errorf("at an opening was left: %v", err)
	}
	if r, err := s.Verify(t.Context()); err != nil || len(r.Problems) > 0 {
		t.Errorf("the notebook is not whole: %q, %v", r.Problems, err)
	}
	fatal(t, s.Close())
	if u.then != nil {
		u.then(t, in)
	}
	rows := in.rows(t)
	if u.unlogged {
		rows = regexp.MustCompile(`(?m)^audit\|.*$`).ReplaceAllString(rows, "")
	}
	return rows
}

// rows is all that the database holds.
func (p place) rows(t *testing.T) string {
	t.Helper()
	if p.o.Database == "" {
		return rowsIn(t, filepath.Join(p.home(), databaseName))
	}
	e, err := p.o.engine(p.home())
	fatal(t, err)
	db, err := e.open(plain)
	fatal(t, err)
	defer db.Close()
	return allRows(t, db, "SELECT tablename FROM pg_tables WHERE schemaname = current_schema() ORDER BY tablename")
}

// stamped is a time in a file's name.
var stamped = regexp.MustCompile(`[\d-]{8,10}T\d{6}Z(-\d+)?`)

// filesIn names what lies in a place, but for what was put aside.
func filesIn(t *testing.T, in place) (out []string) {
	t.Helper()
	fatal(t, fs.WalkDir(os.DirFS(in.base), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if strings.HasPrefix(name, filepath.Base(in.home())+"/"+copiesDir+"/before-") {
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
func (u *undertaking) putAside(t *testing.T, in place, _ error) {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(in.home(), copiesDir, "before-*"))
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

// copiedDatabase makes a database like another, which nobody has open.
func copiedDatabase(t *testing.T, of string) (address string) {
	t.Helper()
	pg, err := server()
	fatal(t, err)
	address, err = pg.Copy(t.Context(), of)
	fatal(t, err)
	return address
}

// done gives the room of a place back.
func (p place) done(t *testing.T) {
	t.Helper()
	fatal(t, os.RemoveAll(p.base))
	if p.o.Database != "" {
		pg, err := server()
		fatal(t, err)
		fatal(t, pg.Drop(t.Context(), p.o.Database))
	}
}
