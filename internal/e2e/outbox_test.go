package e2e

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/evanw/esbuild/pkg/api"
)

// outboxScript is the outbox of the pages with a door for this test.
func outboxScript(t testing.TB, plugins ...api.Plugin) string {
	t.Helper()
	built := api.Build(api.BuildOptions{EntryPoints: []string{filepath.Join(root, "web/src/lib/outboxcheck.ts")}, Bundle: true, Format: api.FormatIIFE, Target: api.ES2022, Plugins: plugins})
	if len(built.Errors) > 0 {
		t.Fatal(built.Errors[0].Text)
	}
	return string(built.OutputFiles[0].Contents)
}

// evenings drives many sessions through the outbox alone.
type evenings struct {
	t      testing.TB
	n      *notebook
	w      *wire
	p      *phone
	rng    *rand.Rand
	script string
	mu     sync.Mutex
	acked  map[string]bool // what the device said it keeps
	ends   []int           // by session
	did    map[string]int
}

// TestOutboxSessions puts seeded sessions through the pages' own outbox in a
// real browser, without their forms: the network is cut, loses answers and
// comes back, the browser is killed with SIGKILL in the middle of several
// sessions at once, the program is killed and started again. Whoever finds an end
// not noted notes it anew. Then the database is read: everything that the
// device said it keeps is there, and nothing twice. OFFLINE_SESSIONS=1000 is the
// whole count; TestOfflineSessions does the same, slower, on the real pages.
func TestOutboxSessions(t *testing.T) {
	t.Parallel()
	outboxSessions(t, long(t, 30), offlineSeed(t), outboxScript(t))
}

func outboxSessions(t testing.TB, total int, seed uint64, script string) {
	t.Helper()
	n := openNotebook(t)
	n.putBow()
	e := &evenings{t: t, n: n, w: openWire(t, n.addr), rng: rand.New(rand.NewPCG(seed, 2)), script: script, acked: map[string]bool{}, did: map[string]int{}}
	e.p = openPhone(t)
	for range total {
		e.ends = append(e.ends, 1+e.rng.IntN(6))
	}
	e.attach()
	for from := 0; from < total; from += 10 {
		e.batch(from, min(from+10, total))
	}
	e.w.set(whole)
	e.attach()
	ctx, cancel := context.WithTimeout(e.p.b.ctx, 15*time.Minute) // thousands may wait, one after the other
	defer cancel()
	if err := chromedp.Do(ctx, waitFor("drill.flush() && drill.unsent() === 0")); err != nil {
		t.Fatal("everything is sent: ", err)
	}
	e.check()
}

// attach opens a page of the notebook and gives it the outbox; what is on the
// page itself sends nothing, since it is a file.
func (e *evenings) attach() {
	e.t.Helper()
	e.w.set(whole)
	b := e.p.b
	if err := chromedp.Listen(b.ctx, func(ev any) {
		if call, ok := ev.(*runtime.EventBindingCalled); ok {
			e.mu.Lock()
			defer e.mu.Unlock()
			e.acked[call.Payload] = true
		}
	}); err != nil {
		e.t.Fatal(err)
	}
	b.do("a page without forms", chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, runtime.AddBinding, runtime.AddBindingParams{Name: "acked"})
		return err
	}), chromedp.Navigate(e.w.url("/icon.svg")))
	if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](e.script+"; drill.begun.then(() => true)", chromedp.EvalAwaitPromise)); err != nil {
		e.t.Fatal("the outbox: ", err)
	}
}

// batch runs some sessions side by side, over and over until all of them got
// through, while everything goes wrong.
func (e *evenings) batch(from, to int) {
	e.t.Helper()
	for kills := 0; ; kills++ {
		script := "Promise.all(["
		for k := from; k < to; k++ {
			script += fmt.Sprintf("drill.session(%q, %q, %q, %d, 30),", plotBow, plotSetUp2, fmt.Sprintf("session %d", k), e.ends[k])
		}
		done := make(chan error, 1)
		ctx := e.p.b.ctx
		go func() {
			_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script+"]).then(() => true)", chromedp.EvalAwaitPromise))
			done <- err
		}()
		if e.nemesis(done, kills < 2) {
			return
		}
		e.p.start()
		e.attach()
	}
}

