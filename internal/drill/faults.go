//go:build unix

package drill

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"
)

// Every call that an operation makes to the disk fails once, with EIO, with
// ENOSPC, or the program is killed in it (T3, T4): the notebook is in the old
// state or in the new, never between; an answer is a proper one; after a
// flush that failed nothing more is written and reading goes on; a start on
// the same files, and the same sent again, bring the new state.
//
// strace makes the kernel's answer. It counts calls for each thread, so the
// n-th of a clean run need not be the n-th again: a round where nothing was
// injected is not counted.
var ioErrors = Drill{Name: "D3", Title: "every I/O error", Short: 12, Long: 100_000, Run: runIOErrors}

// faultCalls are the calls that are made to fail, and the ways they do.
var (
	faultCalls = []string{"pwrite64", "fsync,fdatasync", "ftruncate", "open,openat", "rename,renameat", "unlink,unlinkat", "write"}
	faultKinds = []string{"error=EIO", "error=ENOSPC", "signal=SIGKILL"}
)

// overHTTP are the operations sent to a running server, the rest are commands.
var (
	overHTTP = []string{"bow", "set-up", "reading", "end", "session", "change", "retraction", "upload", "recording"}
	commands = []string{"import", "backup", "export", "update"}
)

// fault is one thing to make go wrong.
type fault struct {
	operation, call, kind string
	n                     int // which call of a thread
}

func (f fault) String() string {
	return fmt.Sprintf("%s, %s of call %d of %s", f.operation, f.kind, f.n, f.call)
}

// inject are strace's words for it.
func (f fault) inject() []string {
	return []string{"-e", "trace=" + f.call, "-e", fmt.Sprintf("inject=%s:%s:when=%d", f.call, f.kind, f.n)}
}

// faulty is what the rounds share.
type faulty struct {
	r       *Run
	dice    *rand.Rand
	base    string    // a notebook, closed
	writer  Writer    // that knows it
	before  *Contents // what it holds
	old     string    // a notebook of an older version
	archive archive
	fired   map[string]int // by operation and call
	short   bool
}

func runIOErrors(ctx context.Context, r *Run) error {
	d := &faulty{r: r, dice: r.Random(), fired: map[string]int{}}
	if err := d.prepare(ctx); err != nil {
		return err
	}
	plan, err := d.plan(ctx)
	if err != nil {
		return err
	}
	tried := 0
	for _, f := range d.inTurn(plan) {
		if tried == r.N || ctx.Err() != nil {
			break
		}
		tried++
		if err := d.round(ctx, f); err != nil {
			r.Failf("%v: %v", f, err)
		}
	}
	fired := 0
	for _, what := range slices.Sorted(maps.Keys(d.fired)) {
		fired += d.fired[what]
		r.Logf("%5d injections fired in %s", d.fired[what], what)
	}
	r.Logf("%d of %d planned sites tried, %d fired", tried, len(plan), fired)
	if fired < tried/3 || tried == len(plan) && !d.short && !d.everywhere() {
		r.Failf("only %d of %d injections fired: the drill is blind", fired, tried)
	}
	return nil
}

// inTurn shuffles a plan so that however much of it is done, every operation
// and call has had its share.
func (d *faulty) inTurn(plan []fault) (out []fault) {
	groups := map[string][]fault{}
	for _, f := range plan {
		groups[f.operation+f.call] = append(groups[f.operation+f.call], f)
	}
	names := slices.Sorted(maps.Keys(groups))
	d.dice.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	for _, g := range names {
		d.dice.Shuffle(len(groups[g]), func(i, j int) { groups[g][i], groups[g][j] = groups[g][j], groups[g][i] })
	}
	for i := 0; len(out) < len(plan); i++ {
		for _, g := range names {
			if i < len(groups[g]) {
				out = append(out, groups[g][i])
			}
		}
	}
	return out
}

// everywhere demands that writes and flushes of every operation have failed.
func (d *faulty) everywhere() bool {
	ok := true
	for _, op := range slices.Concat(overHTTP, commands) {
		if d.fired[op+" / fsync,fdatasync"] == 0 || op != "upload" && op != "export" && d.fired[op+" / pwrite64"] == 0 {
			d.r.Logf("nothing failed in %s", op)
			ok = op == "export" && ok // an export to a pipe needs no flush
		}
	}
	return ok
}

