package trial

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tautline/unit"
)

// bareEnd is one end of ten fletched arrows a millimetre about the aim, and of
// bare shafts where they are said to be.
func bareEnd(bare ...Point) BareShaftInput {
	e := BareEnd{}
	for i := range 10 {
		a := unit.Length(0.001 * float64(2*(i%2)-1))
		e.Fletched = append(e.Fletched, Point{a, a})
	}
	for i, p := range bare {
		e.Bare = append(e.Bare, BareShot{string(rune('1' + i)), p})
	}
	return BareShaftInput{Distance: 30, Taped: true, Ends: []BareEnd{e}}
}

// One axis that is too wide to judge keeps the whole from being settled; the
// limit is 5 mm per metre each way (common practice, no source).
func TestBareShaftTooWideOnOneAxis(t *testing.T) {
	for _, c := range []struct {
		name      string
		right, up unit.Length // how far the shafts lie about the middle
		next      string
	}{{"neither", 0.001, 0.001, "nothing"}, {"sideways", 0.1, 0.001, "more arrows"}, {"in height", 0.001, 0.1, "more arrows"}, {"both", 0.1, 0.1, "more arrows"}} {
		v, err := DecideBareShaft(bareEnd(Point{-c.right, -c.up}, Point{}, Point{c.right, c.up}))
		if err != nil || v.Next != c.next || strings.Contains(v.Text, "Cannot tell yet") != (c.next == "more arrows") {
			t.Errorf("wide %s: %v, next %q, want %q: %s", c.name, err, v.Next, c.next, v.Text)
		}
	}
}

// The words say the side, the height and the ends of the interval with their
// signs: shafts that agree exactly and fletched arrows of variance s²/n, here
// (0.1 cm)²/9, give ± 2.262·0.033 cm = ± 0.1 cm (Student's t, 9 degrees).
func TestBareShaftWords(t *testing.T) {
	for text, at := range map[string]Point{
		"land 5.0 cm left (-5.1 cm to -4.9 cm) and 3.0 cm high (+2.9 cm to +3.1 cm) of": {-0.05, 0.03},
		"land 5.0 cm right (+4.9 cm to +5.1 cm) and 3.0 cm low (-3.1 cm to -2.9 cm) of": {0.05, -0.03},
	} {
		if v, err := DecideBareShaft(bareEnd(at, at, at)); err != nil || !strings.Contains(strings.ReplaceAll(v.Text, "−", "-"), text) {
			t.Errorf("%v: %v %q, want %q", at, err, v.Text, text)
		}
	}
	for shafts, warned := range map[int]bool{1: true, 2: true, 3: false, 4: false} {
		v, err := DecideBareShaft(bareEnd(make([]Point, shafts)...))
		if said := strings.Contains(strings.Join(v.Warnings, " "), "bent or badly nocked shaft would decide"); err != nil || said != warned || (v.Next == "more shafts") != warned {
			t.Errorf("%d shafts: next %q, %q, %v", shafts, v.Next, v.Warnings, err)
		}
	}
}

// Of an effect of the mass that nobody could predict nothing is taken off, and
// that is said.
func TestBareShaftOfUnknownMass(t *testing.T) {
	with := bareEnd(Point{0, 0.1}, Point{0.01, 0.1}, Point{0, 0.11})
	with.Taped = false
	without, err := DecideBareShaft(with)
	if err != nil {
		t.Fatal(err)
	}
	for name, m := range map[string]Estimate[unit.Length]{"unknown": Unknown[unit.Length](), "of no level": {Value: 0.1, Low: 0.1, High: 0.1}} {
		with.MassEffect = m
		v, err := DecideBareShaft(with)
		if err != nil || v.Up != without.Up || !strings.Contains(strings.Join(v.Warnings, " "), "nothing was subtracted") {
			t.Errorf("%s: %v, up %v, want %v; %q", name, err, v.Up, without.Up, v.Warnings)
		}
	}
}

// What a walk-back cannot separate and asks first is said of a line that is not
// upright, and of no other; only a slanted one leads to a bare-shaft test.
func TestWalkBackAsksFirst(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 2))
	for _, c := range []struct {
		slant, bend float64
		tolerance   unit.Angle
		want        WalkBackOutcome
		asks        bool
		next        string
	}{{0.004, 0, 0, Slanted, true, "bare_shaft"}, {0, 0.001, 0, Curved, true, ""}, {0, 0, 0.01, Upright, false, ""}, {0, 0, 0.00001, NotYet, false, ""}} {
		v, err := DecideWalkBack(walk(rng, c.slant, c.bend), c.tolerance)
		if err != nil || v.Outcome != c.want || (len(v.Separate) == 4) != c.asks || (len(v.AskFirst) == 2) != c.asks || v.Next != c.next {
			t.Errorf("%s, want %s: %v, separate %v, first %v, next %q", v.Outcome, c.want, err, v.Separate, v.AskFirst, v.Next)
		}
	}
}

