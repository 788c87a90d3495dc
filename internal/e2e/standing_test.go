package e2e

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// seasonNotebook holds an invented bow with readings, a change after them, the
// readings that followed, and a spare.
func seasonNotebook(t *testing.T) *notebook {
	t.Helper()
	n := openNotebook(t, "--no-refit") // what is forecast and what stands must not hang on how quick a fit is
	rng := rand.New(rand.NewPCG(6, 6))
	bow := `"limbs": {"bow_length": "68 in", "range_low": "21 cm", "range_high": "23.5 cm"}, "string": {"strands": 18, "shots_on_it": 900}, "draw": {"length": "28.5 in", "weight": "38 lbf"}, "nocking_point": {"value": "8 mm"}, "tiller": "3 mm", "centre_shot": "1.5 mm", "button": {"spring": "medium", "turns": 3}, "arrow": {"mass": "330 gr", "spine": "600", "shaft_length": "28 1/2 in", "point_mass": "110 gr"}`
	setup := func(id, bowID, parent, reason, brace string) {
		n.put("/setups/"+id, fmt.Sprintf(`{"bow": %q, %s "reason": %q, "settings": {%s, "brace_height": {"value": %q}}}`, bowID, parent, reason, bow, brace))
	}
	read := func(setupID, kind, text, more string) {
		n.put("/readings/"+n.newID(rng), fmt.Sprintf(`{"bow": %q, "setup": %q, "kind": %q, "text": %q %s}`, targetBow, setupID, kind, text, more))
	}
	n.put("/bows/"+targetBow, `{"name": "Kestrel 68", "style": "recurve"}`)
	setup(targetSetUp, targetBow, "", "first", "22 cm")
	read(targetSetUp, "speed", "56.1 m/s", "")
	read(targetSetUp, "bare_shaft_right", "-4 cm", `, "distance": "18 m"`)
	for i := range 8 {
		at := time.Now().Add(-time.Duration(300-24*i) * time.Hour).UTC().Format(time.RFC3339)
		read(targetSetUp, "brace_height", fmt.Sprintf("%.1f mm", 220+0.5*float64(i%3-1)), fmt.Sprintf(`, "at": %q`, at))
	}
	setup(seasonSetUp, targetBow, fmt.Sprintf(`"parent": %q,`, targetSetUp), "a centimetre up", "23 cm")
	read(seasonSetUp, "speed", "55.4 m/s", "")
	n.put("/bows/"+plainBow, `{"name": "Plover 68", "style": "recurve"}`)
	setup(plainSetUp, plainBow, "", "the spare", "21.5 cm")
	return n
}

const seasonSetUp = "0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4e05"

// TestStandingPages asks whether the old result still counts, overrules one
// with a reason, reads the ledger and the check charts.
func TestStandingPages(t *testing.T) {
	n, b := seasonNotebook(t), openBrowser(t)
	b.size(390, 844)
	b.open(n.url("/bows/" + targetBow))
	b.see("Where the work stands")
	b.long("Plan a brace-height trial and choose")
	b.tap("The steps in words")
	b.see("Spoiled by a later move of")
	b.fits("the bow's page with the order of work")
	b.shot("bow")
	b.tap("Does the old result still count?")
	b.at("/bows/(" + targetBow + ")/standing")
	b.long("Take it again")
	b.do("open what was changed", waitFor(`(document.querySelectorAll(".result details:first-of-type").forEach((d) => { d.open = true; }), true)`))
	b.see("22 cm → 23 cm")
	themes(b, "standing")

	// a ruling by keyboard alone: without a reason it is refused, with one it stands
	b.size(390, 844)
	overrule(n, b)

	b.open(n.url("/bows/" + targetBow + "/ledger"))
	b.see("2 of your last 2 fell inside the 90 % band")
	b.see("change of arrow speed")
	themes(b, "the ledger")
	b.open(n.url("/bows/" + targetBow + "/upkeep"))
	b.see("The brace height holds")
	b.see("NIST/SEMATECH")
	themes(b, "upkeep")
	b.fault()
}

