package e2e

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

const roundBow = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c9d5e"

// roundTouches is how many touches three values may take on a bow, from the
// label being open to the next bow being ready: every key of "221", "10.5" and
// "2.5" with their three Enters, and no tap at all. Twenty seconds a bow (the
// issue's bar) are then a second and a half for each touch, the square's own
// time included. A phone that brings its keys up only for a finger asks for one
// tap more.
const roundTouches = 13

// counted counts every key pressed and every touch of the screen by a person;
// pages of the round do not load anew between bows.
const counted = `addEventListener("keydown", (e) => { if (e.isTrusted) window.touches = (window.touches ?? 0) + 1; }, true);
	addEventListener("pointerdown", (e) => { if (e.isTrusted) window.touches = (window.touches ?? 0) + 1; }, true);`

// TestRoundTouches: three values on one bow, and on to the next.
func TestRoundTouches(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	ids := n.putBench(2)
	b.size(390, 844)
	b.do("count", b.always(counted))
	b.open(n.url("/bows/" + ids[0] + "/round"))
	for i, bow := range ids {
		b.do("the first field waits for the square", waitFor(`location.pathname === "/bows/`+bow+`/round" && document.activeElement?.name === "brace_height" && document.activeElement.value === ""`))
		if i > 0 {
			break
		}
		b.do("read three times", chromedp.KeyEvent("221"+kb.Enter+"10.5"+kb.Enter+"2.5"+kb.Enter))
	}
	touches, err := chromedp.Run(b.ctx, chromedp.Evaluate[int]("window.touches ?? 0"))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d touches for three values on one bow", touches)
	if touches == 0 || touches > roundTouches {
		t.Errorf("three values took %d touches, at most %d", touches, roundTouches)
	}
	b.sent()
	var list rows[readingView]
	n.get("/readings?bow="+ids[0], &list)
	if len(list.Rows) != 4 { // the tiller from before is one
		t.Errorf("%d readings in the notebook, 3 were typed", len(list.Rows)-1)
	}
	b.fault()
}

// putRound puts two bows to go round.
func (n *notebook) putRound() {
	n.t.Helper()
	n.putBow()
	n.put("/bows/"+roundBow, `{"name": "Dipper 66", "style": "recurve"}`)
	n.put("/setups/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c9d5f", `{"bow": "`+roundBow+`", "reason": "first", "settings": {"limbs": {"bow_length": "66 in"}, "draw": {"length": "27 in", "weight": "30 lbf"}, "brace_height": {"value": "21 cm"}}}`)
}

// TestRound walks from a bow's label to the next bow: three readings by
// typing and Enter alone, one refused and put right, one taken back.
func TestRound(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.putRound()
	b.size(390, 844)
	b.open(n.url("/bows/" + plotBow + "/round"))
	b.see("not read yet")
	b.fits("a bow of the round")
	b.accessible("a bow of the round")
	b.do("the first field waits for the square", waitFor(`document.activeElement?.name === "brace_height"`))
	b.do("read three times", chromedp.KeyEvent("22,1 cm"+kb.Enter+"9 mm"+kb.Enter+"3 mm"+kb.Enter))
	b.see("Kestrel 68: 3 readings noted")
	b.at("^/bows/(" + roundBow + ")/round$")
	b.see("Dipper 66")
	b.shot("next-bow")
	b.fill("brace_height", "21 kg")
	b.tap("Save, next bow")
	b.do("the refused text stays in its field", waitFor(`document.querySelector("[data-field=brace_height].wrong input")?.value === "21 kg"`))
	b.accessible("a refused reading")
	b.do("put it right",
		waitFor(`(() => { const f = document.querySelector("[name=brace_height]"); f.focus(); f.select(); return document.activeElement === f; })()`),
		chromedp.KeyEvent(kb.Backspace+"21,2 cm"))
	b.do("the field is put right", waitFor(`document.querySelector("[name=brace_height]").value === "21,2 cm"`))
	b.tap("Save, next bow")
	b.see("Dipper 66: 1 reading noted")
	b.tap("Take it back")
	b.see("Taken back")
	b.open(n.url("/round"))
	b.see("Brace height: 22")
	b.accessible("the round")
	b.fits("the round")
	b.shot("round")
	b.tap("Print labels for these bows")
	b.see("Bow labels")
	b.see("/bows/" + roundBow + "/round")
	b.accessible("the labels")
	var list rows[readingView]
	n.get("/readings", &list)
	kept := map[string]int{}
	for _, r := range list.Rows {
		kept[r.Reading.Kind]++
	}
	if len(list.Rows) != 3 || kept["brace_height"] != 1 || kept["nocking_point"] != 1 || kept["tiller"] != 1 {
		t.Errorf("the notebook holds %v", kept)
	}
	b.fault()
}
