//go:build unix

package drill

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"tautline/notebook"
)

// Files and texts made to break their reader are sent four at a time while a
// normal client records (T19–T21, F5): no crash, nothing hangs, each refusal
// names what was wrong, the memory comes back, nothing is left behind, and the
// normal client is always answered. The first rounds are a fixed corpus, the
// others good recordings with random damage.
var hostileFiles = Drill{Name: "D8", Title: "hostile files", Short: 450, Long: 10_000, Run: runHostile}

// Bounds on what a hostile file may cost.
const (
	mostAnswer = 15 * time.Second // for one answer, and until all is at rest again
	mostPeak   = 256 << 20        // bytes of memory more, at any moment (T19)
	mostLeft   = 50 << 20         // bytes more when at rest again
)

// hostile is one request with something bad in it.
type hostile struct {
	name         string
	method, path string
	kind         string // media type
	body         []byte
	says         string // what the refusal must name; "" may also be accepted
	sound        bool   // upload the body as a recording, and listen to it
}

type hostileRun struct {
	r    *Run
	p    *Program
	http *http.Client
	w    *Writer
}

func runHostile(ctx context.Context, r *Run) error {
	h := &hostileRun{r: r, p: r.Program(r.Disk()), http: &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 8}, Timeout: 2 * mostAnswer}}
	temp := r.Folder()
	h.p.Env = []string{"TMPDIR=" + temp}
	if err := h.p.Start(ctx); err != nil {
		return err
	}
	defer h.p.Kill()
	h.w = NewWriter(h.p, NewLedger(), r.Random())
	corpus, err := h.corpus(ctx)
	if err != nil {
		return err
	}
	before, err := h.warm(ctx)
	if err != nil {
		return err
	}
	stop := h.normal(ctx)
	h.post(ctx, corpus)
	h.archives(ctx)
	stop()
	h.atRest(ctx, before, temp)
	if err := h.p.Stop(); err != nil {
		r.Failf("%v", err)
	}
	c, err := ReadFolder(ctx, h.p.Data)
	if err != nil {
		return err
	}
	r.Fail("afterwards", c.Problems)
	if len(c.Partial) > 0 {
		r.Failf("parts of uploads were left: %v", c.Partial)
	}
	for key := range h.w.Ledger.Acked() {
		if _, there := c.Rows[key]; !there && c.Files[key] != key {
			r.Failf("the normal client's %s is lost", key)
		}
	}
	return nil
}

// warm uses the program as usual, so that what it keeps is there before its
// memory is looked at.
func (h *hostileRun) warm(ctx context.Context) (bytes int64, err error) {
	for range 40 {
		if err := h.w.Write(ctx); err != nil {
			return 0, err
		}
	}
	for range 4 {
		h.one(ctx, hostile{name: "a good recording", sound: true, body: Noise(h.r.Random(), 48000)})
	}
	return memory(h.p.PID(), "VmRSS"), nil
}

// normal records as usual meanwhile; every answer must come and be right.
func (h *hostileRun) normal(ctx context.Context) (stop func()) {
	done, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		n, slowest := 0, time.Duration(0)
		defer func() {
			h.r.Logf("meanwhile a normal client made %d writes, the slowest took %v", n, slowest.Round(time.Millisecond))
			if n < 5 || slowest > mostAnswer {
				h.r.Failf("the normal client was kept from recording")
			}
		}()
		for {
			select {
			case <-done:
				return
			case <-time.After(20 * time.Millisecond):
			}
			begun := time.Now()
			if err := h.w.Write(ctx); err != nil {
				h.r.Failf("the normal client: %v", err)
				return
			}
			n, slowest = n+1, max(slowest, time.Since(begun))
		}
	}()
	return func() { close(done); <-ended }
}

// post sends the corpus and then damaged files, four at a time.
func (h *hostileRun) post(ctx context.Context, corpus []hostile) {
	work := make(chan hostile)
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			for one := range work {
				begun := time.Now()
				h.one(ctx, one)
				if took := time.Since(begun); took > mostAnswer {
					h.r.Failf("%s: the answers took %v", one.name, took)
				}
				h.r.Counted()
			}
		})
	}
	dice, good := h.r.Random(), goodSounds(ctx)
	for i := 0; i < max(h.r.N, len(corpus)) && ctx.Err() == nil; i++ {
		if i < len(corpus) {
			work <- corpus[i]
		} else {
			work <- damaged(dice, good)
		}
	}
	close(work)
	group.Wait()
}

