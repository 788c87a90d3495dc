//go:build unix

package drill

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"time"

	"tautline/notebook"
)

// kill -9 at any moment, also inside an upload, a fit, a backup, an import and
// a migration: no acknowledged record is lost or doubled, nothing is there by
// half (F2: in most kills of a busy writer the last commit is stored and its
// answer never leaves, so clients send again).
var kill = Drill{Name: "D2", Title: "kill -9", Short: 40, Long: 5000, Run: runKill}

// perNotebook is how many kills one notebook gets, so that looking through it
// stays quick.
const perNotebook = 50

type killer struct {
	r       *Run
	dice    *rand.Rand
	p       *Program
	ledger  *Ledger
	writers []*Writer
	archive archive

	acked, unanswered, again int
	slowest                  time.Duration // until ready again
	backup                   time.Duration // how long a whole one takes
	fits                     [3]int        // killed fits that were not there, whole, or more
}

func runKill(ctx context.Context, r *Run) error {
	k := &killer{r: r, dice: r.Random()}
	if err := k.archive.make(ctx, r, 400, 10_000); err != nil {
		return err
	}
	special := []func(context.Context) error{k.inUpload, k.inFit, k.inBackup, k.inImport, k.inMigration}
	for cycle := range r.N {
		if cycle%perNotebook == 0 {
			if err := k.fresh(ctx); err != nil {
				return err
			}
		}
		do := k.whileWriting
		if cycle%10 == 9 {
			do = special[cycle/10%len(special)]
		}
		if err := do(ctx); err != nil {
			return fmt.Errorf("kill %d: %w", cycle, err)
		}
		r.Counted()
	}
	k.leave()
	r.Logf("%d kills: %d writes acknowledged, %d left unanswered by a kill, %d sent again; ready again after %v at worst",
		r.N, k.acked, k.unanswered, k.again, k.slowest.Round(time.Millisecond))
	r.Logf("of the fits that a kill fell into %d were not there and %d whole", k.fits[0], k.fits[1])
	if quiet() && k.slowest > time.Second {
		r.Failf("ready again after %v, at most 1 s asked", k.slowest)
	}
	if k.acked < 5*r.N || k.unanswered < r.N/4 {
		r.Failf("too few writes for the drill to mean anything")
	}
	return nil
}

// fresh leaves the notebook and begins another.
func (k *killer) fresh(ctx context.Context) error {
	k.leave()
	k.p, k.ledger, k.writers = k.r.Program(k.r.Disk()), NewLedger(), nil
	if err := k.p.Start(ctx); err != nil {
		return err
	}
	for range 3 {
		k.writers = append(k.writers, NewWriter(k.p, k.ledger, k.r.Random()))
	}
	return nil
}

func (k *killer) leave() {
	if k.p == nil {
		return
	}
	k.p.Kill()
	_, acked, again := k.ledger.Counts()
	k.acked, k.again = k.acked+acked, k.again+again
	_ = os.RemoveAll(k.p.Data) // goes with the run anyway
}

// between is a random time.
func (k *killer) between(low, high time.Duration) time.Duration {
	return low + time.Duration(k.dice.Int64N(int64(high-low)+1))
}

// whileWriting kills under three clients, and starts anew.
func (k *killer) whileWriting(ctx context.Context) error {
	return k.duringWrites(ctx, func() { time.Sleep(k.between(20*time.Millisecond, 300*time.Millisecond)) })
}

// duringWrites kills when wait returns, while three clients write.
func (k *killer) duringWrites(ctx context.Context, wait func()) error {
	var group sync.WaitGroup
	for _, w := range k.writers {
		group.Go(func() {
			if err := w.Until(ctx); errors.As(err, new(Refused)) {
				k.r.Failf("a write was refused: %v", err)
			}
		})
	}
	wait()
	k.p.Kill()
	group.Wait()
	for _, w := range k.writers {
		if w.Pending() {
			k.unanswered++
		}
	}
	return k.restart(ctx)
}

// restart starts the program on the same files and holds them against the ledger.
func (k *killer) restart(ctx context.Context) error {
	begun := time.Now()
	if err := k.p.Start(ctx); err != nil {
		return err
	}
	k.slowest = max(k.slowest, time.Since(begun))
	c, err := ReadLive(ctx, k.p.Data)
	if err != nil {
		return err
	}
	k.r.Fail("after a kill", k.ledger.Check(c))
	return nil
}

