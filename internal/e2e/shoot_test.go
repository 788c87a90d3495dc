package e2e

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// shootView is the part of a shooting trial that the tests read.
type shootView struct {
	Trial struct {
		ID   string `json:"id"`
		What string `json:"what"`
		Plan struct {
			Kind  string `json:"kind"`
			Steps []struct {
				Label    string  `json:"label"`
				Block    int     `json:"block"`
				Arrows   int     `json:"arrows"`
				Distance float64 `json:"distance_m"`
			} `json:"steps"`
		} `json:"plan"`
	} `json:"trial"`
}

// TestTwoSetUpsTrial plans a comparison of two button settings, follows it at
// the range on a phone, leaves and comes back, is told after a pair whether it
// is decided, and reads the verdict.
func TestTwoSetUpsTrial(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.putBow()
	b.do("a phone with a touch screen", chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch))
	b.open(n.url("/bows/" + plotBow))
	b.tap("Another trial")
	b.see("What do you want to know?")
	b.fill("a", "3 turns")
	b.fill("b", "5 turns")
	b.fill("arrows", "3")
	b.see("Before you shoot")
	b.do("the plan follows", waitFor(`document.body.innerText.includes("3 turns (A) against")`))
	b.accessible("the plan of a trial")
	b.fits("the plan of a trial")
	b.shot("plan")
	b.tap("Begin the trial")
	id := b.at("/trials/([0-9a-f-]{36})")
	b.see("Stop 1 of 24")
	firstStop(n, b, id)

	b.tap("Leave it for today")
	b.at("/bows/(" + plotBow + ")")
	b.open(n.url("/trials/" + id))
	b.see("You left this trial")
	b.see("Stop 2 of 24")

	view := shootRest(n, id)
	b.open(n.url("/trials/" + id + "?stop=23"))
	b.see("evidence")
	b.shot("stop-now")
	b.accessible("a stop of a trial")
	b.open(n.url("/trials/" + id + "?view=verdict"))
	b.do("the answer is marked", waitFor(`document.querySelector(".answers .here") && document.body.innerText.includes("Next:")`))
	b.see("pair by pair")
	themes(b, "the verdict of a trial")
	if view.Trial.Plan.Kind != "pairs" {
		t.Errorf("the plan is of kind %q, wanted pairs", view.Trial.Plan.Kind)
	}
	b.fault()
}

// firstStop plots the three arrows of the first stop by touch.
func firstStop(n *notebook, b *browser, id string) {
	b.t.Helper()
	b.accessible("a stop")
	f := &thumb{b: b}
	rng := rand.New(rand.NewPCG(11, 3))
	for i := range 3 {
		b.do("the face stands still", calm(), waitFor(`(document.querySelector(".board-face").scrollIntoView({block: "center"}), true)`))
		f.place(0.04*float64(i), 0.02, rng)
		b.plotted(i + 1)
	}
	b.shot("stop")
	b.tap("End done")
	b.sent()
	b.see("Next stop")
	ends := n.ends("trial=" + id)
	if len(ends) != 1 || ends[0].End.Stop == nil || *ends[0].End.Stop != 0 || len(ends[0].End.Impacts) != 3 {
		b.t.Fatalf("the notebook holds %+v; wanted one end at the first stop", ends)
	}
	b.tap("Next stop")
	b.see("Stop 2 of 24")
}

// shootRest sends the ends of all other stops, A tight and B wide.
func shootRest(n *notebook, id string) shootView {
	n.t.Helper()
	var view shootView
	n.get("/trials/"+id, &view)
	n.shootStops(view, 1, len(view.Trial.Plan.Steps))
	return view
}

// shootStops sends an end at each of some stops, A tight and B wide.
func (n *notebook) shootStops(view shootView, from, to int) {
	n.t.Helper()
	rng := rand.New(rand.NewPCG(5, 6))
	for i, s := range view.Trial.Plan.Steps[from:to] {
		sigma := map[string]float64{"A": 0.03, "B": 0.11}[s.Label]
		var impacts []string
		for a := range s.Arrows {
			impacts = append(impacts, fmt.Sprintf(`{"arrow": "%d", "x_m": %.4f, "y_m": %.4f}`, a+1, sigma*rng.NormFloat64(), sigma*rng.NormFloat64()))
		}
		n.put("/ends/"+n.newID(rng), fmt.Sprintf(`{"bow": %q, "setup": %q, "trial": %q, "stop": %d, "number": 1, "distance": "70 m", "face": "122", "impacts": [%s]}`, plotBow, plotSetUp2, view.Trial.ID, from+i, strings.Join(impacts, ",")))
	}
}

