package workbench

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/notebook"
	"tautline/sound"
	"tautline/trial"
	"tautline/unit"
)

// Two brace heights shot A-B-B-A by their speeds: the answer is which is
// faster, by how much, and neither a spot nor a want of stops.
func TestJudgeComparesTwoBraceHeights(t *testing.T) {
	s := example(t, "heron-70")
	text := func(l unit.Length) notebook.Length { return notebook.Length{Typed: unit.Said(l, unit.MM)} }
	plan, err := PlanBrace(t.Context(), s, BraceAsk{Order: trial.ABBA, StopA: text(0.210).Text, StopB: text(0.230).Text}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var readings []notebook.Reading
	for i, stop := range plan.Plan.Stops {
		at := i
		note := func(kind notebook.Kind, value float64) {
			readings = append(readings, notebook.Reading{Stamp: notebook.Stamp{ID: notebook.NewID()}, Kind: kind, Value: value, Stop: &at})
		}
		note(notebook.ReadBrace, float64(stop.Brace.Value))
		for k := range 6 {
			note(notebook.ReadSpeed, 60-150*float64(stop.Brace.Value-0.21)+0.1*float64(i)+0.05*math.Sin(float64(9*i+4*k)))
		}
	}
	v, err := JudgeBrace(t.Context(), s, plan, readings, nil)
	if err != nil {
		t.Fatal(err)
	}
	apart := 150 * float64(plan.Plan.Stops[1].Brace.Value-plan.Plan.Stops[0].Brace.Value)
	if v.Outcome != trial.Differ || len(v.Contrasts) != 1 || math.Abs(v.Contrasts[0].Difference.Value-apart) > 0.1 || !v.Contrasts[0].Difference.Holds(apart) {
		t.Fatalf("%s, %+v: %s", v.Outcome, v.Contrasts, v.Text)
	}
	if !strings.Contains(v.Text, "faster than B at ") || strings.Contains(v.Text, "spot") {
		t.Error(v.Text)
	}
}

// shooting is what a person leaves behind at the range: readings and recordings
// with the moments they were made.
type shooting struct {
	now      time.Time
	readings []notebook.Reading
	heard    []Heard
}

func (w *shooting) note(stop int, kind notebook.Kind, value float64) notebook.ID {
	w.now = w.now.Add(time.Minute)
	id := notebook.NewID()
	w.readings = append(w.readings, notebook.Reading{Stamp: notebook.Stamp{ID: id, At: w.now}, Kind: kind, Value: value, Stop: &stop})
	return id
}

// record shoots so many arrows at a stop, the first three not settled.
func (w *shooting) record(stop, arrows int, level func(k int) float64) {
	w.now = w.now.Add(time.Minute)
	var shots []sound.Shot
	for k := range arrows {
		y := level(k)
		if k < 3 {
			y += 4
		}
		shots = append(shots, sound.Shot{Release: unit.Duration(k), Measures: sound.Measures{Exposure: sound.Measure{Value: y - 30, OK: true}}})
	}
	w.heard = append(w.heard, Heard{Recording: notebook.Recording{Stamp: notebook.Stamp{At: w.now}, Stop: &stop, Phone: "p"}, Hearing: sound.Hearing{Shots: shots}})
}

// sweep shoots every stop of a plan once, and then some of them again: the
// level falls all the way up and dips by 1.5 dB at the seventh stop.
func sweep(plan BracePlan, drift float64, again ...int) *shooting {
	rng, w := rand.New(rand.NewPCG(7, 7)), &shooting{now: time.Date(2026, 5, 2, 10, 0, 0, 0, time.UTC)}
	visit := func(i int) {
		brace := float64(plan.Plan.Stops[i].Brace.Value)
		at := float64(len(w.heard))
		w.note(i, notebook.ReadBrace, brace)
		w.record(i, 9, func(int) float64 {
			y := -0.1*float64(i) + drift*at + 0.7*rng.NormFloat64()
			if i == 6 {
				y -= 1.5
			}
			return y
		})
	}
	for i := range plan.Plan.Stops {
		visit(i)
	}
	for _, i := range again {
		visit(i)
	}
	return w
}

// The page leads back to a stop: what is shot there counts as a second visit,
// with settling shots of its own, so that a drift can be told from brace height.
func TestSecondVisitsAreSeen(t *testing.T) {
	s := example(t, "heron-70")
	plan, err := PlanBrace(t.Context(), s, BraceAsk{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	n := len(plan.Plan.Stops)
	once, again := sweep(plan, 0.1), sweep(plan, 0.1, 5, 6, 7)
	a, err := JudgeBrace(t.Context(), s, plan, once.readings, once.heard)
	if err != nil {
		t.Fatal(err)
	}
	b, err := JudgeBrace(t.Context(), s, plan, again.readings, again.heard)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("once:  %d arrows, %d settling, drift %v: %s", a.Arrows, a.Settling, a.Trends[0].Drift, a.Text)
	t.Logf("again: %d arrows, %d settling, drift %v: %s", b.Arrows, b.Settling, b.Trends[0].Drift, b.Text)
	if a.Settling != 3*n || b.Settling != 3*n+9 || b.Arrows != a.Arrows+18 {
		t.Errorf("%d and %d settling, %d and %d arrows; want %d more settling and 18 arrows", a.Settling, b.Settling, a.Arrows, b.Arrows, 9)
	}
	if a.Trends[0].Drift.Known() || !b.Trends[0].Drift.Holds(0.1) {
		t.Errorf("drift %v once, %v with second visits; 0.1 dB a visit", a.Trends[0].Drift, b.Trends[0].Drift)
	}
	warned := func(v BraceVerdict) bool {
		return strings.Contains(strings.Join(v.Warnings, " "), "visited twice:") || strings.Contains(strings.Join(v.Warnings, " "), "made once")
	}
	if !warned(a) || warned(b) {
		t.Errorf("warnings %q and %q", a.Warnings, b.Warnings)
	}
	if len(b.Records) != n || len(b.Costs) != n || len(b.Model) != n || len(b.Records[6].Shots) != 18 || b.Records[6].Visit != 2 {
		t.Errorf("%d records, %d costs for %d stops", len(b.Records), len(b.Costs), n)
	}
	if b.Stops != n || len(b.Trends[0].Points) != n || b.Trends[0].Points[6].Shots != 12 {
		t.Errorf("%d stops, %d points", b.Stops, len(b.Trends[0].Points))
	}
}

// What begins a visit and what does not.
func TestWhatBeginsAVisit(t *testing.T) {
	s := example(t, "heron-70")
	plan, err := PlanBrace(t.Context(), s, BraceAsk{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	quiet := func(int) float64 { return 0 }
	three := func() *shooting {
		w := &shooting{now: time.Date(2026, 5, 2, 10, 0, 0, 0, time.UTC)}
		for i := range 3 {
			w.note(i, notebook.ReadBrace, 0.21)
			w.record(i, 9, quiet)
		}
		return w
	}
	taps := func(w *shooting, braces ...int) {
		start := w.now
		for _, i := range braces {
			w.note(i, notebook.ReadBrace, 0.21)
		}
		h := Heard{Recording: notebook.Recording{Stamp: notebook.Stamp{At: start}}}
		for k, stop := range []int{0, 1, 2, 1, 0, 2} { // the last stop but one was tapped by mistake: nothing was shot there
			at := 10 + 60*float64(k)
			h.Recording.Taps = append(h.Recording.Taps, notebook.Tap{Stop: stop, At: at})
			if k == 4 {
				continue
			}
			for j := range 5 + k {
				h.Hearing.Shots = append(h.Hearing.Shots, sound.Shot{Release: unit.Duration(at + 5 + float64(j))})
			}
		}
		w.heard = append(w.heard, h)
	}
	for name, c := range map[string]struct {
		do   func(w *shooting)
		want string // visits as stop:braces/shots
	}{
		"one visit each": {func(w *shooting) {}, "0:1/9 1:1/9 2:1/9"},
		"read and recorded again": {func(w *shooting) {
			w.note(1, notebook.ReadBrace, 0.21)
			w.record(1, 6, quiet)
			w.record(1, 3, quiet)
		}, "0:1/9 1:1/9 2:1/9 1:1/9"},
		"recorded before it is read": {func(w *shooting) {
			w.record(1, 3, quiet)
			w.note(1, notebook.ReadBrace, 0.21)
			w.record(1, 6, quiet)
		}, "0:1/9 1:1/9 2:1/9 1:1/9"},
		"recorded only": {func(w *shooting) { w.record(1, 6, quiet) }, "0:1/9 1:1/9 2:1/9 1:0/6"},
		"a correction": {func(w *shooting) {
			old := w.readings[1].ID
			w.note(1, notebook.ReadBrace, 0.22)
			w.readings[len(w.readings)-1].Corrects = old
			old = w.readings[len(w.readings)-1].ID
			w.note(1, notebook.ReadBrace, 0.23)
			w.readings[len(w.readings)-1].Corrects = old
		}, "0:1/9 1:1/9 2:1/9"},
		"a second look at the square, and late words": {func(w *shooting) {
			w.note(2, notebook.ReadBrace, 0.21)
			w.note(0, notebook.ReadSpeed, 60)
			w.note(2, notebook.ReadBrace, 0.21)
		}, "0:1/9 1:1/9 2:3/9"},
		"read at the range, sent at home": {func(w *shooting) {
			sent := w.heard
			w.heard = nil
			w.note(1, notebook.ReadBrace, 0.21)
			w.heard = append(sent, w.heard...)
			for i := range w.heard {
				w.now = w.now.Add(time.Minute)
				w.heard[i].Recording.At = w.now
			}
			w.record(1, 7, quiet)
		}, "0:1/9 1:1/9 2:1/9 1:1/7"},
		"readings sent at home, recordings dated at the range": {func(w *shooting) {
			w.note(1, notebook.ReadBrace, 0.21)
			w.record(1, 7, quiet)
			w.note(2, notebook.ReadBrace, 0.21)
			w.record(2, 8, quiet)
			for i := range w.readings {
				w.readings[i].At = w.readings[i].At.Add(10 * time.Hour)
			}
		}, "0:1/9 1:1/9 2:1/9 1:1/7 2:1/8"},
		"one tape, with the square": {func(w *shooting) { *w = shooting{now: w.now}; taps(w, 0, 1, 2, 1) }, "0:1/5 1:1/6 2:1/7 1:1/8 2:0/10"},
		"one tape, dated when it was sent": {func(w *shooting) {
			*w = shooting{now: w.now}
			taps(w, 0, 1, 2, 1, 2)
			w.heard[0].Recording.At = w.now.Add(time.Hour)
		}, "0:1/5 1:1/6 2:1/7 1:1/8 2:1/10"},
	} {
		w := three()
		c.do(w)
		// The order in which records come back does not matter.
		slices.Reverse(w.readings)
		got := ""
		for _, v := range Visits(plan, s, w.readings, w.heard) {
			got += fmt.Sprintf(" %d:%d/%d", v.Stop, len(v.Braces), len(v.Shots))
		}
		if got != " "+c.want {
			t.Errorf("%s: visits%s, want %s", name, got, c.want)
		}
	}
}

// Words of a second visit stay with it: its arrows do not count for the first.
func TestSecondVisitsOwnWords(t *testing.T) {
	s := example(t, "heron-70")
	plan, err := PlanBrace(t.Context(), s, BraceAsk{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	w := sweep(plan, 0)
	arrows := w.note(1, notebook.ReadArrows, 4) // late, of the first visit
	w.note(1, notebook.ReadBrace, 0.21)
	w.note(1, notebook.ReadArrows, 5)
	w.record(1, 7, func(int) float64 { return 0 })
	w.note(1, notebook.ReadArrows, 6) // puts the first right
	w.readings[len(w.readings)-1].Corrects = arrows
	visits := Visits(plan, s, w.readings, w.heard)
	a, b := visits[1], visits[len(visits)-1]
	if a.Arrows != 6 || b.Arrows != 5 || a.Visit != 1 || b.Visit != 2 || b.settling(plan.Plan.Stops[1]) != 2 {
		t.Errorf("first %d arrows, second %d of which %d settle", a.Arrows, b.Arrows, b.settling(plan.Plan.Stops[1]))
	}
	if b.Arrows = 0; b.settling(plan.Plan.Stops[1]) != 3 {
		t.Errorf("without a note %d of 7 settle", b.settling(plan.Plan.Stops[1]))
	}
}
