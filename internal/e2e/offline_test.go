package e2e

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	_ "modernc.org/sqlite"
)

// hole is a place on the face in whole centimetres.
type hole struct{ Right, Up int }

// evening is many sessions of one phone at the range, with everything between
// them going wrong, and what has to be in the notebook at the end.
type evening struct {
	t     testing.TB
	n     *notebook
	w     *wire
	p     *phone
	rng   *rand.Rand
	bow   string
	open  []hole              // of the end on the page
	ends  map[string][][]hole // by bow, in order
	reads map[string]int      // by bow, kind and text
	did   map[string]int      // how often what went wrong
	calm  bool                // nothing goes wrong but the network, which the test sets
}

// sessionsABow keeps one page's list of ends as long as a real evening's.
const sessionsABow = 20

// TestOfflineSessions lets a phone go through seeded sessions at the range in
// a real browser: ends plotted, taken back, readings noted, while the network
// is cut or loses answers, the page is reloaded, the tab closed, the browser
// killed with SIGKILL, between two touches and in the middle of one, and the
// program killed and started again. At the end the database holds every arrow
// and every reading that the page had shown as kept, once
// (../shared/design/bars.md, U9). OFFLINE_SESSIONS=1000 is the whole count, and
// OFFLINE_SEED another evening.
func TestOfflineSessions(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	sessions := long(t, 8)
	e := &evening{t: t, n: n, w: openWire(t, n.addr), rng: rand.New(rand.NewPCG(offlineSeed(t), 1000)), ends: map[string][][]hole{}, reads: map[string]int{}, did: map[string]int{}}
	e.p = openPhone(t)
	for k := range sessions {
		if k%sessionsABow == 0 {
			e.newBow(k / sessionsABow)
		}
		if e.rng.IntN(10) < 3 {
			e.round(k)
		} else {
			e.plot()
		}
		if k%50 == 49 {
			t.Logf("%d sessions: %v", k+1, e.did)
		}
	}
	e.home()
	e.check(sessions)
	e.p.b.fault()
}

