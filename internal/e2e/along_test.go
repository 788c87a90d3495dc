package e2e

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// putBench enters many bows of one archer, each with one reading.
func (n *notebook) putBench(bows int) (ids []string) {
	n.t.Helper()
	rng := rand.New(rand.NewPCG(30, 30))
	for i := range bows {
		bow, setup := n.newID(rng), n.newID(rng)
		n.put("/bows/"+bow, fmt.Sprintf(`{"name": "Kestrel %d", "style": "recurve"}`, i+1))
		n.put("/setups/"+setup, `{"bow": "`+bow+`", "reason": "first", "settings": {"limbs": {"bow_length": "68 in"}, "draw": {"length": "28.5 in", "weight": "38 lbf"}, "brace_height": {"value": "22 cm"}}}`)
		n.put("/readings/"+n.newID(rng), fmt.Sprintf(`{"bow": %q, "setup": %q, "kind": "tiller", "text": "%d mm"}`, bow, setup, i%9+1))
		ids = append(ids, bow)
	}
	return ids
}

// TestThirtyBowsWithoutNetwork looks at a bench of thirty bows once, on a line
// that breaks in the middle: without the network the bench names what did not
// come, it goes on when the line is back, and then every bow opens without a
// network, the longest unused too, with what was last read on it; a bow entered
// since is not on this device.
func TestThirtyBowsWithoutNetwork(t *testing.T) {
	t.Parallel()
	const bows = 30
	n := openNotebook(t)
	ids := n.putBench(bows)
	w := openWire(t, n.addr)
	p := openPhone(t)
	p.b.open(w.url("/"))
	p.b.see("Find a bow or an archer")
	p.must("the pages are on the device", pagesHeld)
	finds(p.b)
	left := `Number(document.querySelector(".along summary").innerText.match(/\d+/)[0])`
	p.b.do("some came", waitFor(left+` < `+fmt.Sprint(bows-3)))
	w.set(cut)
	p.b.do("it stops, and some are named", waitFor(`document.querySelector("[data-along=part]") && `+left+` > 3 && document.querySelectorAll(".along li").length === `+left))
	p.b.open(w.url("/"))
	p.b.do("the cards say so too", waitFor(`document.querySelector("[data-link=down]") && [...document.querySelectorAll(".bow-lines .tag")].filter((e) => e.innerText.includes("not on this device")).length === `+left))
	p.b.accessible("a bench of which some is not on the device")
	p.b.shot("part")
	w.set(whole)
	p.b.long("All 30 bows are on this device")
	late := n.putLate()
	w.set(cut)
	first := "/bows/" + ids[0] // used before all others: it comes last
	for _, page := range []struct{ path, shows string }{
		{first + "/round", "Last: 1 mm"}, {first, "How it came here"}, {first + "/plot", "Plot an end"}, {"/round", "Tiller: 1 mm"}, {"/unsent", "All 30 bows are on this device"},
	} {
		p.b.open(w.url(page.path))
		p.b.see(page.shows)
		p.b.do(page.path+" says that it is old", waitFor(`document.querySelector("[data-link=down]")`))
	}
	p.b.open(w.url("/bows/" + ids[2] + "/round"))
	p.b.see("Last: not read yet") // its brace height and nocking point
	p.b.open(w.url("/bows/" + late + "/round"))
	p.b.see("This bow is not on this device")
	p.b.fault()
}

// finds looks for one bow among many by the keyboard, and goes back to all.
func finds(b *browser) {
	b.t.Helper()
	cards := func(bows, lines int) chromedp.Action[chromedp.Void] {
		return waitFor(fmt.Sprintf(`document.querySelectorAll("main article.bow-card").length === %d && document.querySelectorAll("main .bow-lines li").length === %d`, bows, lines))
	}
	b.do("all stand as lines", cards(0, 30), waitFor(`document.querySelector("main [name=find]").getBoundingClientRect().height >= 48`))
	b.do("type", waitFor(`(document.querySelector("main [name=find]").focus(), true)`), chromedp.KeyEvent("KÉSTREL 29"), cards(1, 0))
	b.see("1 of 30 bows")
	b.do("nothing is called so", chromedp.KeyEvent("7"), cards(0, 0))
	b.see("None of 30 bows is called so")
	b.do("back to all", chromedp.KeyEvent(kb.Escape), cards(0, 30))
}

// putLate enters a bow that the phone has not heard of.
func (n *notebook) putLate() string {
	n.t.Helper()
	const late = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c9e01"
	n.put("/bows/"+late, `{"name": "Late 70", "style": "recurve"}`)
	n.put("/setups/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c9e02", `{"bow": "`+late+`", "reason": "first", "settings": {"draw": {"length": "28.5 in", "weight": "38 lbf"}}}`)
	return late
}

// TestRoundOfWhatThisDeviceKnows: a phone that saw the bench, and lost the
// network before the round's answer came, does not say that nothing was read.
func TestRoundOfWhatThisDeviceKnows(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	ids := n.putBench(2)
	w := openWire(t, n.addr)
	p := openPhone(t)
	p.b.do("a device that saves data", p.b.always(`Object.defineProperty(navigator, "connection", { value: { saveData: true } })`))
	p.b.open(w.url("/"))
	p.b.see("only what was opened is kept")
	p.must("the pages are on the device", pagesHeld)
	w.set(cut)
	for _, path := range []string{"/bows/" + ids[0] + "/round", "/round"} {
		p.b.open(w.url(path))
		p.b.see("not on this device")
		p.b.do("nothing is called unread", waitFor(`document.querySelector("main h1") && !document.body.innerText.includes("not read yet")`), chromedp.WaitVisible(chromedp.CSS("[data-link=down]")))
		p.b.accessible(path + " of what is not known")
	}
	p.b.fault()
}