// prepare makes the notebook that every round begins with.
func (d *faulty) prepare(ctx context.Context) error {
	if err := d.archive.make(ctx, d.r, 40, 1000); err != nil {
		return err
	}
	root, err := Root(ctx)
	if err != nil {
		return err
	}
	d.old, d.base = filepath.Join(root, "internal", "store", "testdata", "v1"), d.r.Folder()
	p := d.r.Program(d.base)
	if err := p.Start(ctx); err != nil {
		return err
	}
	defer p.Kill()
	w := NewWriter(p, NewLedger(), d.r.Random())
	w.Sound = 1000
	for _, kind := range []string{"bow", "set-up", "reading", "upload"} {
		w.pending = w.made(kind)
		if err := w.Write(ctx); err != nil {
			return err
		}
	}
	d.writer = *w
	if err := p.Stop(); err != nil {
		return err
	}
	d.before, err = ReadFolder(ctx, d.base)
	return err
}

// plan counts the calls of a clean run of every operation; a short run takes
// some of the operations.
func (d *faulty) plan(ctx context.Context) (plan []fault, err error) {
	operations := slices.Concat(overHTTP, commands)
	if d.short = d.r.N < 100; d.short {
		d.dice.Shuffle(len(overHTTP), func(i, j int) { operations[i], operations[j] = operations[j], operations[i] })
		operations = []string{operations[0], "upload", "import"}
	}
	for _, op := range operations {
		t := d.trial(fault{op, strings.Join(faultCalls, ","), "", 0})
		if err := t.run(ctx); err != nil {
			return nil, fmt.Errorf("%s without a fault: %w", op, err)
		}
		if t.failed != "" {
			return nil, fmt.Errorf("%s without a fault: %s", op, t.failed)
		}
		counts := t.calls()
		for _, call := range faultCalls {
			for n := range counts[call] {
				for _, kind := range faultKinds {
					plan = append(plan, fault{op, call, kind, n + 1})
				}
			}
		}
		d.r.Logf("calls of one thread in %s: %v", op, counts)
	}
	return plan, nil
}

// round makes one thing go wrong.
func (d *faulty) round(ctx context.Context, f fault) error {
	t := d.trial(f)
	defer os.RemoveAll(t.p.Data)
	if err := t.run(ctx); err != nil {
		return err
	}
	if !t.fired() || strings.Contains(t.p.Said(), "netpollBreak") {
		return nil // an error for the runtime's own wake-up call is none of a disk's
	}
	d.fired[f.operation+" / "+f.call]++
	d.r.Counted()
	t.judge(ctx)
	return nil
}

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
	t.w.URL, t.w.Ledger = t.p.URL(), NewLedger()
	t.w.HTTP = &http.Client{Transport: &http.Transport{DisableCompression: true}, Timeout: 30 * time.Second}
	t.w.done = slices.Clone(t.w.done)
	if f.operation != "recording" {
		t.w.upload = ""
	}
	return t
}

