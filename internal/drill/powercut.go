//go:build unix

package drill

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"

	"tautline/internal/store"
)

// The power goes at a random moment (F1, T1, T7). The program runs under
// strace, which writes down every call that changes a file and every answer
// that leaves; the disk is then built anew as a cut after any of these calls
// may leave it. What was acknowledged by then is there, nothing is there by
// half, the database is whole, every record of a recording has its bytes.
//
// Two controls show that the rig can see: the same program built with
// SQLite's synchronous=NORMAL, and built without the flushes of recordings,
// must each lose something acknowledged.
var powerCut = Drill{Name: "D1", Title: "power cut", Short: 250, Long: 12_000, Run: runPowerCut}

// tracedWrites is how many writes each of the two traced sessions makes, and
// a control's: 400 together at full length, fewer in a short run.
func (r *Run) tracedWrites() int { return min(200, 30+r.N/20) }

func runPowerCut(ctx context.Context, r *Run) error {
	var a archive
	if err := a.make(ctx, r, 60, 1000); err != nil {
		return err
	}
	s, err := record(ctx, r, r.bin, a)
	if err != nil {
		return err
	}
	lost, err := s.cuts(ctx, r, r.N, true)
	if err != nil {
		return err
	}
	r.Logf("%d cuts over %d calls and %d answers: acknowledged writes lost at %d", r.N, len(s.events), s.answers, lost)
	err = nil
	for _, c := range careless {
		if c.long && r.N < 1000 { // each is a traced life more
			continue
		}
		err = errors.Join(err, control(ctx, r, a, c.planted))
	}
	return err
}

// planted is a fault in one file of the store, which a drill must find: texts
// and what stands in their place. A test looks that the texts are there.
type planted struct {
	name, file string
	changes    []string
}

// flushOfPart flushes a part of an upload.
const flushOfPart = "errors.Join(f.Sync(), f.Close())"

// careless are programs that do not wait for the disk.
var careless = []struct {
	planted
	long bool // only in long runs
}{
	{planted{"synchronous=NORMAL", "sqlite.go", []string{"synchronous(FULL)", "synchronous(NORMAL)", "const full = 2", "const full = 1"}}, false},
	{planted{"recordings without flushes", "blobs.go", []string{"tmp.Sync()", "error(nil)", "syncFolder(b.files, \".\")", "error(nil)"}}, false},
	{planted{"uploads in parts without flushes", "uploads.go", []string{flushOfPart, "f.Close()"}}, true},
}

// control demands that a program that does not wait for the disk is caught.
func control(ctx context.Context, r *Run, a archive, c planted) error {
	bin, err := rebuilt(ctx, r, c.file, c.changes...)
	if err != nil {
		return err
	}
	s, err := record(ctx, r, bin, a)
	if err != nil {
		return err
	}
	n := max(60, r.N/20)
	lost, err := s.cuts(ctx, r, n, false)
	r.Logf("control, %s: acknowledged writes lost at %d of %d cuts", c.name, lost, n)
	if lost < n/20 {
		r.Failf("the control %q lost acknowledged writes at %d of %d cuts only: the rig is blind", c.name, lost, n)
	}
	return err
}

// story is a traced life of a notebook.
type story struct {
	events  []event
	answers int
	ledger  *Ledger
	byMark  map[string]*Sent
	byPart  map[string]*Sent // uploads by the bytes of their first part, where no other has as many
	parts   map[string]*Sent // those whose first part was acknowledged by now
	group   []string         // what the import brings, all or nothing
	bin     string
}