// one sends one hostile thing.
func (h *hostileRun) one(ctx context.Context, x hostile) {
	if !x.sound {
		h.ask(ctx, x)
		return
	}
	record := "/api/v1/recordings/" + string(notebook.NewID())
	h.ask(ctx, hostile{name: x.name, method: "PUT", path: record + "/sound", kind: "audio/wav", body: x.body})
	if len(x.body) == 0 {
		return
	}
	h.ask(ctx, hostile{name: x.name, method: "PUT", path: record, kind: "application/json", body: compact(obj{"hash": Hash(x.body), "name": x.name})})
	h.ask(ctx, hostile{name: x.name, method: "GET", path: record + "/listening", says: x.says})
	h.ask(ctx, hostile{name: x.name, method: "GET", path: record + "/waveform", says: x.says})
}

// ask sends one request: a fault of the server's is a failure, a refusal must
// be a problem, and where one is expected it must come and name what is wrong.
func (h *hostileRun) ask(ctx context.Context, x hostile) {
	r, err := http.NewRequestWithContext(ctx, x.method, h.p.URL(), bytes.NewReader(x.body))
	if err != nil {
		h.r.Failf("%s: %v", x.name, err)
		return
	}
	path, query, _ := strings.Cut(x.path, "?")
	r.URL.Opaque = "//" + h.p.Listen + path // as spelled, with nothing cleaned
	r.URL.RawQuery = query
	if x.kind != "" {
		r.Header.Set("Content-Type", x.kind)
	}
	answer, err := h.http.Do(r)
	if err != nil {
		h.r.Failf("%s: no answer: %v", x.name, err)
		return
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		h.r.Failf("%s: half an answer: %v", x.name, err)
	}
	h.judge(x, answer, text)
}

// secret is text that only a file outside the notebook holds.
var secret = regexp.MustCompile(`root:.*:0:0:|goroutine \d|SQLite format|runtime error`)

func (h *hostileRun) judge(x hostile, answer *http.Response, text []byte) {
	what := fmt.Sprintf("%s: %s %.120q", x.name, x.method, x.path)
	var p struct{ Code, Detail string }
	problem := answer.Header.Get("Content-Type") == "application/problem+json" && json.Unmarshal(text, &p) == nil && p.Code != "" && p.Detail != ""
	switch {
	case secret.Match(text):
		h.r.Failf("%s: the answer gives away %.200s", what, text)
	case answer.StatusCode == http.StatusBadRequest && bytes.HasPrefix(text, []byte("400 Bad Request")) && answer.Close:
		// no HTTP at all: Go's own server hangs up
	case answer.StatusCode >= 500:
		h.r.Failf("%s: %d %.300s", what, answer.StatusCode, text)
	case answer.StatusCode >= 400 && !problem:
		h.r.Failf("%s: %d is no problem: %.300s", what, answer.StatusCode, text)
	case x.says == "":
	case answer.StatusCode < 300:
		h.r.Failf("%s: accepted: %.200s", what, text)
	case answer.StatusCode < 400: // sent on to a clean address
	case !regexp.MustCompile("(?i)" + x.says).Match(text):
		h.r.Failf("%s: %d does not name %q: %.300s", what, answer.StatusCode, x.says, text)
	}
}

// atRest demands that nothing works on, the memory is back, and no file is
// left in the temporary folder.
func (h *hostileRun) atRest(ctx context.Context, before int64, temp string) {
	peak := memory(h.p.PID(), "VmHWM")
	busy, left := 1.0, int64(0)
	for deadline := time.Now().Add(mostAnswer); time.Now().Before(deadline); {
		was := cpuTime(h.p.PID())
		time.Sleep(time.Second)
		busy, left = (cpuTime(h.p.PID()) - was).Seconds(), memory(h.p.PID(), "VmRSS")
		if busy < 0.2 && left < before+mostLeft {
			break
		}
	}
	h.r.Logf("memory: %d MiB before, %d at most, %d at rest; %.0f %% of a processor at rest", before>>20, peak>>20, left>>20, 100*busy)
	if busy >= 0.2 {
		h.r.Failf("something still works after %v", mostAnswer)
	}
	if peak > before+mostPeak {
		h.r.Failf("memory rose from %d to %d MiB", before>>20, peak>>20)
	}
	if left > before+mostLeft {
		h.r.Failf("memory stays at %d MiB, it was %d", left>>20, before>>20)
	}
	if files, err := os.ReadDir(temp); err != nil || len(files) > 0 {
		h.r.Failf("the temporary folder holds %v, %v", files, err)
	}
	var health struct{ Panics, Failures int }
	answer, err := h.http.Get(h.p.URL() + "/api/v1/health")
	if err == nil {
		err = json.NewDecoder(answer.Body).Decode(&health)
		answer.Body.Close()
	}
	if err != nil || health.Panics > 0 || health.Failures > 0 {
		h.r.Failf("%d panics, %d faults were counted; %v: %s", health.Panics, health.Failures, err, h.p.Said())
	}
	h.one(ctx, hostile{name: "a good recording afterwards", sound: true, body: Noise(h.r.Random(), 24000)})
}