// words are strace's for this try.
func (t *try) words() []string {
	if t.f.kind == "" {
		return []string{"-o", t.log, "-e", "trace=" + t.f.call}
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
	detach, err := attach(ctx, t.p.PID(), t.words())
	if err != nil {
		return err
	}
	t.sent = t.w.made(t.f.operation)
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
	if t.f.kind == "error=EIO" && strings.HasPrefix(t.f.call, "fsync") && t.fired() && !t.acked {
		t.stopped(ctx)
	}
	return nil
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
	return err == nil && (bytes.Contains(raw, []byte("(INJECTED)")) || t.f.kind == "signal=SIGKILL" && bytes.Contains(raw, []byte("killed by SIGKILL")) && !t.acked)
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

// stopped demands that nothing is written after a failed flush, and that
// reading goes on.
func (t *try) stopped(ctx context.Context) {
	w := t.w
	w.pending = nil
	var refused Refused
	if err := w.send(ctx, w.made("reading")); !errors.As(err, &refused) || refused.Status != http.StatusServiceUnavailable || !strings.Contains(refused.Body, "read-only") {
		t.fail("writing went on after a failed flush: %v", err)
	}
	answer, err := http.Get(t.p.URL() + "/api/v1/bows/" + t.w.bow)
	if err != nil {
		t.fail("reading stopped after a failed flush: %v", err)
		return
	}
	defer answer.Body.Close()
	if text, err := io.ReadAll(answer.Body); err != nil || answer.StatusCode != http.StatusOK {
		t.fail("reading stopped after a failed flush: %d %s", answer.StatusCode, text)
	}
}

// judge looks at what is left, and goes on from there.
func (t *try) judge(ctx context.Context) {
	if strings.Contains(t.p.Said()+t.failed, "goroutine ") {
		t.fail("it panicked: %.2000s%s", t.p.Said(), t.failed)
	}
	switch t.f.operation {
	case "import":
		t.judgeImport(ctx)
	case "backup", "export":
		t.judgeCopy(ctx)
	case "update":
		t.judgeUpdate(ctx)
	default:
		t.judgeRequest(ctx)
	}
}

// state reads the notebook as it was left.
func (t *try) state(ctx context.Context) *Contents {
	c, err := ReadFolder(ctx, t.p.Data)
	if err != nil {
		t.fail("it cannot be read: %v", err)
		return &Contents{}
	}
	t.d.r.Fail(t.f.String(), c.Problems)
	return c
}

// judgeRequest: the notebook holds what it held, or that and what was sent;
// started anew and sent again, it holds both.
func (t *try) judgeRequest(ctx context.Context) {
	c := t.state(ctx)
	if made := t.compare(c); t.acked && !made {
		t.fail("acknowledged, and not there")
	}
	if len(c.Partial) > 0 && t.f.kind != "signal=SIGKILL" && !strings.HasPrefix(t.f.call, "unlink") {
		t.fail("a part of an upload was left: %v", c.Partial)
	}
	if err := t.p.Start(ctx); err != nil {
		t.fail("afterwards: %v", err)
		return
	}
	defer t.p.Kill()
	t.w.pending = t.sent
	if err := t.w.Write(ctx); err != nil {
		t.fail("sent again: %v", err)
	}
	t.p.Kill()
	if !t.compare(t.state(ctx)) {
		t.fail("sent again, and not there")
	}
}

// compare demands what was there before, and tells whether what was sent is
// there too.
func (t *try) compare(c *Contents) (made bool) {
	for key, row := range t.d.before.Rows {
		if !bytes.Equal(c.Rows[key].Body, row.Body) {
			t.fail("%s %s is no longer what it was", row.Table, key)
		}
	}
	for key, row := range c.Rows {
		_, old := t.d.before.Rows[key]
		switch {
		case old || byItself[row.Table]:
		case key == t.sent.key() && bytes.Contains(row.Body, []byte(t.sent.Mark)):
			made = true
		default:
			t.fail("there is a %s %s that nobody sent", row.Table, key)
		}
	}
	return made || t.sent.Hash != "" && c.Files[t.sent.Hash] == t.sent.Hash
}

func (t *try) judgeImport(ctx context.Context) {
	if n := len(t.state(ctx).Rows); n != 0 && n != t.d.archive.rows || n == 0 && t.acked {
		t.fail("%d of %d records were imported; it said: %s", n, t.d.archive.rows, t.failed)
	}
	if out, err := t.p.Run(ctx, "import", t.d.archive.path); err != nil {
		t.fail("imported again: %v: %s", err, out)
	}
	if n := len(t.state(ctx).Rows); n != t.d.archive.rows {
		t.fail("imported again, %d of %d records are there", n, t.d.archive.rows)
	}
}

// judgeCopy: a backup or an export that says that it is done is whole; what
// was begun does not pass for one; the notebook is as it was.
func (t *try) judgeCopy(ctx context.Context) {
	t.sent = &Sent{}
	t.compare(t.state(ctx))
	_, err := os.Stat(filepath.Join(t.to("first"), "backup.json"))
	switch {
	case t.f.operation == "backup" && (t.acked || err == nil):
		if out, err := t.p.Run(ctx, "verify", "--backup", t.to("first")); err != nil && t.acked {
			t.fail("the backup is not whole: %v: %s", err, out)
		}
	case t.f.operation == "export" && t.acked:
		if out, err := t.d.r.Program(t.d.r.Folder()).Run(ctx, "import", t.to("first")); err != nil {
			t.fail("the export cannot be read: %v: %s", err, out)
		}
	}
	if out, err := t.p.Run(ctx, t.f.operation, t.to("again")); err != nil {
		t.fail("done again: %v: %s", err, out)
	}
}

// judgeUpdate: every record is as it was, before and after the next start.
func (t *try) judgeUpdate(ctx context.Context) {
	before, err := ReadFolder(ctx, t.d.old)
	if err != nil {
		t.fail("%v", err)
		return
	}
	k := killer{r: t.d.r}
	k.same(t.f.String(), before, t.p)
	if err := t.p.Start(ctx); err != nil {
		t.fail("the next start: %v", err)
		return
	}
	t.p.Kill()
	k.same(t.f.String()+", started again", before, t.p)
}
