package e2e

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
)

// walker does the whole job from an empty notebook, in the order of the job.
type walker struct {
	b          *browser
	n          *notebook
	h          hand
	bow, spare string
	did        tally // so far
}

// walk is the job, step by step, as job.md's list names it, with the records
// that each step leaves in the notebook: no more, no fewer.
var walk = []struct {
	step string
	do   func(w *walker)
	adds tally
}{
	{"1 build and check", (*walker).build, tally{"bows": 1, "setups": 1}},
	{"2 choose the arrow", (*walker).shafts, tally{"setups": 1}},
	{"3 rough set-up", (*walker).rough, tally{"setups": 1, "readings": 1}},
	{"4 brace height", (*walker).brace, tally{"trials": 1, "verdicts": 1}},
	{"5 bare shaft", (*walker).bareShaft, tally{"trials": 1, "verdicts": 1, "ends": 4}},
	{"5 walk-back", (*walker).walkBack, tally{"trials": 1, "verdicts": 1, "ends": 5}},
	{"5 groups", (*walker).groups, tally{"trials": 1, "verdicts": 1, "ends": 14 + 1, "sessions": 1}},
	{"6 sight marks", (*walker).marks, tally{"readings": 3}},
	{"7 keep it", (*walker).keep, tally{"readings": 3, "ends": 6}},
	{"7 the spare", (*walker).match, tally{"bows": 1, "setups": 2}},
	{"8 bring a string back", (*walker).string, tally{"setups": 1, "readings": 2}},
	{"8 put a set-up back", (*walker).putBack, tally{"setups": 1}},
	{"9 explain", (*walker).explain, nil},
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
			w := &walker{b: b, n: n, h: way.hand(b), did: tally{}}
			for _, s := range walk {
				if !t.Run(s.step, func(t *testing.T) {
					w.b = b.in(t)
					w.h = way.hand(w.b)
					s.do(w)
					w.count(s.adds)
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

// enter fills in what a person knows of a bow by heart.
func (w *walker) enter(name, weight, brace string) {
	w.b.t.Helper()
	w.h.fill("name", name)
	for _, f := range [][2]string{
		{"/limbs/bow_length", "68 in"}, {"/limbs/range_low", "21.0 cm"}, {"/limbs/range_high", "23.5 cm"}, {"/brace_height/value", brace},
		{"/draw/length", "28 1/2 in"}, {"/draw/weight", weight}, {"/arrow/mass", "330 gr"},
	} {
		w.h.fill(f[0], f[1])
	}
}

// save keeps the bow that was entered, and gives its id.
func (w *walker) save() string {
	w.b.t.Helper()
	w.h.press("Save the bow")
	id := w.b.at("/bows/([0-9a-f-]{36})")
	w.b.see("Forecast")
	return id
}

// build enters a bow; a brace height outside the limb maker's range is named
// before anything is saved.
func (w *walker) build() {
	w.h.press("Enter my bow")
	w.enter("Kestrel 68", "38 lbf", "24,5 cm")
	w.b.see("Outside the limb maker's range")
	w.h.fill("/brace_height/value", "22,0 cm")
	w.h.press("String")
	w.h.fill("/string/twists", "22")
	w.bow = w.save()
	w.stands(map[string]float64{"/brace_height/value": 0.22, "/draw/length": 0.7239, "/arrow/mass": 0.021384, "/string/twists": 22})
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
	w.stands(map[string]float64{"/arrow/shaft_length": 0.7239, "/arrow/point_mass": 0.007128})
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

// rough sets nocking point, tiller, centre shot and button, notes where a bare
// shaft lands, and reads which way that can be mended.
func (w *walker) rough() {
	w.change("rough set-up by the book", [][2]string{{"/nocking_point/value", "8 mm"}, {"/tiller", "3 mm"}, {"/button/turns", "3"}, {"/centre_shot", "1.5 mm"}}, "Nocking point", "Tiller and bolts", "Button", "Centre shot")
	w.stands(map[string]float64{"/nocking_point/value": 0.008, "/tiller": 0.003, "/button/turns": 3, "/centre_shot": 0.0015})
	w.reading("bare_shaft_right", "-6 cm", [2]string{"distance", "18 m"})
	w.read("bare_shaft_right", -0.06)
	w.toBow()
	w.h.press("Fitted to your readings")
	w.b.long("What to measure next")
	w.h.press("Find two or three routes")
	w.b.long("Chance of meeting the wish")
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
	stops := len(v.Stops)
	w.did["readings"] += 2 * stops // a brace height at each; a feeling at one, a speed at the others
	w.verdict("")
	w.n.get("/trials/"+trial, &v)
	for _, s := range v.Stops {
		if s.State != "measured" || len(s.Readings) != 2 {
			w.b.t.Errorf("stop %d is %s with %d readings, wanted measured with 2", s.Plan.Number, s.State, len(s.Readings))
		}
	}
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
