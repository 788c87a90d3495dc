//go:build unix

package drill

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"
)

// try is an operation with a fault in it, or without.
type try struct {
	d      *faulty
	f      fault
	p      *Program
	w      Writer
	log    string
	sent   *Sent
	acked  bool   // an answer or an exit code said that it is done
	failed string // what was said instead
}

func (d *faulty) trial(f fault) *try {
	t := &try{d: d, f: f, p: d.r.Program(d.r.Folder()), w: d.writer, log: filepath.Join(d.r.Folder(), "log")}
	if f.operation == "erase" {
		t.p.Args, t.w = d.parting.house.p.Args, d.parting.writer
	}
	t.w.URL, t.w.Ledger = t.p.URL(), NewLedger()
	t.w.HTTP = &http.Client{Transport: forwarded{d.parting.house, &http.Transport{DisableCompression: true}}, Timeout: 30 * time.Second}
	t.w.done = slices.Clone(t.w.done)
	if f.operation != "recording" {
		t.w.upload = ""
	}
	return t
}

// words are strace's for this try.
func (t *try) words() []string {
	if t.f.kind == "" {
		return []string{"-y", "-o", t.log, "-e", "trace=" + t.f.call}
	}
	return append([]string{"-o", t.log}, t.f.inject()...)
}

func (t *try) run(ctx context.Context) error {
	from := t.d.base
	switch t.f.operation {
	case "import":
		from = ""
	case "update":
		from = t.d.old
	case "erase":
		from = t.d.parting.base
	}
	if from != "" {
		if err := os.CopyFS(t.p.Data, os.DirFS(from)); err != nil {
			return err
		}
	}
	switch t.f.operation {
	case "import":
		return t.command(ctx, "import", t.d.archive.path)
	case "backup", "export":
		return t.command(ctx, t.f.operation, t.to("first"))
	case "update":
		return t.update(ctx)
	}
	return t.request(ctx)
}

// to is where a backup or an export goes.
func (t *try) to(name string) string {
	if t.f.operation == "export" {
		name += ".zip"
	}
	return filepath.Join(filepath.Dir(t.log), name)
}

// command runs a command of the program under strace.
func (t *try) command(ctx context.Context, args ...string) (err error) {
	if t.p.Wrap, err = Strace(t.words()...); err != nil {
		return err
	}
	ctx, stop := context.WithTimeout(ctx, startTime)
	defer stop()
	c := t.p.Command(ctx, args...)
	out, err := c.CombinedOutput()
	t.p.Wrap = nil
	if ctx.Err() != nil {
		return fmt.Errorf("it hangs: %s", out)
	}
	if t.acked = err == nil; !t.acked {
		t.failed = fmt.Sprintf("%v: %s", err, out)
	}
	_, err = readTrace(t.log, c.Process.Pid)
	return err
}

// update starts the server on a notebook of an older version.
func (t *try) update(ctx context.Context) (err error) {
	if t.p.Wrap, err = Strace(t.words()...); err != nil {
		return err
	}
	if err := t.p.Launch(ctx); err != nil {
		return err
	}
	if err := t.p.Ready(ctx); err == nil {
		t.acked = true
	} else {
		t.failed = err.Error()
	}
	t.p.Kill()
	t.p.Wrap = nil
	_, err = readTrace(t.log, t.p.PID())
	return err
}

// request sends one write to a running server to which strace was attached.
func (t *try) request(ctx context.Context) error {
	if err := t.p.Start(ctx); err != nil {
		return err
	}
	defer t.p.Kill()
	if err := t.prepare(ctx); err != nil {
		return err
	}
	detach, err := attach(ctx, t.p.PID(), t.words())
	if err != nil {
		return err
	}
	t.w.pending = t.sent
	err = t.w.Write(ctx)
	if t.acked = err == nil; !t.acked {
		t.failed = err.Error()
	}
	var refused Refused
	if errors.As(err, &refused) {
		t.answer(refused)
	}
	if err := detach(); err != nil {
		return err
	}
	if t.f.flush() && t.fired() && t.failedFlush().path != t.p.Data { // of which SQLite tells nobody
		t.stopped(ctx)
	}
	return nil
}

