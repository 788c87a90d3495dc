//go:build unix

package drill

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// A backup is made while people write, and restored: into an empty folder that
// is a mount point, across the engines and back. A flipped bit, a cut database,
// cut recordings and a database copied by hand are refused before anything is
// replaced.
var backupRestore = Drill{Name: "D5", Title: "backup and restore", Short: 2, Long: 100, Run: runRestore}

type restorer struct {
	r    *Run
	dice *rand.Rand
	p    *Program
	// begun is what was acknowledged before the backup began.
	ledger *Ledger
	begun  map[string]*Sent
	backup string
	zip    []byte // the backup's own export
	wait   time.Duration
	took   time.Duration
}

func runRestore(ctx context.Context, r *Run) error {
	d := &restorer{r: r, dice: r.Random()}
	for n := range r.N {
		if err := d.round(ctx, n%2 == 1); err != nil {
			return fmt.Errorf("round %d: %w", n, err)
		}
		r.Counted()
	}
	if quiet() && d.wait > 100*time.Millisecond {
		r.Failf("a writer waited %v while a backup was made, at most 100 ms asked", d.wait)
	}
	r.Logf("a writer waited %v at worst while a backup was made; a backup took %v at most", d.wait.Round(time.Millisecond), d.took.Round(time.Millisecond))
	return nil
}

func (d *restorer) round(ctx context.Context, postgres bool) error {
	d.p, d.ledger = d.r.Program(d.r.Disk()), NewLedger()
	if postgres {
		address, err := d.r.Postgres(ctx)
		if errors.Is(err, ErrSkip) {
			d.r.Logf("without PostgreSQL: %v", err)
		} else if err != nil {
			return err
		} else {
			d.p.Env = []string{"TAUTLINE_DATABASE=" + address}
		}
	}
	if err := d.p.Start(ctx); err != nil {
		return err
	}
	defer d.p.Kill()
	if err := d.backUpUnderWrites(ctx); err != nil {
		return err
	}
	if err := d.p.Stop(); err != nil {
		d.r.Failf("%v", err)
	}
	if err := d.refuses(ctx); err != nil {
		return err
	}
	return d.restores(ctx)
}

// backUpUnderWrites makes a backup while three clients write about fifty
// times a second.
func (d *restorer) backUpUnderWrites(ctx context.Context) error {
	writing, stop := context.WithCancel(ctx)
	defer stop()
	var group sync.WaitGroup
	var mu sync.Mutex
	var worst time.Duration
	var since time.Time // the backup's begin, zero while none is made
	ready := make(chan error, 3)
	for range 3 {
		w := NewWriter(d.p, d.ledger, d.r.Random())
		group.Go(func() {
			for n := 0; writing.Err() == nil; n++ {
				began := time.Now()
				err := w.Write(writing)
				if errors.As(err, new(Refused)) {
					d.r.Failf("a write was refused: %v", err)
				}
				mu.Lock()
				if !since.IsZero() && err == nil {
					worst = max(worst, min(time.Since(began), time.Since(since)))
				}
				mu.Unlock()
				if n == 40 || err != nil && n < 40 {
					ready <- err
				}
				time.Sleep(20 * time.Millisecond)
			}
		})
	}
	var err error
	for range 3 {
		err = errors.Join(err, <-ready)
	}
	d.begun, d.backup = d.ledger.Acked(), filepath.Join(d.r.Disk(), "backup")
	began := time.Now()
	mu.Lock()
	since = began
	mu.Unlock()
	if out, bad := d.p.Run(ctx, "backup", d.backup); bad != nil {
		err = errors.Join(err, fmt.Errorf("backup: %w: %s", bad, out))
	}
	mu.Lock()
	since, d.wait, d.took = time.Time{}, max(d.wait, worst), max(d.took, time.Since(began))
	mu.Unlock()
	if d.p.Env == nil && err == nil {
		err = d.copyByHand()
	}
	stop()
	group.Wait()
	if err != nil {
		return err
	}
	d.zip, err = exportOf(ctx, d.r, d.r.Program(d.backup))
	return err
}

// copyByHand copies the database's file alone, as one should not, while the
// program writes.
func (d *restorer) copyByHand() error {
	dir := d.backup + "-by-hand"
	if err := os.CopyFS(dir, os.DirFS(d.backup)); err != nil {
		return err
	}
	raw, err := os.ReadFile(filepath.Join(d.p.Data, "notebook.db"))
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "notebook.db"), raw, 0o600)
}

// exportOf is a notebook's export.
func exportOf(ctx context.Context, r *Run, p *Program) ([]byte, error) {
	zip := filepath.Join(r.Folder(), "export.zip")
	if out, err := p.Run(ctx, "export", zip); err != nil {
		return nil, fmt.Errorf("export: %w: %s", err, out)
	}
	return os.ReadFile(zip)
}

