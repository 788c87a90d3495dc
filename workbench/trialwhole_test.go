package workbench

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tautline/notebook"
	"tautline/trial"
)

// atMost holds a share of trials to a limit, three standard errors allowed.
func atMost(t *testing.T, name string, hits, n int, limit float64) {
	t.Helper()
	share := float64(hits) / float64(n)
	t.Logf("%s: %.1f %% of %d", name, 100*share, n)
	if share > limit+3*math.Sqrt(limit*(1-limit)/float64(n)) {
		t.Errorf("%s: %.1f %% of %d trials, at most %.0f %% are meant", name, 100*share, n, 100*limit)
	}
}

// wild gives one arrow in twenty three times the spread; 0.05 of it is common
// practice in robust statistics (a contaminated normal, Tukey 1960, recalled).
func wild(rng *rand.Rand, sigma float64) func(TrialStep) float64 {
	return func(TrialStep) float64 {
		if rng.Float64() < 0.05 {
			return 3 * sigma
		}
		return sigma
	}
}

// shootWild is shoot with a spread that is drawn anew for every arrow.
func shootWild(rng *rand.Rand, p TrialPlan) (ends []notebook.End) {
	ends = shoot(rng, p, len(p.Steps), func(TrialStep) float64 { return 1 }, none)
	for i := range ends {
		for k := range ends[i].Impacts {
			s := wild(rng, 0.08)(p.Steps[i])
			x, y := s**ends[i].Impacts[k].X, s**ends[i].Impacts[k].Y
			ends[i].Impacts[k].X, ends[i].Impacts[k].Y = &x, &y
		}
	}
	return ends
}

// Two or three settings that do nothing are told to do something in one trial
// of twenty, of normal arrows and of wild ones.
func TestSettingsThatDoNothing(t *testing.T) {
	three := []FactorAsk{{"button", "1", "5"}, {"rest_height", "6 mm", "10 mm"}, {"centre_shot", "0 mm", "3 mm"}}
	for _, k := range []int{2, 3} {
		for _, faces := range []bool{false, true} {
			p := planned(t, TrialAsk{What: SettingsTrial, Settings: three[:k], FaceCentred: faces, Seed: 1})
			for _, wilder := range []bool{false, true} {
				rng, wrong, n := rand.New(rand.NewPCG(2, 8)), 0, trials(200)
				for range n {
					ends := shoot(rng, p, len(p.Steps), func(TrialStep) float64 { return 0.08 }, none)
					if wilder {
						ends = shootWild(rng, p)
					}
					if ruled(t, p, JudgeAsk{Ends: ends}).Decided {
						wrong++
					}
				}
				atMost(t, fmt.Sprintf("%d settings, faces %v, wild %v", k, faces, wilder), wrong, n, 0.05)
			}
		}
	}
}

// An effect is called plain exactly where its interval is clear of nothing, and
// a warning says where few combinations are left to judge by.
func TestSettingsAgreeWithTheirIntervals(t *testing.T) {
	p := planned(t, TrialAsk{What: SettingsTrial, Settings: []FactorAsk{{"button", "1 turn", "5 turns"}, {"rest_height", "6 mm", "10 mm"}}, Arrows: 12, Seed: 1})
	rng, plain := rand.New(rand.NewPCG(4, 8)), 0
	for range 60 {
		v := ruled(t, p, JudgeAsk{Ends: shoot(rng, p, len(p.Steps), func(s TrialStep) float64 { return 0.08 * math.Exp(-0.45*s.Coded[0]+0.2*s.Coded[1]) }, none)})
		for _, e := range v.Effects {
			if clear := *e.Low > 0 || *e.High < 0; clear != strings.Contains(v.Text, e.Label) {
				t.Errorf("%s %s: %s", e.Label, e.Text, v.Text)
			} else if clear {
				plain++
			}
		}
		if v.Decided == strings.Contains(strings.Join(v.Warnings, " "), "7 combinations leave 3 to tell chance from effect by") {
			t.Errorf("%v", v.Warnings)
		}
	}
	if plain == 0 {
		t.Error("no effect was ever plain")
	}
}

