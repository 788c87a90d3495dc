package e2e

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// undone presses the undo at the foot of the page while its time runs, and
// waits for what it says then.
func (b *browser) undone(says string) {
	b.t.Helper()
	b.do("the time that is left is shown", waitFor(`/^\d+ s$/.test(document.querySelector(".undo .left")?.innerText ?? "")`))
	b.do("undo", chromedp.Click(chromedp.CSS(".undo button"), chromedp.NodeVisible))
	b.see(says)
}

// bringsBack presses "Bring it back" of one thing on the page of what was taken
// back.
func (b *browser) bringsBack(what string) {
	b.t.Helper()
	b.do("bring back "+what, chromedp.Click(chromedp.CSS(fmt.Sprintf("[aria-label=%q]", "Bring it back: "+what)), chromedp.NodeVisible))
}

// TestUndo undoes what a hasty finger does, each within its ten seconds: a
// table brought in, the end of a session without a network, a trial given up.
// What is not undone in time is brought back from the page of what was taken
// back (../shared/design/bars.md section 4, item 1).
func TestUndo(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t)
	w := openWire(t, n.addr)
	n.putBow()
	b.size(390, 844)
	broughtIn(n, b, w)
	endsSession(n, b, w)
	leavesTrial(n, b, w)
	b.fault()
}

// broughtIn: a table undone leaves none of its rows in sight, and comes back
// whole.
func broughtIn(n *notebook, b *browser, w *wire) {
	b.t.Helper()
	b.open(w.url("/bows/" + plotBow + "/ends"))
	b.see("Bring a table in")
	b.do("a table", waitFor(`(() => { const t = document.querySelector("#table-text"); t.value = "end,arrow,x_cm,y_cm\n1,1,3,-1\n2,1,4,2\n3,1,5,6\n"; t.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`))
	b.tap("Read it")
	b.tap("Keep all 3 arrows")
	b.see("3 ends brought in.")
	b.shot("undo-bar")
	b.accessible("an undo")
	b.fits("an undo")
	b.undone("The whole table is taken back.")
	if got := len(n.ends("bow=" + plotBow)); got != 0 {
		b.t.Errorf("%d rows of a table that was undone are in sight", got)
	}
	b.open(w.url("/bows/" + plotBow + "/taken-back"))
	b.see("3 ends")
	b.see("the whole table taken back")
	b.tap("What they are")
	b.see("End 2, 1 arrow")
	b.shot("taken-back")
	b.accessible("what was taken back")
	b.fits("what was taken back")
	themes(b, "what was taken back")
	b.size(390, 844)
	b.bringsBack("3 ends")
	b.see("3 ends are back.")
	b.see("Nothing is taken back here.")
	if got := len(n.ends("bow=" + plotBow)); got != 3 {
		b.t.Errorf("%d rows of a table that was brought back are in sight, wanted 3", got)
	}
	b.undone("Taken back again.")
	b.see("the whole table taken back")
	b.bringsBack("3 ends")
	b.see("3 ends are back.")
}