// nemesis makes trouble until the sessions got through (true) or the browser
// was killed.
func (e *evenings) nemesis(done chan error, mayKill bool) bool {
	e.t.Helper()
	for {
		select {
		case err := <-done:
			if err != nil {
				e.t.Fatal("a session: ", err)
			}
			return true
		case <-time.After(time.Duration(5+e.rng.IntN(60)) * time.Millisecond):
		}
		switch e.rng.IntN(14) {
		case 0, 1, 2:
			e.did["network cut"]++
			e.w.set(cut)
		case 3, 4, 5:
			e.did["answers lost"]++
			e.w.set(mute)
		case 6, 7, 8, 9:
			e.did["network back"]++
			e.w.set(whole)
		case 10:
			if e.rng.IntN(8) == 0 {
				e.did["program killed"]++
				e.n.kill()
				e.n.start()
			}
		case 11:
			if !mayKill { // however slow the machine is, every session gets through
				continue
			}
			e.did["browser killed"]++
			e.p.kill()
			<-done
			return false
		}
	}
}

// check reads the database, with the program gone.
func (e *evenings) check() {
	e.t.Helper()
	db := e.n.database()
	got := map[string]int{}
	for _, table := range []string{"sessions", "ends"} {
		for _, note := range column(e.t, db, "SELECT json_extract(body, '$.note') FROM "+table) {
			got[note]++
		}
	}
	want, lost, double := 0, 0, 0
	for k, ends := range e.ends {
		for n := range ends + 1 {
			name := fmt.Sprintf("session %d", k)
			if n > 0 {
				name += fmt.Sprintf("/%d", n)
			}
			want++
			if got[name] == 0 {
				lost++
			}
			double += max(0, got[name]-1)
		}
	}
	for name := range e.acked {
		if got[name] == 0 {
			e.t.Errorf("%s was said to be kept, and is lost", name)
		}
	}
	if lost+double > 0 || len(got) != want {
		e.t.Errorf("%d lost, %d doubled of %d records; %d names in the database", lost, double, want, len(got))
	}
	e.t.Logf("%d sessions, %d records: %d lost, %d doubled; %v", len(e.ends), want, lost, double, e.did)
}

// TestHalfMinute cuts the network so that the browser notices nothing, and gives
// it back so: no event tells the page. What was not sent goes at the next beat of
// the half minute, and not before (bars.md, U9: never relies on Background Sync).
func TestHalfMinute(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	n.putBow()
	watched := "globalThis.beats = []; const clock = setInterval; globalThis.setInterval = (f, ms, ...more) => { beats.push({f, ms}); return clock(f, ms, ...more); };"
	e := &evenings{t: t, n: n, w: openWire(t, n.addr), script: watched + outboxScript(t), acked: map[string]bool{}, ends: []int{1}}
	e.p = openPhone(t)
	e.attach()
	b := e.p.b
	e.w.set(cut)
	b.do("a session without a network", waitForAnswer(fmt.Sprintf("drill.session(%q, %q, 'session 0', 1, 1).then(() => true)", plotBow, plotSetUp2)))
	e.w.set(whole)
	b.do("nothing tells the page", waitForAnswer("Promise.resolve(navigator.onLine && drill.unsent() > 0)"))
	b.do("a look every half minute", waitForAnswer("Promise.resolve(beats.some((b) => b.ms === 30_000))"))
	b.do("the half minute is over", waitFor("(beats.filter((b) => b.ms === 30_000).forEach((b) => b.f()), drill.unsent() === 0)"))
	e.check()
}
