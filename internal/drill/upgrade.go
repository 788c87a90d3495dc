//go:build unix

package drill

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// A newer program meets the notebooks of every past version: killed at any
// moment of the update, started twice at once, on a full disk and in a folder
// that cannot be written; going back; a notebook of a newer program yet; and,
// at full length, one of a million readings.
var upgrade = Drill{Name: "D6", Title: "upgrade", Short: 8, Long: 300, Run: runUpgrade}

type upgrader struct {
	killer
	dice *rand.Rand
	from []string // folders of the versions, oldest first

	aims  map[string]aim // for each of them
	kills int
	found map[string]int // where the kills fell
}

func runUpgrade(ctx context.Context, r *Run) error {
	root, err := Root(ctx)
	if err != nil {
		return err
	}
	u := &upgrader{killer: killer{r: r}, dice: r.Random(), aims: map[string]aim{}, found: map[string]int{}}
	if u.from, err = filepath.Glob(filepath.Join(root, "internal", "store", "testdata", "v*")); err != nil || len(u.from) == 0 {
		return fmt.Errorf("no past versions: %w", err)
	}
	special := []func(context.Context, string) error{u.twice, u.goBack, u.newer, u.fullDisk, u.readOnly, u.byOlder}
	for n := range r.N {
		do := u.killed
		if n < len(special) || n%20 < len(special) {
			do = special[n%20%len(special)]
		}
		if err := do(ctx, u.from[(n%20+n/20)%len(u.from)]); err != nil { // each of these in time with each version
			return fmt.Errorf("round %d: %w", n, err)
		}
		r.Counted()
	}
	for more := 0; more < 20 && u.missed(); more++ { // a short run may have missed by chance
		if err := u.killed(ctx, u.from[more%len(u.from)]); err != nil {
			return fmt.Errorf("another kill: %w", err)
		}
	}
	u.tell()
	if r.N > 100 {
		return u.million(ctx)
	}
	return nil
}

// old puts a past version into a folder.
func (u *upgrader) old(ctx context.Context, dir, from string) (*Program, *Contents, error) {
	p := u.r.Program(dir, "--backup-every", "0")
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		return nil, nil, err
	}
	before, err := ReadFolder(ctx, dir)
	return p, before, err
}

// twice starts two programs on one old notebook: one brings it up to date, the
// other is told that it is open.
func (u *upgrader) twice(ctx context.Context, from string) error {
	a, before, err := u.old(ctx, u.r.Disk(), from)
	if err != nil {
		return err
	}
	b := u.r.Program(a.Data, "--backup-every", "0")
	if err := errors.Join(a.Launch(ctx), b.Launch(ctx)); err != nil {
		return err
	}
	one, other := a.Ready(ctx), b.Ready(ctx)
	if (one == nil) == (other == nil) {
		u.r.Failf("of two starts at once: %v, %v", one, other)
	}
	if said := a.Said() + b.Said(); !strings.Contains(said, "already open") {
		u.r.Failf("the second start says %s", said)
	}
	a.Kill()
	b.Kill()
	u.same("two starts at once", before, a)
	return os.RemoveAll(a.Data)
}

// goBack brings a notebook up to date, writes, and goes back: the file is of
// the old version and holds what it held.
func (u *upgrader) goBack(ctx context.Context, from string) error {
	p, before, err := u.old(ctx, u.r.Disk(), from)
	if err != nil {
		return err
	}
	was, err := versionOf(ctx, p.Data)
	if err != nil {
		return err
	}
	if err := p.Start(ctx); err != nil {
		return err
	}
	w := NewWriter(p, NewLedger(), u.r.Random())
	for range 10 {
		if err := w.Write(ctx); err != nil {
			u.r.Failf("after the update: %v", err)
			break
		}
	}
	if err := p.Stop(); err != nil {
		u.r.Failf("%v", err)
	}
	now, err := versionOf(ctx, p.Data)
	if err != nil {
		return err
	}
	out, bad := p.Run(ctx, "go-back")
	switch {
	case now == was && bad == nil:
		u.r.Failf("went back from a version to itself: %s", out)
	case now == was:
		return nil // the newest of the versions is the present one
	case bad != nil:
		u.r.Failf("going back: %v: %s", bad, out)
	}
	if back, err := versionOf(ctx, p.Data); err != nil || back != was {
		u.r.Failf("went back to version %d, not %d: %v", back, was, err)
	}
	u.same("gone back", before, p)
	if err := p.Start(ctx); err != nil { // and forward again
		return err
	}
	p.Kill()
	u.same("forward again", before, p)
	return nil
}

// newer meets a notebook of a newer program: refused with a sentence and
// unchanged to the byte, and read on request.
func (u *upgrader) newer(ctx context.Context, from string) error {
	p, _, err := u.old(ctx, u.r.Disk(), from)
	if err != nil {
		return err
	}
	if err := errors.Join(p.Start(ctx), p.Stop()); err != nil {
		return err
	}
	db, err := sql.Open("sqlite", "file:"+filepath.Join(p.Data, "notebook.db")+"?_pragma=journal_mode(DELETE)")
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)")
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	before, err := os.ReadFile(filepath.Join(p.Data, "notebook.db"))
	if err != nil {
		return err
	}
	if err := p.Start(ctx); err == nil || !strings.Contains(err.Error(), "newer program (version 9999") || !strings.Contains(err.Error(), "--read-only") {
		u.r.Failf("a newer notebook: %v", err)
	}
	p.Kill()
	after, err := os.ReadFile(filepath.Join(p.Data, "notebook.db"))
	if header := 100; err != nil || !bytes.Equal(before[header:], after[header:]) { // the journal's mode stands in the header
		u.r.Failf("a refused newer notebook was changed: %v", err)
	}
	look := u.r.Program(p.Data, "--read-only")
	if err := look.Launch(ctx); err != nil {
		return err
	}
	defer look.Kill()
	return u.answers(ctx, look, "/api/v1/bows")
}

