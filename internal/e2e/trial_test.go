// Package e2e walks through the program the way a person does: a real
// Chromium, the real server, an empty notebook.
package e2e

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// recordings are two files from outside the project (their origin stands in
// PROVENANCE.md beside them): a release with its impact, and a single twang.
var recordings = []string{"wesnoth-bow.ogg", "flare-shoot.wav"}

const reference = root + "/../shared/reference/recordings"

// TestBraceTrial takes a decision with an empty notebook: enter a bow, plan
// the trial, record its stops at the range on a phone, through a reload and a
// power cut, type up the rest at home, read the verdict, choose, print.
func TestBraceTrial(t *testing.T) {
	n, b := openNotebook(t), openBrowser(t)
	b.size(390, 844)
	bow := enterBow(n, b)
	trial := plan(b)

	sounds := recordFirstStop(b)
	reloadKeeps(b)
	powerCut(n, b)

	b.size(1366, 768)
	stops := typeUpRest(n, b, trial)
	verdict(b)
	setup := choose(n, b, bow)
	sheets(n, b, trial, setup)
	counts(n, bow, trial, stops, sounds)
	b.fault()
}

// enterBow enters an invented bow from what a person knows by heart.
func enterBow(n *notebook, b *browser) string {
	b.t.Helper()
	b.open(n.url("/"))
	b.see("Enter my bow")
	b.shot("bench-empty")
	b.tap("Enter my bow")
	b.fill("name", "Kestrel 68")
	for _, f := range [][2]string{
		{"/limbs/bow_length", "68 in"}, {"/limbs/range_low", "21.0 cm"}, {"/limbs/range_high", "23.5 cm"}, {"/brace_height/value", "22,0 cm"},
		{"/draw/length", "28 1/2 in"}, {"/draw/weight", "38 lbf"}, {"/arrow/mass", "330 gr"},
	} {
		b.fill(f[0], f[1])
	}
	b.see("Understood as")
	b.tap("String")
	b.fill("/string/twists", "22")
	b.tap("Save the bow")
	id := b.at("/bows/([0-9a-f-]{36})")
	b.see("Kestrel 68")
	b.shot("bow")
	return id
}

// plan asks for a coarse trial and begins it.
func plan(b *browser) string {
	b.t.Helper()
	b.tap("Brace-height trial")
	b.see("What you decide")
	b.see("The plan")
	b.do("ask for 4 turns a step", setValue("turns_per_step", "4"))
	b.do("the plan follows", waitFor(`[...document.querySelectorAll("table.stops td strong")].some((e) => /^[+−]4$/.test(e.innerText))`))
	b.fits("the plan")
	b.accessible("the plan")
	b.shot("plan")
	b.tap("Begin the trial")
	id := b.at("/trials/([0-9a-f-]{36})")
	b.see("Brace height")
	b.shot("stop")
	return id
}

// recordFirstStop notes a reading, a feel and a speed at the first stop, with
// two recordings, and goes on.
func recordFirstStop(b *browser) (sounds int) {
	b.t.Helper()
	b.fill("brace_height", expected(b))
	b.see("Understood as")
	b.tap("good")
	b.tap("Turns, arrows, speed, a note")
	b.fill("speed", "186 fps; 187 fps")
	b.tap("Save this stop")
	b.see("Noted here")
	for i, name := range recordings {
		path := filepath.Join(reference, name)
		if _, err := os.Stat(path); err != nil {
			b.t.Logf("without the recording %s: %v", name, err)
			continue
		}
		b.upload("Recording of this stop", path)
		b.do("listen", waitFor(fmt.Sprintf(`document.querySelectorAll("[aria-label='Recording of this stop'] .heard[aria-busy=false]").length === %d`, i+1)))
		b.see(name)
		sounds++
	}
	b.accessible("a stop")
	b.shot("stop-noted")
	b.tap("Next stop")
	b.see("2 of ")
	return sounds
}

// reloadKeeps types half a stop, reloads, and finds it again.
func reloadKeeps(b *browser) {
	b.t.Helper()
	typed := expected(b)
	b.fill("brace_height", typed)
	b.tap("sweet")
	b.do("reload", onDisk(), chromedp.Reload())
	b.see("2 of ")
	if got := b.value("brace_height"); got != typed {
		b.t.Errorf("after a reload the brace height is %q, typed was %q", got, typed)
	}
	b.do("feel is kept", waitFor(`[...document.querySelectorAll("[aria-pressed=true]")].some((e) => e.innerText.includes("sweet"))`))
}

// powerCut kills the server while a stop is typed, saves into nothing, even
// reloads, starts the server again and finds all of it.
func powerCut(n *notebook, b *browser) {
	b.t.Helper()
	b.do("the pages are kept on the device", waitFor("navigator.serviceWorker.controller"))
	n.kill()
	b.tap("Save this stop")
	b.see("not yet sent")
	b.do("reload without a server", onDisk(), chromedp.Reload())
	b.see("does not answer")
	b.see("Noted here")
	b.shot("power-cut")
	n.start()
	b.do("reload", onDisk(), chromedp.Reload())
	b.do("the outbox empties", waitFor(`document.querySelector("[data-unsent]")?.dataset.unsent === "0"`))
	b.see("Noted here")
	b.do("all is sent", waitFor(`!document.body.innerText.includes("not yet sent")`))
}
