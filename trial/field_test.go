package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tautline/unit"
)

// bareTest shoots ends of three fletched and every bare shaft once; shafts
// differ by 2 cm, arrows scatter by 3 cm.
func bareTest(rng *rand.Rand, ends, shafts int, right, up float64) BareShaftInput {
	in := BareShaftInput{Distance: 30, Taped: true}
	var own []Point
	for range shafts {
		own = append(own, Point{unit.Length(right + 0.02*rng.NormFloat64()), unit.Length(up + 0.02*rng.NormFloat64())})
	}
	for range ends {
		e := BareEnd{}
		aim := normalShape(rng, 0.02)
		hit := func(p Point) Point {
			q := normalShape(rng, 0.03)
			return Point{p.Right + q.Right + aim.Right, p.Up + q.Up + aim.Up}
		}
		for range 3 {
			e.Fletched = append(e.Fletched, hit(Point{}))
		}
		for i, p := range own {
			e.Bare = append(e.Bare, BareShot{fmt.Sprint(i + 1), hit(p)})
		}
		in.Ends = append(in.Ends, e)
	}
	return in
}

// The interval over shafts covers; a settled bow is called unsettled in 10 %
// at most (two axes at 5 %). 1500 tests, standard error 0.6 to 0.8 %.
func TestBareShaftCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	for _, c := range [][2]int{{1, 3}, {3, 3}, {2, 5}} {
		covers, calls, n := 0, 0, runs(1500)
		for range n {
			v, err := DecideBareShaft(bareTest(rng, c[0], c[1], 0.06, -0.03))
			if err != nil {
				t.Fatal(err)
			}
			if v.Right.Holds(0.06) {
				covers++
			}
			if v, _ = DecideBareShaft(bareTest(rng, c[0], c[1], 0, 0)); v.Next == "height" || v.Next == "side" {
				calls++
			}
		}
		within(t, fmt.Sprintf("%d ends, %d shafts: covers", c[0], c[1]), covers, n, 0.93, 0.99)
		within(t, "called unsettled", calls, n, 0, 0.10)
	}
}

// Ten shafts against two fletched arrows of one end: the shafts agree among
// themselves, and the interval must still hold the doubt of the fletched centre
// (without it, it covers 60 %).
func TestBareShaftKnowsTheFletchedDoubt(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	covers, n := 0, runs(1000)
	for range n {
		in := bareTest(rng, 1, 10, 0.06, 0)
		in.Ends[0].Fletched = in.Ends[0].Fletched[:2]
		v, err := DecideBareShaft(in)
		if err != nil {
			t.Fatal(err)
		}
		if v.Right.Holds(0.06) {
			covers++
		}
	}
	within(t, "covers", covers, n, 0.90, 1)
}

// Shafts that agree exactly leave only the fletched arrows' doubt: two at ±a give
// a centre with variance a²·2/1/2 = a² and one degree of freedom, t = 12.706.
func TestBareShaftIntervalInClosedForm(t *testing.T) {
	const a = 0.01
	bare := Point{0.05, 0}
	v, err := DecideBareShaft(BareShaftInput{Distance: 18, Taped: true, Ends: []BareEnd{{
		Fletched: []Point{{a, 0}, {-a, 0}}, Bare: []BareShot{{"1", bare}, {"2", bare}, {"3", bare}},
	}}})
	if err != nil || !near(float64(v.Right.Half()), 12.7062*a, 1e-5) || !near(float64(v.Right.Value), 0.05, 1e-12) {
		t.Errorf("%v %v, want 0.05 ± %g", err, v.Right, 12.7062*a)
	}
}