// endsSession ends a session without a network, undoes it, and ends it again:
// the ends before and after lie in two sessions.
func endsSession(n *notebook, b *browser, w *wire) {
	b.t.Helper()
	b.open(w.url("/bows/" + plotBow + "/plot"))
	b.do("the pages are kept on the device", waitFor("navigator.serviceWorker.controller && document.documentElement.dataset.kept"))
	b.tap("Rings only")
	ring := func(numbers ...string) {
		for _, r := range numbers {
			b.do("ring "+r, chromedp.Click(chromedp.CSS(fmt.Sprintf(`[aria-label="Ring of the next arrow"] [aria-label=%q]`, r)), chromedp.NodeVisible))
		}
		b.tap("End done")
	}
	w.set(cut)
	ring("9")
	b.do("one end", waitFor(`document.querySelectorAll(".end-line").length === 1`))
	b.tap("End the session")
	b.see("the next end begins a new one")
	b.do("its ends are out of the way", waitFor(`document.querySelectorAll(".end-line").length === 0`))
	b.undone("The session goes on.")
	b.do("its end is there again", waitFor(`document.querySelectorAll(".end-line").length === 1`))
	ring("8")
	b.do("two ends", waitFor(`document.querySelectorAll(".end-line").length === 2`))
	b.tap("End the session")
	ring("7")
	b.do("a new session", waitFor(`document.querySelectorAll(".end-line").length === 1 && !document.body.innerText.includes("the next end begins a new one")`))
	b.do("nothing is left to undo", waitFor(`!document.querySelector(".undo")`))
	b.shot("new-session")
	b.tapNamed("Take back end 1")
	b.see("is taken back")
	b.do("onto the disk", onDisk())
	b.tap("Taken back")
	b.see("End 1: 1 arrow")
	b.shot("taken-back-offline")
	b.do("bring it back", chromedp.Click(chromedp.CSS(".taken-back button"), chromedp.NodeVisible))
	b.see("This device knows of nothing")
	w.set(whole)
	b.do("open it again", chromedp.Reload())
	b.do("the device has what it kept", waitFor(`document.querySelector("a.copy") && !document.querySelector("a.copy").innerText.includes("nothing is kept here")`))
	b.sent()
	sessions := map[string]int{}
	for _, e := range n.ends("bow=" + plotBow) {
		sessions[e.End.Session]++
	}
	delete(sessions, "") // the table's
	if len(sessions) != 2 || sessionsOf(sessions) != "1 2" {
		b.shot("sessions")
		b.t.Errorf("the ends lie in the sessions %v of %d ends; wanted two in one and one in another", sessions, len(n.ends("bow="+plotBow)))
	}
}

func sessionsOf(count map[string]int) string {
	var out []string
	for k := range 4 {
		for _, c := range count {
			if c == k {
				out = append(out, fmt.Sprint(c))
			}
		}
	}
	return strings.Join(out, " ")
}

// leavesTrial gives a trial up and undoes it from the page that this leads to;
// then it is given up for good: the undo goes when its time is over.
func leavesTrial(n *notebook, b *browser, w *wire) {
	b.t.Helper()
	trial(n)
	state := func() string {
		var v struct {
			Brief struct{ State string } `json:"brief"`
		}
		n.get("/trials/"+slipTrial, &v)
		return v.Brief.State
	}
	for _, undo := range []bool{true, false} {
		b.open(w.url("/trials/" + slipTrial))
		b.tap("Give this trial up")
		b.see("The trial is given up.")
		b.at("/bows/(" + slipBow + ")")
		if got := state(); got != "abandoned" {
			b.t.Errorf("the trial is %q, wanted given up", got)
		}
		if !undo {
			b.do("its time is over", waitFor(`!document.querySelector(".undo")`))
			continue
		}
		b.do("Control and Z", chromedp.KeyEvent("z", chromedp.KeyModifiers(chromedp.ModifierCtrl)))
		b.see("The trial goes on.")
		if got := state(); got == "abandoned" {
			b.t.Error("the trial is still given up")
		}
	}
	b.open(w.url("/bows/" + slipBow + "/taken-back"))
	b.see("trial, brace height: given up")
}

// pasted is what a person would get by pasting.
func (b *browser) pasted() string {
	b.t.Helper()
	b.do("paste", waitFor(`(() => { const t = document.createElement("textarea"); t.id = "pasted"; document.body.append(t); t.focus(); return true; })()`),
		chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: input.DispatchKeyEventTypeRawKeyDown, Key: "v", Code: "KeyV", Commands: []string{"paste"}})
			return err
		}))
	b.do("something is pasted", waitFor(`document.querySelector("#pasted").value !== ""`))
	return evaluate[string](b, `(() => { const t = document.querySelector("#pasted"), text = t.value; t.remove(); return text; })()`)
}

