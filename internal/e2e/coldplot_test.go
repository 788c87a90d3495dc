package e2e

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestColdPlot holds every state of the plotting page against what cold fingers
// and sunlight need.
func TestColdPlot(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t)
	w := openWire(t, n.addr)
	n.putBow()
	b.plots(w.url("/bows/" + plotBow + "/plot"))
	b.cold("opened")
	b.tap("122 cm, 6 arrows")
	b.cold("what it is shot with")
	b.tap("122 cm, 6 arrows")
	b.tap("Before you rely on this device")
	b.cold("before you rely on it")
	b.tap("Before you rely on this device")
	b.do("the pages are kept on the device", waitFor("navigator.serviceWorker.controller"))
	coldFace(b)
	coldEnds(b, w)
	coldPhoto(b)
	b.fault()
}

// coldFace taps the face, with the magnifier and enlarged, and calls rings.
func coldFace(b *browser) {
	b.t.Helper()
	f := &thumb{b: b}
	b.inSight()
	x, y := b.board().at(0.1, 0.05)
	f.down(x, y)
	f.slide(x+30, y)
	b.cold("under the magnifier")
	f.lift()
	b.plotted(1)
	b.do("pick the arrow", chromedp.Click(chromedp.CSS(".arrow-list .line")))
	b.cold("an arrow picked")
	b.do("leave it", chromedp.Click(chromedp.CSS(".arrow-list .line")))
	b.tap("Enlarge first")
	b.inSight()
	f.down(x, y)
	f.lift()
	b.do("it is enlarged", waitFor(`document.querySelector(".board-back")`))
	b.cold("enlarged")
	b.tap("Whole face")
	b.tap("Enlarge first")
	b.tap("Rings only")
	b.cold("the rings to call")
	for k, ring := range []string{"9", "X", "M", "8"} {
		b.tapNamed(map[string]string{"M": "M, a miss"}[ring] + map[bool]string{true: "", false: ring}[ring == "M"])
		b.plotted(k + 2)
	}
	b.cold("rings called")
}

// coldEnds closes ends where the network is cut, corrects one, takes one back,
// and ends the session.
func coldEnds(b *browser, w *wire) {
	b.t.Helper()
	w.set(cut)
	b.tap("End done")
	b.see("not yet sent")
	b.do("the link is told", waitFor(`document.querySelector(".copy").dataset.link === "down"`))
	b.cold("an end that waits for the network")
	b.tapNamed("Correct end 1")
	b.see("Correcting end 1")
	b.cold("correcting an end")
	b.tap("Leave it as it was")
	b.tapNamed("Take back end 1")
	b.see("is taken back")
	b.cold("an end taken back")
	b.tap("Bring it back")
	b.do("it is back", waitFor(`document.querySelectorAll(".end-line").length === 1`))
	for k := range 6 {
		b.tapNamed("9")
		b.plotted(k + 1)
	}
	b.see("complete")
	b.cold("a full end") // for ten seconds, then it closes by itself
	b.do("it closes", waitFor(`(() => { const b = [...document.querySelectorAll("button")].find((b) => b.innerText === "End done" && !b.disabled); b?.click(); return document.querySelectorAll(".end-line").length === 2; })()`))
	b.tap("End the session")
	b.do("the undo has the focus, and waits", waitFor(`(document.querySelector(".undo button")?.focus(), document.activeElement.closest(".undo"))`))
	b.cold("an undo")
	b.do("undo", chromedp.Click(chromedp.CSS(".undo button")))
	b.see("The session goes on.")
	w.set(whole)
	b.tap("Rings only")
}

// coldPhoto goes from a picture to a face to tap on.
func coldPhoto(b *browser) {
	b.t.Helper()
	camera := leaning{f: 700, away: 2.2, cx: 300, cy: 225, yaw: 0.3, pitch: -0.2}
	b.tap("From a photo")
	b.see("Take or choose a picture")
	b.cold("choosing a picture")
	text := filepath.Join(b.t.TempDir(), "face.heic")
	if err := os.WriteFile(text, []byte("no picture"), 0o600); err != nil {
		b.t.Fatal(err)
	}
	b.upload("Photo of the face", text)
	b.see("cannot read that picture")
	b.cold("a picture that cannot be read")
	b.upload("Photo of the face", photographed(b.t, camera, 600, 450))
	b.see("Tap the middle of the face")
	b.cold("the middle of the picture")
	b.tap("Mark two rings by hand")
	b.see("Tap five places or more")
	b.cold("two rings by hand")
	b.tap("Look for the rings")
	px, py := camera.pixel(0.02, -0.01)
	f := &thumb{b: b}
	f.aimed(sheetSpan, (px+0.5-300)/600, (225-py-0.5)/600)
	b.see("The rings fit the picture to")
	b.cold("the rings found")
	b.tap("The rings lie right")
	b.see("straight above the middle")
	b.cold("what is upright")
	b.tap("The picture is upright as it is")
	b.see("Look at the rings again")
	b.inSight()
	f.place(0.05, 0.02, rand.New(rand.NewPCG(4, 122)))
	b.plotted(1)
	b.cold("seen from straight ahead")
}
