package workbench

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
)

// everyTrial is one ask of each kind.
func everyTrial() []TrialAsk {
	return []TrialAsk{
		{What: TwoTrial, A: "3 turns", B: "5 turns", Seed: 3},
		{What: TwoTrial, Setting: "brace_height", A: "22 cm", B: "22.8 cm", Seed: 3},
		{What: ConfirmTrial, Setting: "button", Rounds: 4, Seed: 3},
		{What: LevelsTrial, Setting: "nocking_point", Levels: []string{"4 mm", "8 mm", "12 mm"}, Seed: 3},
		{What: SettingsTrial, Settings: []FactorAsk{{"button", "1 turn", "5 turns"}, {"nocking_point", "6 mm", "10 mm"}}, Seed: 3},
		{What: SettingsTrial, Settings: []FactorAsk{{"button", "1 turn", "5 turns"}, {"nocking_point", "6 mm", "10 mm"}}, FaceCentred: true, Seed: 3},
		{What: ShamTrial, Seed: 3},
		{What: BareTrial},
		{What: WalkTrial},
		{What: NockingTrial, Levels: []string{"10 mm", "12 mm"}},
		{What: TillerTrial, Levels: []string{"1 mm", "3 mm", "5 mm"}, Seed: 3},
	}
}

// A plan can be followed: every step says what to set and what to shoot, times
// and arrows add up, the arrows needed come first, and the same seed gives the
// same order, another one another.
func TestPlansCanBeFollowed(t *testing.T) {
	for _, ask := range everyTrial() {
		p, err := PlanTrial(ask)
		if err != nil {
			t.Fatalf("%s: %v", ask.What, err)
		}
		arrows, minutes := 0, 0.0
		for i, s := range p.Steps {
			if s.Position != i || s.Set == "" || s.Shoot == "" || s.Arrows < 2 {
				t.Errorf("%s step %d: %+v", ask.What, i, s)
			}
			arrows, minutes = arrows+s.Settling+s.Arrows, minutes+s.Minutes
		}
		if arrows != p.Arrows || math.Abs(minutes-p.Minutes) > 1e-9 || len(p.Cautions) < 3 {
			t.Errorf("%s: %d arrows and %v min, the steps have %d and %v; %d cautions", ask.What, p.Arrows, p.Minutes, arrows, minutes, len(p.Cautions))
		}
		for name, text := range map[string]string{"title": p.Title, "needed": p.Needed, "why": p.Why, "can see": p.CanSee, "record": p.Record} {
			if text == "" {
				t.Errorf("%s: no %s", ask.What, name)
			}
		}
		again, err := PlanTrial(p.Ask) // as a client sends it back, defaults filled in
		if one, two := inJSON(t, p), inJSON(t, again); err != nil || one != two {
			t.Errorf("%s: the same ask gives another plan: %v", ask.What, err)
		}
	}
	var orders []string
	for seed := range uint64(2) {
		p, err := PlanTrial(TrialAsk{What: TwoTrial, Seed: seed + 1})
		if err != nil {
			t.Fatal(err)
		}
		orders = append(orders, fmt.Sprint(p.Steps))
	}
	if orders[0] == orders[1] {
		t.Error("the seed does not change the order")
	}
}

