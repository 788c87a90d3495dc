package e2e

import (
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestTurnedPhone turns the phone, and goes back and forth, in the middle of an
// end, of a round's readings and of a stop of a trial: what was plotted and typed
// is still there (bars.md, U13: no lost entry on back or rotate).
func TestTurnedPhone(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	n.putBow()
	trial(n)
	p := openPhone(t)
	b := p.b
	turned := func(what, kept string) {
		t.Helper()
		b.size(844, 390)
		b.do(what+", turned", calm(), waitFor(kept))
		b.fits(what + ", turned")
		b.size(390, 844)
		b.do(what+", turned again", calm(), waitFor(kept))
		here := b.path()
		b.do(what+", elsewhere", waitFor(`(document.querySelector('a[href="/"]').click(), true)`), waitFor(`location.pathname === "/"`), calm())
		b.do(what+", back", waitFor("(history.back(), true)"), waitFor("location.pathname === "+strconv.Quote(here)), calm(), waitFor(kept))
	}
	b.size(390, 844)
	b.open(n.url("/bows/" + plotBow + "/plot"))
	p.must("an arrow", place(2, 3))
	p.must("another", place(-4, 1))
	turned("half an end", `document.querySelectorAll(".arrow-list > li").length === 2`)

	b.open(n.url("/bows/" + plotBow + "/round"))
	b.do("the first field waits", waitFor(`document.activeElement?.name === "brace_height"`))
	b.fill("brace_height", "22,1 c")
	turned("half a reading", `document.querySelector("[name=brace_height]")?.value === "22,1 c"`)

	b.open(n.url("/trials/" + slipTrial))
	b.do("the stop is there", waitFor(`document.querySelector(".reading input")`))
	b.do("half a reading of the stop", waitFor(`(() => { const f = document.querySelector(".reading input"); f.focus(); return document.activeElement === f; })()`), chromedp.KeyEvent("21,"))
	turned("half a stop", `document.querySelector(".reading input")?.value === "21,"`)
	b.fault()
}

// TestUnsentFromTheFirstPicture opens the page again with an end that waits, and
// reads every word that the line under the menu shows from the first on: it never
// says that everything was sent (bars.md, U9: "n not yet sent" always visible).
func TestUnsentFromTheFirstPicture(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	n.putBow()
	w := openWire(t, n.addr)
	p := openPhone(t)
	p.b.open(w.url("/bows/" + plotBow + "/plot"))
	p.must("the pages", ready+"; "+pagesHeld)
	w.set(cut)
	p.must("an arrow", place(2, 3))
	p.must("an end", endDone)
	p.b.do("every word of the line is read", p.b.always(`window.heard = new Set(); new MutationObserver(() => { const line = document.querySelector(".copy"); if (line) heard.add(line.innerText.replace(/\s+/g, " ")); }).observe(document, { subtree: true, childList: true, characterData: true })`))
	p.b.open(w.url("/bows/" + plotBow + "/plot"))
	p.must("it stands again", ready)
	heard := evaluate[[]string](p.b, "[...heard]")
	if len(heard) == 0 {
		t.Fatal("no word was read: the test proves nothing")
	}
	for _, words := range heard {
		if !strings.Contains(words, "2 not yet sent") {
			t.Errorf("the line says %q", words)
		}
	}
}