// record lets the program import an archive, serve three clients, stop, serve
// them again and be killed, all under strace.
func record(ctx context.Context, r *Run, bin string, a archive) (*story, error) {
	s := &story{ledger: NewLedger(), byMark: map[string]*Sent{}, byPart: map[string]*Sent{}, bin: bin}
	p := r.Program(r.Folder())
	p.bin = bin
	logs := []string{filepath.Join(r.Folder(), "import"), filepath.Join(r.Folder(), "first"), filepath.Join(r.Folder(), "second")}
	var pids []int
	for i, log := range logs {
		pid, err := s.session(ctx, r, p, a, i, log)
		if err != nil {
			return nil, err
		}
		pids = append(pids, pid)
	}
	for i, log := range logs {
		lines, err := readTrace(log, pids[i])
		if err != nil {
			return nil, err
		}
		events, err := eventsOf(lines, p.Data)
		if err != nil {
			return nil, err
		}
		if i == 0 { // what the import printed came when all was stored
			events = append(slices.DeleteFunc(events, func(e event) bool { return e.op == "answer" }), event{op: "imported"})
		}
		s.events = append(s.events, events...)
	}
	s.index(a)
	if len(s.events) < 10*r.tracedWrites() {
		return nil, fmt.Errorf("only %d calls were traced", len(s.events))
	}
	return s, errors.Join(os.RemoveAll(p.Data), os.Remove(logs[1]), os.Remove(logs[2]))
}

// session is one traced process: the import, or a server with its clients.
func (s *story) session(ctx context.Context, r *Run, p *Program, a archive, number int, log string) (pid int, err error) {
	if p.Wrap, err = traceInto(log); err != nil {
		return 0, err
	}
	if number == 0 {
		c := p.Command(ctx, "import", a.path)
		if out, err := c.CombinedOutput(); err != nil {
			if strings.Contains(string(out), "ptrace") {
				return 0, Skipf("no tracing here: %s", out)
			}
			return 0, fmt.Errorf("import: %w: %s", err, out)
		}
		return c.Process.Pid, nil
	}
	if err := p.Start(ctx); err != nil {
		return 0, err
	}
	defer p.Kill()
	var group sync.WaitGroup
	for range 3 {
		w := NewWriter(p, s.ledger, r.Random())
		w.Sound = 1000
		group.Go(func() {
			for range r.tracedWrites() / 3 {
				if err := w.Write(ctx); err != nil {
					r.Failf("a traced write: %v", err)
					return
				}
			}
		})
	}
	group.Wait()
	if number == 1 {
		return p.PID(), p.Stop()
	}
	return p.PID(), nil
}

// index prepares to tell what an answer acknowledges.
func (s *story) index(a archive) {
	for _, w := range s.ledger.sent {
		for _, n := range w.Parts {
			if _, twice := s.byPart[fmt.Sprint(n)]; twice {
				w = nil
			}
			s.byPart[fmt.Sprint(n)] = w
		}
	}
	for key, w := range a.ledger.Acked() {
		s.group = append(s.group, key)
		mine := *w
		mine.Acked = false
		s.ledger.sent[key] = &mine
	}
	for _, w := range s.ledger.sent {
		if w.Mark != "" {
			s.byMark[w.Mark] = w
		}
	}
}

var (
	markIn = regexp.MustCompile(`writer \d+, write \d+\.`)
	hashIn = regexp.MustCompile(`"hash":"([0-9a-f]{64})"`)
	partIn = regexp.MustCompile(`\{"bytes":(\d+)\}`)
)

// acknowledges lists what an answer of the server says is stored.
func (s *story) acknowledges(text []byte) (out []*Sent) {
	if !bytes.HasPrefix(text, []byte("HTTP/1.1 20")) {
		return nil
	}
	for _, m := range markIn.FindAll(text, -1) {
		if w := s.byMark[string(m)]; w != nil {
			out = append(out, w)
		}
	}
	if m := hashIn.FindSubmatch(text); m != nil {
		if w := s.ledger.sent[string(m[1])]; w != nil {
			out = append(out, w)
		}
	}
	return out
}

