package e2e

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// Ids of the records that the tests of plotting start from.
const (
	plotBow   = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c5d5e"
	plotSetUp = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c5d5f"
)

// endRow is the part of an end that the tests read.
type endRow struct {
	End struct {
		ID       string `json:"id"`
		SetUp    string `json:"setup"`
		Trial    string `json:"trial"`
		Stop     *int   `json:"stop"`
		Session  string `json:"session"`
		Number   int    `json:"number"`
		Distance string `json:"distance"`
		Face     string `json:"face"`
		Corrects string `json:"corrects"`
		Impacts  []struct {
			Arrow string   `json:"arrow"`
			X     *float64 `json:"x_m"`
			Y     *float64 `json:"y_m"`
			Ring  string   `json:"ring"`
			Bare  bool     `json:"bare"`
		} `json:"impacts"`
	} `json:"end"`
}

func (n *notebook) ends(query string) []endRow {
	n.t.Helper()
	var list rows[endRow]
	n.get("/ends?limit=500&"+query, &list)
	return list.Rows
}

// thumb is a finger on the glass; it counts how often it comes down.
type thumb struct {
	b       *browser
	touches int
}

func touch(kind input.DispatchTouchEventType, points ...*input.TouchPoint) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})
		return err
	})
}

// down, slide and lift are one touch.
func (f *thumb) down(x, y float64) {
	f.b.t.Helper()
	f.touches++
	f.b.do("touch down", touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: x, Y: y}))
}

func (f *thumb) slide(x, y float64) {
	f.b.t.Helper()
	f.b.do("slide", touch(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: x, Y: y}))
}

func (f *thumb) lift() {
	f.b.t.Helper()
	f.b.do("lift", touch(input.DispatchTouchEventTypeTouchEnd))
}

// board is where the face lies on the screen.
type board struct{ Left, Top, Size float64 }

func (b *browser) board() board {
	b.t.Helper()
	at, err := chromedp.Run(b.ctx, chromedp.Evaluate[board](`(() => { const r = document.querySelector(".board-face").getBoundingClientRect(); return {Left: r.left, Top: r.top, Size: r.width}; })()`))
	if err != nil {
		b.t.Fatal(err)
	}
	return at
}

// shownSpan is how much of a 122 cm face the board shows, in metres: its
// radius of 61 cm 2.3 times (web/src/group/geometry.ts).
const shownSpan = 2.3 * 0.61

// at gives the pixel of a place on the face.
func (p board) at(x, y float64) (px, py float64) {
	return p.Left + p.Size/2 + x*p.Size/shownSpan, p.Top + p.Size/2 - y*p.Size/shownSpan
}

