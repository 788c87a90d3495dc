package e2e

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// laptopSetUp is the change that another device makes meanwhile.
const laptopSetUp = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c5dfe"

// bowNow is the part of a bow that this test reads.
type bowNow struct {
	SetUp struct {
		SetUp struct {
			ID       string   `json:"id"`
			Parent   string   `json:"parent"`
			Settles  []string `json:"settles"`
			Reason   string   `json:"reason"`
			Settings struct {
				Button struct {
					Turns any `json:"turns"`
				} `json:"button"`
				BraceHeight struct {
					Value string `json:"value"`
				} `json:"brace_height"`
			} `json:"settings"`
		} `json:"setup"`
	} `json:"setup"`
	SetUps int `json:"setups"`
	Fork   *struct {
		Sides []struct {
			SetUp string `json:"setup"`
		} `json:"sides"`
	} `json:"fork"`
}

// TestTwoChangesOfOneSetUp changes a bow on a phone without a network and
// meanwhile on a laptop: both are kept, the page shows them side by side, a tap
// chooses, an undo takes the choice back within its ten seconds, and the history
// after them. A change that nobody crossed asks
// nothing (../shared/design/bars.md, U10).
func TestTwoChangesOfOneSetUp(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	w := openWire(t, n.addr)
	n.putBow()
	b.size(390, 844)
	b.open(w.url("/bows/" + plotBow + "/change"))
	b.see("What do you change?")
	b.do("the pages are kept on the device", waitFor("navigator.serviceWorker.controller && document.documentElement.dataset.kept"))
	changeOffline(b, w)
	n.put("/setups/"+laptopSetUp, `{"bow": "`+plotBow+`", "parent": "`+plotSetUp2+`", "reason": "as before the trial", "settings": {"limbs": {"bow_length": "68 in"}, "draw": {"length": "28.5 in", "weight": "38 lbf"}, "brace_height": {"value": "21.8 cm"}, "arrow": {"mass": "330 gr", "diameter": "5.5 mm"}}}`)
	w.set(whole)
	b.do("open it again", chromedp.Reload())
	b.sent()
	b.see("which is the bow set to now?")
	b.see("as before the trial")
	b.see("stiffer button")
	b.see("Where they differ")
	b.accessible("two changes of one set-up")
	b.fits("two changes of one set-up")
	b.shot("fork")
	themes(b, "two changes of one set-up")
	b.size(390, 844)
	var both bowNow
	n.get("/bows/"+plotBow, &both)
	if both.Fork == nil || len(both.Fork.Sides) != 2 || both.SetUps != 5 {
		t.Fatalf("the notebook has %+v; wanted both changes kept beside each other", both)
	}
	b.do("the laptop's is right", chromedp.Click(fmt.Sprintf(`//section[contains(@class, "fork")]//section[.//*[contains(., %q)]]//button`, "as before the trial")))
	b.see("Chosen")
	settled(n, t, "21.8 cm", laptopSetUp)
	b.undone("You are asked again.")
	b.see("which is the bow set to now?")
	b.do("the phone's is right", chromedp.Click(fmt.Sprintf(`//section[contains(@class, "fork")]//section[.//*[contains(., %q)]]//button`, "stiffer button")))
	b.see("Chosen")
	settled(n, t, "22.6 cm", "")
	b.open(w.url("/bows/" + plotBow))
	b.see("How it came here")
	b.do("nothing is asked", waitFor(`!document.querySelector(".fork")`))
	b.tap("Take this choice back")
	b.see("which is the bow set to now?")
	b.open(w.url("/bows/" + plotBow + "/taken-back"))
	b.see("Set-up, Of 2 changes this one: as before the trial")
	b.do("bring the last back", chromedp.Click(`//li[contains(., "Of 2 changes this one: stiffer button")]//button[contains(., "Bring it back")]`))
	b.see("is back")
	settled(n, t, "22.6 cm", "")
	b.fault()
}

// changeOffline makes two changes on the phone with the network cut: the
// second follows the first.
func changeOffline(b *browser, w *wire) {
	b.t.Helper()
	w.set(cut)
	b.tap("Brace height")
	b.do("another brace height", setValue("/brace_height/value", "22.6 cm"))
	b.fill("reason", "one turn more")
	b.tap("Save as the next set-up")
	b.see("on this device only")
	b.shot("changed-offline")
	b.tap("Change something")
	b.see("What do you change?")
	b.tap("Button")
	b.do("another button", setValue("/button/turns", "5"))
	b.fill("reason", "stiffer button")
	b.tap("Save as the next set-up")
	b.see("on this device only")
	b.see("2 not yet sent")
}

// settled demands that one set-up stands, with that brace height, made from
// that side.
func settled(n *notebook, t *testing.T, brace, parent string) {
	t.Helper()
	var now bowNow
	n.get("/bows/"+plotBow, &now)
	s := now.SetUp.SetUp
	if now.Fork != nil || len(s.Settles) != 1 || s.Settings.BraceHeight.Value != brace || parent != "" && s.Parent != parent || !strings.Contains(s.Reason, "Of 2 changes this one") {
		t.Errorf("after the choice the bow is %+v", now)
	}
}