func inJSON(t *testing.T, v any) string {
	t.Helper()
	raw, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// What cannot be planned names its field.
func TestBadTrials(t *testing.T) {
	for _, c := range []struct {
		ask   TrialAsk
		field string
	}{
		{TrialAsk{What: "magic"}, "/what"},
		{TrialAsk{What: TwoTrial, Setting: "colour"}, "/setting"},
		{TrialAsk{What: TwoTrial, Rounds: 1000}, "/rounds"},
		{TrialAsk{What: TwoTrial, Reduction: 3}, "/reduction_seen"},
		{TrialAsk{What: LevelsTrial, Levels: []string{"4 mm", "8 mm"}}, "/levels"},
		{TrialAsk{What: LevelsTrial, Levels: []string{"4 mm", "8 mm", "4 mm"}}, "/levels/2"},
		{TrialAsk{What: LevelsTrial, Levels: []string{"4 mm", "2 turns", "9 mm"}}, "/levels/1"},
		{TrialAsk{What: LevelsTrial, Levels: []string{"soft", "2", "3"}}, "/levels/0"},
		{TrialAsk{What: SettingsTrial, Settings: []FactorAsk{{"button", "1", "3"}}}, "/settings"},
		{TrialAsk{What: SettingsTrial, Settings: []FactorAsk{{"button", "1", "3"}, {"wind", "1", "3"}}}, "/settings/1/setting"},
		{TrialAsk{What: ShamTrial, Rounds: 1}, "/rounds"},
		{TrialAsk{What: BareTrial, Shafts: 2}, "/bare_shafts"},
		{TrialAsk{What: BareTrial, Distance: "far"}, "/distance"},
		{TrialAsk{What: WalkTrial, Distances: []string{"10 m", "20 m"}}, "/distances"},
		{TrialAsk{What: WalkTrial, Distances: []string{"10 m", "10 m", "10 m"}}, "/distances"},
		{TrialAsk{What: WalkTrial, Distances: []string{"10 m", "20 m", "300 m"}}, "/distances/2"},
	} {
		_, err := PlanTrial(c.ask)
		problems := problemsIn(err)
		if len(problems) == 0 || problems[0].Field != c.field || problems[0].Hint == "" && c.field != "/distance" {
			t.Errorf("%+v: %#v, want %s", c.ask, err, c.field)
		}
	}
}

// shoot records an end at every step of a plan, up to upTo; sigma gives a
// step's spread, centre where its group lies sideways.
func shoot(rng *rand.Rand, p TrialPlan, upTo int, sigma, centre func(TrialStep) float64) (ends []notebook.End) {
	for i, s := range p.Steps[:upTo] {
		e := notebook.End{Stamp: notebook.Stamp{ID: notebook.ID(fmt.Sprint("e", i))}, Stop: &s.Position, Number: 1}
		for a := range s.Arrows {
			e.Impacts = append(e.Impacts, struck(fmt.Sprint(a+1), centre(s)+sigma(s)*rng.NormFloat64(), sigma(s)*rng.NormFloat64()))
		}
		ends = append(ends, e)
	}
	return ends
}

func none(TrialStep) float64 { return 0 }

func ruled(t *testing.T, p TrialPlan, ask JudgeAsk) TrialVerdict {
	t.Helper()
	ask.Style = unit.Metric().ImpactStyle()
	v, err := JudgeTrial(p, ask)
	if err != nil {
		t.Fatalf("%s: %v", p.What, err)
	}
	if raw := inJSON(t, v); v.Text == "" || v.Outcome == "" || v.Next == "" || v.Inputs == "" || strings.Contains(raw, `"warnings":null`) {
		t.Errorf("%s: %s", p.What, raw)
	}
	return v
}

// Nothing shot is no error: every kind says that it cannot tell yet.
func TestNothingShotYet(t *testing.T) {
	for _, ask := range everyTrial() {
		p, err := PlanTrial(ask)
		if err != nil {
			t.Fatal(err)
		}
		v := ruled(t, p, JudgeAsk{})
		if v.Decided || v.Outcome != "cannot_tell" || !strings.HasPrefix(v.Text, "Cannot tell yet") {
			t.Errorf("%s: %s", ask.What, v.Text)
		}
	}
}

// A large difference between two set-ups is found, in pairs and in visits; the
// plan is the same one, read back from the notebook.
func TestTwoSetUpsJudged(t *testing.T) {
	for _, setting := range []string{"button", "brace_height"} {
		p, err := PlanTrial(TrialAsk{What: TwoTrial, Setting: setting, A: "3", B: "5", Seed: 9})
		if err != nil {
			t.Fatal(err)
		}
		var back TrialPlan
		if err := json.Unmarshal([]byte(inJSON(t, p)), &back); err != nil {
			t.Fatal(err)
		}
		rng := rand.New(rand.NewPCG(7, 7))
		ends := shoot(rng, back, len(back.Steps), func(s TrialStep) float64 { return map[string]float64{"A": 0.05, "B": 0.12}[s.Label] }, none)
		v := ruled(t, back, JudgeAsk{Ends: ends})
		if v.Outcome != "a_tighter" || !v.Decided || v.More != nil && *v.More != 0 || v.Steps != len(p.Steps) {
			t.Errorf("%s: %+v", setting, v)
		}
		half := ruled(t, back, JudgeAsk{Ends: ends[:3]})
		if half.Decided || half.Steps != 3 {
			t.Errorf("%s after three steps: %s", setting, half.Text)
		}
		// a corrected end counts instead of the wrong one
		fixed := shoot(rng, back, 1, func(TrialStep) float64 { return 0.05 }, none)[0]
		fixed.ID, fixed.Corrects = "fix", ends[0].ID
		if again := ruled(t, back, JudgeAsk{Ends: append(ends, fixed)}); again.Steps != v.Steps || again.Arrows != v.Arrows || again.Inputs == v.Inputs {
			t.Errorf("%s: a correction counts twice: %d arrows", setting, again.Arrows)
		}
	}
}

// Equal set-ups, levels and settings are told apart as rarely as they should
// be: 5 % (three standard errors allowed).
func TestTrialsDoNotCryWolf(t *testing.T) {
	for _, c := range []struct {
		ask     TrialAsk
		nominal float64
	}{
		{TrialAsk{What: TwoTrial, Setting: "brace_height", Seed: 1}, 0.05},
		{TrialAsk{What: TwoTrial, Rounds: 8, Seed: 1}, 0.05},
		{TrialAsk{What: LevelsTrial, Levels: []string{"1", "3", "5"}, Seed: 1}, 0.05},
		{TrialAsk{What: SettingsTrial, Settings: []FactorAsk{{"button", "1", "5"}, {"rest_height", "6 mm", "10 mm"}}, Seed: 1}, 0.05},
	} {
		p, err := PlanTrial(c.ask)
		if err != nil {
			t.Fatal(err)
		}
		rng, wrong, n := rand.New(rand.NewPCG(2, 8)), 0, trials(60)
		for range n {
			if ruled(t, p, JudgeAsk{Ends: shoot(rng, p, len(p.Steps), func(TrialStep) float64 { return 0.08 }, none)}).Decided {
				wrong++
			}
		}
		share := float64(wrong) / float64(n)
		t.Logf("%s %s: %.3f false", c.ask.What, p.Kind, share)
		if share > c.nominal+3*math.Sqrt(c.nominal*(1-c.nominal)/float64(n)) {
			t.Errorf("%s %s: %.3f false verdicts", c.ask.What, p.Kind, share)
		}
	}
}

// A setting with a plain best level is found inside, with its interval about
// the truth; a slope is sent further that way.
func TestLevelsJudged(t *testing.T) {
	p, err := PlanTrial(TrialAsk{What: LevelsTrial, Setting: "nocking_point", Levels: []string{"4 mm", "8 mm", "12 mm"}, Rounds: 12, Seed: 5})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(5, 5))
	bowl := ruled(t, p, JudgeAsk{Ends: shoot(rng, p, len(p.Steps), func(s TrialStep) float64 {
		return map[string]float64{"4 mm": 0.12, "8 mm": 0.06, "12 mm": 0.12}[s.Label]
	}, none)})
	best := bowl.Effects[len(bowl.Effects)-1]
	if bowl.Outcome != "best_inside" || best.Name != "best_setting" || best.Low == nil || *best.Low > 0.008 || *best.High < 0.008 || !strings.Contains(bowl.Text, "mm (") {
		t.Errorf("%s %+v", bowl.Text, best)
	}
	slope := ruled(t, p, JudgeAsk{Ends: shoot(rng, p, len(p.Steps), func(s TrialStep) float64 {
		return map[string]float64{"4 mm": 0.12, "8 mm": 0.08, "12 mm": 0.055}[s.Label]
	}, none)})
	if slope.Outcome != string(trial.BestBeyond) || !strings.Contains(slope.Text, "toward 12 mm") {
		t.Errorf("%s: %s", slope.Outcome, slope.Text)
	}
}

