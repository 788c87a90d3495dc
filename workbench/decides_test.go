package workbench

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tautline/notebook"
	"tautline/unit"
)

// kept are the results that the notebook reads out of a verdict's content.
func kept(t *testing.T, v TrialVerdict) []Result {
	t.Helper()
	b := BowRecords{
		SetUps:   []notebook.SetUp{{Stamp: notebook.Stamp{ID: "s"}}},
		Trials:   []notebook.Trial{{Stamp: notebook.Stamp{ID: "t"}, SetUp: "s", What: v.What}},
		Verdicts: []notebook.Verdict{{Stamp: notebook.Stamp{ID: "v"}, Trial: "t", Content: json.RawMessage(inJSON(t, v))}},
	}
	return b.Results()
}

func planned(t *testing.T, ask TrialAsk) TrialPlan {
	t.Helper()
	p, err := PlanTrial(ask)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func shotAll(p TrialPlan, sigma func(TrialStep) float64) JudgeAsk {
	return JudgeAsk{Ends: shoot(rand.New(rand.NewPCG(5, 5)), p, len(p.Steps), sigma, none)}
}

// Two set-ups that are values of one setting decide it half the way between
// them: 2 turns against 4 is 2 ± 1 turns, by what a turn moves a bare shaft.
func TestTwoSetUpsDecideASetting(t *testing.T) {
	sigma := func(s TrialStep) float64 { return map[string]float64{"A": 0.05, "B": 0.12}[s.Label] }
	p := planned(t, TrialAsk{What: TwoTrial, A: "2 turns", B: "4 turns", Distance: "30 m", Seed: 9})
	got := kept(t, ruled(t, p, shotAll(p, sigma)))
	if len(got) != 1 || got[0].By != "button.turns" || got[0].Of.Kind != OfBare || got[0].Of.Distance <= 0 || got[0].Value != 2 || math.Abs(got[0].Half-1) > 1e-12 || got[0].Unit != "turns" {
		t.Fatalf("%+v", got)
	}
	// 15 mm of brace height are worth more than the turn it is known to
	base := heron(t)
	got[0].Of.Distance = 30
	if s := stand(t, got[0], base, with(t, base, "brace_height", "239 mm")); s.State != Stale {
		t.Errorf("after 15 mm of brace height it is %s: likely %.2f turns", s.State, s.Likely)
	}
	if s := stand(t, got[0], base, base); s.State != Fresh {
		t.Errorf("with nothing changed it is %s", s.State)
	}
	// brace heights are tied to the bow by the time on the string
	p = planned(t, TrialAsk{What: TwoTrial, Setting: "brace_height", A: "22 cm", B: "22.8 cm", Seed: 9})
	got = kept(t, ruled(t, p, shotAll(p, sigma)))
	if len(got) != 1 || got[0].By != "brace_height.value" || got[0].Of.Kind != OfTime || got[0].Value != 0.22 || math.Abs(got[0].Half-0.004) > 1e-12 {
		t.Errorf("%+v", got)
	}
}

// What only words tell apart settles how much tighter the one was on the bow
// as it was: anything that touches bow or arrow leaves it to be checked.
func TestTwoSetUpsInWords(t *testing.T) {
	p := planned(t, TrialAsk{What: TwoTrial, A: "long rod", B: "short rod", Seed: 9})
	v := ruled(t, p, shotAll(p, func(s TrialStep) float64 { return map[string]float64{"A": 0.05, "B": 0.12}[s.Label] }))
	got := kept(t, v)
	if len(got) != 1 || got[0].By != "" || got[0].Of.Kind != OfSpread || got[0].Value >= 1 {
		t.Fatalf("%+v", got)
	}
	base := heron(t)
	for changed, want := range map[string]State{"rest.height": Drifted, "brace_height": Drifted, "sight_extension": Fresh} {
		if s := stand(t, got[0], base, with(t, base, changed, map[string]string{"rest.height": "9 mm", "brace_height": "224.5 mm", "sight_extension": "20 cm"}[changed])); s.State != want {
			t.Errorf("after %s it is %s, want %s", changed, s.State, want)
		}
	}
}

// Three levels and a face-centred plan decide settings with the interval of
// their best point; a 95 % interval counts as a 90 % one by 1.645 / 1.960.
func TestBestSettingsAreDecided(t *testing.T) {
	p := planned(t, TrialAsk{What: LevelsTrial, Setting: "nocking_point", Levels: []string{"4 mm", "8 mm", "12 mm"}, Rounds: 12, Seed: 5})
	v := ruled(t, p, shotAll(p, func(s TrialStep) float64 {
		return map[string]float64{"4 mm": 0.12, "8 mm": 0.06, "12 mm": 0.12}[s.Label]
	}))
	got := kept(t, v)
	best := v.Effects[len(v.Effects)-1]
	want := (*best.High - *best.Low) / 2 * 1.644854 / 1.959964 // normal quantiles, tables
	if len(got) != 1 || got[0].By != "nocking_point.value" || got[0].Unit != "m" || got[0].Value != *best.Value || math.Abs(got[0].Half-want) > 1e-6*want {
		t.Errorf("%+v, want ± %g", got, want)
	}
	ask := TrialAsk{What: SettingsTrial, Settings: []FactorAsk{{"button", "1 turn", "5 turns"}, {"nocking_point", "10 mm", "6 mm"}}, FaceCentred: true, Arrows: 24, Seed: 5}
	p = planned(t, ask)
	v = ruled(t, p, shotAll(p, func(s TrialStep) float64 {
		x, y := s.Coded[0]-0.3, s.Coded[1]+0.2
		return 0.05 * math.Exp(0.7*x*x+0.7*y*y)
	}))
	got = kept(t, v)
	if !v.Decided || len(got) != 2 || got[0].By != "button.turns" || got[0].Unit != "turns" || got[1].By != "nocking_point.value" || got[1].Value < 0.006 || got[1].Value > 0.010 || got[1].Half <= 0 {
		t.Errorf("%s: %+v", v.Text, got)
	}
}

// Bare shafts and a walk-back decide a quantity; what cannot be told yet
// decides nothing.
func TestQuantitiesAreDecided(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	p := planned(t, TrialAsk{What: BareTrial, Shafts: 4, Distance: "30 m"})
	var ends []notebook.End
	for _, s := range p.Steps {
		e := notebook.End{Stamp: notebook.Stamp{ID: notebook.ID(s.Label)}, Stop: &s.Position, Distance: notebook.Length{Typed: unit.Said(unit.Length(30), unit.M)}}
		for a := range 3 {
			e.Impacts = append(e.Impacts, struck(fmt.Sprint(a+1), 0.02*rng.NormFloat64(), 0.02*rng.NormFloat64()))
		}
		for a := range 4 {
			b := struck(fmt.Sprint("b", a+1), -0.08+0.02*rng.NormFloat64(), 0.02*rng.NormFloat64())
			b.Bare = true
			e.Impacts = append(e.Impacts, b)
		}
		ends = append(ends, e)
	}
	v := ruled(t, p, JudgeAsk{Ends: ends})
	got := kept(t, v)
	if v.Outcome != "side" || len(got) != 1 || got[0].By != "" || got[0].Of != at(OfBare, 30) || math.Abs(got[0].Value+0.08) > got[0].Half {
		t.Errorf("%s: %+v", v.Outcome, got)
	}
	p = planned(t, TrialAsk{What: WalkTrial, Distances: []string{"10 m", "20 m", "30 m"}})
	slanted := JudgeAsk{Ends: shoot(rng, p, len(p.Steps), func(s TrialStep) float64 { return 0.001 * s.Distance }, func(s TrialStep) float64 { return 0.008 * s.Distance })}
	// 8 mrad are 24 cm at 30 m
	if got = kept(t, ruled(t, p, slanted)); len(got) != 1 || got[0].Of != at(OfRight, 30) || math.Abs(got[0].Value-0.24) > 2*got[0].Half {
		t.Errorf("%+v", got)
	}
	if got = kept(t, ruled(t, p, JudgeAsk{})); len(got) != 0 {
		t.Errorf("nothing shot, and yet %+v", got)
	}
}

// Two settings of one verdict are followed each by itself.
func TestSettingsOfOneVerdictAreSupersededApart(t *testing.T) {
	of := func(id notebook.ID, by string, n int) Result {
		return Result{ID: id, By: by, Of: at(OfBare, 30), At: records(t).SetUps[0].At.AddDate(0, 0, n)}
	}
	all := []Result{of("v", "button.turns", 0), of("v", "centre_shot", 0), of("w", "button.turns", 3)}
	later := newest(all)
	if later.of(all[0]) != "w" || later.of(all[1]) != "" || later.of(all[2]) != "" {
		t.Errorf("%v", later)
	}
}
