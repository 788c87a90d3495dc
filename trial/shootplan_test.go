package trial

import (
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"tautline/unit"
)

func kind(t *testing.T, key string) SettingKind {
	t.Helper()
	k, err := SettingByKey(key)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// measuring.md, Comparing: what a change costs in time (common practice).
func TestSettingCosts(t *testing.T) {
	for key, minutes := range map[string]float64{"button": 0.5, "nocking_point": 3, "brace_height": 5, "tiller": 10} {
		if k := kind(t, key); k.Change != unit.Duration(minutes)*unit.Minute || k.Slow() != (minutes >= 3) {
			t.Errorf("%s: %v", key, k)
		}
	}
	if _, err := SettingByKey("mood"); err == nil {
		t.Error("the mood is no setting")
	}
}

// every plan's totals are the sums of its steps.
func checkTotals(t *testing.T, p ShootingPlan) {
	t.Helper()
	var time unit.Duration
	arrows := 0
	for i, s := range p.Steps {
		time, arrows = time+s.Time, arrows+s.Arrows+s.Settling
		if s.Number != i+1 || s.Label == "" {
			t.Errorf("step %d: %+v", i, s)
		}
	}
	if !near(float64(time), float64(p.Time), 1e-6) || arrows != p.Arrows {
		t.Errorf("%s: %v and %d arrows, steps add to %v and %d", p.Kind, p.Time, p.Arrows, time, arrows)
	}
	if p.Why == "" || p.CanSee == "" || len(p.Cautions) == 0 {
		t.Errorf("%s: a plan says why, what it can see, and what to mind", p.Kind)
	}
}

func TestPlanPairs(t *testing.T) {
	p, err := PlanTwo(kind(t, "button"), 40, PlanCost{}, 1)
	if err != nil {
		t.Fatal(err)
	}
	checkTotals(t, p)
	ab := 0
	for b := range 40 {
		pair := p.Steps[2*b].Label + p.Steps[2*b+1].Label
		if pair != "AB" && pair != "BA" || p.Steps[2*b].Block != b+1 {
			t.Fatalf("block %d: %s", b+1, pair)
		}
		if pair == "AB" {
			ab++
		}
	}
	if ab < 8 || ab > 32 { // a fair coin leaves 8 … 32 of 40 once in 20 000
		t.Errorf("%d of 40 pairs begin with A", ab)
	}
	again, _ := PlanTwo(kind(t, "button"), 40, PlanCost{}, 1)
	other, _ := PlanTwo(kind(t, "button"), 40, PlanCost{}, 2)
	if !reflect.DeepEqual(p, again) || reflect.DeepEqual(p.Steps, other.Steps) {
		t.Error("a plan is fixed by its seed and only by it")
	}
}

func TestPlanVisits(t *testing.T) {
	p, err := PlanTwo(kind(t, "tiller"), 2, PlanCost{Arrows: 6}, 3)
	if err != nil || p.Kind != "visits" || len(p.Steps) != 8 {
		t.Fatalf("%v %+v", err, p)
	}
	checkTotals(t, p)
	for b := range 2 {
		cycle := ""
		for _, s := range p.Steps[4*b : 4*b+4] {
			cycle += s.Label
			if !s.Set || s.Settling != 3 || s.Time != 10*unit.Minute+9*unit.Minute {
				t.Errorf("every visit is set anew: %+v", s)
			}
		}
		if cycle != "ABBA" && cycle != "BAAB" {
			t.Errorf("cycle %s", cycle)
		}
	}
	if one, _ := PlanTwo(kind(t, "tiller"), 1, PlanCost{}, 3); len(one.Warnings) == 0 {
		t.Error("one cycle of four visits is too little, and nobody says so")
	}
	if c, err := PlanConfirm(kind(t, "button"), 6, PlanCost{}, 1); err != nil || c.Kind != "confirm" || !strings.Contains(c.Why, "new") {
		t.Errorf("%v %+v", err, c)
	}
}

func TestPlanLevels(t *testing.T) {
	p, err := PlanLevels(kind(t, "button"), []string{"out 2", "now", "in 2"}, 6, PlanCost{}, 5)
	if err != nil {
		t.Fatal(err)
	}
	checkTotals(t, p)
	for b := range 6 {
		seen := map[string]bool{}
		for _, s := range p.Steps[3*b : 3*b+3] {
			seen[s.Label] = true
		}
		if len(seen) != 3 {
			t.Errorf("block %d does not hold every level once", b+1)
		}
	}
}

func TestPlanFactorial(t *testing.T) {
	kinds := []SettingKind{kind(t, "button"), kind(t, "nocking_point")}
	p, err := PlanFactorial(kinds, true, 3, PlanCost{}, 7)
	if err != nil || len(p.Steps) != 4+3+4+3 {
		t.Fatalf("%v, %d steps", err, len(p.Steps))
	}
	checkTotals(t, p)
	var list []Run
	for _, s := range p.Steps {
		// ln σ with a minimum at (0.2, −0.3).
		y := 0.3*sq(s.Coded[0]-0.2) + 0.2*sq(s.Coded[1]+0.3)
		list = append(list, Run{X: s.Coded, Block: s.Block, Y: y, Var: 0.01})
	}
	surface, err := FitSurface(list, SecondOrder, Confidence)
	if err != nil || !near(surface.Stationary[0], 0.2, 1e-9) || !near(surface.Stationary[1], -0.3, 1e-9) || surface.Kind != "minimum" {
		t.Errorf("the plan does not fix the surface: %v %+v", err, surface.Stationary)
	}
	first, _ := PlanFactorial(kinds, false, 3, PlanCost{}, 7)
	if first.Kind != "factorial" || len(first.Steps) != 7 {
		t.Errorf("%+v", first)
	}
}

func TestPlanSham(t *testing.T) {
	list, err := PlanSham(8, 1)
	equal := 0
	for _, s := range list {
		if s[0] == s[1] {
			equal++
		}
	}
	if err != nil || len(list) != 8 || equal != 4 {
		t.Errorf("%v %v", err, list)
	}
}

func TestBadShootingPlans(t *testing.T) {
	k := kind(t, "button")
	for name, plan := range map[string]func() error{
		"no pairs":    func() error { _, err := PlanTwo(k, 0, PlanCost{}, 1); return err },
		"one arrow":   func() error { _, err := PlanTwo(k, 3, PlanCost{Arrows: 1}, 1); return err },
		"two levels":  func() error { _, err := PlanLevels(k, []string{"a", "b"}, 3, PlanCost{}, 1); return err },
		"one setting": func() error { _, err := PlanFactorial([]SettingKind{k}, false, 3, PlanCost{}, 1); return err },
		"one repeat":  func() error { _, err := PlanSham(1, 1); return err },
	} {
		if err := plan(); err == nil {
			t.Errorf("%s: planned", name)
		}
	}
	// measuring.md: "to see a 20 % tighter group you need about 81 arrows a
	// set-up; with 12 you can only see 46 %" (one group each).
	if text := CanSeeText(12, 0); !strings.Contains(text, "81 arrows") || !strings.Contains(text, "46 %") {
		t.Errorf("%q", text)
	}
}

// The power of Student's t against Cohen's table of sample sizes (Statistical
// Power Analysis, 2nd ed. 1988, table 2.4.1, recalled): 26 a group see 0.8, 12 a
// group 1.2 standard deviations in 80 % of trials, and one fewer does not.
func TestPowerOfT(t *testing.T) {
	for d, n := range map[float64]float64{0.8: 26, 1.2: 12} {
		power := func(n float64) float64 { return powerT(d*math.Sqrt(n/2), quantileT(2*n-2, 0.975), 2*n-2) }
		if power(n) < 0.8 || power(n-1) > 0.8 {
			t.Errorf("%g standard deviations: %.3f with %g, %.3f with one fewer", d, power(n), n, power(n-1))
		}
	}
}

// The ratio that a factorial is said to show is the one that shot trials show.
func TestFactorialSees(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for _, times := range []int{1, 2} {
		ratio, left := factorialRatio(2, 7, false, 12, times)
		seen, n := 0, runs(400)
		for range n {
			var list []Run
			for day := range times {
				for _, x := range factorialBlocks(2, false, 3)[0] {
					y, v := LogSpread(shape(normalShape).sample(rng, 1, 12, math.Pow(ratio, x[0]/2)))
					list = append(list, Run{X: x, Block: day, Y: y, Var: v})
				}
			}
			s, err := FitSurface(list, FirstOrder, LookConfidence(times))
			if err != nil || s.DF != left {
				t.Fatal(err, s.DF, left)
			}
			for _, term := range s.Terms {
				if term.Name == "x1" && term.Plain {
					seen++
				}
			}
		}
		t.Logf("%d times: a ratio of %.2f, %d left", times, ratio, left)
		within(t, "seen", seen, n, 0.76, 0.86) // Holm's later steps add a little
	}
}