// A factorial finds the setting that matters and says so; a face-centred plan
// finds the best point.
func TestSettingsJudged(t *testing.T) {
	ask := TrialAsk{What: SettingsTrial, Settings: []FactorAsk{{"button", "1 turn", "5 turns"}, {"nocking_point", "6 mm", "10 mm"}}, Arrows: 12, Seed: 5}
	p, err := PlanTrial(ask)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(8, 5))
	v := ruled(t, p, JudgeAsk{Ends: shoot(rng, p, len(p.Steps), func(s TrialStep) float64 { return 0.07 * math.Exp(-0.45*s.Coded[0]) }, none)})
	if v.Outcome != "direction" || !strings.Contains(v.Text, "button from 1 turn") || strings.Contains(v.Text, "nocking") {
		t.Errorf("%s %+v", v.Text, v.Effects)
	}
	ask.FaceCentred, ask.Arrows = true, 24
	if p, err = PlanTrial(ask); err != nil {
		t.Fatal(err)
	}
	bowl := func(s TrialStep) float64 {
		x, y := s.Coded[0]-0.3, s.Coded[1]+0.2
		return 0.05 * math.Exp(0.7*x*x+0.7*y*y)
	}
	v = ruled(t, p, JudgeAsk{Ends: shoot(rng, p, len(p.Steps), bowl, none)})
	best := v.Effects[len(v.Effects)-2]
	if v.Outcome != "best_inside" || best.Name != "best_button" || *best.Low > 3.6 || *best.High < 3.6 {
		t.Errorf("%s %+v", v.Text, best)
	}
}