// shootAll sends an end at every stop: bare shafts 9 cm to the left of the
// fletched ones and 5 cm lower, every arrow 4 mm right a metre of distance.
func shootAll(n *notebook, id string) {
	n.t.Helper()
	var view shootView
	n.get("/trials/"+id, &view)
	rng := rand.New(rand.NewPCG(9, 9))
	for i, s := range view.Trial.Plan.Steps {
		var impacts []string
		for a := range s.Arrows {
			bare := s.Arrows == 6 && a >= 3
			x, y := 0.004*s.Distance+0.008*rng.NormFloat64(), 0.012*rng.NormFloat64()
			if bare {
				x, y = x-0.09, y-0.05
			}
			impacts = append(impacts, fmt.Sprintf(`{"arrow": "%d", "x_m": %.4f, "y_m": %.4f, "bare": %t}`, a+1, x, y, bare))
		}
		n.put("/ends/"+n.newID(rng), fmt.Sprintf(`{"bow": %q, "setup": %q, "trial": %q, "stop": %d, "number": 1, "distance": "%g m", "face": "blank", "impacts": [%s]}`, plotBow, plotSetUp2, id, i, s.Distance, strings.Join(impacts, ",")))
	}
}

// newID makes a UUIDv7 of now.
func (n *notebook) newID(rng *rand.Rand) string {
	now := time.Now().UnixMilli()
	return fmt.Sprintf("%08x-%04x-7c3a-9d52-%012x", now>>16, now&0xffff, rng.Uint64()&0xffffffffffff)
}

// TestOtherTrials plans every other kind on the page, begins two of them and
// reads what they can tell without an arrow: not yet.
func TestOtherTrials(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	n.putBow()
	b.size(1366, 768)
	for _, kind := range []struct {
		what   string
		fields [][2]string
		says   string
		answer string // once all is shot, where the truth is plain
	}{
		{"bare shaft", nil, "Bare shaft at 18 m with 3 numbered shafts", "height first"},
		{"walk-back", nil, "Walk-back: 10 m, 15 m, 20 m, 25 m, 30 m", "slanted"},
		{"one setting", [][2]string{{"level_0", "6 mm"}, {"level_1", "9 mm"}, {"level_2", "12 mm"}}, "One setting: button at 6 mm, 9 mm, 12 mm", ""},
		{"settings", [][2]string{{"low_0", "2 turns"}, {"high_0", "6 turns"}, {"low_1", "6 mm"}, {"high_1", "10 mm"}}, "Settings together: button, nocking point", ""},
		{"sham", nil, "Sham: is a change of the button felt?", ""},
	} {
		b.open(n.url("/bows/" + plotBow + "/trials/new"))
		b.do("choose "+kind.what, chromedp.Click(chromedp.CSS(fmt.Sprintf("input[value=%q]", kind.what)), chromedp.NodeReady))
		for _, f := range kind.fields {
			b.fill(f[0], f[1])
		}
		b.see(kind.says)
		b.fits("the plan of " + kind.what)
		b.shot("plan-" + kind.what)
		b.tap("Begin the trial")
		id := b.at("/trials/([0-9a-f-]{36})")
		b.see("Stop 1 of")
		b.accessible("the first stop of " + kind.what)
		b.shot("stop-" + kind.what)
		b.open(n.url("/trials/" + id + "?view=verdict"))
		b.do("it cannot be told yet", waitFor(`document.querySelector(".answers .here")?.innerText.includes("cannot tell yet")`))
		b.accessible("the verdict of " + kind.what)
		if kind.answer == "" {
			continue
		}
		shootAll(n, id)
		b.do("look again", onDisk(), chromedp.Reload())
		b.do("the answer is marked", waitFor(fmt.Sprintf(`document.querySelector(".answers .here")?.innerText.includes(%q)`, kind.answer)))
		b.accessible("the decided verdict of " + kind.what)
		b.fits("the decided verdict of " + kind.what)
		b.shot("verdict-" + kind.what)
	}
	b.fault()
}
