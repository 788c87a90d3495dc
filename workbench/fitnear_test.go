package workbench

import (
	"math"
	"testing"

	"tautline/arrow"
)

// A turned button begins at the bows that the set-up before it was strung and
// loosed for: it says the same as a fit that computes everything anew, and
// another brace height or arrow mass borrows nothing.
func TestBorrowedNeighboursSayTheSame(t *testing.T) {
	s := example(t, "heron-70")
	f := fitted(t, s, anEvening(t, s))
	f.makeReady(t.Context())
	raw, err := f.Content()
	if err != nil {
		t.Fatal(err)
	}
	fresh, err := RestoreFit(t.Context(), FitAsk{Settings: s, Hand: arrow.RightHanded}, raw)
	if err != nil {
		t.Fatal(err)
	}
	of := f.whatIfQuantities()
	_, here, err := fresh.rig.slopes(t.Context(), fresh.u, askAll(fresh.rig.base, of), central)
	if err != nil {
		t.Fatal(err)
	}
	for _, moved := range [][]Setting{{{"button", "3"}}, {{"brace_height", "23 cm"}, {"centre_shot", "2 mm"}, {"nocking_point", "11 mm"}}, {{"arrow_mass", "340 gr"}}} {
		quick, err := f.WhatIf(t.Context(), moved)
		if err != nil {
			t.Fatal(err)
		}
		sc, err := fresh.rig.scene(quick.Settings)
		if err != nil {
			t.Fatal(err)
		}
		v, there, err := fresh.rig.slopes(t.Context(), fresh.u, askAll(sc, of), central)
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range quick.Effects {
			g := make([]float64, len(fresh.u))
			for k := range g {
				g[k] = there.At(i, k) - here.At(i, k)
			}
			sd := math.Sqrt(math.Max(0, e.SD*e.SD-e.Model*e.Model))
			if want := math.Sqrt(fresh.spread(g)); e.Quantity != of[i] || math.Abs(sd-want) > 1e-5*want+1e-9 || v[i] != e.Then {
				t.Errorf("%v, %v: %g ± %g borrowed, %g ± %g computed anew", moved, e.Quantity, e.Then, sd, v[i], want)
			}
		}
	}
}
