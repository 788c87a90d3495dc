package workbench

import (
	"cmp"
	"errors"
	"math"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

func shaftsOf(t testing.TB, s notebook.Settings, q ShaftQuestion) ShaftList {
	t.Helper()
	list, err := Shafts(t.Context(), s, q, nil)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// What an archer could check with a tape, a scale and a pencil: the reach past
// the rest, the arrow's mass and grains per pound, and the balance point by
// moments about the nock's groove (statics; the lumps' places are those of
// arrow.Generic). Balance forward of the middle: 7 to 16 % is usual for target
// arrows, light shafts with heavy points up to 22 % (common practice, no
// source).
func TestShaftsByTapeAndScale(t *testing.T) {
	for _, name := range []string{"heron-70", "sandpiper-66", "wren-25"} {
		s := example(t, name)
		list := shaftsOf(t, s, ShaftQuestion{})
		if len(list.Shafts) != usualShafts || !list.Unfitted || list.Bows != Members {
			t.Fatalf("%s: %d shafts, unfitted %v", name, len(list.Shafts), list.Unfitted)
		}
		// Draw length as the standard quotes it is 1.75 in more than to the pivot;
		// the nock's groove lies 10 mm behind the shaft's end.
		draw := float64(s.Draw.Length.Value) - 1.75*0.0254
		for _, v := range list.Shafts {
			past := v.ShaftLength + 0.010 - draw
			if math.Abs(past-v.PastRest) > 1e-9 || past < 0.025-1e-9 || past > 0.08 {
				t.Errorf("%s: %.1f mm past the rest, said %.1f", name, 1e3*past, 1e3*v.PastRest)
			}
			const nock, vanes = 8 * 64.79891e-6, 6 * 64.79891e-6
			tube := v.Mass - nock - vanes - v.PointMass
			length := v.ShaftLength + 0.010
			balance := (tube*length/2 + vanes*0.052 + v.PointMass*(length-0.010)) / v.Mass
			if math.Abs(balance-v.Balance) > 1e-6 || math.Abs(100*(balance/length-0.5)-v.Forward) > 1e-3 {
				t.Errorf("%s: balance at %.4f m, said %.4f (%.2f %%)", name, balance, v.Balance, v.Forward)
			}
			if v.Forward < 7 || v.Forward > 22 {
				t.Errorf("%s: balance %.1f %% forward", name, v.Forward)
			}
			if got := v.Mass / 64.79891e-6 / (float64(s.Draw.Weight.Value) / 4.4482216); math.Abs(got-v.MassPerForce) > 1e-6 {
				t.Errorf("%s: %.3f gr per lbf, said %.3f", name, got, v.MassPerForce)
			}
			if v.TailGap <= 0 || v.Light {
				t.Errorf("%s: a shaft that strikes or is too light is listed: %+v", name, v)
			}
		}
	}
}

// Spines that archers shoot at these weights (recalled, common practice, as
// in docs/theory/arrow.md: 38 to 42 lbf on the fingers 530 to 700, 30 lbf 750
// to 950): the list must lie among them.
func TestShaftsAreOrdinary(t *testing.T) {
	for name, usual := range map[string][2]float64{"heron-70": {500, 700}, "sandpiper-66": {750, 1000}} {
		for _, v := range shaftsOf(t, example(t, name), ShaftQuestion{}).Shafts {
			if v.Spine < usual[0] || v.Spine > usual[1] {
				t.Errorf("%s: spine %.0f, usual %v", name, v.Spine, usual)
			}
		}
	}
}

// A shaft of the list, put into the settings, is predicted as the list says:
// its mass there is weighed, not estimated, and the way to it is another.
func TestShaftsAgreeWithPredict(t *testing.T) {
	s := example(t, "heron-70")
	list := shaftsOf(t, s, ShaftQuestion{})
	v := list.Shafts[0]
	s.Arrow.Spine.Typed = unit.Said(unit.Spine(v.Spine)*unit.ThousandthInch, unit.Thou)
	s.Arrow.Length.Typed = unit.Said(unit.Length(v.ShaftLength), unit.MM)
	s.Arrow.PointMass.Typed = unit.Said(unit.Mass(v.PointMass), unit.Gr)
	s.Arrow.Mass.Typed = unit.Said(unit.Mass(v.Mass), unit.G)
	got, err := PredictTarget(t.Context(), s, arrow.RightHanded)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.Bare18-v.Bare18) > 1e-6 || math.Abs(got.TailGap-v.TailGap) > 1e-9 || got.InShare != v.InShare {
		t.Errorf("predict says %.4f m and a gap of %.5f m, the list %.4f and %.5f", got.Bare18, got.TailGap, v.Bare18, v.TailGap)
	}
}

// Ranked, the first first; a left-handed archer's list is the mirror; the bits
// do not depend on the workers.
func TestShaftsRanked(t *testing.T) {
	s := example(t, "heron-70")
	right := shaftsOf(t, s, ShaftQuestion{Count: 8})
	order := func(a, b ShaftTry) int {
		if a.InWindow != b.InWindow {
			if a.InWindow {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.Share, a.Share)
	}
	if !slices.IsSortedFunc(right.Shafts, order) {
		t.Errorf("out of order: %+v", right.Shafts)
	}
	left := shaftsOf(t, s, ShaftQuestion{Count: 8, Hand: arrow.LeftHanded})
	for i, v := range left.Shafts {
		w := right.Shafts[i]
		if v.Spine != w.Spine || v.ShaftLength != w.ShaftLength || math.Abs(v.Bare18+w.Bare18) > 1e-9 {
			t.Errorf("%d: left-handed %+v, right-handed %+v", i, v, w)
		}
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if again := shaftsOf(t, s, ShaftQuestion{Count: 8}); !reflect.DeepEqual(right, again) {
		t.Error("one worker answers otherwise")
	}
}

// Without an arrow the list stands; nothing on it is below the maker's least
// mass; an unfitted bow is told to borrow (job.md: nothing irreversible from a
// guess).
func TestShaftsWithoutAnArrow(t *testing.T) {
	s := example(t, "heron-70")
	s.Arrow = notebook.Arrow{}
	free := shaftsOf(t, s, ShaftQuestion{})
	if free.Present != nil || !strings.HasPrefix(free.Advice, "The model has not seen this bow shoot. Borrow") {
		t.Errorf("present %v, advice %q", free.Present, free.Advice)
	}
	if !strings.Contains(strings.Join(free.Cautions, " "), "least arrow mass is not in the settings") {
		t.Errorf("the missing minimum mass is not said: %q", free.Cautions)
	}
	s.Arrow.MinimumMass.Typed = unit.Said(22.5*unit.Gram, unit.G)
	for _, v := range shaftsOf(t, s, ShaftQuestion{}).Shafts {
		if v.Mass < 0.0225 {
			t.Errorf("%.2f g is listed below the least mass", 1e3*v.Mass)
		}
	}
}

// A list recommends nothing that it says cannot work: where the first shaft's
// bare shaft cannot be read (wren-25 as described), or is unlikely to land
// near, the advice is to borrow none, and names button and centre shot as
// assumed or entered.
func TestShaftsRecommendNoneThatCannotWork(t *testing.T) {
	wren := example(t, "wren-25")
	for _, c := range []struct {
		name   string
		of     notebook.Settings
		borrow bool
		says   []string
	}{
		{"heron-70", example(t, "heron-70"), true, []string{"Borrow one test shaft like the first"}},
		{"sandpiper-66", example(t, "sandpiper-66"), true, []string{"Borrow one test shaft like the first"}},
		{"wren-25", wren, false, []string{"can be read by a bare shaft", "1.5 N", "a centre shot of 1 mm, assumed", "enter the button's turns", "maker's table", "coach"}},
		{"centre shot read", changed(t, wren, "centre_shot", "0 mm", "button", "2"), false, []string{"likely to land near", "the centre shot entered, 0.0 mm: check it, then", "coach"}},
		{"none passes", changed(t, wren, "centre_shot", "4 mm"), false, []string{"passes the button on this bow", "coach"}},
	} {
		list := shaftsOf(t, c.of, ShaftQuestion{})
		works := len(list.Shafts) > 0 && list.Shafts[0].InWindow && list.Shafts[0].Share >= 0.1
		if list.Borrow != c.borrow || works != c.borrow || strings.Contains(list.Advice, "Borrow one") != c.borrow {
			t.Errorf("%s: borrow %v, works %v, advice %q", c.name, list.Borrow, works, list.Advice)
		}
		for _, says := range c.says {
			if !strings.Contains(list.Advice, says) {
				t.Errorf("%s: %q does not say %q", c.name, list.Advice, says)
			}
		}
	}
}

// What cannot be asked is named with its field.
func TestShaftsRefuse(t *testing.T) {
	s := example(t, "heron-70")
	_, err := Shafts(t.Context(), s, ShaftQuestion{Reach: 0.005, Count: 40, Points: []unit.Mass{1}}, nil)
	for _, field := range []string{"/reach", "/count", "/points/0"} {
		var problems notebook.Problems
		if !errors.As(err, &problems) || !slices.ContainsFunc(problems, func(e notebook.Error) bool { return e.Field == field && e.Hint != "" }) {
			t.Errorf("%v does not name %s", err, field)
		}
	}
	s.Draw.Weight = notebook.Force{}
	var problems notebook.Problems
	if _, err := Shafts(t.Context(), s, ShaftQuestion{}, nil); !errors.As(err, &problems) || problems[0].Field != "/draw/weight" {
		t.Errorf("no draw weight gives %v", err)
	}
}

// BenchmarkShafts is the whole list, for a page: at most 1 s on two cores.
func BenchmarkShafts(b *testing.B) {
	s := example(b, "heron-70")
	for b.Loop() {
		shaftsOf(b, s, ShaftQuestion{})
	}
}
