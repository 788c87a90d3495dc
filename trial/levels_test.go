package trial

import (
	"math"
	"math/rand/v2"
	"testing"
)

// shootLevels shoots ends of six at evenly spread levels in −1 … 1, ln σ
// rising by ln(1+rise) one unit off an optimum at 0.2 (G7, "What to expect").
func shootLevels(rng *rand.Rand, s shape, levels, arrows int, rise float64) []SettingLevel {
	var list []SettingLevel
	for i := range levels {
		x := 2*float64(i)/float64(levels-1) - 1
		sigma := math.Exp(math.Log(1+rise) * (x - 0.2) * (x - 0.2))
		list = append(list, SettingLevel{x, s.sample(rng, arrows/6, 6, sigma)})
	}
	return list
}

// G7 (computed): share of runs whose Fieller interval is unbounded, and its
// coverage .940–.955. Ends of six with their own centres reproduce that table
// (G7's first rule). 1500 runs, standard error 1.3 %; tolerance 2 points of
// ours and of the table's rounding and simulation.
func TestFiellerTable(t *testing.T) {
	for _, c := range []struct {
		levels, arrows int
		rise, open     float64
	}{{5, 12, .2, .82}, {3, 24, .2, .74}, {5, 36, .2, .52}, {3, 72, .2, .37}, {5, 36, .3, .23}, {3, 72, .3, .08}, {3, 24, .5, .17}, {5, 72, .5, 0}} {
		rng := rand.New(rand.NewPCG(6, 1))
		open, covers, n := 0, 0, runs(1500)
		for range n {
			v, err := DecideLevels(shootLevels(rng, normalShape, c.levels, c.arrows, c.rise), Confidence)
			if err != nil {
				t.Fatal(err)
			}
			if !v.Best.Bounded() {
				open++
			}
			if v.Best.Holds(0.2) {
				covers++
			}
		}
		name := "unbounded"
		within(t, name, open, n, c.open-0.02, c.open+0.02)
		within(t, "covers", covers, n, 0.935, 0.965)
	}
}

// Wild shots and t5 make ln s scatter more than 1/2ν; the arrows show it, and
// the widened interval covers in 90 % or more: a hundred arrows see only part
// of how wild they are (without widening it is 67 to 80 %). 600 runs, standard
// error 1.2 %.
func TestFiellerWithWildShots(t *testing.T) {
	for name, s := range shapes {
		rng := rand.New(rand.NewPCG(7, 1))
		covers, n := 0, runs(600)
		for range n {
			v, err := DecideLevels(shootLevels(rng, s, 3, 36, 0.3), Confidence)
			if err != nil {
				t.Fatal(err)
			}
			if v.Best.Holds(0.2) {
				covers++
			}
		}
		within(t, name, covers, n, 0.90, 0.98)
	}
}

// Levels need not be evenly spaced nor equally shot. 1000 runs, s.e. 0.7 %.
func TestFiellerWithUnevenLevels(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	covers, n := 0, runs(1000)
	for range n {
		var levels []SettingLevel
		for i, x := range []float64{-1, 0.6, 1} {
			sigma := math.Exp(math.Log(1.6) * (x + 0.1) * (x + 0.1))
			levels = append(levels, SettingLevel{10 + 3*x, shape(normalShape).sample(rng, []int{4, 12, 8}[i], 6, sigma)})
		}
		v, err := DecideLevels(levels, Confidence)
		if err != nil {
			t.Fatal(err)
		}
		if v.Best.Holds(10 - 0.3) {
			covers++
		}
	}
	within(t, "covers", covers, n, 0.94, 0.96)
}

func TestLevelsSay(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 1))
	for _, c := range []struct {
		name string
		rise float64
		at   float64
		want LevelsOutcome
	}{
		{"plain optimum", 1.5, 0, BestInside}, {"beyond the range", 0.5, 3, BestBeyond},
	} {
		var levels []SettingLevel
		for _, x := range []float64{-1, 0, 1} {
			levels = append(levels, SettingLevel{10 + 2*x, normalShape2(rng, 72, math.Exp(math.Log(1+c.rise)*(x-c.at)*(x-c.at)))})
		}
		v, err := DecideLevels(levels, Confidence)
		if err != nil || v.Outcome != c.want || v.Text == "" {
			t.Errorf("%s: %v %s, want %s: %s", c.name, err, v.Outcome, c.want, v.Text)
		}
		if v.Outcome == BestInside && !v.Best.Holds(10) {
			t.Errorf("%s: %v", c.name, v.Best)
		}
	}
	claimed, n := 0, runs(1000)
	for range n {
		v, _ := DecideLevels(shootLevels(rng, normalShape, 3, 36, 0), Confidence)
		if v.Outcome == BestInside || v.Outcome == BestBeyond {
			claimed++
		}
	}
	within(t, "a best setting claimed where there is none", claimed, n, 0, 0.05)
	if _, err := DecideLevels([]SettingLevel{{At: 1}, {At: 2}}, Confidence); err == nil {
		t.Error("two levels were accepted")
	}
	same := SettingLevel{1, normalShape2(rng, 6, 1)}
	if _, err := DecideLevels([]SettingLevel{same, same, same}, Confidence); err == nil {
		t.Error("one setting three times was accepted")
	}
}

func normalShape2(rng *rand.Rand, n int, sigma float64) Sample {
	return shape(normalShape).sample(rng, n/6, 6, sigma)
}

// The solution sets of a quadratic inequality, each shape once.
func TestQuadraticSet(t *testing.T) {
	for _, c := range []struct {
		a, b, c float64
		want    FiellerKind
		in, out float64
	}{
		{1, 0, -4, Between, 1.9, 2.1},
		{-1, 0, 4, Outside, 2.1, 1.9},
		{-1, 0, -1, Everything, 0, math.NaN()},
		{1, 0, 1, Nothing, math.NaN(), 0},
		{1, -1e8, 1, Between, 1, 1e-9},
	} {
		s := quadraticSet(c.a, c.b, c.c, 0.95)
		if s.Kind != c.want || !math.IsNaN(c.in) && !s.Holds(c.in) || !math.IsNaN(c.out) && s.Holds(c.out) {
			t.Errorf("%+v: %+v", c, s)
		}
	}
}