// refuses tries damaged copies on a notebook that must stay as it is.
func (d *restorer) refuses(ctx context.Context) error {
	target := d.r.Program(d.r.Disk())
	if out, err := target.Run(ctx, "restore", d.backup); err != nil {
		return fmt.Errorf("restore: %w: %s", err, out)
	}
	before, err := os.ReadFile(filepath.Join(target.Data, "notebook.db"))
	if err != nil {
		return err
	}
	for name, spoil := range map[string]func(dir string) error{
		"a flipped bit":        func(dir string) error { return d.change(filepath.Join(dir, "notebook.db"), d.flip) },
		"a cut database":       func(dir string) error { return d.change(filepath.Join(dir, "notebook.db"), d.cut) },
		"a cut recording":      func(dir string) error { return d.spoilSound(dir, d.cut) },
		"a flipped recording":  func(dir string) error { return d.spoilSound(dir, d.flip) },
		"without what it says": func(dir string) error { return os.Remove(filepath.Join(dir, "backup.json")) },
	} {
		dir := filepath.Join(d.r.Disk(), "bad")
		if err := os.CopyFS(dir, os.DirFS(d.backup)); err != nil {
			return err
		}
		if err := spoil(dir); err != nil {
			return err
		}
		d.refused(ctx, target, name, dir, before)
	}
	if byHand := d.backup + "-by-hand"; d.p.Env == nil {
		d.refused(ctx, target, "a database copied by hand", byHand, before)
	}
	return nil
}

// refused demands that a restore is refused with its reason, and changes nothing.
func (d *restorer) refused(ctx context.Context, target *Program, name, dir string, before []byte) {
	out, err := target.Run(ctx, "restore", dir)
	if err == nil {
		d.r.Failf("%s was restored", name)
	} else if !strings.Contains(out, "damaged") && !strings.Contains(out, "not a backup") {
		d.r.Failf("%s was refused with: %s", name, out)
	}
	if after, err := os.ReadFile(filepath.Join(target.Data, "notebook.db")); err != nil || !bytes.Equal(before, after) {
		d.r.Failf("%s was refused and changed the notebook: %v", name, err)
	}
}

func (d *restorer) change(path string, how func([]byte) []byte) error {
	raw, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	return os.WriteFile(path, how(raw), 0o600)
}

func (d *restorer) flip(raw []byte) []byte {
	raw[d.dice.IntN(len(raw))] ^= 1 << d.dice.IntN(8)
	return raw
}

func (d *restorer) cut(raw []byte) []byte { return raw[:d.dice.IntN(len(raw))] }

func (d *restorer) spoilSound(dir string, how func([]byte) []byte) error {
	sounds, err := fs.Glob(os.DirFS(dir), "recordings/*")
	if err != nil || len(sounds) == 0 {
		return fmt.Errorf("the backup holds no recording: %w", err)
	}
	path := filepath.Join(dir, sounds[d.dice.IntN(len(sounds))])
	if err := os.Remove(path + "x"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return d.change(path, how)
}

// restores demands that every restore of the good one exports what the backup
// does: into a mount point, into PostgreSQL, and from a backup of that.
func (d *restorer) restores(ctx context.Context) error {
	place, err := d.r.mount(64)
	if errors.Is(err, ErrSkip) {
		place = d.r.Disk()
	} else if err != nil {
		return err
	}
	here := d.r.Program(place)
	if err := d.equal(ctx, "into a mount point", here, d.backup); err != nil {
		return err
	}
	c, err := ReadFolder(ctx, place)
	if err != nil {
		return err
	}
	d.r.Fail("restored", d.ledger.CheckAcked(c, d.begun))
	address, err := d.r.Postgres(ctx)
	if errors.Is(err, ErrSkip) {
		return nil
	} else if err != nil {
		return err
	}
	there := d.r.Program(d.r.Disk())
	there.Env = []string{"TAUTLINE_DATABASE=" + address}
	if err := d.equal(ctx, "into PostgreSQL", there, d.backup); err != nil {
		return err
	}
	second := filepath.Join(d.r.Disk(), "backup")
	if out, err := there.Run(ctx, "backup", second); err != nil {
		return fmt.Errorf("backup of PostgreSQL: %w: %s", err, out)
	}
	return d.equal(ctx, "from PostgreSQL into a file", d.r.Program(d.r.Disk()), second)
}

func (d *restorer) equal(ctx context.Context, what string, p *Program, backup string) error {
	if out, err := p.Run(ctx, "restore", backup); err != nil {
		return fmt.Errorf("restore %s: %w: %s", what, err, out)
	}
	zip, err := exportOf(ctx, d.r, p)
	if err == nil && !bytes.Equal(zip, d.zip) {
		d.r.Failf("restored %s, the export is another: %d bytes, not %d", what, len(zip), len(d.zip))
	}
	return err
}