// overrule rules that the first result shown counts after all.
func overrule(n *notebook, b *browser) {
	b.t.Helper()
	first := `document.querySelector(".result.stale details:last-of-type summary")`
	b.do("open the ruling by keyboard", waitFor(`(`+first+`.focus(), true)`), chromedp.KeyEvent(kb.Enter))
	b.do("it is open", waitFor(`document.querySelector(".result.stale details:last-of-type").open`))
	b.do("rule without a reason", waitFor(`(document.querySelector(".result.stale form button").focus(), true)`), chromedp.KeyEvent(kb.Enter))
	b.see("A ruling needs a reason")
	b.do("give a reason", waitFor(`(document.querySelector(".result.stale form [name^=reason]").focus(), true)`), chromedp.KeyEvent("three bare shafts, still in the group"), chromedp.KeyEvent(kb.Enter))
	b.long("by your own ruling: three bare shafts")
	var v struct {
		Standings []struct {
			State, Computed string
			Ruling          *struct{ Reason string }
		} `json:"standings"`
	}
	n.get("/bows/"+targetBow+"/standing", &v)
	ruled := 0
	for _, s := range v.Standings {
		if s.Ruling != nil && s.State == "fresh" && s.Computed == "stale" {
			ruled++
		}
	}
	if ruled != 1 {
		b.t.Errorf("%d rulings of a stale result that counts in %+v", ruled, v.Standings)
	}
}

// TestBesidePages compares, matches a spare and opens the change ready made.
func TestBesidePages(t *testing.T) {
	n, b := seasonNotebook(t), openBrowser(t)
	b.size(1366, 768)
	b.open(n.url("/bows/" + targetBow + "/beside"))
	b.long("What each would show")
	b.see("Sight marks move")
	b.do("choose the spare", chromedp.SetValue(`//label[contains(., "Beside which bow")]/following-sibling::select`, plainBow, chromedp.NodeVisible), waitFor(`[...document.querySelectorAll("select")].some((s) => s.value === "`+plainBow+`" && s.dispatchEvent(new Event("change", {bubbles: true})))`))
	b.see("Bring the second bow to match")
	b.tap("Find the changes")
	b.long("Change on Plover 68")
	themes(b, "side by side")
	b.tap("Open it as a change of Plover 68")
	b.at("/bows/(" + plainBow + ")/change")
	b.see("brace height")
	b.shot("transfer")

	b.fault()
}

// TestExplainPage reads the page for the archer, and prints it on one sheet.
func TestExplainPage(t *testing.T) {
	n, b := seasonNotebook(t), openBrowser(t)
	b.size(390, 844)
	b.open(n.url("/bows/" + targetBow + "/explain"))
	b.long("For one centimetre more brace height")
	b.see("What it forgives")
	themes(b, "the explanation")
	b.tap("Sheet to print")
	b.long("PDF, A4")
	b.accessible("the explanation's sheet")
	if pages := b.printed("explain"); pages != 1 {
		t.Errorf("the explanation prints on %d pages", pages)
	}
	if pages := pdfPages(n, "/sheets/explain/"+seasonSetUp+".pdf?paper=A4"); pages != 1 {
		t.Errorf("the explanation's own PDF has %d pages", pages)
	}
	b.fault()
}

// long waits for what is computed while one looks: seconds on an idle machine,
// minutes on one that runs all tests at once.
func (b *browser) long(text string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 4*time.Minute)
	defer cancel()
	if err := chromedp.Do(ctx, waitFor(fmt.Sprintf("document.body.innerText.toLowerCase().includes(%q)", strings.ToLower(text)))); err != nil {
		b.shot("failed")
		b.t.Fatalf("waiting for %q: %v", text, err)
	}
}
