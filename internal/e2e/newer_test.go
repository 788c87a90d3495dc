package e2e

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/chromedp"
)

var partName = regexp.MustCompile(`part-([A-Z0-9]+)\.js`)

// newer stands in front of a notebook as its next program would: the same
// pages in another bundle, every part under a new name, the old names gone.
// While lost, the line breaks at every part; asked counts those.
type newer struct {
	n    *notebook
	lost atomic.Bool
	cut  atomic.Bool
	asks atomic.Int64
}

func (w *newer) answer(res http.ResponseWriter, req *http.Request) bool {
	name := req.URL.Path
	old := partName.MatchString(name) && !strings.HasPrefix(name, "/part-Z")
	switch {
	case w.cut.Load(), w.lost.Load() && partName.MatchString(name):
		w.asks.Add(1)
		panic(http.ErrAbortHandler) // the line breaks
	case old:
		http.NotFound(res, req)
		return true
	case !strings.HasSuffix(name, ".js") && name != "/parts.json" || name == "/worker.js":
		return false
	}
	answer, err := http.Get(w.n.url(strings.Replace(name, "part-Z", "part-", 1)))
	if err != nil {
		w.n.t.Error(err)
		return false
	}
	defer answer.Body.Close() //nolint:errcheck // it was read to its end
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		w.n.t.Error(err)
	}
	body = partName.ReplaceAll(body, []byte("part-Z$1.js"))
	if name == "/app.js" {
		body = append(body, "\n;globalThis.bundle = 2;"...)
	}
	res.Header().Set("Content-Type", answer.Header.Get("Content-Type"))
	res.Header().Set("Cache-Control", "no-cache")
	_, _ = io.Copy(res, bytes.NewReader(body)) // whoever asked has gone, if not
	return true
}

// TestNewProgramHalfWay has a phone meet the notebook's next program and lose
// the network when it has the first page of it and none of its parts: without
// network the page opens as it was, with all of it; with the network back it
// opens as the new one, and without network again that one, pages never opened
// before included (bars.md, U9: survives a new service worker).
func TestNewProgramHalfWay(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	n.putBow()
	w, b := openBetween(t, n), openBrowser(t)
	b.size(390, 844)
	page := w.URL + "/bows/" + plotBow
	b.open(page)
	b.do("the pages are on the device", waitFor("navigator.serviceWorker.controller"))
	next := &newer{n: n}
	next.lost.Store(true)
	w.set(next.answer)
	starts := func(what string, bundle string) {
		t.Helper()
		b.open(page)
		b.see("Kestrel 68")
		b.do(what, waitFor(`document.querySelector("main h1") && globalThis.bundle === `+bundle))
	}
	starts("the page opens while the new one is on its way", "undefined")
	if next.asks.Load() == 0 {
		t.Error("no part of the new program was asked for: nothing was tried")
	}
	next.cut.Store(true)
	starts("the page opens without network", "undefined")
	next.lost.Store(false)
	next.cut.Store(false)
	b.open(page)
	b.do("the new program is on the device", waitFor(`(async () => { const held = await caches.open("pages"); return (await (await held.match("/app.js")).text()).includes("bundle = 2"); })().then((is) => { globalThis.taken ||= is; }) && globalThis.taken`))
	starts("the new program opens", "2")
	next.cut.Store(true)
	starts("the new program opens without network", "2")
	b.open(w.URL + "/bows/" + plotBow + "/sound") // a part of its own, never opened before
	b.do("a page of the new program that was never opened", waitFor(`document.querySelector("main h1, main .note")`))
	if stale, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.querySelector("main").innerText`)); err != nil || strings.Contains(stale, "could not be loaded") {
		t.Errorf("the page says %q, %v", stale, err)
	}
}

// TestOlderProgram opens the pages on a device that an older program wrote to:
// the outbox and the drafts it kept in localStorage are taken over and sent,
// what was refused then is shown, and what another version of the notebook
// refused is tried once more.
func TestOlderProgram(t *testing.T) {
	t.Parallel()
	const session, reading, later = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2d0001", "0198c2f4-7b1e-7c3a-9d52-3f6a1b2d0002", "0198c2f4-7b1e-7c3a-9d52-3f6a1b2d0003"
	n := openNotebook(t)
	n.putBow()
	b := openBrowser(t)
	b.size(390, 844)
	b.open(n.url("/icon.svg")) // of the same origin, and runs nothing
	of := func(id, note string) string {
		return fmt.Sprintf(`{path: "/api/v1/sessions/%s", body: {bow: %q, note: %q}`, id, plotBow, note)
	}
	b.do("what an older program left", waitFor(`(localStorage.setItem("outbox", JSON.stringify([`+of(session, "waits")+`}])),
		localStorage.setItem("refused", JSON.stringify([`+of(reading, "refused")+`, why: "No such bow."}])), true)`))
	b.open(n.url("/unsent"))
	b.see("No such bow.")
	b.do("what waited is sent", waitFor(`document.querySelector("[data-unsent]").dataset.unsent === "0" && localStorage.getItem("outbox") === null && localStorage.getItem("refused") === null`), onDisk())
	b.do("what another version refused", waitFor(`(globalThis.put ??= (() => { const ask = indexedDB.open("tautline-kept"); ask.onsuccess = () => {
		const t = ask.result.transaction("values", "readwrite");
		t.objectStore("values").put(`+of(later, "another version")+`, why: "Unknown.", at: "2026-01-01T00:00:00Z", program: "0.0.0"}, "refused:0000000009:00000000");
		t.oncomplete = () => { globalThis.done = true; };
	}; return true; })()) && globalThis.done`))
	b.open(n.url("/unsent"))
	b.see("No such bow.") // without a version it waits for a hand
	b.do("tried once more", waitFor(`!document.body.innerText.includes("Unknown.") && document.querySelector("[data-unsent]").dataset.unsent === "0"`), onDisk())
	var list rows[struct{ Note string }]
	n.get("/sessions", &list)
	if len(list.Rows) != 2 || list.Rows[0].Note != "waits" || list.Rows[1].Note != "another version" {
		t.Errorf("the notebook holds %+v", list.Rows)
	}
}