// TestCopy copies the marks card and a trial's stops: what a person pastes is
// the table as it stands, a tab between cells, also where the browser offers no
// clipboard to pages.
func TestCopy(t *testing.T) {
	n, b := targetNotebook(t), openBrowser(t)
	b.size(390, 844)
	for k, mark := range [][2]string{{"18 m", "12.5 mm"}, {"30 m", "23.4 mm"}, {"50 m", "45.1 mm"}} {
		n.put(fmt.Sprintf("/readings/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c6f%02d", k), fmt.Sprintf(`{"bow": %q, "setup": %q, "kind": "sight_mark", "text": %q, "distance": %q}`, targetBow, targetSetUp, mark[1], mark[0]))
	}
	b.open(n.url("/bows/" + targetBow + "/marks"))
	b.see("From 3 marks")
	b.tapNamed("Copy the table: Sight marks for every distance")
	b.see("Copied")
	b.shot("copied")
	shown := evaluate[[]string](b, `[...document.querySelectorAll("[aria-label='Sight marks for every distance'] tr")].map((r) => [...r.cells].map((c) => c.innerText.replace(/\s+/g, " ").trim()).join("\t"))`)
	text := b.pasted()
	lines := strings.Split(text, "\n")
	if text != strings.Join(shown, "\n") || len(lines) < 4 || lines[0] != "distance\tmark\t90 % within\tfrom the air\tflight\tspeed there" {
		t.Errorf("pasted\n%s\nwanted\n%s", text, strings.Join(shown, "\n"))
	}
	for _, want := range []string{"30 m\t23.", "50 m\t45."} {
		if !strings.Contains(text, "\n"+want) {
			t.Errorf("no line %q in\n%s", want, text)
		}
	}

	const trial = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c6e01"
	n.put("/trials/"+trial, `{"setup": "`+targetSetUp+`", "ask": {"turns_per_step": 3}}`)
	n.put("/readings/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c6e02", `{"bow": "`+targetBow+`", "setup": "`+targetSetUp+`", "trial": "`+trial+`", "stop": 0, "kind": "brace_height", "text": "21.1 cm"}`)
	b.open(n.url("/trials/" + trial + "?view=stops"))
	b.do("a browser without a clipboard for pages", waitFor(`(Object.defineProperty(navigator, "clipboard", {value: undefined}), true)`))
	b.tapNamed("Copy the table: All stops")
	b.see("Copied")
	rows := strings.Split(b.pasted(), "\n")
	if cells := strings.Split(rows[1], "\t"); len(cells) != 8 || cells[0] != "1" || !strings.HasPrefix(cells[3], "21.1 cm") && !strings.HasPrefix(cells[3], "211 mm") {
		t.Errorf("the first stop is pasted as %q", rows[1])
	}
	b.fault()
}

// TestBackupInSight tells the age of the last proved backup on every page, and
// in words and red when it is three days (../shared/design/bars.md section 4,
// item 2, and T8).
func TestBackupInSight(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.putBow()
	b.size(390, 844)
	b.open(n.url("/"))
	b.do("how the backups stand is told", waitFor(`/^(first backup being made|backup (just now|\d+ minutes? ago))$/.test(document.querySelector(".copy .backup")?.innerText ?? "")`))
	b.do("a backup of this morning", backupHeard("fresh", 5.1))
	b.open(n.url("/bows/" + plotBow + "/plot"))
	b.do("its age is told", waitFor(`document.querySelector(".copy .backup")?.innerText === "backup 5 hours ago"`))
	b.shot("backup-fresh")
	b.do("a notebook whose backups stopped", backupHeard("old", 97))
	b.open(n.url("/bows/" + plotBow))
	b.do("it is told", waitFor(`document.querySelector(".copy .backup.down")?.innerText.includes("backup too old: 4 days")`))
	b.accessible("an old backup")
	for _, width := range []int64{320, 390, 1366} {
		b.size(width, 844)
		b.fits("an old backup")
		b.do("neither it nor the count of what waits is cut off", waitFor(`[...document.querySelectorAll(".copy .backup, .copy .num")].every((e) => e.getBoundingClientRect().right <= innerWidth && e.scrollWidth <= e.clientWidth + 1)`))
	}
	b.size(390, 844)
	b.shot("backup-old")
	b.do("what this device holds", chromedp.Click(chromedp.CSS("a.copy")))
	b.see("Last proved backup: 4 days ago.")
	b.see("tautline doctor")
	b.fault()
}

// backupHeard has every page from now on hear of such a backup.
func backupHeard(state string, hours float64) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: fmt.Sprintf(`{
			const real = window.fetch;
			window.fetch = (to, ...how) => (String(to).endsWith("/api/v1/health") ? Promise.resolve(new Response(JSON.stringify({status: "alive", version: "1", backup: {state: %q, last: "2026-05-04T03:00:12Z", hours: %g}}), {status: 200, headers: {"Content-Type": "application/json"}})) : real(to, ...how));
		}`, state, hours)})
		return err
	})
}
