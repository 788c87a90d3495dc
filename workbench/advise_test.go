package workbench

import (
	"fmt"
	"strings"
	"testing"

	"tautline/arrow"
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

// Outside the window a bare shaft would mislead: advice is withheld with the
// reason, and the shaft to borrow lies to the other side. A shaft far too soft
// (its tail strikes), a little too soft (the tail passes too close), far too
// stiff (it strikes too) and one so stiff that its spine hardly tells.
func TestAdviceIsWithheldOutsideTheWindow(t *testing.T) {
	six := 0.06
	for _, c := range []struct{ spine, says, borrow string }{
		{"900", "too soft for this bow", "Borrow a stiffer test shaft first."},
		{"650", "too close to tell", "Borrow a stiffer test shaft first."},
		{"350", "which is too stiff for this bow", "Borrow a softer test shaft first."},
		{"300", "too stiff for this bow", "Borrow a softer test shaft first."},
	} {
		f := fitted(t, changed(t, example(t, "heron-70"), "spine", c.spine), nil)
		a, err := f.Advise(t.Context(), Wish{Kind: WishBareToGroup, Offset: &six})
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Routes) > 0 || !strings.Contains(a.Withheld, "Outside the window") || !strings.Contains(a.Withheld, c.says) || !strings.HasSuffix(a.Withheld, ". "+c.borrow) {
			t.Errorf("spine %s: %d routes, withheld %q", c.spine, len(a.Routes), a.Withheld)
		}
	}
}

// Where the end of the window is not known, no direction is given; a shaft
// that collapses is too soft; a bow that cannot be shot says neither.
func TestOutsideWindowGivesNoDirectionUnknown(t *testing.T) {
	strike, collapse := arrow.Window{Reason: "the tail strikes the button"}, &arrow.CollapseError{Ratio: 2.4}
	for _, c := range []struct {
		text string
		want string
		not  string
	}{
		{outsideWindow(strike, nil), "ask a coach which test shaft", "Borrow"},
		{outsideWindow(arrow.Window{}, errUnusable), "ask a coach which test shaft", "Borrow"},
		{outsideWindow(arrow.Window{}, fmt.Errorf("shooting: %w", collapse)), "2.4 times its buckling load. Borrow a stiffer test shaft first.", "softer"},
	} {
		if !strings.Contains(c.text, c.want) || strings.Contains(c.text, c.not) {
			t.Errorf("%q, want %q", c.text, c.want)
		}
	}
}
