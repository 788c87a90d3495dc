package e2e

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// holdsUp has the page's sendings to addresses like this wait, as on a slow
// link, until letGo.
func (b *browser) holdsUp(like string) {
	b.t.Helper()
	evaluate[bool](b, fmt.Sprintf(`(() => {
		if (!window.held) {
			const real = fetch;
			window.held = [];
			window.fetch = (at, how) => how?.method === "PUT" && window.slow?.test(String(at)) ? new Promise((done) => held.push(() => done(real(at, how)))) : real(at, how);
		}
		window.slow = new RegExp(%q);
		return true;
	})()`, like))
}

func (b *browser) letGo() {
	b.t.Helper()
	b.do("something is on its way", waitFor("held.length > 0"))
	evaluate[bool](b, "(window.slow = undefined, held.splice(0).forEach((go) => go()), true)")
}

// twice presses a button twice in one moment, and once more a little later.
func (b *browser) twice(text string) {
	b.t.Helper()
	b.do("press twice: "+text, calm(), waitFor(fmt.Sprintf(`window.pressed = [...document.querySelectorAll("main button")].find((b) => b.innerText.includes(%q))`, text)))
	evaluate[bool](b, "(pressed.click(), pressed.click(), true)")
	b.do("it is on its way", waitFor("held.length > 0"))
	evaluate[bool](b, "(pressed.click(), true)")
}

const done = `[...document.querySelectorAll("[role=status]")].some((s) => /^(Noted|Kept)/.test(s.innerText))`

// TestTypedOnTheWay notes a reading and a mark over a slow link: the button is
// pressed three times, and the next one is typed while the first is on its way.
// Each is noted once, nothing is wiped, and no error is told.
func TestTypedOnTheWay(t *testing.T) {
	t.Parallel()
	n, b := targetNotebook(t), openBrowser(t)
	b.size(390, 844)
	b.open(n.url("/bows/" + targetBow))
	typedOnTheWay(n, b, "Note it", "reading", "22.1 cm", "22.3 cm")
	nameOnTheWay(n, b)
	b.open(n.url("/bows/" + targetBow + "/marks"))
	b.see("No marks yet")
	b.fill("distance", "18 m")
	typedOnTheWay(n, b, "Keep the mark", "mark", "12.5 mm", "13.5 mm")
	tableTwice(n, b)
	b.fault()
}

func typedOnTheWay(n *notebook, b *browser, button, field, first, second string) {
	b.t.Helper()
	b.fill(field, first)
	b.holdsUp("/readings/")
	b.twice(button)
	b.do("type the next", setValue(field, second))
	b.letGo()
	b.do("the first is noted", waitFor(done))
	if got := b.value(field); got != second {
		b.t.Errorf("while %s was on its way %s was typed; the field holds %q", first, second, got)
	}
	b.tap(button)
	b.do("the field is empty", waitFor(fmt.Sprintf(`document.querySelector("[name=%s]").value === "" && %s`, field, done)))
	b.sent()
	b.notTold()
	if got := n.textsOf(targetBow); !slices.Equal(got[len(got)-2:], []string{first, second}) {
		b.t.Errorf("the notebook holds %q; wanted %s and %s, once each", got, first, second)
	}
}

// notTold demands that the page tells of no error, and no refusal waits.
func (b *browser) notTold() {
	b.t.Helper()
	if said := evaluate[string](b, `[...document.querySelectorAll(".error, .note.bad, [data-refused]:not([data-refused='0'])")].map((e) => e.innerText).join("; ")`); said != "" {
		b.t.Errorf("the page tells %q", said)
	}
}

// textsOf are the readings of a bow as typed, in order.
func (n *notebook) textsOf(bow string) (texts []string) {
	n.t.Helper()
	var list rows[readingView]
	n.get("/readings?bow="+bow, &list)
	for _, r := range list.Rows {
		texts = append(texts, r.Reading.Text)
	}
	return texts
}

