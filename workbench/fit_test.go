package workbench

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"reflect"
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
