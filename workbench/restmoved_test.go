package workbench

import (
	"math"
	"strings"
	"testing"
)

// A rest that is raised lifts arrow and reading's zero, not the nocking point on
// the string: 2 mm of rest are 2 mm less on the square. By hand, with the 4 to
// 5 cm a millimetre at 30 m of docs/theory/vertical.md: 8 to 10 cm high, where
// a nocking point that rises with the rest says half a centimetre.
func TestARaisedRestLeavesTheNockingPoint(t *testing.T) {
	f := fitted(t, example(t, "heron-70"), nil)
	height := func(moved ...Setting) (float64, Foreseen) {
		w, err := f.WhatIf(t.Context(), moved)
		if err != nil {
			t.Fatal(err)
		}
		e, ok := heightEffect(w)
		if !ok {
			t.Fatal(w.HeightReason)
		}
		return e.Value, w
	}
	up, w := height(Setting{"rest.height", "44 mm"})
	if up < 0.07 || up > 0.14 {
		t.Errorf("2 mm of rest: %.1f cm", 100*up)
	}
	if n := w.Settings.NockingPoint.Value; n.Text != "7 mm" || !strings.Contains(strings.Join(w.Warnings, " "), "the square reads 7 mm") {
		t.Errorf("nocking point %q, %q", n, w.Warnings)
	}
	if read, _ := height(Setting{"rest.height", "44 mm"}, Setting{"nocking_point", "7 mm"}); read != up {
		t.Errorf("with the square read again %.2f cm, without %.2f", 100*read, 100*up)
	}
	if higher, w := height(Setting{"rest.height", "44 mm"}, Setting{"nocking_point", "10 mm"}); higher >= 0 || w.Settings.NockingPoint.Value.Text != "10 mm" {
		t.Errorf("a nocking point that was typed is not taken: %.1f cm", 100*higher)
	}
}

// A height that was read stands by the same: after 2 mm of rest it is stale,
// the square read again or not, and a nocking point is moved only as far as it
// went up the string.
func TestAHeightAfterTheRestWasRaised(t *testing.T) {
	base := heron(t)
	read := Result{Label: "height", Of: at(OfBareUp, 30), Value: 0.05, Half: 0.03, Unit: "m"}
	stand := func(steps ...[]string) Standing {
		t.Helper()
		since := Since{base}
		for _, set := range steps {
			since = append(since, with(t, since[len(since)-1], set...))
		}
		s, err := Stand(t.Context(), read, since, heightSlopes())
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	up := stand([]string{"rest.height", "44 mm"})
	if up.State == Fresh || up.Net == nil || up.Net.Value < 0.07 || up.Net.Value > 0.14 {
		t.Fatalf("2 mm of rest: %s, net %+v", up.State, up.Net)
	}
	for _, again := range [][][]string{{{"rest.height", "44 mm", "nocking_point", "7 mm"}}, {{"rest.height", "44 mm"}, {"nocking_point", "7 mm"}}} {
		if s := stand(again...); s.State == Fresh || s.Net == nil || math.Abs(s.Net.Value-up.Net.Value) > 0.01 {
			t.Errorf("the square read again: %s, net %+v", s.State, s.Net)
		}
	}
	// 9 mm over the raised rest is 2 mm up the string: both go together
	if s := stand([]string{"rest.height", "44 mm"}, []string{"nocking_point", "7 mm"}, []string{"nocking_point", "9 mm"}); s.Net == nil || math.Abs(s.Net.Value) > 0.05 {
		t.Errorf("nocking point and rest both 2 mm up: net %+v", s.Net)
	}
	if got := (Since{base, with(t, base, "rest.height", "44 mm"), with(t, base, "rest.height", "44 mm", "nocking_point", "10 mm")}).nockMoved(); math.Abs(got-0.003) > 1e-9 {
		t.Errorf("10 mm over a rest 2 mm higher is %.2f mm up the string, not 3", 1e3*got)
	}
}