// aim reads where the cross in the magnifier stands.
func (b *browser) aim() (x, y float64) {
	b.t.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.querySelector("[data-aim]").dataset.aim`))
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := fmt.Sscanf(text, "%g,%g", &x, &y); err != nil {
		b.shot("no-cross")
		b.t.Fatalf("no cross is shown: %q", text)
	}
	return x, y
}

// place does what a hand does: the finger comes down about there, on a whole
// pixel; the eye compares the cross in the magnifier with the hole; the finger
// slides by whole pixels until they meet, rolls a little as it lifts, and is
// gone.
func (f *thumb) place(x, y float64, rng *rand.Rand) {
	f.b.t.Helper()
	b, face := f.b, f.b.board()
	px, py := face.at(x, y)
	px, py = math.Round(px+9*rng.NormFloat64()), math.Round(py+9*rng.NormFloat64()) // a fingertip lands within some millimetres
	f.down(px, py)
	for range 3 {
		ax, ay := b.aim()
		px, py = px+math.Round((x-ax)*4*face.Size/shownSpan), py-math.Round((y-ay)*4*face.Size/shownSpan)
		f.slide(px, py)
	}
	if f.touches == 1 {
		b.shot("magnifier")
	}
	f.slide(px+math.Round(2*rng.Float64()-1), py+1)
	f.lift()
}

// holes are where six arrows hit, in metres.
var holes = [][2]float64{{0.031, -0.012}, {-0.118, 0.074}, {0.212, 0.305}, {-0.402, -0.333}, {0.004, 0.587}, {-0.571, 0.1}}

// openPlot opens the plot page of a new bow on a phone.
func openPlot(t *testing.T) (*notebook, *browser) {
	n, b := openNotebook(t), openBrowser(t)
	n.putBow()
	b.plots(n.url("/bows/" + plotBow + "/plot"))
	return n, b
}

// plots opens the plot page on a phone and says how far away the face is.
func (b *browser) plots(url string) {
	b.t.Helper()
	b.do("a phone with a touch screen", chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch))
	b.open(url)
	b.see("Plot an end")
	b.tap("122 cm, 6 arrows")
	b.tap("70 m")
	b.tap("122 cm, 6 arrows")
}

// plotted waits until so many arrows stand in the open end.
func (b *browser) plotted(n int) {
	b.t.Helper()
	b.do(fmt.Sprintf("see %d arrows", n), waitFor(fmt.Sprintf(`document.querySelectorAll(".arrow-list > li").length === %d`, n)))
}

// sent waits until nothing waits on the device.
func (b *browser) sent() {
	b.t.Helper()
	b.do("the outbox empties", waitFor(`document.querySelector("[data-unsent]")?.dataset.unsent === "0"`))
}

// TestPlotByTap plots an end with one touch an arrow and finds every place
// within 2 mm on a 122 cm face. In the middle of it the page is reloaded, the
// server killed and the page reloaded again: nothing is lost, nothing doubled.
func TestPlotByTap(t *testing.T) {
	n, b := openPlot(t)
	f := &thumb{b: b}
	rng := rand.New(rand.NewPCG(7, 122))
	for i, h := range holes {
		switch i {
		case 2:
			b.do("the pages are kept on the device", waitFor("navigator.serviceWorker.controller"))
			b.do("reload in the middle of an end", onDisk(), chromedp.Reload())
		case 4:
			n.kill()
			b.do("reload without a server", onDisk(), chromedp.Reload())
		}
		b.plotted(i)
		f.place(h[0], h[1], rng)
		b.plotted(i + 1)
	}
	if f.touches > 2*len(holes) {
		t.Errorf("%d touches for %d arrows, at most 2 an arrow are allowed", f.touches, len(holes))
	}
	t.Logf("%d touches for %d arrows", f.touches, len(holes))
	b.shot("end-full")
	b.tap("End done")
	b.see("not yet sent")
	b.do("reload with an end unsent", onDisk(), chromedp.Reload())
	b.see("not yet sent")
	n.start()
	b.do("reload", onDisk(), chromedp.Reload())
	b.sent()
	b.do("all is sent", waitFor(`!document.body.innerText.includes("not yet sent") && document.body.innerText.includes("Ends noted")`))
	ends := n.ends("bow=" + plotBow)
	if len(ends) != 1 || len(ends[0].End.Impacts) != len(holes) || ends[0].End.Distance != "70 m" || ends[0].End.Face != "122" || ends[0].End.Session == "" {
		t.Fatalf("the notebook holds %+v; wanted one end of %d arrows at 70 m on a 122 cm face", ends, len(holes))
	}
	worst := 0.0
	for i, hit := range ends[0].End.Impacts {
		off := math.Hypot(*hit.X-holes[i][0], *hit.Y-holes[i][1])
		if worst = max(worst, off); off > 0.002 {
			t.Errorf("arrow %d is stored %.2f mm from where it hit, more than 2 mm", i+1, 1e3*off)
		}
		if hit.Arrow != fmt.Sprint(i+1) {
			t.Errorf("arrow %d carries the number %q: they advance by themselves", i+1, hit.Arrow)
		}
	}
	t.Logf("worst place %.2f mm off", 1e3*worst)
	var sessions rows[json.RawMessage]
	n.get("/sessions?bow="+plotBow, &sessions)
	if len(sessions.Rows) != 1 {
		t.Errorf("%d sessions in the notebook, wanted 1", len(sessions.Rows))
	}
	b.fault()
}

// TestPlotWithoutSliding plots with two plain taps an arrow: the first
// enlarges, the second places; no finger has to slide.
func TestPlotWithoutSliding(t *testing.T) {
	n, b := openPlot(t)
	b.tap("Enlarge first")
	f := &thumb{b: b}
	for i, h := range holes[:3] {
		face := b.board()
		px, py := face.at(h[0], h[1])
		px, py = math.Round(px)+7, math.Round(py)-5
		f.down(px, py)
		f.lift()
		b.do("it is enlarged", waitFor(`document.querySelector(".board-back")`))
		if i == 0 {
			b.shot("enlarged")
		}
		// The middle of the picture is now where the first tap was, five times larger.
		mx, my := (px-face.Left-face.Size/2)*shownSpan/face.Size, -(py-face.Top-face.Size/2)*shownSpan/face.Size
		f.down(math.Round(face.Left+face.Size/2+(h[0]-mx)*5*face.Size/shownSpan), math.Round(face.Top+face.Size/2-(h[1]-my)*5*face.Size/shownSpan))
		f.lift()
		b.plotted(i + 1)
	}
	if f.touches != 6 {
		t.Errorf("%d touches for 3 arrows, wanted 2 an arrow", f.touches)
	}
	b.tap("End done")
	b.sent()
	for i, hit := range n.ends("bow=" + plotBow)[0].End.Impacts {
		if off := math.Hypot(*hit.X-holes[i][0], *hit.Y-holes[i][1]); off > 0.002 {
			t.Errorf("arrow %d is stored %.2f mm from where it hit, more than 2 mm", i+1, 1e3*off)
		}
	}
	b.fault()
}

// TestPlotSlips undoes, corrects and takes back, calls rings, changes to bare
// shafts, and does without a finger what a keyboard can.
func TestPlotSlips(t *testing.T) {
	n, b := openPlot(t)
	f := &thumb{b: b}
	rng := rand.New(rand.NewPCG(8, 122))
	f.place(0.1, 0.1, rng)
	b.plotted(1)
	b.tap("Undo")
	b.plotted(0)
	b.do("another number first", chromedp.Click(`//*[@aria-label="Number of the next arrow"]/button[5]`))
	f.place(0.05, 0, rng)
	b.tap("Bare")
	f.place(0, 0.05, rng)
	b.plotted(2)
	b.tap("Rings only")
	b.do("the button has changed", calm())
	b.accessible("rings only")
	b.tapNamed("9")
	b.plotted(3)
	b.tap("Rings only")
	keyed(b)
	b.plotted(4)
	b.accessible("an open end")
	b.tap("End done")
	b.sent()
	first := n.ends("bow=" + plotBow)[0].End
	if got := first.Impacts; got[0].Arrow != "5" || got[0].Bare || !got[1].Bare || got[1].Arrow != "1" || got[2].Ring != "9" || got[2].X != nil || !got[3].Bare || math.Abs(*got[3].X-0.02) > 1e-9 || math.Abs(*got[3].Y+0.001) > 1e-9 {
		t.Errorf("the end is kept as %+v", got)
	}

	b.tapNamed("Correct end 1")
	b.see("Correcting end 1")
	b.plotted(4)
	b.do("pick the first arrow", chromedp.Click(chromedp.CSS(".arrow-list > li:first-child .line")))
	b.inSight()
	f.place(-0.2, 0.1, rng)
	b.tap("Save the correction")
	b.sent()
	b.do("one end stands", waitFor(`document.querySelectorAll(".end-line").length === 1`))
	ends := n.ends("bow=" + plotBow)
	if len(ends) != 2 || ends[1].End.Corrects != first.ID || math.Hypot(*ends[1].End.Impacts[0].X+0.2, *ends[1].End.Impacts[0].Y-0.1) > 0.002 || len(ends[1].End.Impacts) != 4 {
		t.Errorf("after a correction the notebook holds %+v; wanted the first end and one that corrects it", ends)
	}
	b.tapNamed("Take back end 1")
	b.see("is taken back")
	b.tap("Bring it back")
	b.do("it is back", waitFor(`document.querySelectorAll(".end-line").length === 1`))
	b.sent()
	b.fits("the plot page")
	themes(b, "the plot page")
	b.fault()
}

