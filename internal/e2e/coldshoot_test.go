package e2e

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
)

// Ids of the trials that TestColdShooting looks at.
const (
	coldPairs  = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c7e01"
	coldSham   = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c7e02"
	coldTiller = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c7e03"
	coldBare   = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c7e04"
	coldWalk   = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c7e05"
)

// TestColdShooting holds the trials that are judged by arrows against what cold
// fingers and sunlight need: every kind's plan, stops as they are shot, the
// decision after a pair, the pencil card, the verdict.
func TestColdShooting(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t)
	n.putBow()
	b.do("a phone with a touch screen", chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch))
	coldPlans(n, b)
	for id, ask := range map[string]string{
		coldPairs:  `"what": "two set-ups", "setting": "button", "a": "3 turns", "b": "5 turns", "arrows": 3, "distance": "70 m"`,
		coldSham:   `"what": "sham", "setting": "button"`,
		coldTiller: `"what": "tiller by hold and group", "distance": "70 m"`,
		coldBare:   `"what": "bare shaft", "bare_shafts": 3, "distance": "18 m"`,
		coldWalk:   `"what": "walk-back", "distances": ["10 m", "15 m", "20 m", "25 m", "30 m"]`,
	} {
		n.put("/trials/"+id, `{"setup": "`+plotSetUp2+`", "ask": {`+ask+`, "seed": 4}}`)
	}
	coldStops(n, b)
	coldPair(n, b)
	coldCard(n, b)
	coldVerdicts(n, b)
	b.fault()
}

// coldPlans chooses every kind of trial.
func coldPlans(n *notebook, b *browser) {
	b.t.Helper()
	b.open(n.url("/bows/" + plotBow + "/trials/new"))
	b.see("What do you want to know?")
	fields := map[string][][2]string{
		"one setting": {{"level_0", "6 mm"}, {"level_1", "9 mm"}, {"level_2", "12 mm"}},
		"settings":    {{"low_0", "2 turns"}, {"high_0", "6 turns"}, {"low_1", "6 mm"}, {"high_1", "10 mm"}},
	}
	for _, what := range []string{"two set-ups", "bare shaft", "nocking point by bare shaft", "tiller by hold and group", "walk-back", "one setting", "settings", "confirm", "sham"} {
		b.do("choose "+what, calm(), chromedp.Click(chromedp.CSS(fmt.Sprintf("input[value=%q]", what)), chromedp.NodeReady))
		for _, f := range fields[what] {
			b.fill(f[0], f[1])
		}
		b.do("its plan", waitFor(`document.querySelector("[aria-label='The plan']") && document.querySelector("button.main:not(:disabled)")`))
		b.cold("the plan of " + what)
	}
	b.fill("arrows", "many")
	b.see("Write a whole number")
	b.cold("a plan with a mistake")
}

// coldStops looks at the first stop of every kind, and at what is noted there.
func coldStops(n *notebook, b *browser) {
	b.t.Helper()
	for id, name := range map[string]string{coldBare: "bare shaft", coldWalk: "walk-back", coldTiller: "tiller", coldSham: "sham"} {
		b.open(n.url("/trials/" + id))
		b.see("Stop 1 of")
		b.settled()
		b.cold("the first stop of " + name)
	}
	b.open(n.url("/trials/" + coldSham))
	b.tap("For the helper alone")
	b.cold("what the helper sets")
	b.tap("sweet")
	b.see("Tap another to correct it")
	b.cold("a feeling noted")
}

// coldPair goes from a stop of a comparison to its decision.
func coldPair(n *notebook, b *browser) {
	b.t.Helper()
	var view shootView
	n.get("/trials/"+coldPairs, &view)
	b.open(n.url("/trials/" + coldPairs))
	b.see("Stop 1 of 24")
	b.cold("a stop of a pair")
	n.shootStops(view, 0, 1)
	b.open(n.url("/trials/" + coldPairs + "?stop=0"))
	b.see("Next stop")
	b.cold("a stop shot")
	n.shootStops(view, 1, 4)
	b.open(n.url("/trials/" + coldPairs + "?stop=3"))
	b.see("Cannot tell yet")
	b.see("more arrows a set-up")
	b.cold("a pair that does not decide")
	b.tap("Leave it for today")
	b.at("/bows/(" + plotBow + ")")
	b.open(n.url("/trials/" + coldPairs))
	b.see("You left this trial")
	b.cold("a trial that was left")
	n.shootStops(view, 4, 24)
	b.open(n.url("/trials/" + coldPairs + "?stop=23"))
	b.see("It is decided")
	b.cold("a pair that decides")
	b.open(n.url("/trials/" + coldPairs))
	b.see("Every stop is shot")
	b.cold("every stop is shot")
	b.open(n.url("/trials/" + coldPairs + "?view=plan"))
	b.see("Every stop, in its order")
	b.cold("the plan that is followed")
}

// coldCard types up a card with a mistake in it.
func coldCard(n *notebook, b *browser) {
	b.t.Helper()
	b.open(n.url("/trials/" + coldWalk + "?view=card"))
	b.fill("Stop 1, arrows", "3/-2 nine")
	b.fill("Stop 2, arrows", "3/-2 2/1 4/1")
	b.cold("a card typed up")
	b.tap("Note the card")
	b.see("1 to put right")
	b.cold("a card with a mistake")
}

// coldVerdicts reads a verdict of each kind, and keeps one.
func coldVerdicts(n *notebook, b *browser) {
	b.t.Helper()
	shootAll(n, coldBare)
	for _, of := range [][2]string{{coldPairs, "a comparison"}, {coldWalk, "walk-back"}, {coldSham, "sham"}, {coldTiller, "tiller"}, {coldBare, "bare shaft"}} {
		id, name := of[0], of[1]
		b.open(n.url("/trials/" + id + "?view=verdict"))
		b.do("the answer is marked", waitFor(`document.querySelector(".answers .here")`))
		b.settled()
		b.cold("the verdict of " + name)
	}
	b.tap("Keep this verdict")
	b.see("is kept in the notebook")
	b.cold("a verdict kept")
}