// A bend can be told from two degrees of freedom on: five arrows. Three distances
// are warned of, four are not.
func TestWalkBackNeedsFiveArrowsForABend(t *testing.T) {
	for _, c := range []struct {
		shots        []WalkBackShot
		bend, warned bool
	}{
		{[]WalkBackShot{{10, 0}, {20, 0.01}, {30, 0}}, false, true}, {[]WalkBackShot{{10, 0}, {20, 0.01}, {30, 0}, {30, 0.01}}, false, true},
		{[]WalkBackShot{{10, 0}, {20, 0.01}, {30, 0}, {30, 0.01}, {10, 0.01}}, true, true}, {[]WalkBackShot{{10, 0}, {20, 0.01}, {30, 0}, {40, 0.01}, {40, 0.02}}, true, false},
	} {
		v, err := DecideWalkBack(c.shots, 0)
		warned := strings.Contains(strings.Join(v.Warnings, " "), "three distances")
		if err != nil || v.Bend.Known() != c.bend || (v.PBend < 1) != c.bend || warned != c.warned || v.Slant.Half() <= 0 {
			t.Errorf("%v: %v, bend %v, p %g, %q", c.shots, err, v.Bend, v.PBend, v.Warnings)
		}
	}
}

func TestBadWalkBacks(t *testing.T) {
	good := []WalkBackShot{{10, 0}, {20, 0.01}, {30, 0}, {40, 0.01}, {50, 0}}
	for _, tolerance := range []unit.Angle{-0.001, 1, 2, unit.Angle(math.NaN())} {
		if _, err := DecideWalkBack(good, tolerance); err == nil {
			t.Errorf("a tolerance of %g was accepted", float64(tolerance))
		}
	}
	for name, shots := range map[string][]WalkBackShot{
		"at the nose": append(good, WalkBackShot{0.05, 0}), "behind the line": append(good, WalkBackShot{-20, 0}), "beyond any field": append(good, WalkBackShot{2e6, 0}),
		"a place beyond any field": append(good, WalkBackShot{20, -2e6}), "all but one distance": {{20, 0}, {20.00000000000001, 0.1}, {20.00000000000002, 0}},
	} {
		if v, err := DecideWalkBack(shots, 0); err == nil {
			t.Errorf("%s: %s", name, v.Text)
		} else if e, ok := err.(*InputError); !ok || e.Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Visits in words: which is higher, what cannot be told and why, and few visits
// are warned of. No difference at all has a p-value of 1, not of no number.
func TestVisitsSay(t *testing.T) {
	visits := func(order string, diff float64) (list []Visit) {
		for i, s := range order {
			y := 0.01 * float64((i*i)%3)
			if s == 'B' {
				y += diff
			}
			list = append(list, Visit{string(s), y})
		}
		return list
	}
	for _, c := range []struct {
		order   string
		diff    float64
		verdict string
		says    string
		warned  bool
	}{
		{"ABBABAAB", 5, "B higher", "B higher: B minus A is 5.01", false}, {"ABBABAAB", -5, "B lower", "B lower: B minus A is -4.99", false},
		{"ABBABA", 5, "B higher", "6 visits", true}, {"ABBABAA", 5, "B higher", "7 visits", false},
		{"ABA", 5, "cannot tell yet", "no doubt to judge it by", false}, {"AB", 5, "cannot tell yet", "could not be told from the difference", false},
	} {
		v, err := CompareVisits(visits(c.order, c.diff), Confidence)
		warned := strings.Contains(strings.Join(v.Warnings, " "), "wide by nature")
		if err != nil || v.Verdict != c.verdict || !strings.Contains(v.Text, c.says) || warned != c.warned {
			t.Errorf("%s, %g: %v %q, %q, %q", c.order, c.diff, err, v.Verdict, v.Text, v.Warnings)
		}
	}
	if v, err := CompareVisits([]Visit{{"A", 0}, {"B", 0}, {"B", 0}, {"A", 0}}, Confidence); err != nil || v.P != 1 || v.Verdict != "cannot tell yet" {
		t.Errorf("no difference: %v, p %g, %q", err, v.P, v.Verdict)
	}
	for name, list := range map[string][]Visit{
		"only B": {{"B", 1}, {"B", 2}, {"B", 3}}, "a value beyond any": {{"A", 1}, {"B", 1e13}, {"B", 1}, {"A", 1}}, "no name": {{"A", 1}, {"", 1}, {"B", 1}, {"A", 1}},
	} {
		if v, err := CompareVisits(list, Confidence); err == nil {
			t.Errorf("%s: %s", name, v.Text)
		}
	}
}
