package workbench

import (
	"strings"
	"testing"

	"tautline/notebook"
	"tautline/unit"
)

// Routes are ready-made changes inside the makers' limits, ranked, and no
// route is worse than leaving the bow alone.
func TestAdviceStaysInsideTheLimits(t *testing.T) {
	s := changed(t, example(t, "heron-70"), "limbs.range_low", "22 cm", "limbs.range_high", "22.8 cm", "arrow.minimum_mass", "325 gr")
	f := fitted(t, s, anEvening(t, s))
	six := 0.06
	for _, w := range []Wish{{Kind: WishBareToGroup, Offset: &six}, {Kind: WishFaster, Speed: 1}, {Kind: WishQuieter}, {Kind: WishSameTune, Forced: []Setting{{"brace_height", "22.7 cm"}}}} {
		a, err := f.Advise(t.Context(), w)
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Routes) == 0 && a.Withheld == "" || len(a.Routes) > mostRoutes {
			t.Errorf("%s: %d routes, withheld %q", w.Kind, len(a.Routes), a.Withheld)
		}
		for i, r := range a.Routes {
			brace, _ := r.SetUp.BraceHeight.ToPivot()
			if brace < 0.22-1e-9 || brace > 0.228+1e-9 || r.SetUp.Arrow.Mass.Value < 325*unit.Grain-1e-9 || *r.SetUp.Button.Turns < 0 || len(r.SetUp.Check()) > 0 {
				t.Errorf("%s: %s leaves the limits: %v", w.Kind, r.Say, r.Settings)
			}
			again, err := withAll(s, append(append([]Setting{}, w.Forced...), r.Settings...))
			if err != nil {
				t.Fatal(err)
			}
			if d, _ := notebook.Diff(again, r.SetUp); len(d) > 0 {
				t.Errorf("%s: the change does not make the set-up: %v", r.Name, d)
			}
			if r.Success < 0 || r.Success > 1 || i > 0 && r.score > a.Routes[i-1].score {
				t.Errorf("%s: success %v, out of order", r.Name, r.Success)
			}
		}
	}
}

// Where the limb maker's range is not known brace height is not advised, and
// where nobody read the bare shaft nothing is.
func TestAdviceNeedsWhatItRestsOn(t *testing.T) {
	s := changed(t, example(t, "heron-70"), "limbs.range_low", "", "limbs.range_high", "")
	f := fitted(t, s, nil)
	a, err := f.Advise(t.Context(), Wish{Kind: WishQuieter})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range a.Routes {
		if strings.Contains(r.Name, "brace") {
			t.Errorf("without the maker's range it advises %s", r.Say)
		}
	}
	if a, err = f.Advise(t.Context(), Wish{Kind: WishBareToGroup}); err != nil || !strings.Contains(a.Withheld, "never read") || len(a.Routes) > 0 {
		t.Errorf("without a bare shaft: %+v, %v", a, err)
	}
	if _, err := f.Advise(t.Context(), Wish{Kind: "louder"}); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("an unknown wish: %v", err)
	}
}

// A shaft far too soft for the bow is outside the window: the tail strikes the
// button, a bare shaft would mislead, and advice is withheld with the reason.
func TestAdviceIsWithheldOutsideTheWindow(t *testing.T) {
	s := changed(t, example(t, "heron-70"), "spine", "900", "draw_weight", "46 lbf")
	f := fitted(t, s, nil)
	six := 0.06
	a, err := f.Advise(t.Context(), Wish{Kind: WishBareToGroup, Offset: &six})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Routes) > 0 || !strings.Contains(a.Withheld, "Outside the window") || !strings.Contains(a.Withheld, "Borrow") {
		t.Errorf("%d routes, withheld %q", len(a.Routes), a.Withheld)
	}
}