// The plan shot once more makes the corners anew: twice the runs, in blocks of
// their own, and a spread of 2.5 times from end to end is seen that once
// through leaves open.
func TestSettingsShotTwice(t *testing.T) {
	p := planned(t, TrialAsk{What: SettingsTrial, Settings: []FactorAsk{{"button", "1 turn", "5 turns"}, {"rest_height", "6 mm", "10 mm"}}, Arrows: 12, Seed: 1})
	rng, once, twice := rand.New(rand.NewPCG(4, 9)), 0, 0
	const n = 40
	for range n {
		ends := again(rng, p, 2, func(s TrialStep) float64 { return 0.08 * math.Exp(-0.45*s.Coded[0]) })
		if ruled(t, p, JudgeAsk{Ends: ends[:len(p.Steps)]}).Decided {
			once++
		}
		v := ruled(t, p, JudgeAsk{Ends: ends})
		if v.Decided {
			twice++
		}
		said := strings.Join(append(v.Warnings, v.Assumptions...), " ")
		if strings.Contains(said, "to tell chance") || !strings.Contains(said, "the plan was shot 2 times") && !strings.Contains(said, "does not undo it") {
			t.Errorf("%.300s", said)
		}
	}
	t.Logf("decided after one plan %d, after two %d of %d", once, twice, n)
	if twice <= once {
		t.Errorf("decided after one plan %d, after two %d of %d", once, twice, n)
	}
}

// again shoots a plan several times over.
func again(rng *rand.Rand, p TrialPlan, plans int, sigma func(TrialStep) float64) (ends []notebook.End) {
	for k := range plans {
		for _, e := range shoot(rng, p, len(p.Steps), sigma, none) {
			e.ID, e.Number = notebook.ID(fmt.Sprint(e.ID, "-", k)), k+1
			ends = append(ends, e)
		}
	}
	return ends
}

// Groups that tighten toward an end and level off there have no best setting
// inside the levels: 1, 3 and 5 turns with 10, 6 and 5.5 cm. A claim that there
// is one comes with an interval inside, and nothing else decides a value.
func TestNoBestBeyondTheLevels(t *testing.T) {
	p := planned(t, TrialAsk{What: LevelsTrial, Levels: []string{"1 turns", "3 turns", "5 turns"}, Rounds: 12, Seed: 5})
	rng, inside, open, n := rand.New(rand.NewPCG(6, 6)), 0, 0, trials(60)
	for range n {
		v := ruled(t, p, JudgeAsk{Ends: shoot(rng, p, len(p.Steps), func(s TrialStep) float64 {
			return map[string]float64{"1 turns": 0.10, "3 turns": 0.06, "5 turns": 0.055}[s.Label]
		}, none)})
		best := v.Effects[len(v.Effects)-1]
		switch {
		case v.Outcome == string(trial.BestInside):
			if inside++; *best.Low <= 1 || *best.High >= 5 || len(v.Decides) != 1 {
				t.Errorf("%s: %+v", v.Text, v.Decides)
			}
			continue
		case v.Outcome == string(trial.Undecided) && strings.Contains(v.Text, "up, not bounded above by the levels shot"):
			open++
		}
		if len(v.Decides) > 0 || best.Value != nil || v.Decided != (v.Outcome == string(trial.BestBeyond)) {
			t.Errorf("%s decides %+v, best %+v", v.Text, v.Decides, best)
		}
	}
	t.Logf("inside %d, open at one end %d of %d", inside, open, n)
	if open < n/2 {
		t.Errorf("of %d trials only %d say that the best setting is not bounded above", n, open)
	}
}

