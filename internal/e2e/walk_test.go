package e2e

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
)

// walker does the whole job from an empty notebook, in the order of the job.
type walker struct {
	b   *browser
	n   *notebook
	h   hand
	bow string
}

// walk is the job, step by step, as job.md's list names it.
var walk = []struct {
	step string
	do   func(w *walker)
}{
	{"1 build and check", (*walker).build},
	{"2 choose the arrow", (*walker).shafts},
	{"3 rough set-up", (*walker).rough},
	{"4 brace height", (*walker).brace},
	{"5 bare shaft, walk-back, groups", (*walker).fine},
	{"6 sight marks", (*walker).marks},
	{"7 keep it", (*walker).keep},
	{"8 bring a string back", (*walker).string},
	{"9 explain", (*walker).explain},
}

// TestWalk does every step of the job on a phone with a thumb, and on a laptop
// with the keyboard alone, each from an empty notebook to the printed sheet.
func TestWalk(t *testing.T) {
	for _, way := range []struct {
		name string
		size chromedp.Action[chromedp.Void]
		hand func(*browser) hand
	}{
		{"thumb", chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch), func(b *browser) hand { return glass{b} }},
		{"keyboard", chromedp.EmulateViewport(1366, 768), func(b *browser) hand { return keys{b} }},
	} {
		t.Run(way.name, func(t *testing.T) {
			t.Parallel()
			n, b := openNotebook(t), openBrowser(t)
			b.do("a screen", way.size)
			b.open(n.url("/"))
			w := &walker{b: b, n: n, h: way.hand(b)}
			for _, s := range walk {
				if !t.Run(s.step, func(t *testing.T) {
					w.b = b.in(t)
					w.h = way.hand(w.b)
					s.do(w)
					w.b.fits(s.step)
					w.b.shot(s.step)
				}) {
					break // the next steps stand on this one
				}
			}
			b.fault()
		})
	}
}

// build enters a bow from what a person knows by heart; a brace height outside
// the limb maker's range is named before anything is saved.
func (w *walker) build() {
	w.h.press("Enter my bow")
	w.h.fill("name", "Kestrel 68")
	for _, f := range [][2]string{
		{"/limbs/bow_length", "68 in"}, {"/limbs/range_low", "21.0 cm"}, {"/limbs/range_high", "23.5 cm"}, {"/brace_height/value", "24,5 cm"},
		{"/draw/length", "28 1/2 in"}, {"/draw/weight", "38 lbf"}, {"/arrow/mass", "330 gr"},
	} {
		w.h.fill(f[0], f[1])
	}
	w.b.see("Outside the limb maker's range")
	w.h.fill("/brace_height/value", "22,0 cm")
	w.h.press("String")
	w.h.fill("/string/twists", "22")
	w.h.press("Save the bow")
	w.bow = w.b.at("/bows/([0-9a-f-]{36})")
	w.b.see("Forecast")
}

// toBow goes to the bow's page by the bar that stands on every page of it.
func (w *walker) toBow() {
	w.b.t.Helper()
	if w.b.path() != "/bows/"+w.bow {
		w.h.press("Kestrel 68")
	}
	w.b.at("/bows/(" + w.bow + ")")
	w.b.see("Change something")
}

// shafts enters the arrow and asks which shafts to try.
func (w *walker) shafts() {
	w.change("a set of borrowed shafts", [][2]string{{"/arrow/spine", "600"}, {"/arrow/shaft_length", "28 1/2 in"}, {"/arrow/point_mass", "110 gr"}}, "Arrows")
	w.h.press("At the target")
	w.b.await("the sight is set for them")
	w.h.press("Shafts to try")
	w.b.await("Borrow first")
	w.toBow()
}

// change makes the next set-up.
func (w *walker) change(reason string, fields [][2]string, what ...string) {
	w.b.t.Helper()
	w.toBow()
	w.h.press("Change something")
	for _, c := range what {
		w.h.press(c)
	}
	for _, f := range fields {
		w.h.fill(f[0], f[1])
	}
	w.h.fill("reason", reason)
	w.h.press("Save as the next set-up")
	w.b.at("/bows/(" + w.bow + ")")
	w.b.see(reason)
}

// rough sets nocking point, tiller, centre shot and button, and looks at what
// the model expects of a bare shaft.
func (w *walker) rough() {
	w.change("rough set-up by the book", [][2]string{{"/nocking_point/value", "8 mm"}, {"/tiller", "3 mm"}, {"/button/turns", "3"}, {"/centre_shot", "1.5 mm"}}, "Nocking point", "Tiller and bolts", "Button", "Centre shot")
}