// nameOnTheWay renames a bow and goes on typing: the name is saved, without a
// clash with itself, and the notes go on in the version that came of it.
func nameOnTheWay(n *notebook, b *browser) {
	b.t.Helper()
	b.tap("Name, notes, put away")
	evaluate[bool](b, `(() => {
		const form = [...document.querySelectorAll("details")].find((d) => d.innerText.startsWith("Name, notes")).querySelector("form");
		form.id = "about";
		form.querySelector("input").name = "name";
		return true;
	})()`)
	b.do("a name", setValue("name", "Osprey 68"))
	b.holdsUp("/about")
	b.do("save twice", waitFor(`(() => { const save = document.querySelector("#about button[type=submit]"); save.click(); save.click(); return true; })()`))
	b.do("notes", chromedp.Focus(chromedp.CSS("#about textarea"), chromedp.NodeVisible), chromedp.SendKeys(chromedp.CSS("#about textarea"), "new limbs"))
	b.letGo()
	b.do("it is renamed", waitFor(`document.querySelector("h1").innerText.includes("Osprey 68")`), onDisk())
	b.do("the notes go on", waitFor(`document.querySelector("#about textarea").value === "new limbs" && document.querySelector("[name=name]").value === "Osprey 68"`))
	b.notTold()
	b.holdsUp("/about")
	b.do("save", waitFor(`(document.querySelector("#about button[type=submit]").click(), true)`))
	b.letGo()
	b.see("Saved.")
	var view struct {
		Bow struct{ Name, Notes string } `json:"bow"`
	}
	n.get("/bows/"+targetBow, &view)
	if view.Bow.Name != "Osprey 68" || view.Bow.Notes != "new limbs" {
		b.t.Errorf("the notebook holds %+v", view.Bow)
	}
}

// tableTwice keeps a table of marks that is refused in the middle, is put right
// and kept again, pressed three times: each line is there once.
func tableTwice(n *notebook, b *browser) {
	b.t.Helper()
	before := len(n.textsOf(targetBow))
	lines := func(last string) {
		b.t.Helper()
		b.do("a table", setValue("table", "30 m, 23.4 mm\r50 m, 45.1 mm\r"+last))
		b.tap("Read the table")
	}
	b.tap("Paste a table of marks")
	lines("70 m, 77 mm")
	b.do("the second is refused", waitFor(`(() => {
		const real = window.fetch;
		let n = 0;
		window.fetch = (at, how) => how?.method === "PUT" && ++n === 2 ? (window.fetch = real, Promise.resolve(new Response('{"status": 422, "code": "invalid", "detail": "Not so."}', {status: 422, headers: {"Content-Type": "application/problem+json"}}))) : real(at, how);
		return true;
	})()`))
	b.tap("Keep these 3 marks")
	b.see("Not so.")
	lines("70 m, 78 mm")
	b.holdsUp("/readings/")
	b.twice("Keep these 3 marks")
	b.letGo()
	b.do("all is kept", waitFor(`document.querySelector("[name=table]").value === ""`))
	b.sent()
	if got := n.textsOf(targetBow)[before:]; strings.Join(got, ", ") != "23.4 mm, 45.1 mm, 78 mm" {
		b.t.Errorf("the notebook holds the marks %q", got)
	}
}