// inUpload kills while one client sends a large recording.
func (k *killer) inUpload(ctx context.Context) error {
	w := k.writers[0]
	if !w.Pending() && w.bow != "" && w.setup != "" {
		body := Noise(k.dice, 2_000_000)
		w.pending = w.made(w.howToUpload())
		w.pending.Body, w.pending.Hash = body, Hash(body)
	}
	return k.duringWrites(ctx, func() { time.Sleep(k.between(time.Millisecond, 60*time.Millisecond)) })
}

// inFit kills while a bow is fitted to its readings: the readings stay, the fit
// is whole or not there, and the next reading brings one.
func (k *killer) inFit(ctx context.Context) error {
	p := k.r.Program(k.r.Disk(), "--backup-every", "0")
	if err := p.Start(ctx); err != nil {
		return err
	}
	defer p.Kill()
	w := NewWriter(p, NewLedger(), k.r.Random())
	bow, setup := string(notebook.NewID()), string(notebook.NewID())
	put := func(noun, id, said string, body obj) error {
		body[said] = "mark " + id
		return w.send(ctx, &Sent{Method: "PUT", Path: "/api/v1/" + noun + "/" + id, Body: compact(body), ID: id, Version: 1, Mark: "mark " + id})
	}
	err := errors.Join(put("bows", bow, "name", obj{"style": "recurve"}), put("setups", setup, "reason", obj{"bow": bow, "settings": clubBow}))
	for _, body := range fittable() {
		body["bow"], body["setup"] = bow, setup
		err = errors.Join(err, put("readings", string(notebook.NewID()), "note", body))
	}
	if err != nil {
		return fmt.Errorf("a bow to fit: %w", err)
	}
	time.Sleep(k.between(time.Second, 2500*time.Millisecond)) // a fit begins a second after the last reading
	p.Kill()
	c, err := ReadFolder(ctx, p.Data)
	if err != nil {
		return err
	}
	k.r.Fail("after a killed fit", w.Ledger.Check(c))
	k.fits[min(c.Count("fits"), 2)]++
	if c.Count("fits") > 1 {
		k.r.Failf("%d fits of the same readings", c.Count("fits"))
	}
	if err := p.Start(ctx); err != nil {
		return err
	}
	if err := put("readings", string(notebook.NewID()), "note", obj{"bow": bow, "setup": setup, "kind": "speed", "text": "57.6 m/s"}); err != nil {
		return fmt.Errorf("a reading after a killed fit: %w", err)
	}
	had := c.Count("fits")
	for deadline := time.Now().Add(2 * time.Minute); c.Count("fits") == had; time.Sleep(200 * time.Millisecond) {
		if c, err = ReadLive(ctx, p.Data); err != nil || time.Now().After(deadline) {
			k.r.Failf("no fit came after a killed one: %v", err)
			break
		}
	}
	return nil
}

// inBackup kills a backup, or the program that is backed up meanwhile.
func (k *killer) inBackup(ctx context.Context) error {
	if k.backup == 0 {
		begun := time.Now()
		if out, err := k.p.Run(ctx, "backup", filepath.Join(k.r.Disk(), "first")); err != nil {
			return fmt.Errorf("a backup failed: %w: %s", err, out)
		}
		k.backup = time.Since(begun)
	}
	to := filepath.Join(k.r.Disk(), "copy")
	one := k.p.Command(ctx, "backup", to)
	if err := one.Start(); err != nil {
		return err
	}
	err := k.duringWrites(ctx, func() {
		time.Sleep(k.between(0, k.backup))
		if k.dice.IntN(2) == 0 {
			_ = one.Process.Kill() // gone is gone
		}
	})
	_ = one.Wait() // killed or done: the folder tells
	if _, missing := os.Stat(filepath.Join(to, "backup.json")); missing == nil {
		if out, bad := k.p.Run(ctx, "verify", "--backup", to); bad != nil {
			k.r.Failf("a killed backup says that it is one and is not: %s", out)
		}
	}
	again := to + "-again"
	out, bad := k.p.Run(ctx, "backup", again)
	if bad == nil {
		out, bad = k.p.Run(ctx, "verify", "--backup", again)
	}
	if bad != nil {
		k.r.Failf("the backup after a killed one: %v: %s", bad, out)
	}
	return errors.Join(err, os.RemoveAll(filepath.Dir(to)))
}

