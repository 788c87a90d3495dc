//go:build unix

package drill

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
)

// Every call that an operation makes to the disk fails once, with EIO, with
// ENOSPC, or the program is killed in it (T3, T4): the notebook is in the old
// state or in the new, never between; an answer is a proper one; after a
// flush that failed nothing more is written and reading goes on; a start on
// the same files, and the same sent again, bring the new state.
//
// strace makes the kernel's answer. It counts calls for each thread, so the
// n-th of a clean run need not be the n-th again: where nothing was injected it
// is tried again, and each operation and call is swept until nothing fires.
var ioErrors = Drill{Name: "D3", Title: "every I/O error", Short: 26, Long: 100_000, Run: runIOErrors}

// faultCalls are the calls that are made to fail, and the ways they do.
var (
	faultCalls = []string{"pwrite64", "fsync,fdatasync", "ftruncate", "open,openat", "rename,renameat", "unlink,unlinkat", "write"}
	faultKinds = []string{"error=EIO", "error=ENOSPC", "signal=SIGKILL"}
)

// overHTTP are the operations sent to a running server, the rest are commands.
var (
	overHTTP = []string{"bow", "set-up", "reading", "end", "session", "change", "retraction", "upload", "upload part", "recording", "erase"}
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

// inject are strace's words for it. Of a flush that fails the answers are to be
// seen too.
func (f fault) inject() []string {
	trace := f.call
	if f.flush() {
		trace += ",write"
	}
	return []string{"-y", "-e", "trace=" + trace, "-e", fmt.Sprintf("inject=%s:%s:when=%d", f.call, f.kind, f.n)}
}

// flush tells a flush that the disk could not do.
func (f fault) flush() bool { return f.kind == "error=EIO" && strings.HasPrefix(f.call, "fsync") }

// faulty is what the rounds share.
type faulty struct {
	r       *Run
	dice    *rand.Rand
	base    string    // a notebook, closed
	writer  Writer    // that knows it
	before  *Contents // what it holds
	old     string    // a notebook of an older version
	archive archive
	parting *parting // for "erase"
	spared  int      // failed flushes that lose nothing
}

func runIOErrors(ctx context.Context, r *Run) error {
	d := &faulty{r: r, dice: r.Random()}
	if err := d.prepare(ctx); err != nil {
		return err
	}
	plan, err := d.plan(ctx)
	if err != nil {
		return err
	}
	d.sweep(ctx, plan)
	tried, fired := 0, 0
	for _, s := range plan {
		tried, fired = tried+s.tried, fired+s.fired
		r.Logf("%5d of %d sites fired in %s / %s", s.fired, s.tried, s.operation, s.call)
		if s.tried > 0 && s.fired == 0 && s.call != "write" && ctx.Err() == nil { // the runtime wakes itself by writes
			r.Failf("no call of %s failed in %s, which makes %d: the drill is blind", s.call, s.operation, s.made)
		}
	}
	r.Logf("%d of %d sites fired; %d failed flushes of what was acknowledged all the same lose nothing (see spared)", fired, tried, d.spared)
	if fired < tried/2 {
		r.Failf("only %d of %d injections fired: the drill is blind", fired, tried)
	}
	if r.N < longRun {
		return nil
	}
	return d.controls(ctx)
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
	if d.before, err = ReadFolder(ctx, d.base); err != nil {
		return err
	}
	return d.prepareErasing(ctx)
}