// answers waits until an address answers well.
func (u *upgrader) answers(ctx context.Context, p *Program, path string) error {
	for deadline := time.Now().Add(startTime); time.Now().Before(deadline) && ctx.Err() == nil; time.Sleep(20 * time.Millisecond) {
		answer, err := http.Get(p.URL() + path)
		if err != nil {
			continue
		}
		answer.Body.Close()
		if answer.StatusCode == http.StatusOK {
			return nil
		}
	}
	u.r.Failf("%s does not answer: %s", path, p.Said())
	return nil
}

// mounted puts an old notebook on a small disk of its own, of so many MB; where
// none can be had it says so and gives no program.
func (u *upgrader) mounted(ctx context.Context, size int, from string) (disk string, p *Program, before *Contents, err error) {
	disk, err = u.r.mount(size)
	if errors.Is(err, ErrSkip) {
		u.r.Logf("no small disk: %v", err)
		return "", nil, nil, nil
	}
	if err == nil {
		p, before, err = u.old(ctx, filepath.Join(disk, "notebook"), from)
	}
	return disk, p, before, err
}

// fullDisk leaves no room for the copy before the update.
func (u *upgrader) fullDisk(ctx context.Context, from string) error {
	disk, p, before, err := u.mounted(ctx, 4, from)
	if err != nil || p == nil {
		return err
	}
	stuffing := filepath.Join(disk, "stuffing")
	f, err := os.Create(stuffing)
	if err != nil {
		return err
	}
	for n := 0; err == nil && n < 4<<20; n += 4096 {
		_, err = f.Write(make([]byte, 4096))
	}
	if err := f.Close(); err != nil {
		return err
	}
	started := p.Start(ctx)
	p.Kill()
	if started == nil && from != u.from[len(u.from)-1] { // the newest needs no update
		u.r.Failf("the update was done without room for the copy before")
	}
	if started != nil && !strings.Contains(started.Error(), "full") && !strings.Contains(started.Error(), "nothing was changed") {
		u.r.Failf("an update on a full disk says %v", started)
	}
	if err := os.Remove(stuffing); err != nil {
		return err
	}
	u.same("an update on a full disk", before, p)
	if err := p.Start(ctx); err != nil {
		return err
	}
	p.Kill()
	u.same("with room again", before, p)
	return nil
}

// readOnly starts in a folder that cannot be written.
func (u *upgrader) readOnly(ctx context.Context, from string) error {
	disk, p, before, err := u.mounted(ctx, 8, from)
	if err != nil || p == nil {
		return err
	}
	if err := remount(disk, "ro"); err != nil {
		return err
	}
	if err := p.Start(ctx); err == nil || !strings.Contains(err.Error(), "cannot be") {
		u.r.Failf("in a folder that cannot be written: %v", err)
	}
	p.Kill()
	if err := remount(disk, "rw"); err != nil {
		return err
	}
	u.same("a start in a folder that cannot be written", before, p)
	return nil
}

// millionTime is the bar for bringing a million readings up to date.
const millionTime = 60 * time.Second

// million brings a large notebook up to date and times it, then a backup and a
// restore of it.
func (u *upgrader) million(ctx context.Context) error {
	p, _, err := u.old(ctx, u.r.Disk(), u.from[0])
	if err != nil {
		return err
	}
	db, err := sql.Open("sqlite", "file:"+filepath.Join(p.Data, "notebook.db")+"?_pragma=journal_mode(WAL)&_pragma=synchronous(OFF)")
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, `WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n WHERE i < 1000000),
		one AS (SELECT * FROM readings ORDER BY seq LIMIT 1), made AS (SELECT i, printf('01a21317-%04x-7%03x-8%03x-%012x', i % 65536, i % 4096, i / 4096 % 4096, i) AS new FROM n)
		INSERT INTO readings (id, version, by_person, at_utc, received_utc, bow, setup, session, trial, kind, value_si, body)
		SELECT new, version, by_person, at_utc, received_utc, bow, setup, session, trial, kind, value_si, replace(body, id, new) FROM made, one`)
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	info, err := os.Stat(filepath.Join(p.Data, "notebook.db"))
	if err != nil {
		return err
	}
	began := time.Now()
	if err := p.Start(ctx); err != nil {
		return err
	}
	took := time.Since(began)
	defer p.Kill()
	began = time.Now()
	backup := filepath.Join(u.r.Disk(), "backup")
	if out, err := p.Run(ctx, "backup", backup); err != nil {
		return fmt.Errorf("backup: %w: %s", err, out)
	}
	backed := time.Since(began)
	began = time.Now()
	if out, err := u.r.Program(u.r.Disk()).Run(ctx, "restore", backup); err != nil {
		return fmt.Errorf("restore: %w: %s", err, out)
	}
	u.r.Logf("a million readings (%d MB): up to date in %v, backed up in %v, restored in %v", info.Size()>>20, took.Round(time.Millisecond), backed.Round(time.Millisecond), time.Since(began).Round(time.Millisecond))
	if took > millionTime {
		u.r.Failf("a million readings were brought up to date in %v", took)
	}
	return nil
}