// tillerTrial shoots a tiller trial with these spreads and notes, tiller by
// tiller.
func tillerTrial(t *testing.T, seed uint64, sigma map[string]float64, notes map[string]float64) TrialVerdict {
	t.Helper()
	p := planned(t, TrialAsk{What: TillerTrial, Levels: []string{"1 mm", "3 mm", "5 mm"}, Rounds: 12, Seed: 3})
	ask := JudgeAsk{Ends: shoot(rand.New(rand.NewPCG(seed, 2)), p, len(p.Steps), func(s TrialStep) float64 { return sigma[s.Label] }, none)}
	for _, s := range p.Steps {
		ask.Readings = append(ask.Readings, notebook.Reading{Stamp: notebook.Stamp{ID: notebook.ID(fmt.Sprint("f", s.Position))}, Kind: notebook.ReadFeel, Value: notes[s.Label], Stop: &s.Position})
	}
	return ruled(t, p, ask)
}

// Hold and group that contradict each other decide nothing; what they say in
// words is what they do.
func TestTillerContradiction(t *testing.T) {
	steady1 := map[string]float64{"1 mm": 5, "3 mm": 3, "5 mm": 3}
	for name, sigma := range map[string]map[string]float64{
		"tightest in the middle":         {"1 mm": 0.11, "3 mm": 0.06, "5 mm": 0.11},
		"tightening toward the far end":  {"1 mm": 0.12, "3 mm": 0.085, "5 mm": 0.06},
		"widest where it held steadiest": {"1 mm": 0.12, "3 mm": 0.06, "5 mm": 0.055},
	} {
		for seed := range uint64(5) {
			if v := tillerTrial(t, seed, sigma, steady1); v.Decided || len(v.Decides) > 0 || v.Outcome != "cannot_tell" || !strings.Contains(v.Text, "They do not agree") || !strings.Contains(v.Next, "do not agree") {
				t.Errorf("%s: %s, %s; %s", name, v.Outcome, v.Text, v.Next)
			}
		}
	}
	for name, c := range map[string]struct {
		sigma map[string]float64
		says  string
	}{
		"toward the steadiest": {map[string]float64{"1 mm": 0.06, "3 mm": 0.085, "5 mm": 0.12}, "Both agree"},
		"alike":                {map[string]float64{"1 mm": 0.08, "3 mm": 0.08, "5 mm": 0.08}, "do not speak against it"},
	} {
		if v := tillerTrial(t, 1, c.sigma, steady1); v.Outcome != "held_steadiest" || !v.Decided || len(v.Decides) != 1 || !strings.Contains(v.Text, c.says) {
			t.Errorf("%s: %s, %s", name, v.Outcome, v.Text)
		}
	}
}

// Looked at after every stop, equal settings are told apart as rarely as at one
// look: at most six in a hundred, also when the plan is shot three times over.
func TestLooksInBetween(t *testing.T) {
	for _, c := range []struct {
		ask   TrialAsk
		plans int
	}{
		{TrialAsk{What: TwoTrial, Setting: "brace_height", Seed: 1}, 1}, // 12 visits
		{TrialAsk{What: TwoTrial, Setting: "brace_height", Rounds: 2, Seed: 1}, 3},
		{TrialAsk{What: LevelsTrial, Levels: []string{"1", "3", "5"}, Rounds: 4, Seed: 1}, 2},
		{TrialAsk{What: SettingsTrial, Settings: []FactorAsk{{"button", "1", "5"}, {"rest_height", "6 mm", "10 mm"}}, Seed: 1}, 2},
	} {
		p := planned(t, c.ask)
		rng, wrong, n := rand.New(rand.NewPCG(12, 1)), 0, trials(100)
		for range n {
			ends := again(rng, p, c.plans, func(TrialStep) float64 { return 0.08 })
			if anyLook(t, p, ends) {
				wrong++
			}
		}
		atMost(t, fmt.Sprintf("%s, %d stops, %d times, some look", p.What, len(p.Steps), c.plans), wrong, n, 0.06)
	}
}