// offlineSeed is the evening's own chance.
func offlineSeed(t *testing.T) uint64 {
	t.Helper()
	text := os.Getenv("OFFLINE_SEED")
	if text == "" {
		return 1
	}
	seed, err := strconv.ParseUint(text, 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return seed
}

// newBow takes the phone to a bow it has not seen, with the network whole:
// what it needs is then on the device.
func (e *evening) newBow(k int) {
	e.t.Helper()
	if e.bow != "" {
		e.home() // what was noted for the bow before is in the notebook
		e.counts()
	}
	e.bow = fmt.Sprintf("0198c2f4-7b1e-7c3a-9d52-%012x", 0xb00000+k)
	setup := fmt.Sprintf("0198c2f4-7b1e-7c3a-9d52-%012x", 0x5e7000+k)
	e.n.put("/bows/"+e.bow, fmt.Sprintf(`{"name": "Kestrel %d", "style": "recurve"}`, k+1))
	e.n.put("/setups/"+setup, `{"bow": "`+e.bow+`", "reason": "first", "settings": {"limbs": {"bow_length": "68 in"}, "draw": {"length": "28.5 in", "weight": "38 lbf"}, "brace_height": {"value": "22 cm"}, "arrow": {"mass": "330 gr", "diameter": "5.5 mm"}}}`)
	e.open = nil
	e.p.b.open(e.w.url("/bows/" + e.bow + "/round"))
	e.p.must("see the round, and keep what was seen", `await wait("the form", () => document.querySelector("[name=tiller]"));
		const answer = (r) => new Promise((ok, no) => { r.onsuccess = () => ok(r.result); r.onerror = () => no(r.error); });
		for (let there = false; !there; await tick()) {
			const db = await answer(indexedDB.open("tautline-kept"));
			there = (await answer(db.transaction("seen").objectStore("seen").getAll())).some((row) => row.key.endsWith(" /bows") && JSON.stringify(row.value).includes("`+e.bow+`"));
			db.close();
		}`)
	e.p.b.open(e.w.url("/bows/" + e.bow + "/plot"))
	e.p.must("see the face", ready+`; await wait("the session", () => document.querySelector(".copy-row strong")); `+pagesHeld)
}

// plotURL is where the phone plots.
func (e *evening) plotURL() string { return e.w.url("/bows/" + e.bow + "/plot") }

// plot is a session of one or two ends.
func (e *evening) plot() {
	e.t.Helper()
	if e.p.b.path() != "/bows/"+e.bow+"/plot" {
		e.p.b.open(e.plotURL())
	}
	for range 1 + e.rng.IntN(2) {
		for range 2 + e.rng.IntN(3) {
			h := hole{e.rng.IntN(5), e.rng.IntN(5)}
			e.step(place(h.Right, h.Up), func() { e.open = append(e.open, h) })
		}
		e.step(endDone, func() { e.ends[e.bow], e.open = append(e.ends[e.bow], e.open), nil })
	}
	if list := e.ends[e.bow]; e.rng.IntN(6) == 0 && len(list) > 0 {
		at := fmt.Sprintf("Take back end %d", len(list))
		e.step(fmt.Sprintf(`%s; { const n = count(".end-line"); document.querySelector("[aria-label='%s']").click(); await wait("it is gone", () => count(".end-line") === n - 1); }`, ready, at),
			func() { e.ends[e.bow] = list[:len(list)-1] })
	}
}

// step does one thing on the page, with something going wrong before it or in
// the middle of it, and notes it once the page shows it.
func (e *evening) step(script string, happened func()) {
	e.t.Helper()
	e.trouble()
	if e.rng.IntN(12) > 0 {
		e.p.must("a step", script)
		happened()
		e.agrees("after a step")
		return
	}
	e.did["killed in the middle"]++
	before := seen{Open: len(e.open), Ends: len(e.ends[e.bow])}
	e.p.whileKilled(script, time.Duration(e.rng.IntN(60))*time.Millisecond, e.plotURL())
	after := e.p.must("open it again", ready+listed(before.Ends))
	if after.Open != before.Open || after.Ends != before.Ends {
		happened()
	} else { // it had not happened yet: whoever stands there does it again
		e.p.must("once more", script)
		happened()
	}
	e.agrees("after a kill")
}

// listed waits for the list of ends, which comes from the network or from
// what the device saw last.
func listed(ends int) string {
	return fmt.Sprintf(`; await wait("the ends", () => Math.abs(count(".end-line") - %d) <= 1)`, ends)
}

// agrees holds the page against what was done: no arrow and no end is missing,
// none is there twice.
func (e *evening) agrees(when string) {
	e.t.Helper()
	e.p.must(when, fmt.Sprintf(`%s; await wait("%d arrows and %d ends", () => state().Open === %d && state().Ends === %d)`, ready, len(e.open), len(e.ends[e.bow]), len(e.open), len(e.ends[e.bow])))
}

// trouble is what may go wrong between two touches.
func (e *evening) trouble() {
	e.t.Helper()
	if e.calm {
		return
	}
	what := ""
	switch e.rng.IntN(40) {
	case 0, 1, 2:
		what = "network cut"
		e.w.set(cut)
	case 3, 4:
		what = "answers lost"
		e.w.set(mute)
	case 5, 6, 7:
		what = "network back"
		e.w.set(whole)
	case 8, 9:
		what = "page reloaded"
		e.p.b.do("reload", chromedp.Reload())
	case 10:
		what = "tab closed"
		e.p.tab(e.plotURL())
	case 11, 12, 13:
		what = "browser killed"
		e.p.restart(e.plotURL())
	case 14:
		what = "program killed"
		e.n.kill()
		e.n.start()
	default:
		return
	}
	e.did[what]++
	e.agrees("after " + what)
}

// round notes the square's three readings, typed and saved.
func (e *evening) round(k int) {
	e.t.Helper()
	url := e.w.url("/bows/" + e.bow + "/round")
	e.trouble()
	e.p.b.open(url)
	texts := map[string]string{"brace_height": fmt.Sprintf("21%d.%04d mm", k%10, k), "nocking_point": fmt.Sprintf("%d.%04d mm", 5+k%7, k), "tiller": fmt.Sprintf("%d.%04d mm", k%6, k)}
	fill := `await wait("the form", () => document.querySelector("[name=tiller]"))`
	for kind, text := range texts {
		fill += fmt.Sprintf(`; type(%q, %q); await tick()`, kind, text)
	}
	save := `; document.querySelector("form button.main").click(); await wait("noted", () => location.pathname === "/round" || !document.querySelector("[name=tiller]")?.value)`
	e.p.must("type", fill)
	if e.rng.IntN(4) == 0 {
		e.did["killed while saving"]++
		e.p.whileKilled(save[2:], time.Duration(e.rng.IntN(60))*time.Millisecond, url)
		e.p.must("save again what is still in the form", `await wait("the form", () => document.querySelector("[name=tiller]")); await tick(); if (document.querySelector("[name=tiller]").value) { 0`+save+`; }`)
	} else {
		e.p.must("save", `0`+save)
	}
	for kind, text := range texts {
		e.reads[e.bow+" "+kind+" "+text]++
	}
	e.p.b.open(e.plotURL())
	e.p.must("back at the face", ready)
}

// home is where everything goes out: the network is whole and the page opened.
func (e *evening) home() {
	e.t.Helper()
	e.w.set(whole)
	e.p.b.open(e.plotURL())
	e.p.must("everything is sent", ready+`; await wait("nothing waits", () => state().Unsent === 0)`)
	if len(e.open) > 0 {
		e.p.must("the open end", endDone)
		e.ends[e.bow], e.open = append(e.ends[e.bow], e.open), nil
		e.p.must("it is sent", `await wait("nothing waits", () => state().Unsent === 0)`)
	}
}

// counts compares a bow's ends in the notebook with what was shown as kept.
func (e *evening) counts() {
	e.t.Helper()
	var got [][]hole
	list := e.n.ends("bow=" + e.bow)
	slices.SortStableFunc(list, func(a, b endRow) int { return a.End.Number - b.End.Number })
	for _, row := range list {
		var end []hole
		for _, i := range row.End.Impacts {
			end = append(end, hole{int(math.Round(100 * *i.X)), int(math.Round(100 * *i.Y))})
		}
		got = append(got, end)
	}
	if want := e.ends[e.bow]; !slices.EqualFunc(got, want, slices.Equal[[]hole]) {
		e.t.Errorf("%s: the notebook holds %d ends %v, shown as kept were %d: %v", e.bow, len(got), got, len(want), want)
	}
}

// check reads the database itself, with the program gone: nothing is missing
// and nothing is there twice.
func (e *evening) check(sessions int) {
	e.t.Helper()
	e.counts()
	db := e.n.database()
	got, lost, double := map[string]int{}, 0, 0
	for _, body := range column(e.t, db, "SELECT body FROM readings") {
		var r struct{ Bow, Kind, Text string }
		if err := json.Unmarshal([]byte(body), &r); err != nil {
			e.t.Fatal(err)
		}
		got[r.Bow+" "+r.Kind+" "+r.Text]++
	}
	for what, n := range e.reads {
		lost, double = lost+max(0, n-got[what]), double+max(0, got[what]-n)
	}
	ends, arrows := 0, 0
	for _, list := range e.ends {
		ends += len(list)
		for _, end := range list {
			arrows += len(end)
		}
	}
	stored := column(e.t, db, "SELECT id FROM ends e WHERE NOT EXISTS (SELECT 1 FROM retractions r WHERE json_extract(r.body, '$.target') = e.id)")
	lost, double = lost+max(0, ends-len(stored)), double+max(0, len(stored)-ends)
	if len(got) != len(e.reads) || lost+double > 0 {
		e.t.Errorf("%d lost, %d doubled; %d readings of %d stand in the database", lost, double, len(got), len(e.reads))
	}
	e.t.Logf("%d sessions: %d ends with %d arrows, %d readings: %d lost, %d doubled; %v", sessions, ends, arrows, len(e.reads), lost, double, e.did)
}

// database opens what the program has stored, with the program gone.
func (n *notebook) database() *sql.DB {
	n.t.Helper()
	n.kill()
	db, err := sql.Open("sqlite", filepath.Join(n.dir, "notebook.db"))
	if err != nil {
		n.t.Fatal(err)
	}
	n.t.Cleanup(func() {
		if err := db.Close(); err != nil {
			n.t.Error(err)
		}
	})
	return db
}

// column reads one column of text.
func column(t testing.TB, db *sql.DB, query string) (out []string) {
	t.Helper()
	found, err := db.QueryContext(t.Context(), query)
	if err != nil {
		t.Fatal(err)
	}
	defer found.Close() //nolint:errcheck // the rows were read to their end
	for found.Next() {
		var s string
		if err := found.Scan(&s); err != nil {
			t.Fatal(err)
		}
		out = append(out, s)
	}
	if err := found.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}
