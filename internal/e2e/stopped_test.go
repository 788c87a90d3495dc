package e2e

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/chromedp"
)

// failingDisk makes every fsync of the program fail until it is stopped: what
// a disk does that is about to die. It skips where nothing may be traced.
func (n *notebook) failingDisk() (healed func()) {
	n.t.Helper()
	strace, err := exec.LookPath("strace")
	if err != nil {
		n.t.Skip("no strace here, which makes a disk fail: install Debian's package strace")
	}
	c := exec.Command(strace, "-f", "-q", "-p", fmt.Sprint(n.cmd.Process.Pid), "-e", "trace=fsync,fdatasync", "-e", "inject=fsync,fdatasync:error=EIO")
	if err := c.Start(); err != nil {
		n.t.Fatal(err)
	}
	gone := make(chan error, 1)
	go func() { gone <- c.Wait() }()
	for attached := false; !attached; time.Sleep(5 * time.Millisecond) {
		select {
		case err := <-gone:
			n.t.Skip("no tracing here: ", err)
		default:
		}
		status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", n.cmd.Process.Pid))
		attached = err != nil || !bytes.Contains(status, []byte("TracerPid:\t0\n"))
	}
	return func() {
		n.t.Helper()
		if err := c.Process.Signal(syscall.SIGINT); err != nil {
			n.t.Error(err)
		}
		<-gone
	}
}

// TestWritesStop lets the disk fail under a notebook: it still answers and
// reads, and every page says in words that it takes nothing more and what to
// do, also to who just opened it; what was noted waits on the device, and goes
// when the program was started again (bars.md, T4).
func TestWritesStop(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	n.putBow()
	p := openPhone(t)
	b := p.b
	b.open(n.url("/bows/" + plotBow + "/plot"))
	p.must("the face", ready)
	healed := n.failingDisk()
	p.must("one end", place(3, 2)+"; "+endDone)
	b.see("The notebook takes nothing just now")
	b.see("start the program again")
	b.see("not yet sent")
	b.do("the notebook answers all the same", waitFor(`document.querySelector(".copy").dataset.link === "up"`))
	b.accessible("a notebook that takes nothing")
	b.shot("stopped")
	b.open(n.url("/settings")) // whoever only looks is told too
	b.see("The notebook takes nothing just now")
	healed()
	n.kill()
	n.start()
	b.open(n.url("/bows/" + plotBow + "/plot"))
	b.do("everything is sent", waitFor(`document.querySelector("[data-unsent]")?.dataset.unsent === "0"`),
		waitFor(`!document.body.innerText.includes("takes nothing just now")`))
	if got := n.ends("bow=" + plotBow); len(got) != 1 || len(got[0].End.Impacts) != 1 {
		t.Errorf("the notebook holds %+v, wanted the one end", got)
	}
}

// TestDiskNearlyFull serves a notebook from a small disk: the bench says
// beforehand how little room is left on it and what to do (bars.md, T5).
func TestDiskNearlyFull(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("no small disk here: %v: %s", err, out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, out)
		}
	})
	n := &notebook{t: t, dir: filepath.Join(dir, "notebook"), addr: freeAddress(t)}
	n.start()
	t.Cleanup(n.kill)
	n.putBow()
	b := openBrowser(t)
	b.size(390, 844)
	b.open(n.url("/"))
	b.see("are free on the notebook's disk")
	b.see("tautline doctor says what may go")
	b.accessible("the bench of a small disk")
	b.shot("small-disk")
}

// TestLittleRoomSaidBeforehand gives the browser no room, and little, for this
// page. With none at all the line on every page says so at the first touch, and
// what was typed is kept once there is room; with little, the range says so
// before anybody relies on it, and the page of what is kept how much is left
// (bars.md, U9). A browser that tells the same figure whatever is left is not
// believed; here it is told to be frank.
func TestLittleRoomSaidBeforehand(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t, chromedp.Flag("disable-features", "StaticStorageQuota"))
	n.putBow()
	b.size(390, 844)
	room := func(bytes float64) {
		t.Helper()
		b.do("so much room", chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, storage.OverrideQuotaForOrigin, storage.OverrideQuotaForOriginParams{Origin: n.url(""), QuotaSize: &bytes})
			return err
		}))
	}
	plot := n.url("/bows/" + plotBow + "/plot")
	room(1)
	b.open(plot)
	note := chromedp.CSS("main textarea")
	b.do("a note", chromedp.SendKeys(note, "gusts ", chromedp.NodeVisible))
	b.see("no room left")
	room(1e9)
	b.do("the rest of it", chromedp.SendKeys(note, "from the left"), waitFor(`document.documentElement.dataset.kept === "yes" && !document.querySelector(".copy").innerText.includes("no room")`))
	b.open(plot)
	b.do("the note is there", waitFor(`document.querySelector("main textarea")?.value === "gusts from the left"`))
	for bytes, says := range map[float64]string{100e6: "this may be a private window", 20e6: "of room is left for this page"} {
		room(bytes)
		b.open(plot)
		b.tap("Before you rely on this device")
		b.see(says)
		b.open(n.url("/unsent"))
		b.see(says)
	}
	b.accessible("little room")
}