// anyLook judges after every end and reports whether any look decided.
func anyLook(t *testing.T, p TrialPlan, ends []notebook.End) (decided bool) {
	t.Helper()
	for n := 4; n <= len(ends); n++ {
		v := ruled(t, p, JudgeAsk{Ends: ends[:n]})
		if decided = decided || v.Decided; n < len(p.Steps) && (v.Decided || len(v.Decides) > 0 || !strings.HasPrefix(v.Text, "Cannot tell yet")) {
			t.Fatalf("after %d of %d stops: %s", n, len(p.Steps), v.Text)
		}
	}
	return decided
}

// A plain difference is told when the plan is whole and not before; what is shot
// after that leaves the answer as it is until the plan is whole again, and an
// arrow that missed the face keeps no plan from being whole.
func TestToldAtTheWholePlan(t *testing.T) {
	p := planned(t, TrialAsk{What: TwoTrial, Setting: "brace_height", A: "22 cm", B: "22.8 cm", Seed: 9})
	ends := again(rand.New(rand.NewPCG(7, 7)), p, 2, func(s TrialStep) float64 { return map[string]float64{"A": 0.05, "B": 0.12}[s.Label] })
	ends[3].Impacts = ends[3].Impacts[:5]
	early := ruled(t, p, JudgeAsk{Ends: ends[:11]})
	if early.Decided || !strings.Contains(early.Text, "11 of 12 stops are shot") || !strings.Contains(early.Text, "not before") || early.Effects[0].High == nil || *early.More != 6 {
		t.Errorf("%s %+v", early.Text, early.Effects)
	}
	told := ruled(t, p, JudgeAsk{Ends: ends[:12]})
	on := ruled(t, p, JudgeAsk{Ends: ends[:17]})
	if !told.Decided || !on.Decided || on.Text != told.Text || !strings.Contains(strings.Join(on.Warnings, " "), "30 arrows were shot beyond the plan") {
		t.Errorf("%s; then %s %v", told.Text, on.Text, on.Warnings)
	}
	whole := ruled(t, p, JudgeAsk{Ends: ends})
	if !whole.Decided || whole.Text != told.Text || !strings.Contains(strings.Join(whole.Warnings, " "), "does not undo it; with all of it, judged at 99.5 %: A tighter") {
		t.Errorf("%s %v", whole.Text, whole.Warnings)
	}
}

// The arrows still to shoot are the sizes a trial is planned by: an effect of 2.8
// standard errors is seen four times in five (1.960 + 0.842, normal tables), at
// the second look 2.807 + 0.842 are needed.
func TestMorePlans(t *testing.T) {
	j := &judging{whole: 1}
	for _, c := range []struct {
		effect float64
		want   int
	}{{0, 0}, {0.1, 0}, {3.65, 1}, {3.65 / math.Sqrt2, 1}, {3.64 / math.Sqrt2, 2}} {
		if got := j.morePlans(c.effect, 1); got != c.want {
			t.Errorf("an effect of %.3f standard errors: %d further plans, want %d", c.effect, got, c.want)
		}
	}
	one := &judging{whole: 0}
	if got := one.morePlans(3, 1); got != 0 {
		t.Errorf("before the plan is whole: %d", got)
	}
}

// A plan says before it is shot whether one may look as one goes.
func TestPlansSayWhenTheyAreTold(t *testing.T) {
	for _, ask := range everyTrial() {
		p := planned(t, ask)
		fixed := map[string]bool{"visits": true, "levels": true, "factorial": true, "face_centred": true, "tiller": true}[p.Kind]
		if fixed != strings.Contains(p.CanSee, "told when the whole plan is shot") {
			t.Errorf("%s, %s: %s", p.What, p.Kind, p.CanSee)
		}
	}
}