// Bare shafts that hit low are settled in height first.
func TestBareShaftJudged(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	p, err := PlanTrial(TrialAsk{What: BareTrial, Shafts: 4})
	if err != nil {
		t.Fatal(err)
	}
	var ends []notebook.End
	for _, s := range p.Steps {
		e := notebook.End{Stamp: notebook.Stamp{ID: notebook.ID(s.Label)}, Stop: &s.Position}
		for a := range 3 {
			e.Impacts = append(e.Impacts, struck(fmt.Sprint(a+1), 0.02*rng.NormFloat64(), 0.02*rng.NormFloat64()))
		}
		for a := range 4 {
			b := struck(fmt.Sprint("b", a+1), -0.06+0.02*rng.NormFloat64(), -0.12+0.02*rng.NormFloat64())
			b.Bare = true
			e.Impacts = append(e.Impacts, b)
		}
		ends = append(ends, e)
	}
	v := ruled(t, p, JudgeAsk{Ends: ends})
	if v.Outcome != "height" || v.Arrows != 28 || *v.Effects[1].High > 0 {
		t.Errorf("%s: %+v", v.Text, v.Effects)
	}
	// untaped, with the arrow known: its lightness is taken off, with doubt; a
	// shaft lighter by its vanes leaves faster and lands higher
	setup := example(t, "heron-70")
	off := ruled(t, p, JudgeAsk{Ends: ends, SetUp: &setup})
	moved := *v.Effects[1].Value - *off.Effects[1].Value
	wider := (*off.Effects[1].High - *off.Effects[1].Low) - (*v.Effects[1].High - *v.Effects[1].Low)
	if moved < 0.005 || moved > 0.1 || wider <= 0 || *off.Effects[0].Value != *v.Effects[0].Value {
		t.Errorf("the bare shafts' lightness moved the height by %.4f m and widened it by %.4f m", moved, wider)
	}
	p.Ask.Taped = true
	if taped := ruled(t, p, JudgeAsk{Ends: ends, SetUp: &setup}); *taped.Effects[1].Value != *v.Effects[1].Value {
		t.Error("something was taken off taped shafts")
	}
}

// A slanted walk-back is not blamed on one cause.
func TestWalkBackJudged(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	p, err := PlanTrial(TrialAsk{What: WalkTrial})
	if err != nil {
		t.Fatal(err)
	}
	v := ruled(t, p, JudgeAsk{Ends: shoot(rng, p, len(p.Steps), func(s TrialStep) float64 { return 0.001 * s.Distance }, func(s TrialStep) float64 { return 0.008 * s.Distance })})
	if v.Outcome != "slanted" || !strings.Contains(v.Next, "cannot separate") || *v.Effects[0].Low > 0.008 || *v.Effects[0].High < 0.008 {
		t.Errorf("%s: %+v", v.Text, v.Effects[0])
	}
}

// Equal pairs that were felt to differ are counted against the different ones.
func TestShamJudged(t *testing.T) {
	p, err := PlanTrial(TrialAsk{What: ShamTrial, Rounds: 12, Seed: 4})
	if err != nil {
		t.Fatal(err)
	}
	feel := func(felt func(a, b TrialStep) bool) (list []notebook.Reading) {
		for i := 0; i < len(p.Steps); i += 2 {
			for k := range 2 {
				stop, value := i+k, 3.0
				if k == 1 && felt(p.Steps[i], p.Steps[i+1]) {
					value = 4
				}
				list = append(list, notebook.Reading{Stamp: notebook.Stamp{ID: notebook.ID(fmt.Sprint("f", stop))}, Kind: notebook.ReadFeel, Value: value, Stop: &stop})
			}
		}
		return list
	}
	v := ruled(t, p, JudgeAsk{Readings: feel(func(a, b TrialStep) bool { return a.Label != b.Label })})
	// 6 of 6 against 0 of 6: Fisher's exact p is 1/C(12,6) = 0.0011
	if v.Outcome != "felt" || *v.Effects[0].Value != 0 || *v.Effects[1].Value != 1 || !strings.Contains(v.Text, "p 0.001") {
		t.Errorf("%+v", v)
	}
	v = ruled(t, p, JudgeAsk{Readings: feel(func(TrialStep, TrialStep) bool { return true })})
	if v.Outcome != "cannot_tell" || *v.Effects[0].Value != 1 || !strings.Contains(v.Text, "worth no more than that") {
		t.Errorf("%+v", v)
	}
}