// brace takes a coarse trial: one stop at the range, the others from the
// pencil card, the verdict, and the brace height that is chosen knowingly.
func (w *walker) brace() {
	w.toBow()
	w.h.press("Brace-height trial")
	w.b.see("The plan")
	w.h.fill("turns_per_step", "6")
	w.b.do("the plan follows", waitFor(`[...document.querySelectorAll("table.stops td strong")].some((e) => /^[+−]6$/.test(e.innerText))`))
	w.h.press("Begin the trial")
	trial := w.b.at("/trials/([0-9a-f-]{36})")
	w.b.do("the first stop is there", waitFor(`document.querySelector(".stop strong.num")`))
	w.h.fill("brace_height", expected(w.b))
	w.h.press("good")
	w.h.press("Save this stop")
	w.b.see("Noted here")
	w.h.press("Card")
	w.b.see("Only the brace height is needed")
	var v trialView
	w.n.get("/trials/"+trial, &v)
	for i, s := range v.Stops[1:] {
		w.h.fill(fmt.Sprintf("Stop %d, read", s.Plan.Number), fmt.Sprintf("%.1f mm", 1e3*s.Plan.Brace.SI))
		w.h.fill(fmt.Sprintf("Stop %d, speed", s.Plan.Number), fmt.Sprintf("%d fps", 186-i))
	}
	w.h.press("Note the card")
	w.b.see("stops noted")
	w.h.press("To the verdict")
	w.b.see("What would change this")
	w.h.press("Keep this verdict")
	w.b.see("is kept in the notebook")
}

// reading notes one reading on the bow's page.
func (w *walker) reading(kind, text string, more ...[2]string) {
	w.b.t.Helper()
	w.toBow()
	w.h.pick("What did you measure?", kind)
	for _, f := range more {
		w.h.fill(f[0], f[1])
	}
	w.h.fill("reading", text)
	w.h.press("Note it")
	w.b.see("Noted.")
}

// fine reads a bare shaft, walks back by a trial, and plots an end by rings.
func (w *walker) fine() {
	w.reading("bare_shaft_right", "-6 cm", [2]string{"distance", "18 m"})
	w.toBow()
	w.h.press("Another trial")
	w.h.press("walk-back")
	w.b.see("Walk-back: 10 m, 15 m")
	w.h.press("Begin the trial")
	w.b.at("/trials/([0-9a-f-]{36})")
	w.b.see("Stop 1 of")
	w.toBow()
	w.h.press("Plot an end")
	w.b.see("Plot an end")
	w.h.press("Rings only")
	for _, ring := range []string{"9", "9", "8", "10", "9", "7"} {
		w.h.press(ring)
	}
	w.b.see("complete")
	w.h.press("End done")
	w.b.sent()
	w.h.press("Groups")
	w.b.at("/bows/(" + w.bow + ")/groups")
}

// marks types two sight marks and reads the table between them.
func (w *walker) marks() {
	w.toBow()
	w.h.press("At the target")
	w.b.await("the sight is set for them")
	w.h.press("Sight marks")
	w.b.see("No marks yet")
	for _, m := range [][2]string{{"18 m", "12.5 mm"}, {"30 m", "23.4 mm"}, {"50 m", "45.1 mm"}} {
		w.h.fill("distance", m[0])
		w.h.fill("mark", m[1])
		w.h.press("Keep the mark")
		w.b.do("the field is free again", waitFor(`document.querySelector("[name=mark]").value === ""`))
	}
	w.b.await("From 3 marks")
}

// keep checks the bow by a round, and looks at the charts.
func (w *walker) keep() {
	w.h.press("Bench")
	w.b.see("Enter another bow")
	w.h.press("Round")
	w.b.see("not read yet")
	w.h.press("Kestrel 68")
	w.b.at("/bows/(" + w.bow + ")/round")
	w.h.fill("brace_height", "21,8 cm")
	w.h.fill("nocking_point", "8 mm")
	w.h.fill("tiller", "3 mm")
	w.h.press("Save")
	w.b.see("3 readings noted")
	w.h.press("Bench")
	w.b.see("Enter another bow")
	w.toBow()
	w.h.press("Keep it")
	w.b.at("/bows/(" + w.bow + ")/upkeep")
	w.b.long("brace height")
}

// string enters another string and asks what still counts.
func (w *walker) string() {
	w.change("the old string's serving was worn", [][2]string{{"/string/twists", "20"}, {"/string/shots_on_it", "60"}, {"/brace_height/value", "21.6 cm"}}, "Another string")
	w.h.press("Does it still count?")
	w.b.at("/bows/(" + w.bow + ")/standing")
	w.b.long("Take it again")
}

// explain reads the page for the archer, and its sheet.
func (w *walker) explain() {
	w.toBow()
	w.h.press("What brace height does")
	w.b.long("For one centimetre more brace height")
	w.h.press("Sheet to print")
	w.b.long("PDF, A4")
	if pages := w.b.printed("explain"); pages != 1 {
		w.b.t.Errorf("the explanation prints on %d pages", pages)
	}
}
