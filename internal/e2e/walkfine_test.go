package e2e

import (
	"fmt"
	"strings"
)

// plan begins another trial of a kind, found by what its card asks.
func (w *walker) plan(asks, says string, fields ...[2]string) shootView {
	w.b.t.Helper()
	w.toBow()
	w.h.press("Another trial")
	w.b.see("What do you want to know?")
	w.h.press(asks)
	for _, f := range fields {
		w.h.fill(f[0], f[1])
	}
	w.b.see(says)
	w.h.press("Begin the trial")
	id := w.b.at("/trials/([0-9a-f-]{36})")
	w.b.see("Stop 1 of")
	var v shootView
	w.n.get("/trials/"+id, &v)
	return v
}

// card types the rest of a trial up from the pencil card: the arrows of a stop
// by what was set there and how far away the face was.
func (w *walker) card(v shootView, from int, arrows func(label string, metres float64) string) {
	w.b.t.Helper()
	w.h.press("Card")
	w.b.see("Type up a pencil card")
	for i, s := range v.Trial.Plan.Steps[from:] {
		w.h.fill(fmt.Sprintf("Stop %d, arrows", from+i+1), arrows(s.Label, s.Distance))
	}
	w.h.press("Note the card")
	w.b.see(fmt.Sprintf("%d stops noted", len(v.Trial.Plan.Steps)-from))
}

// verdict reads the trial's answer and keeps it.
func (w *walker) verdict(answer string) {
	w.b.t.Helper()
	w.h.press("To the verdict")
	if answer != "" {
		w.b.do("the answer is marked", waitFor(fmt.Sprintf(`document.querySelector(".answers .here")?.innerText.toLowerCase().includes(%q)`, answer)))
		w.b.see("Next:")
	} else {
		w.b.see("What would change this")
	}
	w.h.press("Keep this verdict")
	w.b.see("is kept in the notebook")
}

// shot demands that every stop of a trial holds one end of so many arrows.
func (w *walker) shot(v shootView, arrows int) {
	w.b.t.Helper()
	stops := map[int]int{}
	for _, e := range w.n.ends("trial=" + v.Trial.ID) {
		stops[*e.End.Stop]++
		if len(e.End.Impacts) != arrows {
			w.b.t.Errorf("stop %d holds %d arrows, wanted %d", *e.End.Stop+1, len(e.End.Impacts), arrows)
		}
	}
	for i := range v.Trial.Plan.Steps {
		if stops[i] != 1 {
			w.b.t.Errorf("stop %d holds %d ends, wanted 1", i+1, stops[i])
		}
	}
}

// bareShaft shoots three bare shafts beside fletched arrows, and reads what to
// settle first: they land low.
func (w *walker) bareShaft() {
	v := w.plan("Does the arrow leave straight?", "Bare shaft at 18 m with 3 numbered shafts")
	w.card(v, 0, func(string, float64) string { return "0/1 1/0 -1/0,5 -9/-5 -8/-6 -9/-4,5" })
	w.verdict("height first")
	w.shot(v, 6)
	for _, e := range w.n.ends("trial=" + v.Trial.ID) {
		for k, hit := range e.End.Impacts {
			if hit.Bare != (k >= 3) {
				w.b.t.Errorf("arrow %d of an end is kept as bare: %t", k+1, hit.Bare)
			}
		}
	}
}

// walkBack shoots from five distances at one mark, the first stop on the face of
// the page: the arrows drift sideways.
func (w *walker) walkBack() {
	v := w.plan("Do the arrows drift sideways with distance?", "Walk-back: 10 m, 15 m")
	hits := [][2]int{{4, 1}, {3, 0}, {5, -1}}
	for k, at := range hits[:v.Trial.Plan.Steps[0].Arrows] {
		w.h.hit(2.4, at[0], at[1])
		w.b.plotted(k + 1)
	}
	w.h.press("End done")
	w.b.see("Next stop")
	w.card(v, 1, func(_ string, metres float64) string {
		x, y := 0.4*metres, -0.05*metres*metres/2
		return fmt.Sprintf("%.1f/%.1f %.1f/%.1f %.1f/%.1f", x, y, x+1, y-1, x-0.5, y+1)
	})
	w.verdict("slanted")
	w.shot(v, 3)
	first := w.n.ends("trial=" + v.Trial.ID)[0].End
	for k, hit := range first.Impacts {
		if off := max(abs(*hit.X-float64(hits[k][0])/100), abs(*hit.Y-float64(hits[k][1])/100)); off > 0.004 {
			w.b.t.Errorf("arrow %d of the first stop is stored %.1f mm away", k+1, 1e3*off)
		}
	}
}

func abs(v float64) float64 { return max(v, -v) }

// groups compares two settings of the button pair by pair, the first stop on the
// face; then an end outside of a trial is called ring by ring.
func (w *walker) groups() {
	v := w.plan("Which of two is tighter?", "3 turns (A) against", [2]string{"a", "3 turns"}, [2]string{"b", "5 turns"}, [2]string{"rounds", "7"}, [2]string{"arrows", "4"})
	wide := map[string]int{"A": 2, "B": 11}
	at := wide[v.Trial.Plan.Steps[0].Label]
	for k, way := range [][2]int{{at, 1}, {-at, 0}, {0, at}, {1, -at}} {
		w.h.hit(shownSpan, way[0], way[1])
		w.b.plotted(k + 1)
	}
	w.h.press("End done")
	w.b.see("Next stop")
	w.card(v, 1, func(label string, _ float64) string {
		return strings.NewReplacer("@", fmt.Sprint(wide[label])).Replace("@/1 -@/0 0/@ 1/-@")
	})
	w.verdict("a (3 turns) is tighter")
	w.shot(v, 4)
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
	w.b.do("its rings are counted", waitFor(`document.body.innerText.includes("By rings alone") || document.body.innerText.includes("by rings alone")`))
	var rings []string
	for _, e := range w.n.ends("bow=" + w.bow) {
		if e.End.Trial == "" {
			for _, hit := range e.End.Impacts {
				rings = append(rings, hit.Ring)
			}
		}
	}
	if got := strings.Join(rings, " "); got != "9 9 8 10 9 7" {
		w.b.t.Errorf("the end called ring by ring is kept as %q", got)
	}
}

// marks types three sight marks and reads the table between them.
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
	w.read("sight_mark", 0.0125, 0.0234, 0.0451)
}