// keyed places an arrow with the keyboard alone: two centimetres right, one
// millimetre down.
func keyed(b *browser) {
	b.t.Helper()
	b.do("focus the face", chromedp.Focus(chromedp.CSS(".board-face")))
	b.do("move the cross", chromedp.KeyEvent(kb.ArrowRight+kb.ArrowRight))
	b.do("a millimetre down", chromedp.KeyEvent(kb.ArrowDown, chromedp.KeyModifiers(chromedp.ModifierShift)))
	b.shot("keyboard")
	b.do("place", chromedp.KeyEvent(kb.Enter))
}

// themes holds the page against axe-core in every colour scheme, on a phone
// and on a laptop.
func themes(b *browser, where string) {
	b.t.Helper()
	for _, size := range [][2]int64{{390, 844}, {1366, 768}} {
		b.size(size[0], size[1])
		for _, theme := range []string{"light", "dark", "sun"} {
			b.do("wear "+theme, waitFor(fmt.Sprintf(`(document.documentElement.dataset.theme = %q, dispatchEvent(new Event("themechange")), true)`, theme)), calm(), waitFor("document.getAnimations().length === 0"))
			b.accessible(fmt.Sprintf("%s, %s, %d wide", where, theme, size[0]))
			b.fits(where)
			b.shot(fmt.Sprintf("%s-%d", theme, size[0]))
		}
	}
}

// TestEndClosesByItself leaves a full end alone: it goes into the notebook
// without another touch, and can still be opened again.
func TestEndClosesByItself(t *testing.T) {
	n, b := openPlot(t)
	b.do("focus the face", chromedp.Focus(chromedp.CSS(".board-face")))
	for i := range 6 {
		b.do("move and place", chromedp.KeyEvent(kb.ArrowUp+kb.Enter))
		b.plotted(i + 1)
	}
	b.see("complete")
	b.see("Ends noted") // by itself, after ten seconds
	b.sent()
	if ends := n.ends("bow=" + plotBow); len(ends) != 1 || len(ends[0].End.Impacts) != 6 {
		t.Fatalf("the notebook holds %+v; wanted one end of six", ends)
	}
	b.tap("Undo: open end 1")
	b.see("Correcting end 1")
	b.plotted(6)
	b.tap("Leave it as it was")
	b.plotted(0)
	if ends := n.ends("bow=" + plotBow); len(ends) != 1 {
		t.Errorf("opening an end and leaving it stored %d ends, wanted 1", len(ends))
	}
	b.fault()
}