// TestTypedOnTheWayAtAStop does the same with the forms of a trial: the stop's
// own, and the card that is typed up, in which rows are noted one by one.
func TestTypedOnTheWayAtAStop(t *testing.T) {
	t.Parallel()
	n, b := openNotebook(t), openBrowser(t)
	trial(n)
	b.size(390, 844)
	b.open(n.url("/trials/" + slipTrial))
	b.fill("brace_height", "212 mm")
	b.holdsUp("/readings/")
	b.twice("Save this stop")
	b.tap("Turns, arrows, speed, a note")
	b.do("a note", chromedp.Focus(chromedp.CSS("[name=note]"), chromedp.NodeVisible), chromedp.SendKeys(chromedp.CSS("[name=note]"), "wind from the left"))
	b.letGo()
	b.see("Noted here")
	b.do("it is noted", waitFor(`document.querySelector("[name=brace_height]").value === ""`))
	if got := b.value("note"); got != "wind from the left" {
		t.Errorf("the note typed meanwhile is %q", got)
	}
	b.tap("Save this stop")
	b.do("it is noted too", waitFor(`!document.querySelector("[name=note]")?.value`))
	b.sent()
	if got := n.readings(); got["brace_height"] != 1 || got["note"] != 1 {
		t.Errorf("the notebook holds %v; wanted the height and the note, once each", got)
	}

	b.open(n.url("/trials/" + slipTrial + "?view=card"))
	const second, third = "Stop 2, read", "Stop 3, read"
	b.fill(second, "214 mm")
	b.fill(third, "216 mm")
	b.holdsUp("/readings/")
	b.twice("Note the card")
	b.fill("Stop 2, note", "a gust")
	b.fill("Stop 3, note", "none")
	b.letGo()
	b.do("the rows are noted", waitFor(fmt.Sprintf(`[%q, %q].every((l) => document.querySelector("[aria-label='" + l + "']").value === "")`, second, third)))
	b.do("what was typed meanwhile stays", waitFor(`["Stop 2, note", "Stop 3, note"].map((l) => document.querySelector("[aria-label='" + l + "']").value).join() === "a gust,none"`))
	b.sent()
	if got := n.readings(); got["brace_height"] != 3 {
		t.Errorf("the notebook holds %v; wanted three heights", got)
	}
	n.putBow()
	feltTwice(n, b)
	arrowsTwice(n, b)
	b.fault()
}

// feltTwice taps a feel twice and then another, before the first is answered:
// the second corrects the first, and nothing is there twice.
func feltTwice(n *notebook, b *browser) {
	b.t.Helper()
	n.put("/trials/"+coldSham, `{"setup": "`+plotSetUp2+`", "ask": {"what": "sham", "setting": "button", "seed": 4}}`)
	b.open(n.url("/trials/" + coldSham))
	b.see("How did it feel?")
	b.holdsUp("/readings/")
	evaluate[bool](b, `(() => { const taps = document.querySelectorAll(".feel button"); taps[2].click(); taps[2].click(); taps[3].click(); return true; })()`)
	b.letGo()
	b.do("the last is noted", waitFor(`document.querySelectorAll(".feel button")[3].getAttribute("aria-pressed") === "true"`))
	b.sent()
	var list rows[struct {
		Reading struct{ ID, Text, Corrects string } `json:"reading"`
	}]
	n.get("/readings?trial="+coldSham, &list)
	if len(list.Rows) != 2 || list.Rows[0].Reading.Text != "3" || list.Rows[1].Reading.Text != "4" || list.Rows[1].Reading.Corrects != list.Rows[0].Reading.ID {
		b.t.Errorf("the notebook holds %+v; wanted 3, corrected to 4", list.Rows)
	}
}

// arrowsTwice types up a card of arrows: pressed twice, with a note typed into
// the row that is on its way.
func arrowsTwice(n *notebook, b *browser) {
	b.t.Helper()
	n.put("/trials/"+coldPairs, `{"setup": "`+plotSetUp2+`", "ask": {"what": "two set-ups", "setting": "button", "a": "3 turns", "b": "5 turns", "arrows": 3, "distance": "70 m", "seed": 4}}`)
	b.open(n.url("/trials/" + coldPairs + "?view=card"))
	b.fill("Stop 1, arrows", "X 9 8")
	b.holdsUp("/ends/")
	b.twice("Note the card")
	b.fill("Stop 1, note", "a gust")
	b.letGo()
	b.see("1 stop noted.")
	b.sent()
	if got := evaluate[string](b, `["arrows", "note"].map((f) => document.querySelector("[aria-label='Stop 1, " + f + "']").value).join("|")`); got != "|a gust" {
		b.t.Errorf("the row holds %q; wanted the note that was typed meanwhile", got)
	}
	var list rows[struct{}]
	n.get("/ends?trial="+coldPairs, &list)
	if len(list.Rows) != 1 {
		b.t.Errorf("%d ends in the notebook, wanted the one", len(list.Rows))
	}
}