// prepare makes up what is to be sent.
func (t *try) prepare(ctx context.Context) error {
	if t.f.operation != "erase" {
		t.sent = t.w.made(t.f.operation)
		return nil
	}
	again := *t.d.parting.erasure
	t.sent = &again
	return t.confirms(ctx)
}

// attach lets strace watch a running program; detach ends that.
func attach(ctx context.Context, pid int, words []string) (detach func() error, err error) {
	path, err := exec.LookPath("strace")
	if err != nil {
		return nil, Skipf("strace is not installed")
	}
	var said page
	c := exec.CommandContext(ctx, path, append([]string{"-f", "-q", "-p", fmt.Sprint(pid)}, words...)...)
	c.Stderr = &said
	if err := c.Start(); err != nil {
		return nil, err
	}
	gone := make(chan error, 1)
	go func() { gone <- c.Wait() }()
	for deadline := time.Now().Add(startTime); !traced(pid); time.Sleep(2 * time.Millisecond) {
		select {
		case <-gone:
			return nil, Skipf("no tracing here: %s", said.String())
		default:
		}
		if time.Now().After(deadline) {
			return nil, errors.New("strace does not attach")
		}
	}
	return func() error {
		// It is gone with the program, perhaps; of a program that died while
		// it looked on it can wait for the last thread for ever.
		_ = c.Process.Signal(syscall.SIGINT)
		select {
		case <-gone:
			return nil
		case <-time.After(2 * time.Second):
		}
		_ = c.Process.Kill()
		<-gone
		return nil
	}, nil
}

// traced reports whether every thread of a program is watched.
func traced(pid int) bool {
	threads, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/status", pid))
	if err != nil || len(threads) == 0 {
		return false
	}
	for _, path := range threads {
		text, err := os.ReadFile(path)
		if err == nil && bytes.Contains(text, []byte("TracerPid:\t0\n")) {
			return false
		}
	}
	return true
}

// calls is how often one thread made each call in a clean run, at most.
func (t *try) calls() map[string]int {
	raw, err := os.ReadFile(t.log)
	if err != nil {
		return nil
	}
	byThread, most := map[string]int{}, map[string]int{}
	for _, line := range strings.Split(joinResumed(string(raw)), "\n") {
		name, _, _, _, _ := splitCall(line)
		for _, call := range faultCalls {
			if name != "" && slices.Contains(strings.Split(call, ","), name) {
				key := strings.Fields(line)[0] + name
				byThread[key]++
				most[call] = max(most[call], byThread[key])
			}
		}
	}
	return most
}

// fired reports whether the fault happened.
func (t *try) fired() bool {
	raw, err := os.ReadFile(t.log)
	killed := t.f.kind == "signal=SIGKILL" && bytes.Contains(raw, []byte("killed by SIGKILL"))
	return err == nil && (bytes.Contains(raw, []byte("(INJECTED)")) || killed && (!t.acked || t.f.operation != "update")) // which ends by a kill anyway
}

// answer demands that a refusal is a proper one.
func (t *try) answer(a Refused) {
	var p struct{ Code, Detail, Hint string }
	switch {
	case json.Unmarshal([]byte(a.Body), &p) != nil || p.Code == "" || p.Detail == "":
		t.fail("the answer %d is no problem: %s", a.Status, a.Body)
	case a.Status != http.StatusServiceUnavailable && a.Status != http.StatusInsufficientStorage:
		t.fail("the answer is %d: %s", a.Status, a.Body)
	}
}

func (t *try) fail(format string, args ...any) {
	t.d.r.Failf("%v: "+format, append([]any{t.f}, args...)...)
}
