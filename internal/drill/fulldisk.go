//go:build unix

package drill

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// A disk that fills up while people record: reading, listing and exporting go
// on, nothing acknowledged is lost, nothing is left by half, and with room
// again the same is sent and taken.
var fullDisk = Drill{Name: "D4", Title: "full disk", Short: 1, Long: 40, Run: runFullDisk}

// mount makes a small disk in memory that goes with the run.
func (r *Run) mount(megabytes int) (string, error) {
	if os.Getuid() != 0 {
		return "", Skipf("only root can mount a small disk")
	}
	dir := r.Folder()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", fmt.Sprintf("size=%dm", megabytes), "tmpfs", dir).CombinedOutput(); err != nil {
		return "", Skipf("no small disk here: %v: %s", err, out)
	}
	r.AtEnd(func() error {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			return fmt.Errorf("umount: %w: %s", err, out)
		}
		return nil
	})
	return dir, nil
}

// remount changes a small disk's options.
func remount(dir, options string) error {
	if out, err := exec.Command("mount", "-o", "remount,"+options, dir).CombinedOutput(); err != nil {
		return fmt.Errorf("remount: %w: %s", err, out)
	}
	return nil
}

func runFullDisk(ctx context.Context, r *Run) error {
	for range r.N {
		if err := fillDisk(ctx, r); err != nil {
			return err
		}
		r.Counted()
	}
	return nil
}

func fillDisk(ctx context.Context, r *Run) error {
	disk, err := r.mount(8)
	if err != nil {
		return err
	}
	p, ledger := r.Program(filepath.Join(disk, "notebook"), "--backup-every", "0"), NewLedger()
	if err := p.Start(ctx); err != nil {
		return err
	}
	defer p.Kill()
	w := NewWriter(p, ledger, r.Random())
	w.Sound = 20_000
	if err := untilFull(ctx, r, w); err != nil {
		return err
	}
	// most of what is on a full disk works, before and after a start
	for _, when := range []string{"on the full disk", "started on the full disk"} {
		readsOn(ctx, r, p, when)
		if when == "on the full disk" {
			if err := errors.Join(p.Stop(), p.Start(ctx)); err != nil {
				r.Failf("the program on a full disk: %v", err)
				return remount(disk, "size=16m")
			}
		}
	}
	refusedBackup(ctx, r, p, filepath.Join(disk, "copy"))
	if err := remount(disk, "size=24m"); err != nil {
		return err
	}
	for range 30 { // the first is what was refused, sent again
		if err := w.Write(ctx); err != nil {
			r.Failf("with room again: %v", err)
			break
		}
	}
	if err := p.Stop(); err != nil {
		r.Failf("%v", err)
	}
	c, err := ReadFolder(ctx, p.Data)
	if err != nil {
		return err
	}
	r.Fail("after a full disk", ledger.Check(c))
	if len(c.Partial) > 0 {
		r.Failf("partial files were left: %v", c.Partial)
	}
	_, acked, _ := ledger.Counts()
	r.Logf("%d writes acknowledged around a full disk", acked)
	return nil
}

// untilFull writes until the program says that the disk is full; any other
// refusal is a failure.
func untilFull(ctx context.Context, r *Run, w *Writer) error {
	const most = 5000
	for range most {
		err := w.Write(ctx)
		var refused Refused
		switch {
		case err == nil:
			continue
		case !errors.As(err, &refused):
			return err
		case refused.Status != http.StatusInsufficientStorage || !strings.Contains(refused.Body, "full"):
			r.Failf("the full disk was answered %v", refused)
		}
		return nil
	}
	return fmt.Errorf("%d writes did not fill the disk", most)
}

// readsOn demands that pages, lists and an export to another disk work.
func readsOn(ctx context.Context, r *Run, p *Program, when string) {
	for _, path := range []string{"/", "/api/v1/health", "/api/v1/bows", "/api/v1/readings", "/api/v1/ends", "/api/v1/recordings"} {
		answer, err := http.Get(p.URL() + path)
		if err != nil {
			r.Failf("%s, %s: %v", when, path, err)
			continue
		}
		answer.Body.Close()
		if answer.StatusCode != http.StatusOK {
			r.Failf("%s, %s gave %d", when, path, answer.StatusCode)
		}
	}
	zip := filepath.Join(r.Folder(), "all.zip")
	if out, err := p.Run(ctx, "export", zip); err != nil {
		r.Failf("%s, the export: %v: %s", when, err, out)
		return
	}
	if out, err := r.Program(r.Folder()).Run(ctx, "import", zip); err != nil {
		r.Failf("%s, the export cannot be read: %v: %s", when, err, out)
	}
}

// refusedBackup demands that a backup for which there is no room is refused
// and leaves nothing.
func refusedBackup(ctx context.Context, r *Run, p *Program, to string) {
	out, err := p.Run(ctx, "backup", to)
	if err == nil {
		r.Failf("a backup of all fitted on the full disk")
	} else if !strings.Contains(out, "full") {
		r.Failf("a backup on a full disk says %s", out)
	}
	if _, err := os.Stat(to); err == nil {
		r.Failf("a refused backup left its folder")
	}
}