// inImport kills an import into an empty notebook: all is there, or nothing;
// the next import brings the rest.
func (k *killer) inImport(ctx context.Context) error {
	p := k.r.Program(k.r.Disk())
	one := p.Command(ctx, "import", k.archive.path)
	if err := one.Start(); err != nil {
		return err
	}
	time.Sleep(k.between(0, k.archive.took))
	_ = one.Process.Kill() // gone is gone
	_ = one.Wait()
	c, err := ReadFolder(ctx, p.Data)
	if err != nil {
		return err
	}
	if n := len(c.Rows); n != 0 && n != k.archive.rows || len(c.Problems) > 0 {
		k.r.Failf("a killed import left %d of %d records: %v", n, k.archive.rows, c.Problems)
	}
	if out, err := p.Run(ctx, "import", k.archive.path); err != nil {
		k.r.Failf("the import after a killed one: %v: %s", err, out)
	}
	if c, err = ReadFolder(ctx, p.Data); err != nil {
		return err
	}
	if len(c.Rows) != k.archive.rows || len(c.Problems) > 0 {
		k.r.Failf("the import after a killed one left %d of %d records: %v", len(c.Rows), k.archive.rows, c.Problems)
	}
	return os.RemoveAll(p.Data)
}

// inMigration kills the first start on the oldest notebook that is kept: it is
// as it was, and the next start brings it up to date with every record.
func (k *killer) inMigration(ctx context.Context) error {
	root, err := Root(ctx)
	if err != nil {
		return err
	}
	p := k.r.Program(k.r.Disk())
	if err := os.CopyFS(p.Data, os.DirFS(filepath.Join(root, "internal", "store", "testdata", "v1"))); err != nil {
		return err
	}
	before, err := ReadFolder(ctx, p.Data)
	if err != nil {
		return err
	}
	if err := p.Launch(ctx); err != nil {
		return err
	}
	time.Sleep(k.between(5*time.Millisecond, 120*time.Millisecond))
	p.Kill()
	k.same("a killed update", before, p)
	if err := p.Start(ctx); err != nil {
		return err
	}
	p.Kill()
	k.same("the update after a killed one", before, p)
	copies, err := filepath.Glob(filepath.Join(p.Data, "copies", "before-version-*", "notebook.db"))
	if err != nil || len(copies) == 0 {
		k.r.Failf("no copy was made before the update: %v", err)
	}
	return os.RemoveAll(p.Data)
}

// same demands that a notebook holds what it held.
func (k *killer) same(what string, before *Contents, p *Program) {
	now, err := ReadFolder(context.Background(), p.Data)
	if err != nil {
		k.r.Failf("%s: %v", what, err)
		return
	}
	k.r.Fail(what, now.Problems)
	for key, row := range before.Rows {
		if string(now.Rows[key].Body) != string(row.Body) {
			k.r.Failf("%s: %s %s is no longer what it was", what, row.Table, key)
		}
	}
	if len(now.Rows) != len(before.Rows) {
		k.r.Failf("%s: %d records, there were %d", what, len(now.Rows), len(before.Rows))
	}
}

// archive is an export of some hundred records, to be imported.
type archive struct {
	path   string
	ledger *Ledger // what its records are
	rows   int
	took   time.Duration // for a whole import
}

func (a *archive) make(ctx context.Context, r *Run, writes, sound int) error {
	p := r.Program(r.Folder())
	if err := p.Start(ctx); err != nil {
		return err
	}
	a.ledger = NewLedger()
	w := NewWriter(p, a.ledger, r.Random())
	w.Sound = sound
	for n := 0; n < writes || w.upload != ""; n++ { // a sound without its record is not exported
		if err := w.Write(ctx); err != nil {
			p.Kill()
			return err
		}
	}
	if err := p.Stop(); err != nil {
		return err
	}
	c, err := ReadFolder(ctx, p.Data)
	if err != nil {
		return err
	}
	a.rows, a.path = len(c.Rows), filepath.Join(r.Folder(), "bows.zip")
	if out, err := p.Run(ctx, "export", a.path); err != nil {
		return fmt.Errorf("export: %w: %s", err, out)
	}
	begun := time.Now()
	if out, err := r.Program(r.Disk()).Run(ctx, "import", a.path); err != nil {
		return fmt.Errorf("import: %w: %s", err, out)
	}
	a.took = time.Since(begun)
	return nil
}
