//go:build unix

package drill

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// judge looks at what is left, and goes on from there.
func (t *try) judge(ctx context.Context) {
	if strings.Contains(t.p.Said()+t.failed, "goroutine ") {
		t.fail("it panicked: %.2000s%s", t.p.Said(), t.failed)
	}
	if t.f.flush() {
		t.flushed()
	}
	switch t.f.operation {
	case "import":
		t.judgeImport(ctx)
	case "backup", "export":
		t.judgeCopy(ctx)
	case "update":
		t.judgeUpdate(ctx)
	case "erase":
		t.judgeErase(ctx)
	default:
		t.judgeRequest(ctx)
	}
}

// flushed demands that what was acknowledged had been flushed: the state that
// is read afterwards comes from the kernel's memory and shows nothing of it.
func (t *try) flushed() {
	b := t.failedFlush()
	switch {
	case !t.acked || b.late:
	case t.spared(b):
		t.d.spared++
	default:
		t.fail("it is acknowledged, and the flush of %s had failed", b.path)
	}
}

// spared are the flushes that SQLite may miss. When a command ends it moves the
// journal into the database; where that fails it keeps the journal, which was
// flushed. It flushes the folder with the journal's name before the first
// commit and does not look whether that worked; the program does so itself when
// it opens the notebook. Nor is the flush of a forecast that of the set-up, kept
// before it, that is acknowledged: the program says that it was not sealed.
func (t *try) spared(b badFlush) bool {
	command := slices.Contains(commands, t.f.operation)
	if b.path == t.p.Data {
		return !command || b.again
	}
	if filepath.Dir(b.path) != t.p.Data || !strings.HasPrefix(filepath.Base(b.path), "notebook.db") {
		return false
	}
	return command || strings.Contains(t.p.Said(), "a forecast was not sealed")
}

// badFlush is a flush that failed.
type badFlush struct {
	path  string
	late  bool // all had been answered by then
	again bool // the same was flushed once more, and that worked
}

// failedFlush finds the flush that failed in the trace.
func (t *try) failedFlush() (b badFlush) {
	raw, err := os.ReadFile(t.log)
	if err != nil {
		t.fail("%v", err)
	}
	for _, line := range strings.Split(joinResumed(string(raw)), "\n") {
		name, args, _, _, ok := splitCall(line)
		fd := descriptor.FindStringSubmatch(args)
		switch {
		case fd == nil:
		case strings.Contains(line, "(INJECTED)"):
			b = badFlush{path: fd[2], late: slices.Contains(overHTTP, t.f.operation) || t.f.operation == "update"}
		case name == "write" && strings.Contains(args, `"HTTP/1.1 `):
			b.late = false
		case strings.HasSuffix(name, "sync") && fd[2] == b.path && ok:
			b.again = true
		}
	}
	return b
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
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, t.p.URL()+"/api/v1/bows/"+w.bow, nil)
	if err != nil {
		t.fail("%v", err)
		return
	}
	if w.Cookie != "" {
		r.Header.Set("Cookie", w.Cookie)
	}
	answer, err := w.HTTP.Do(r)
	if err != nil {
		t.fail("reading stopped after a failed flush: %v", err)
		return
	}
	defer answer.Body.Close()
	if text, err := io.ReadAll(answer.Body); err != nil || answer.StatusCode != http.StatusOK {
		t.fail("reading stopped after a failed flush: %d %s", answer.StatusCode, text)
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
	if len(c.Partial) > 0 && t.f.operation != "upload part" && t.f.kind != "signal=SIGKILL" && !strings.HasPrefix(t.f.call, "unlink") {
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
