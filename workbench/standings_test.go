package workbench

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// records are a bow's summer: a speed, a brace height, another arrow, a string
// that crept.
func records(t *testing.T) BowRecords {
	base := heron(t)
	day := func(n int) time.Time { return time.Date(2026, 4, 1, 18, 0, 0, 0, time.UTC).AddDate(0, 0, n) }
	stamp := func(id string, n int) notebook.Stamp {
		return notebook.Stamp{ID: notebook.ID(id), At: day(n), Received: day(n)}
	}
	return BowRecords{
		SetUps: []notebook.SetUp{
			{Stamp: stamp("s0", 0), Bow: "bow", Settings: base},
			{Stamp: stamp("s1", 10), Bow: "bow", Parent: "s0", Settings: with(t, base, "nocking_point", "10 mm")},
		},
		Readings: []notebook.Reading{
			{Stamp: stamp("h0", 1), SetUp: "s0", Kind: notebook.ReadBrace, Value: 0.2240},
			{Stamp: stamp("v0", 1), SetUp: "s0", Kind: notebook.ReadSpeed, Value: 58},
			{Stamp: stamp("h1", 9), SetUp: "s0", Kind: notebook.ReadBrace, Value: 0.2200},
			{Stamp: stamp("t0", 2), SetUp: "s0", Trial: "trial", Kind: notebook.ReadSpeed, Value: 50},
		},
	}
}

func standingsOf(t *testing.T, b BowRecords, all bool) map[notebook.ID]Standing {
	t.Helper()
	list, err := Standings(context.Background(), b, all, func(s notebook.SetUp, d []unit.Length) *Slopes {
		return NewSlopes(s.Settings, arrow.RightHanded, d...)
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	out := map[notebook.ID]Standing{}
	for _, s := range list {
		out[s.Result.ID] = s
	}
	return out
}

// A string that crept 4 mm moves a speed though nobody made a set-up of it,
// and what was read before a later set-up that leaves the brace height alone
// still holds after it.
func TestCreepCountsAsAChange(t *testing.T) {
	b := records(t)
	all := standingsOf(t, b, true)
	if len(all) != 3 {
		t.Fatalf("%d results; a trial's readings are none", len(all))
	}
	first, last, speed := all["h0"], all["h1"], all["v0"]
	// 224 read, 220 now: −4 mm against ±0.8 mm
	if first.State != Stale || math.Abs(first.Net.Value+0.004) > 1e-9 || first.Superseded != "h1" {
		t.Errorf("the first brace height is %s, %+v", first.State, first.Net)
	}
	if last.State != Fresh || last.Superseded != "" {
		t.Errorf("the last brace height is %s: %+v", last.State, last.Causes)
	}
	// the cause is named with its arithmetic: some 0.27 m/s for 4 mm
	if len(speed.Causes) != 2 || speed.Causes[0].Entry != "brace_height.value" || speed.Net.Value < 0.1 || speed.Net.Value > 0.5 {
		t.Errorf("the speed: %+v, net %+v", speed.Causes, speed.Net)
	}
	if only := standingsOf(t, b, false); len(only) != 2 {
		t.Errorf("%d latest results", len(only))
	}
}

// A person's word stands over the computed state, with the reason in sight.
func TestARulingOverrules(t *testing.T) {
	b := records(t)
	b.Rulings = []notebook.Ruling{{Stamp: notebook.Stamp{ID: "r"}, Target: "h1", Counts: false, Reason: "read from the wrong edge"}}
	s := standingsOf(t, b, false)["h1"]
	if s.State != Stale || s.Computed != Fresh || !strings.Contains(s.Sentence, "read from the wrong edge") {
		t.Errorf("%s, computed %s: %s", s.State, s.Computed, s.Sentence)
	}
	b.Rulings = append(b.Rulings, notebook.Ruling{Target: "h1", Counts: true, Reason: "no, it was right"})
	if s := standingsOf(t, b, false)["h1"]; s.State != Fresh {
		t.Error("the later ruling does not count")
	}
}

// Ends become results: centre and height of the fletched, and bare shafts
// against them, with the interval of Student's t.
func TestEndsBecomeResults(t *testing.T) {
	b := records(t)
	at := func(x, y float64, bare bool) notebook.Impact { return notebook.Impact{X: &x, Y: &y, Bare: bare} }
	b.Ends = []notebook.End{{
		Stamp: notebook.Stamp{ID: "e", At: time.Date(2026, 4, 12, 18, 0, 0, 0, time.UTC)}, SetUp: "s1", Distance: notebook.Length{Typed: unit.Said(unit.Length(30), unit.M)},
		Impacts: []notebook.Impact{at(-0.02, 0, false), at(0, 0.02, false), at(0.02, -0.02, false), at(0.1, 0, true)},
	}}
	var bare *Result
	for _, r := range b.Results() {
		if r.Of == at30(OfBare) {
			bare = &r
		}
	}
	// sd of −2, 0, 2 cm is 2 cm; t(0.95; 2) = 2.9200 (table); half = 2.92 × 2 cm × √(1/3 + 1)
	if bare == nil || math.Abs(bare.Value-0.1) > 1e-12 || math.Abs(bare.Half-2.9200*0.02*math.Sqrt(4.0/3)) > 1e-5 {
		t.Errorf("%+v", bare)
	}
}

func at30(kind string) Quantity { return at(kind, 30) }

// The steps of the work follow the standings, and the first that is not in
// order is where the work stands.
func TestOrderOfWork(t *testing.T) {
	b := records(t)
	all := standingsOf(t, b, false)
	var list []Standing
	for _, s := range all {
		list = append(list, s)
	}
	w := OrderOfWork(b, list)
	if len(w.Steps) != 9 || w.Now != "brace" || !strings.Contains(w.Next, "brace-height trial") {
		t.Errorf("the work stands at %q: %s", w.Now, w.Next)
	}
	stale := Standing{Result: Result{ID: "v", By: "brace_height.value", Label: "verdict on the brace height"}, State: Fresh}
	if w := OrderOfWork(b, append(list, stale)); w.Now != "bare" {
		t.Errorf("with a fresh brace height the work stands at %q", w.Now)
	}
	// a trial on the present set-up: under way, then finished and not yet judged,
	// then judged or given up
	begun := b
	begun.Trials = append(slices.Clone(b.Trials), notebook.Trial{Stamp: notebook.Stamp{ID: "new", At: b.SetUps[len(b.SetUps)-1].At.Add(time.Hour)}, SetUp: b.SetUps[len(b.SetUps)-1].ID, What: BraceTrial})
	for _, c := range []struct {
		what notebook.Event
		want string
	}{{notebook.Reached, "Go on"}, {notebook.Finished, "Read the verdict"}, {notebook.Abandoned, "Plan a brace-height trial"}} {
		begun.Events = map[notebook.ID][]notebook.TrialEvent{"new": {{What: notebook.Reached}, {What: c.what}}}
		if w := OrderOfWork(begun, list); w.Now != "brace" || !strings.HasPrefix(w.Next, c.want) {
			t.Errorf("after %s the work stands at %q: %s", c.what, w.Now, w.Next)
		}
	}
	empty := BowRecords{SetUps: []notebook.SetUp{{Settings: with(t, b.SetUps[0].Settings, "spine", "")}}}
	if w := OrderOfWork(empty, nil); w.Now != "arrow" || !strings.Contains(w.Next, "static spine") {
		t.Errorf("without a spine the work stands at %q: %s", w.Now, w.Next)
	}
}