// cuts tries n power cuts, and gives at how many something acknowledged was
// lost. Anything else that is wrong is a failure of the run, and so is a loss
// unless it is a control's.
func (s *story) cuts(ctx context.Context, r *Run, n int, strict bool) (lost int, err error) {
	dice, d, acked := r.Random(), newDisk(), map[string]*Sent{}
	at := make([]int, n)
	for i := range at {
		at[i] = dice.IntN(len(s.events)) + 1
	}
	slices.Sort(at)
	done, answers := 0, map[string][]byte{}
	s.parts = map[string]*Sent{}
	for i, k := range at {
		for ; done < k; done++ {
			d.does(s.events[done])
			s.heard(s.events[done], answers, acked)
		}
		if ctx.Err() != nil {
			return lost, ctx.Err()
		}
		bad := s.afterCut(ctx, r, d, acked, dice, strict && i%200 == 100)
		if strict {
			r.Counted()
			r.Fail(fmt.Sprintf("cut after call %d of %d", k, len(s.events)), bad)
		}
		if slices.ContainsFunc(bad, func(b string) bool {
			return strings.HasPrefix(b, "acknowledged") || strings.Contains(b, "no sound file")
		}) {
			lost++
		}
	}
	if strict && len(acked) < r.tracedWrites() {
		r.Failf("only %d acknowledgements were found in the trace", len(acked))
	}
	if strict && len(s.parts) == 0 && (len(s.byPart) > 0 || r.N >= 1000) { // few writes may be without one
		r.Failf("no acknowledged part of an upload was found in the trace")
	}
	return lost, nil
}

// heard takes in an answer, or a part of one.
func (s *story) heard(e event, answers map[string][]byte, acked map[string]*Sent) {
	switch e.op {
	case "imported":
		for _, key := range s.group {
			acked[key] = s.ledger.sent[key]
		}
	case "answer":
		if bytes.HasPrefix(e.data, []byte("HTTP/1.1 ")) {
			answers[e.answer] = nil
			s.answers++
		}
		answers[e.answer] = append(answers[e.answer], e.data...)
		for _, w := range s.acknowledges(answers[e.answer]) {
			acked[w.key()] = w
		}
		if m := partIn.FindSubmatch(answers[e.answer]); m != nil && s.byPart[string(m[1])] != nil {
			s.parts[string(m[1])] = s.byPart[string(m[1])]
		}
	}
}

// afterCut builds the folder as a cut may leave it, opens it as the program
// does, and looks at it.
func (s *story) afterCut(ctx context.Context, r *Run, d *disk, acked map[string]*Sent, dice *rand.Rand, whole bool) (bad []string) {
	dir := r.Folder()
	defer os.RemoveAll(dir)
	how, strictNames := cut(dice.IntN(4)), dice.IntN(2) == 0
	defer func() {
		for i := range bad {
			bad[i] += fmt.Sprintf(" (of later writes: %d, names only when synced: %v)", how, strictNames)
		}
	}()
	if err := d.after(dir, how, strictNames, dice); err != nil {
		return []string{err.Error()}
	}
	if whole { // now and then by the whole program
		p := r.Program(dir)
		p.bin = s.bin
		err := p.Start(ctx)
		p.Kill()
		if err != nil {
			return []string{err.Error()}
		}
	}
	book, err := store.Open(ctx, dir, store.Options{})
	if err == nil {
		err = book.Close()
	}
	if err != nil {
		return []string{"it does not open: " + err.Error()}
	}
	c, err := read(ctx, filepath.Join(dir, "notebook.db"), "rw", dir)
	if err != nil {
		return []string{err.Error()}
	}
	return slices.Concat(s.ledger.CheckAcked(c, acked), s.torn(c), s.partsIn(dir, c))
}

// partsIn demands that the part of an upload that was acknowledged is there, or
// the whole.
func (s *story) partsIn(dir string, c *Contents) (bad []string) {
	for _, w := range s.parts {
		part := w.Body[:w.Parts[0]]
		found, err := filepath.Glob(filepath.Join(dir, "recordings", "incoming-"+strings.Split(w.Path, "/")[4]+"-*"))
		there := c.Files[w.Hash] == w.Hash
		for _, f := range found {
			held, unread := os.ReadFile(f)
			there, err = there || bytes.HasPrefix(held, part), errors.Join(err, unread)
		}
		if !there || err != nil {
			bad = append(bad, fmt.Sprintf("acknowledged %d bytes of an upload are lost: %v", len(part), err))
		}
	}
	return bad
}

// torn demands that the import is there whole, or not at all.
func (s *story) torn(c *Contents) []string {
	records, there := 0, 0
	for _, key := range s.group {
		if s.ledger.sent[key].Hash != "" {
			continue // bytes come before the records
		}
		records++
		if _, ok := c.Rows[key]; ok {
			there++
		}
	}
	if there != 0 && there != records {
		return []string{fmt.Sprintf("an import is there by half: %d of %d records", there, records)}
	}
	return nil
}