func TestBareShaftSays(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for _, c := range []struct {
		name      string
		in        BareShaftInput
		spoil     func(*BareShaftInput)
		next, act string
	}{
		{"high first", bareTest(rng, 4, 4, 0.3, 0.3), nil, "height", "weak"},
		{"right is weak", bareTest(rng, 4, 4, 0.3, 0), nil, "side", "weak"},
		{"right is stiff for a left-handed archer", bareTest(rng, 4, 4, 0.3, 0), func(in *BareShaftInput) { in.LeftHanded = true }, "side", "stiff"},
		{"left is stiff", bareTest(rng, 4, 4, -0.3, 0), nil, "side", "stiff"},
		{"settled", bareTest(rng, 6, 5, 0, 0), nil, "nothing", ""},
		{"two shafts", bareTest(rng, 4, 2, 0.3, 0), nil, "more shafts", ""},
		{"high because it is light", bareTest(rng, 6, 5, 0, 0.2), func(in *BareShaftInput) {
			in.Taped, in.MassEffect = false, Estimate[unit.Length]{Value: 0.2, Low: 0.19, High: 0.21, Level: 0.95}
		}, "nothing", ""},
	} {
		if c.spoil != nil {
			c.spoil(&c.in)
		}
		v, err := DecideBareShaft(c.in)
		if err != nil || v.Next != c.next || c.act != "" && v.Acts != c.act || len(v.Cautions) == 0 || v.Text == "" {
			t.Errorf("%s: %v next %q acts %q, want %q %q (%s)", c.name, err, v.Next, v.Acts, c.next, c.act, v.Text)
		}
	}
	for _, c := range []struct{ taped, known bool }{{false, false}, {false, true}, {true, false}, {true, true}} {
		in := bareTest(rng, 4, 4, 0.3, 0.3)
		if in.Taped = c.taped; c.known {
			in.MassEffect = Estimate[unit.Length]{Value: 0.2, Low: 0.19, High: 0.21, Level: 0.95}
		}
		v, err := DecideBareShaft(in)
		if warned := strings.Contains(strings.Join(v.Warnings, " "), "lighter than the fletched"); err != nil || warned != (!c.taped && !c.known) {
			t.Errorf("%+v: %q, %v", c, v.Warnings, err)
		}
	}
	noEffect := bareTest(rng, 4, 4, 0.3, 0.3)
	noEffect.MassEffect = Estimate[unit.Length]{Value: 0.2, Low: unit.Length(math.NaN()), High: 0.3, Level: 0.95}
	for name, in := range map[string]BareShaftInput{
		"a mass effect of no interval": noEffect,
		"nothing":                      {Distance: 18}, "no distance": bareTest(rng, 1, 3, 0, 0).at(0), "no fletched": {Distance: 18, Ends: []BareEnd{{Bare: []BareShot{{"1", Point{}}}}}},
		"no number":    {Distance: 18, Ends: []BareEnd{{Fletched: []Point{{}}, Bare: []BareShot{{}}}}},
		"not a number": {Distance: 18, Ends: []BareEnd{{Fletched: []Point{{Right: unit.Length(math.NaN())}}, Bare: []BareShot{{"1", Point{}}}}}},
	} {
		if _, err := DecideBareShaft(in); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

func (in BareShaftInput) at(d unit.Length) BareShaftInput { in.Distance = d; return in }

// walk shoots two arrows at each distance with 1.5 mrad of scatter.
func walk(rng *rand.Rand, slant, bend float64) []WalkBackShot {
	var list []WalkBackShot
	for _, d := range []float64{10, 15, 20, 25, 30, 35, 40} {
		for range 2 {
			list = append(list, WalkBackShot{unit.Length(d), unit.Length(slant*d + bend*d*d + 0.0015*d*rng.NormFloat64())})
		}
	}
	return list
}

// The slant's interval covers, an upright line is called slanted or curved in
// 6 % at most (5 % + 1 %). 2000 walk-backs, standard error 0.5 %.
func TestWalkBackCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	covers, calls, n := 0, 0, runs(2000)
	for range n {
		v, err := DecideWalkBack(walk(rng, 0.002, 0), 0)
		if err != nil {
			t.Fatal(err)
		}
		if v.Slant.Holds(0.002) {
			covers++
		}
		if v, _ = DecideWalkBack(walk(rng, 0, 0), 0); v.Outcome == Slanted || v.Outcome == Curved {
			calls++
		}
	}
	within(t, "slant covers", covers, n, 0.94, 0.96)
	within(t, "an upright line called slanted", calls, n, 0, 0.06)
}

// The weighted line in closed form: with weights 1/d² the slope through (d, r)
// is that of r/d against 1/d. Three distances, one arrow each, and a fourth far
// one that an unweighted line would follow.
func TestWalkBackWeighsByDistance(t *testing.T) {
	list := []WalkBackShot{{10, 0.00}, {20, 0.01}, {30, 0.00}, {70, 0.40}, {12, 0.01}}
	v, err := DecideWalkBack(list, 0)
	if err != nil {
		t.Fatal(err)
	}
	// r/d = slope + offset·(1/d): plain least squares in 1/d.
	var n, sx, sy, sxx, sxy float64
	for _, s := range list {
		x, y := 1/float64(s.Distance), float64(s.Right/s.Distance)
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	offset := (n*sxy - sx*sy) / (n*sxx - sx*sx)
	if slope := (sy - offset*sx) / n; !near(float64(v.Slant.Value), slope, 1e-12) || !near(float64(v.Offset.Value), offset, 1e-12) {
		t.Errorf("slant %g, offset %g; closed form %g, %g", float64(v.Slant.Value), float64(v.Offset.Value), slope, offset)
	}
}

func TestWalkBackSays(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	for _, c := range []struct {
		slant, bend float64
		tolerance   unit.Angle
		want        WalkBackOutcome
	}{{0.004, 0, 0, Slanted}, {0, 0, 0.01, Upright}, {0, 0, 0.00001, NotYet}, {0, 0.001, 0, Curved}} {
		v, err := DecideWalkBack(walk(rng, c.slant, c.bend), c.tolerance)
		if err != nil || v.Outcome != c.want {
			t.Errorf("slant %g, bend %g: %v %s, want %s: %s", c.slant, c.bend, err, v.Outcome, c.want, v.Text)
		}
		if c.want == Slanted && (len(v.Separate) != 4 || v.Next != "bare_shaft" || !strings.Contains(v.Text, "cannot tell them apart")) {
			t.Errorf("a slanted line does not say what it cannot separate: %+v", v)
		}
	}
	for name, list := range map[string][]WalkBackShot{
		"two distances": {{10, 0}, {20, 0.1}, {10, 0.1}}, "no distance": {{0, 0}, {10, 0}, {20, 0}},
		"not a number": {{10, unit.Length(math.NaN())}, {20, 0}, {30, 0}}, "none": nil,
	} {
		if _, err := DecideWalkBack(list, 0); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// Clopper and Pearson's interval in closed form at its ends: 0 of n gives an
// upper end 1 − (α/2)^(1/n), n of n a lower end (α/2)^(1/n).
func TestFalsePreference(t *testing.T) {
	for _, n := range []int{1, 6, 20} {
		none, err1 := FalsePreference(Sham{n, 0})
		all, err2 := FalsePreference(Sham{n, n})
		edge := math.Pow(0.025, 1/float64(n))
		if err1 != nil || err2 != nil || !near(none.High, 1-edge, 1e-9) || none.Low != 0 || !near(all.Low, edge, 1e-9) || all.High != 1 {
			t.Errorf("n %d: %v %v", n, none, all)
		}
	}
	// 4 of 6 by the binomial sums themselves.
	e, _ := FalsePreference(Sham{6, 4})
	tail := func(p float64, from, to int) float64 {
		sum := 0.0
		for k := from; k <= to; k++ {
			c := 1.0
			for i := range k {
				c *= float64(6-i) / float64(i+1)
			}
			sum += c * math.Pow(p, float64(k)) * math.Pow(1-p, float64(6-k))
		}
		return sum
	}
	if !near(tail(e.Low, 4, 6), 0.025, 1e-9) || !near(tail(e.High, 0, 4), 0.025, 1e-9) {
		t.Errorf("4 of 6: %v", e)
	}
	if text, err := FeelText(Sham{6, 4}); err != nil || !strings.Contains(text, "67 %") {
		t.Errorf("%q %v", text, err)
	}
	for _, s := range []Sham{{0, 0}, {3, 4}, {3, -1}} {
		if _, err := FalsePreference(s); err == nil {
			t.Errorf("%v: accepted", s)
		}
	}
}

// Visits with a drift and a visit effect far larger than shots explain: the
// interval still covers, because the visit is the unit. 2000 trials.
func TestVisitsCover(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	covers, calls, n := 0, 0, runs(2000)
	for range n {
		shoot := func(diff float64) []Visit {
			var list []Visit
			for i, s := range "ABBABAAB" {
				y := 0.3*float64(i) + rng.NormFloat64()
				if s == 'B' {
					y += diff
				}
				list = append(list, Visit{string(s), y})
			}
			return list
		}
		v, err := CompareVisits(shoot(2), Confidence)
		if err != nil {
			t.Fatal(err)
		}
		if v.Difference.Holds(2) {
			covers++
		}
		if v, _ = CompareVisits(shoot(0), Confidence); v.Verdict != "cannot tell yet" {
			calls++
		}
		if (v.Verdict == "cannot tell yet") != v.Difference.Holds(0) {
			t.Fatalf("%s with %v", v.Verdict, v.Difference)
		}
	}
	within(t, "difference covers", covers, n, 0.94, 0.96)
	within(t, "false claims", calls, n, 0, 0.05)
	// A pure drift cancels exactly in A-B-B-A.
	v, err := CompareVisits([]Visit{{"A", 0}, {"B", 1}, {"B", 2}, {"A", 3}}, Confidence)
	if err != nil || !near(v.Difference.Value, 0, 1e-12) || !near(v.Drift.Value, 1, 1e-12) || len(v.Warnings) == 0 {
		t.Errorf("%v %+v", err, v)
	}
	if v, err := CompareVisits([]Visit{{"A", 0}, {"B", 1}}, Confidence); err != nil || !strings.Contains(v.Text, "A-B-B-A") {
		t.Errorf("two visits: %v %s", err, v.Text)
	}
	for _, list := range [][]Visit{nil, {{"A", 1}, {"A", 2}}, {{"C", 1}}, {{"A", math.NaN()}, {"B", 1}}} {
		if _, err := CompareVisits(list, Confidence); err == nil {
			t.Errorf("%v: accepted", list)
		}
	}
}

// days shoots two set-ups over n days, with a day effect and ends that scatter
// as their arrows say. mixed: both on every day, else in turns.
func daysOf(rng *rand.Rand, n int, mixed bool, diff, day float64) []DayEnd {
	var list []DayEnd
	for d := range n {
		effect := day * rng.NormFloat64()
		for e := range 6 {
			setup := "A"
			if mixed && e%2 == 1 || !mixed && d%2 == 1 {
				setup = "B"
			}
			y := effect + 0.3*rng.NormFloat64()
			if setup == "B" {
				y += diff
			}
			list = append(list, DayEnd{setup, fmt.Sprint(d), y, 0.09})
		}
	}
	return list
}

// The difference's interval covers when days differ, whether set-ups share days
// or not; false claims ≤ 5 % (up to 7 % in turns: few days, and REML's own
// doubt is only in the degrees of freedom). 500 histories, standard error 1 %.
func TestObservedCovers(t *testing.T) {
	for _, c := range []struct {
		days  int
		mixed bool
		day   float64
		top   float64
	}{{10, true, 0.4, 0.05}, {10, false, 0.4, 0.07}, {10, true, 0, 0.05}, {10, false, 0, 0.05}, {4, false, 0.4, 0.07}} {
		rng := rand.New(rand.NewPCG(7, 1))
		misses, n := 0, runs(500)
		for range n {
			o, err := ObserveSetups(daysOf(rng, c.days, c.mixed, 0.3, c.day), "A")
			if err != nil {
				t.Fatal(err)
			}
			if !o.Setups[1].Difference.Holds(0.3) {
				misses++
			}
		}
		within(t, fmt.Sprintf("%d days, shared %v, day s.d. %g: misses", c.days, c.mixed, c.day), misses, n, 0, c.top)
	}
}

// With balanced shared days the mixed model is the plain paired comparison:
// the mean of the days' differences.
func TestObservedIsPairedWhenBalanced(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	list := daysOf(rng, 8, true, 0.5, 1)
	o, err := ObserveSetups(list, "A")
	if err != nil {
		t.Fatal(err)
	}
	mean := 0.0
	for _, e := range list {
		if e.Setup == "B" {
			mean += e.Y / 24
		} else {
			mean -= e.Y / 24
		}
	}
	if !near(o.Setups[1].Difference.Value, mean, 1e-9) || o.Label != "observed, not randomised" || o.Setups[0].Ends != 24 || o.DaySD < 0.3 {
		t.Errorf("%+v, want a difference of %g", o, mean)
	}
	for name, bad := range map[string][]DayEnd{"one set-up": list[:1], "no variance": {{"A", "1", 1, 0}, {"B", "1", 1, 1}}, "no reference": {{"B", "1", 1, 1}, {"C", "1", 1, 1}, {"B", "2", 1, 1}}} {
		if _, err := ObserveSetups(bad, "A"); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}
