package drill

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"syscall"
	"time"
)

// enter takes this thread into a network, by the system call setns(2), which
// package syscall has no name for.
func enter(network *os.File) error {
	const setns = 308
	if _, _, errno := syscall.RawSyscall(setns, network.Fd(), syscall.CLONE_NEWNET, 0); errno != 0 {
		return errno
	}
	return nil
}

// far is a network of its own whose loopback is a bad line; the machine's own
// is left alone.
type far struct {
	name string
	file *os.File
}

// farAway makes such a network, which goes with the run.
func (r *Run) farAway(ctx context.Context) (*far, error) {
	if os.Geteuid() != 0 {
		return nil, Skipf("only root may make a network namespace")
	}
	f := &far{name: fmt.Sprintf("tautline-%d-%d", os.Getpid(), time.Now().UnixNano())}
	if err := f.run(ctx, "ip", "netns", "add", f.name); err != nil {
		return nil, err
	}
	r.AtEnd(f.end)
	if err := f.run(ctx, "ip", "-n", f.name, "link", "set", "lo", "up"); err != nil {
		return nil, err
	}
	if err := f.run(ctx, "tc", append([]string{"-n", f.name, "qdisc", "add", "dev", "lo", "root", "netem"}, strings.Fields(badLine)...)...); err != nil {
		return nil, err
	}
	var err error
	f.file, err = os.Open("/run/netns/" + f.name)
	return f, err
}

// run runs a tool; what it cannot do here, nobody can.
func (f *far) run(ctx context.Context, name string, args ...string) error {
	if out, err := exec.CommandContext(ctx, name, args...).CombinedOutput(); err != nil {
		return Skipf("%s %s: %v %s", name, strings.Join(args, " "), err, out)
	}
	return nil
}

func (f *far) end() error {
	err := exec.Command("ip", "netns", "delete", f.name).Run()
	if f.file != nil {
		err = errors.Join(err, f.file.Close())
	}
	return err
}

// move takes a program there: it is started and called in that network.
func (f *far) move(p *Program) {
	p.Wrap, p.Dial = []string{"ip", "netns", "exec", f.name}, f.dial
}

// dial makes a connection there. A socket belongs to the network that its
// thread was in when it was made.
func (f *far) dial(ctx context.Context, network, address string) (net.Conn, error) {
	runtime.LockOSThread()
	here, err := os.Open("/proc/thread-self/ns/net")
	if err != nil {
		return nil, err
	}
	defer here.Close()
	if err := enter(f.file); err != nil {
		return nil, err
	}
	conn, err := (&net.Dialer{}).DialContext(ctx, network, address)
	if err := enter(here); err != nil {
		return nil, err // the thread stays locked, and ends with its goroutine
	}
	runtime.UnlockOSThread()
	return conn, err
}
