//go:build unix

package drill

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
)

// A disk that fills up while people record: reading, listing and exporting go
// on, nothing acknowledged is lost, nothing is left by half; at the last byte
// records are taken out of sight and bows out for good, which makes room; and
// with room again the same is sent and taken.
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
	disk, err := r.mount(24) // the demo has 12 MB
	if err != nil {
		return err
	}
	p, ledger := r.Program(filepath.Join(disk, "notebook"), "--backup-every", "0"), NewLedger()
	if err := p.Start(ctx); err != nil {
		return err
	}
	defer p.Kill()
	w := NewWriter(p, ledger, r.Random())
	w.Sound = 60_000
	if err := demo(ctx, p, http.MethodPut); err != nil {
		return err
	}
	if err := untilFull(ctx, r, w); err != nil {
		return err
	}
	if err := lastByte(ctx, r, w, disk); err != nil {
		return err
	}
	// most of what is on a full disk works, before and after a start
	for _, when := range []string{"on the full disk", "started on the full disk"} {
		readsOn(ctx, r, p, when)
		if when == "on the full disk" {
			if err := errors.Join(p.Stop(), p.Start(ctx)); err != nil {
				r.Failf("the program on a full disk: %v", err)
				return remount(disk, "size=32m")
			}
		}
	}
	refusedBackup(ctx, r, p, filepath.Join(disk, "copy"))
	deletesOn(ctx, r, p, w)
	if err := remount(disk, "size=40m"); err != nil {
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

// demo puts the invented bows into the notebook (PUT), or takes them out (DELETE).
func demo(ctx context.Context, p *Program, method string) error {
	req, err := http.NewRequestWithContext(ctx, method, p.URL()+"/api/v1/demo", strings.NewReader("{}"))
	if err != nil {
		return err
	}
	req.Header.Set("Content-Type", "application/json")
	answer, err := http.DefaultClient.Do(req)
	if err != nil {
		return err
	}
	body, err := io.ReadAll(answer.Body)
	if err := errors.Join(err, answer.Body.Close()); err != nil {
		return err
	}
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("%s of the demo gave %d: %s", method, answer.StatusCode, body)
	}
	return nil
}

// lastByte has something else on the disk take what a whole recording did not
// find room in, then notes readings until those are refused too: the journal
// may have had room for some.
func lastByte(ctx context.Context, r *Run, w *Writer, disk string) error {
	rest, err := os.Create(filepath.Join(disk, "something else"))
	if err != nil {
		return err
	}
	_, err = io.Copy(rest, rand.NewChaCha8([32]byte{}))
	if closed := rest.Close(); !errors.Is(err, syscall.ENOSPC) || closed != nil {
		return fmt.Errorf("filling the disk: %v, %w", err, closed)
	}
	var refused Refused
	for n := 0; ; n++ {
		err := w.send(ctx, w.made("reading"))
		switch {
		case err == nil && n < 5000:
			continue
		case !errors.As(err, &refused):
			return fmt.Errorf("%d readings on a full disk: %w", n, err)
		case refused.Status != http.StatusInsufficientStorage:
			r.Failf("a reading on the full disk was answered %v", refused)
		}
		return nil
	}
}

// deletesOn takes records out of sight with no byte left, then the demo out
// for good, and demands that its room takes what people record next.
func deletesOn(ctx context.Context, r *Run, p *Program, w *Writer) {
	for range 3 {
		if err := w.send(ctx, w.made("retraction")); err != nil {
			r.Failf("taking a record out of sight on the full disk: %v", err)
		}
	}
	if err := demo(ctx, p, http.MethodDelete); err != nil {
		r.Failf("deleting on the full disk: %v", err)
		return
	}
	for n := range 20 { // the first is what was refused, sent again
		if err := w.Write(ctx); err != nil {
			r.Failf("write %d in the room of what was deleted: %v", n, err)
			return
		}
	}
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
