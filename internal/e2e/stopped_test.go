package e2e

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"syscall"
	"testing"
	"time"
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
