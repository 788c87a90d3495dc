package e2e

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// U2 of the bars: from an empty notebook, the demo's verdict is two touches
// away, and what was loaded is taken out by one; one's own first answer, the
// brace check, takes at most fifteen inputs, and the page after them shows a
// first prediction with its doubt, what was left empty marked as assumed.
func TestFirstRun(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	b.size(390, 844)
	b.open(n.url("/"))
	for _, door := range []string{"Enter my bow", "Try the demo", "Bring a file"} {
		b.see(door)
	}
	b.accessible("the three doors")
	b.tap("Load the demo bows") // one touch
	b.see("The bows marked “invented” are the demo’s")
	b.tap("Read the verdict") // two
	b.see("stands out at 232 mm")
	b.do("the bar says that it is invented", waitFor(`[...document.querySelectorAll(".bar .tag")].some((e) => e.textContent === "invented")`))
	b.fits("the demo's verdict")
	b.open(n.url("/"))
	b.tap("Take the invented bows out")
	b.see("Nothing on the bench yet")
	var bench struct{ Bows []struct{} }
	if n.get("/bows", &bench); len(bench.Bows) != 0 {
		t.Errorf("%d bows are left of the demo", len(bench.Bows))
	}

	b.tap("Enter my bow")
	inputs := 1
	input := func(field, text string) { b.fill(field, text); inputs++ }
	input("name", "Plover 66")
	input("/limbs/range_low", "20 cm")
	input("/limbs/range_high", "22,5 cm")
	input("/brace_height/value", "8 1/4 in")
	input("/draw/length", "27 in")
	input("/draw/weight", "30#")
	input("/arrow/mass", "290 gr")
	b.see("inside the limb maker's") // the brace check, before anything is saved
	b.tap("Save the bow")
	inputs++
	if inputs > 15 {
		t.Errorf("%d inputs to the brace check, more than 15", inputs)
	}
	b.at("/bows/([0-9a-f-]{36})")
	b.do("a first prediction with its doubt", waitFor(`(() => { const n = document.querySelector(".numbers .number"); return n && /\d/.test(n.querySelector(".big").textContent) && / to /.test(n.querySelector(".doubt").textContent); })()`))
	b.see("entries are assumed until you enter them")
	b.accessible("the bow just entered")
	b.fits("the bow just entered")
	t.Logf("%d inputs and touches from the first page to the bow's own", inputs)
	b.fault()
}

// Every page of a notebook without records says what belongs there and has
// something to press; none is blank or throws, and links lead to each of them.
func TestEveryPageWhenEmpty(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	b.size(390, 844)
	bow := enterBow(n, b)
	pages := []string{"/", "/bows/new", "/round", "/settings", "/unsent", "/bows/" + bow}
	for _, p := range []string{"change", "trial", "trials/new", "plot", "groups", "ends", "target", "heights", "forgiveness", "marks", "shafts", "sound", "signature", "standing", "ledger", "upkeep", "beside", "fit", "explain", "round"} {
		pages = append(pages, "/bows/"+bow+"/"+p)
	}
	linked := map[string]bool{}
	for _, p := range pages {
		b.open(n.url(p))
		b.do(p+" settles", waitFor(`document.querySelector("main h1") && !document.querySelector("main .waits")`))
		said, err := chromedp.Run(b.ctx, chromedp.Evaluate[struct {
			Words   int
			Buttons int
			Text    string
		}](`(() => { const m = document.querySelector("main"); const seen = (e) => e.offsetParent !== null;
			return {Words: m.innerText.trim().split(/\s+/).length, Buttons: [...m.querySelectorAll("button, a.button, a[href], select, input")].filter(seen).length, Text: m.innerText}; })()`))
		if err != nil {
			t.Fatal(err)
		}
		if said.Words < 12 || said.Buttons == 0 {
			t.Errorf("%s on an empty notebook says %d words and has %d things to press:\n%s", p, said.Words, said.Buttons, said.Text)
		}
		for _, raw := range []string{"undefined", "NaN", "[object", "null"} {
			if strings.Contains(said.Text, raw) {
				t.Errorf("%s shows %q", p, raw)
			}
		}
		b.fits(p)
		links, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`[...document.querySelectorAll("a[href]")].map((a) => new URL(a.href)).filter((u) => u.origin === location.origin).map((u) => u.pathname)`))
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range links {
			linked[l] = true
		}
	}
	for _, p := range pages {
		if !linked[p] {
			t.Errorf("no link leads to %s", p)
		}
	}
	// back leads back, page by page
	b.open(n.url("/bows/" + bow))
	b.tap("Sight marks")
	b.at("/bows/([0-9a-f-]{36})/marks")
	b.do("back", chromedp.NavigateBack())
	b.at("/bows/([0-9a-f-]{36})")
	b.fault()
}
