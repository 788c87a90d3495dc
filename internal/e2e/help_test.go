package e2e

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"tautline/docs"
)

// TestHelpWithoutNetwork opens the bench once, cuts the network, and finds in
// the manual by the keyboard alone what it looks for (bars.md, U24: inside the
// program, searched, without a network).
func TestHelpWithoutNetwork(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	n.putBow()
	w := openWire(t, n.addr)
	p := openPhone(t)
	p.b.open(w.url("/"))
	p.b.see("Kestrel 68")
	p.must("the bench takes the manual along", pagesHeld)
	w.set(cut)
	k := keys{p.b}
	k.press("Help")
	p.b.see("Of the page you come from")
	p.b.see("A first evening: choose a brace height, knowingly")
	p.b.see("If you shoot")
	p.b.shot("help")
	k.fill("Look for words in the manual", "bare shaft")
	p.b.see("Does the arrow leave straight?")
	p.b.shot("found")
	p.b.do("to the first place and there", chromedp.KeyEvent(kb.Enter), waitFor(`document.activeElement.closest("ol.found")`), chromedp.KeyEvent(kb.Enter))
	p.b.do("the place has the focus, below the bar", waitFor(`location.pathname + location.hash === "/help/plot-and-compare#bare-shaft" && document.activeElement.id === "bare-shaft" && ((top) => top >= document.querySelector(".where").getBoundingClientRect().bottom && top < innerHeight / 2)(document.activeElement.getBoundingClientRect().top)`))
	p.b.shot("place")
	p.b.do("back shows the list again", waitFor(`(history.back(), true)`), waitFor(`document.querySelector("ol.found a") && document.querySelector("#find").value === "bare shaft"`))
	k.fill("Look for words in the manual", "certifcate")
	p.b.see("Try instead")
	p.b.shot("nothing")
	k.press("certificate")
	p.b.see("Why a certificate")
	p.b.open(w.url("/help/errors/outdated"))
	p.b.do("a refusal's page is a place of the manual", waitFor(`document.activeElement.id === "outdated-changed-meanwhile"`))
	p.b.open(w.url("/help/no-such-page"))
	p.b.see("The manual has no such page")
	p.b.fault()
}

// TestEveryHelpPage draws every page of the manual on a phone: nothing is
// wider than the window, all is made of what render.tsx knows, and each link
// leads to a place that is there (bars.md, U24: 0 dead links).
func TestEveryHelpPage(t *testing.T) {
	t.Parallel()
	club := openNotebook(t, "--accounts") // nobody is logged in: the manual is open all the same
	b := openBrowser(t)
	b.size(390, 844)
	b.open(club.url("/help"))
	b.see("If you keep the notebook for others")
	for _, page := range docs.Pages() {
		title, err := json.Marshal(page.Title)
		if err != nil {
			t.Fatal(err)
		}
		b.do("open "+page.Name, waitFor(fmt.Sprintf(`(history.pushState(null, "", "/help/%s"), dispatchEvent(new PopStateEvent("popstate")), true)`, page.Name)),
			waitFor(fmt.Sprintf(`document.querySelector(".manual h1")?.innerText.replace(/\s+/g, " ").trim() === %s`, title)))
		for _, wrong := range evaluate[[]string](b, `[...document.querySelectorAll(".manual *")].filter((e) => !e.matches("h1, h2, h3, p, ul, ol, li, a[href], strong, em, code, pre, table, thead, tbody, tr, th, td, span, blockquote, hr, br, details, summary")).map((e) => e.outerHTML.slice(0, 100))`) {
			t.Errorf("%s holds %s", page.Name, wrong)
		}
		var anchors []string
		for _, s := range page.Sections() {
			anchors = append(anchors, s.Anchor)
		}
		if there := evaluate[[]string](b, `[...document.querySelectorAll(".manual :is(h1, h2, h3)")].map((e) => e.id)`); !slices.Equal(there, anchors) {
			t.Errorf("%s has the places %q on the page, wanted %q", page.Name, there, anchors)
		}
		b.fits(page.Name)
		wideCells(b, page.Name)
		if page.Name == "club" || page.Name == "command-line" { // the widest tables and code
			b.shot(page.Name)
		}
	}
	b.open(club.url("/"))
	b.see("Log in")
	b.tap("Help")
	b.see("If you shoot")
	b.fault()
}

// wideCells demands that no cell or line of code hides a part of what it holds.
func wideCells(b *browser, page string) {
	b.t.Helper()
	for _, e := range evaluate[[]string](b, `[...document.querySelectorAll(".manual :is(pre, td, th, table, p, li)")].filter((e) => e.clientWidth > 0 && e.scrollWidth > e.clientWidth + 1).slice(0, 3).map((e) => e.outerHTML.slice(0, 120))`) {
		b.t.Errorf("%s: cut off at 390 px: %s", page, e)
	}
}