// archives are hostile exports, for the command that reads them.
func (h *hostileRun) archives(ctx context.Context) {
	for name, x := range hostileArchives() {
		dir := h.r.Folder()
		path := filepath.Join(dir, "bows.zip")
		if err := os.WriteFile(path, x.body, 0o600); err != nil {
			h.r.Failf("%v", err)
			return
		}
		p := h.r.Program(filepath.Join(dir, "notebook"))
		begun := time.Now()
		out, err := p.Run(ctx, "import", path)
		h.r.Counted()
		switch {
		case err == nil:
			h.r.Failf("the archive with %s was imported: %s", name, out)
		case strings.Contains(out, "goroutine ") || time.Since(begun) > mostAnswer:
			h.r.Failf("the archive with %s: after %v %.1000s", name, time.Since(begun), out)
		case !regexp.MustCompile("(?i)" + x.says).MatchString(out):
			h.r.Failf("the archive with %s: it does not name %q: %s", name, x.says, out)
		}
		if entries, err := os.ReadDir(dir); err != nil || len(entries) != 2 {
			h.r.Failf("the archive with %s left %v, %v", name, entries, err)
		}
		if c, err := ReadFolder(ctx, p.Data); err != nil || len(c.Rows)+len(c.Files)+len(c.Partial) > 0 {
			h.r.Failf("the archive with %s left something in the notebook: %v, %v", name, c, err)
		}
	}
}

// memory reads one of a process's figures, in bytes.
func memory(pid int, name string) int64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(text), name+":")
	fields := strings.Fields(rest)
	if len(fields) == 0 {
		return 0
	}
	kb, err := strconv.ParseInt(fields[0], 10, 64)
	if err != nil {
		return 0
	}
	return kb << 10
}

// cpuTime is how long a process has computed (proc_pid_stat(5): fields 14 and
// 15, in hundredths of a second).
func cpuTime(pid int) time.Duration {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0
	}
	fields := strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))
	sum := time.Duration(0)
	for _, f := range fields[11:13] {
		ticks, err := strconv.Atoi(f)
		if err != nil {
			return 0
		}
		sum += time.Duration(ticks) * 10 * time.Millisecond
	}
	return sum
}

// damaged is a good recording with random damage.
func damaged(dice *rand.Rand, good [][]byte) hostile {
	b := bytes.Clone(good[dice.IntN(len(good))])
	for range 1 + dice.IntN(8) {
		at := dice.IntN(len(b))
		switch dice.IntN(5) {
		case 0:
			b = b[:max(1, at)]
		case 1:
			b[at] ^= 1 << dice.IntN(8)
		case 2:
			b[at] = []byte{0, 0xff, 0x7f, 0x80}[dice.IntN(4)]
		case 3:
			to := at + dice.IntN(min(64, len(b)-at))
			b = append(b[:to:to], b[at:]...)
		case 4:
			from := dice.IntN(len(b))
			copy(b[at:], b[from:min(len(b), from+dice.IntN(64))])
		}
	}
	return hostile{name: "a damaged recording", sound: true, body: b}
}

// goodSounds are the coded recordings of the sound package's tests.
func goodSounds(ctx context.Context) (out [][]byte) {
	out = append(out, Noise(rand.New(rand.NewPCG(1, 1)), 4800))
	root, err := Root(ctx)
	if err != nil {
		return out
	}
	names, _ := filepath.Glob(filepath.Join(root, "sound", "testdata", "coded", "*.*")) // the pattern is right
	for _, name := range names {
		if b, err := os.ReadFile(name); err == nil && filepath.Ext(name) != ".md" {
			out = append(out, b)
		}
	}
	return out
}
