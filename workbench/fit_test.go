package workbench

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"tautline/arrow"
	"tautline/notebook"
)

// changed applies settings in pairs of key and value.
func changed(t testing.TB, s notebook.Settings, kv ...string) notebook.Settings {
	t.Helper()
	for i := 0; i < len(kv); i += 2 {
		var err error
		if s, err = s.With(kv[i], kv[i+1]); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// anEvening is what a club archer can read of heron-70 in one evening, with
// invented values near what the model says.
func anEvening(t testing.TB, s notebook.Settings) []Observation {
	bare := Quantity{Kind: QBare, Distance: 30}
	return []Observation{
		{Name: "speed", Settings: s, Quantity: Quantity{Kind: QSpeed}, Value: 58},
		{Name: "speed, low brace", Settings: changed(t, s, "brace_height", "21.6 cm"), Quantity: Quantity{Kind: QSpeed}, Value: 58.5},
		{Name: "speed, heavy arrow", Settings: changed(t, s, "arrow_mass", "380 gr", "point_mass", "158 gr"), Quantity: Quantity{Kind: QSpeed}, Value: 55},
		{Name: "bare", Settings: s, Quantity: bare, Value: 0.05},
		{Name: "bare, stiff button", Settings: changed(t, s, "button", "4"), Quantity: bare, Value: -0.05},
		{Name: "bare, soft shaft", Settings: changed(t, s, "spine", "650"), Quantity: bare, Value: 0.20},
	}
}

func fitted(t testing.TB, s notebook.Settings, readings []Observation) *FittedBow {
	t.Helper()
	f, err := FitBow(t.Context(), FitAsk{Settings: s, Hand: arrow.RightHanded, Readings: readings}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// A kept fit answers as the one it was kept from, and one of another model is
// refused.
func TestRestoredFitAnswersTheSame(t *testing.T) {
	s := example(t, "heron-70")
	f := fitted(t, s, anEvening(t, s))
	kept, err := f.Content()
	if err != nil {
		t.Fatal(err)
	}
	again, err := RestoreFit(t.Context(), FitAsk{Settings: s}, kept)
	if err != nil {
		t.Fatal(err)
	}
	moved := []Setting{{"brace_height", "23 cm"}, {"button", "3"}}
	a, err := f.WhatIf(t.Context(), moved)
	if err != nil {
		t.Fatal(err)
	}
	b, err := again.WhatIf(t.Context(), moved)
	if err != nil || !reflect.DeepEqual(a.Effects, b.Effects) {
		t.Errorf("restored says\n%+v (%v), want\n%+v", b.Effects, err, a.Effects)
	}
	if _, err := json.Marshal(a); err != nil {
		t.Error(err)
	}
	if _, err := RestoreFit(t.Context(), FitAsk{Settings: s}, json.RawMessage(`{"version":1,"keys":["x"]}`)); !errors.Is(err, ErrOtherFit) {
		t.Errorf("another model's fit: %v", err)
	}
}

// No change is no change, for sure; two changes are not surer than one.
func TestNoChangeIsCertain(t *testing.T) {
	s := example(t, "heron-70")
	f := fitted(t, s, nil)
	q := []Quantity{{Kind: QSpeed}, {Kind: QBare, Distance: 30}}
	same, err := f.Change(t.Context(), s, s, q)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range same.Change {
		if c.Value != 0 || c.SD != 0 {
			t.Errorf("no change moves %v by %v ± %v", c.Quantity, c.Value, c.SD)
		}
	}
	little, err := f.Change(t.Context(), s, changed(t, s, "brace_height", "22.6 cm"), q)
	if err != nil {
		t.Fatal(err)
	}
	much, err := f.Change(t.Context(), s, changed(t, s, "brace_height", "23.6 cm"), q)
	if err != nil {
		t.Fatal(err)
	}
	for i := range q {
		if !(much.Change[i].SD > little.Change[i].SD) || !(math.Abs(much.Change[i].Value) > math.Abs(little.Change[i].Value)) {
			t.Errorf("%v: 12 mm of brace gives %+v, 2 mm %+v", q[i], much.Change[i], little.Change[i])
		}
	}
}

func TestFitCanBeStopped(t *testing.T) {
	s := example(t, "heron-70")
	ctx, stop := context.WithCancel(t.Context())
	told := 0.0
	_, err := FitBow(ctx, FitAsk{Settings: s, Readings: anEvening(t, s)}, func(share float64) {
		told = share
		stop()
	})
	if !errors.Is(err, context.Canceled) || !(told > 0 && told < 1) {
		t.Errorf("stopped at %v: %v", told, err)
	}
}

// oneShaft are bare shafts with two settings of the button and one spine, as
// most archers have them; secondSpine adds a borrowed shaft.
func oneShaft(t testing.TB, s notebook.Settings) []Observation {
	bare := Quantity{Kind: QBare, Distance: 30}
	var out []Observation
	for range 2 {
		out = append(out,
			Observation{Settings: s, Quantity: bare, Value: -0.10, Arrows: 12},
			Observation{Settings: changed(t, s, "button", "4"), Quantity: bare, Value: -0.17, Arrows: 12})
	}
	return out
}

func parameter(t testing.TB, f *FittedBow, key string) FitParameter {
	t.Helper()
	for _, p := range f.Parameters() {
		if p.Key == key {
			return p
		}
	}
	t.Fatalf("no parameter %q", key)
	return FitParameter{}
}

// model.md section 8: one shaft and one button leave release and button tied
// together, a second spine takes them apart; and that is what to measure next.
func TestReleaseAndButtonNeedASecondSpine(t *testing.T) {
	s := example(t, "heron-70")
	single := fitted(t, s, []Observation{{Settings: s, Quantity: Quantity{Kind: QBare, Distance: 30}, Value: -0.10, Arrows: 24}})
	// one shaft, one button: whatever of the two is moved, the other can make
	// up for it, so that neither is learnt
	for _, key := range []string{"release_share", "button_per_turn"} {
		if p := parameter(t, single, key); p.Learnt > 0.1 {
			t.Errorf("one shaft and one button take %.0f %% of the doubt of %s", 100*p.Learnt, p.Name)
		}
	}
	two := fitted(t, s, oneShaft(t, s))
	next, err := two.MeasureNext(t.Context(), EverythingOwned(), WishRelease)
	if err != nil {
		t.Fatal(err)
	}
	if len(next) == 0 || next[0].Kind != QBare || len(next[0].Settings) == 0 || next[0].Settings[0].Key != "spine" {
		t.Fatalf("to know the release the program would measure %+v", next)
	}
	// what it promises is what a reading there brings, to the first order
	other := changed(t, s, next[0].Settings[0].Key, next[0].Settings[0].Value)
	said, err := two.Predict(t.Context(), other, []Quantity{{Kind: QBare, Distance: 30}})
	if err != nil {
		t.Fatal(err)
	}
	then := fitted(t, s, append(oneShaft(t, s), Observation{Settings: other, Quantity: Quantity{Kind: QBare, Distance: 30}, Value: said[0].Value, Arrows: next[0].Arrows}))
	before, after := parameter(t, two, "release_share"), parameter(t, then, "release_share")
	fell := 1 - after.SD*after.SD/(before.SD*before.SD)
	if fell < 0.5*next[0].Drop || fell < 0.1 {
		t.Errorf("a second spine took %.0f %% of the release's variance, promised %.0f %%", 100*fell, 100*next[0].Drop)
	}
	t.Logf("release %.3f ± %.3f → ± %.3f; promised %.0f %%, came %.0f %%", before.Value, before.SD, after.SD, 100*next[0].Drop, 100*fell)
}

// With nothing to measure with there is nothing to recommend, and what is not
// owned is not asked for.
func TestNextReadingNeedsWhatIsOwned(t *testing.T) {
	s := example(t, "heron-70")
	f := fitted(t, s, nil)
	none, err := f.MeasureNext(t.Context(), Owns{}, WishAll)
	if err != nil || len(none) != 0 {
		t.Errorf("without tools: %+v, %v", none, err)
	}
	some, err := f.MeasureNext(t.Context(), Owns{Chrono: true}, WishSpeed)
	if err != nil || len(some) == 0 {
		t.Fatalf("with a chronograph: %+v, %v", some, err)
	}
	for i, n := range some {
		if n.Kind != QSpeed {
			t.Errorf("with a chronograph alone it asks for %s", n.Name)
		}
		if i > 0 && n.Drop > some[i-1].Drop || n.Drop < 0 || n.Drop > 1 || n.Minutes <= 0 {
			t.Errorf("%+v", n)
		}
	}
}

// A reading that lies is named, by how much, with its usual cause, and widens
// the model's error of its kind; the others stay unnamed.
func TestReadingThatDisagreesIsNamed(t *testing.T) {
	s := example(t, "heron-70")
	list := twentyReadings(t, s)
	clean := fitted(t, s, list)
	if strings.Contains(strings.Join(clean.Warnings, " "), "disagrees") {
		t.Errorf("readings off by half their doubt: %v", clean.Warnings)
	}
	list[4].Name, list[4].Value = "speed of the wrong arrow", list[4].Value+5
	bad := fitted(t, s, list)
	said := strings.Join(bad.Warnings, "\n")
	if !strings.Contains(said, "speed of the wrong arrow disagrees") || !strings.Contains(said, "another arrow than noted") || strings.Count(said, "disagrees") > 2 {
		t.Errorf("warnings: %s", said)
	}
	if !(bad.widen[QSpeed] > 1) || bad.widen[QBare] > 1.5 {
		t.Errorf("widened %v", bad.widen)
	}
}

// Readings narrow: more of them never leave a parameter wider than before, and
// past misses widen every later interval.
func TestReadingsNarrowAndMissesWiden(t *testing.T) {
	s := example(t, "heron-70")
	list := twentyReadings(t, s)
	few, many := fitted(t, s, list[:8]), fitted(t, s, list)
	for i, p := range many.Parameters() {
		if q := few.Parameters()[i]; p.SD > 1.1*q.SD*math.Max(1, p.Value/q.Value) {
			t.Errorf("%s: ± %.3g with twenty readings, ± %.3g with eight", p.Name, p.SD, q.SD)
		}
	}
	ask := FitAsk{Settings: s, Readings: list, Misses: map[string]float64{QBare: 2}}
	missed, err := FitBow(t.Context(), ask, nil)
	if err != nil {
		t.Fatal(err)
	}
	q := []Quantity{{Kind: QBare, Distance: 30}}
	to := changed(t, s, "button", "3.5")
	a, err := many.Change(t.Context(), s, to, q)
	if err != nil {
		t.Fatal(err)
	}
	b, err := missed.Change(t.Context(), s, to, q)
	if err != nil {
		t.Fatal(err)
	}
	if !(b.Change[0].SD > a.Change[0].SD) {
		t.Errorf("with misses ± %v, without ± %v", b.Change[0].SD, a.Change[0].SD)
	}
}
