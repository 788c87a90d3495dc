package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// G5: NIST e-Handbook 1.3.5.9, ceramic strength (read): s 65.54909 and
// 61.85425, 240 each: F 1.123037, cdf 0.814808, to the digits printed.
func TestCeramicStrength(t *testing.T) {
	f := 65.54909 * 65.54909 / (61.85425 * 61.85425)
	if _, cdf := FTest(f, 239, 239); !near(f, 1.123037, 5e-7) || !near(cdf, 0.814808, 5e-7) {
		t.Errorf("F %.6f, cdf %.7f", f, cdf)
	}
}

// G5 (computed): two-sided p, the F interval of the ratio and P(A tighter), to
// the digits given.
func TestRatioChecks(t *testing.T) {
	for _, c := range []struct {
		n                     int
		ratio, p, lo, hi, pab float64
	}{
		{12, 0.70, .1016, .456, 1.075, .9492},
		{36, 0.85, .1764, .671, 1.076, .9118},
		{36, 0.70, .0033, .553, .886, .9984},
		{72, 0.85, .0537, .721, 1.003, .9731},
	} {
		nu := 2 * float64(c.n-1)
		p, _ := FTest(c.ratio*c.ratio, nu, nu)
		var cmp Comparison
		cmp.ratioOfVariances(scaledTo(c.n, c.ratio), scaledTo(c.n, 1))
		for name, v := range map[string][3]float64{
			"p": {p, c.p, 5.1e-5}, "low": {cmp.FRatio.Low, c.lo, 5.1e-4}, "high": {cmp.FRatio.High, c.hi, 5.1e-4}, "P(A tighter)": {cmp.ProbATight, c.pab, 5.1e-5},
		} {
			if !near(v[0], v[1], v[2]) {
				t.Errorf("n %d, ratio %g, %s: %.5f, want %.4f", c.n, c.ratio, name, v[0], v[1])
			}
		}
	}
}

// scaledTo is a group of n arrows whose pooled s is exactly the one asked for.
func scaledTo(n int, s float64) Sample {
	g := shapes["normal"].sample(rand.New(rand.NewPCG(uint64(n), 1)), 1, n, 1)
	k := s / math.Sqrt(g.SumSquares()/g.DF())
	for i := range g[0] {
		g[0][i].Right *= unit.Length(k)
		g[0][i].Up *= unit.Length(k)
	}
	return g
}

// G5 (computed): arrows needed, every cell of the table.
func TestArrowsNeeded(t *testing.T) {
	for _, c := range []struct {
		cut                                      float64
		two80, two90, one80, one90, ends3, ends6 int
	}{
		{.50, 10, 13, 8, 11, 15, 12},
		{.40, 17, 22, 14, 18, 24, 24},
		{.30, 33, 43, 26, 36, 48, 42},
		{.25, 49, 65, 39, 54, 0, 0},
		{.20, 81, 108, 64, 88, 120, 96},
		{.15, 151, 201, 119, 164, 0, 0},
		{.10, 356, 475, 280, 388, 534, 426},
		{.05, 1494, 1999, 1177, 1629, 0, 0},
	} {
		for name, q := range map[string]struct {
			q    SizeQuestion
			want int
		}{
			"two-sided 80 %": {SizeQuestion{c.cut, 0.8, false, 0}, c.two80}, "two-sided 90 %": {SizeQuestion{c.cut, 0.9, false, 0}, c.two90},
			"one-sided 80 %": {SizeQuestion{c.cut, 0.8, true, 0}, c.one80}, "one-sided 90 %": {SizeQuestion{c.cut, 0.9, true, 0}, c.one90},
			"ends of 3": {SizeQuestion{c.cut, 0.8, false, 3}, c.ends3}, "ends of 6": {SizeQuestion{c.cut, 0.8, false, 6}, c.ends6},
		} {
			if got, err := ArrowsNeeded(q.q); q.want > 0 && (err != nil || got != q.want) {
				t.Errorf("%g %%, %s: %d arrows (%v), want %d", 100*c.cut, name, got, err, q.want)
			}
		}
	}
	for _, q := range []SizeQuestion{{Reduction: 0}, {Reduction: 1}, {Reduction: math.NaN()}, {Reduction: 0.2, Power: 1}, {Reduction: 0.2, EndSize: 1}, {Reduction: 1e-9}} {
		if n, err := ArrowsNeeded(q); err == nil {
			t.Errorf("%+v: %d arrows", q, n)
		}
	}
}

// G5 (computed): power, smallest reduction, reach of the ratio's interval.
func TestPowerTables(t *testing.T) {
	for n, row := range map[int][5]float64{
		6: {.061, .099, .181, .327, .545}, 12: {.076, .173, .369, .648, .888}, 18: {.092, .247, .534, .835, .978},
		24: {.108, .320, .667, .929, .996}, 36: {.140, .457, .842, .989, 1}, 72: {.239, .755, .988, 1, 1}, 144: {.428, .965, 1, 1, 1},
	} {
		for i, want := range row {
			if got := Power(n, 0.1*float64(i+1)); !near(got, want, 5.1e-4) {
				t.Errorf("n %d, %d %%: power %.4f, want %.3f", n, 10*(i+1), got, want)
			}
		}
	}
	for n, want := range map[int]float64{12: 45.7, 18: 38.6, 24: 34.1, 36: 28.6, 48: 25.2, 72: 21.0, 144: 15.3} {
		if got := 100 * SmallestReduction(n, 0.8); !near(got, want, 0.051) {
			t.Errorf("n %d: smallest reduction %.2f %%, want %.1f", n, got, want)
		}
	}
	for n, want := range map[int]float64{12: 1.5355, 18: 1.4075, 36: 1.2664, 72: 1.1796, 144: 1.1231} {
		if got := RatioFactor(n); !near(got, want, 5.1e-5) {
			t.Errorf("n %d: ×/÷ %.5f, want %.4f", n, got, want)
		}
	}
}

// G6 (computed by simulation, s.e. ≤ 0.008): size of the headline test and its
// power at a true ratio of 0.7; size at most 6 % (issue), power within 3
// points. 2000 trials a cell, standard error ≤ 1.1 %.
func TestFixedComparisonRates(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 5))
	for _, c := range []struct {
		n     int
		shape string
		power float64
	}{
		{12, "normal", .260},
		{12, "ellipse 1:2", .210},
		{12, "5 % wild", .204},
		{36, "normal", .781},
		{36, "ellipse 1:2", .689},
		{36, "t5", .549},
		{36, "5 % wild", .585},
		{72, "normal", .976},
		{72, "5 % wild", .863},
	} {
		wolf, seen, n := 0, 0, runs(2000)
		for range n {
			a, same, tight := shapes[c.shape].sample(rng, 1, c.n, 1), shapes[c.shape].sample(rng, 1, c.n, 1), shapes[c.shape].sample(rng, 1, c.n, 0.7)
			if p := fixedP(a, same); p < 0.05 {
				wolf++
			}
			if p := fixedP(tight, a); p < 0.05 {
				seen++
			}
		}
		within(t, c.shape+" false alarms", wolf, n, 0, 0.06)
		within(t, c.shape+" power", seen, n, c.power-0.03, c.power+0.03)
	}
}

func fixedP(a, b Sample) float64 {
	w, _ := newWelch(units(a, b))
	return w.p(1)
}

// The same with ends that each have their own centre: ends of 3 and 6, and of
// unequal size, in all four shapes. 1500 trials, standard error 0.6 %.
func TestFixedComparisonOfEnds(t *testing.T) {
	for name, s := range shapes {
		rng := rand.New(rand.NewPCG(13, 5)) // anew: a map has no order
		for _, c := range [][4]int{{2, 6, 2, 6}, {6, 6, 6, 6}, {12, 3, 12, 3}, {4, 3, 8, 3}, {4, 6, 8, 3}} {
			wolf, n := 0, runs(1500)
			for range n {
				if fixedP(s.sample(rng, c[0], c[1], 1), s.sample(rng, c[2], c[3], 1)) < 0.05 {
					wolf++
				}
			}
			within(t, fmt.Sprintf("%s, %d ends of %d and %d of %d", name, c[0], c[1], c[2], c[3]), wolf, n, 0, 0.06)
		}
	}
}

// What is counted is the arrow, and the end where there are six of them, or four
// with fewer than five arrows on average; ends of one arrow say nothing.
func TestUnits(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 5))
	for _, c := range []struct{ endsA, arrowsA, endsB, arrowsB, unitsA, unitsB int }{
		{3, 6, 3, 6, 18, 18}, {3, 3, 3, 3, 9, 9}, {4, 3, 4, 3, 4, 4}, {4, 6, 4, 3, 4, 4}, {4, 6, 4, 6, 24, 24}, {5, 4, 4, 6, 5, 4}, {4, 5, 4, 5, 20, 20}, {6, 6, 6, 6, 6, 6}, {6, 6, 5, 6, 36, 30}, {6, 1, 3, 3, 0, 9},
	} {
		a, b := units(shapes["normal"].sample(rng, c.endsA, c.arrowsA, 1), shapes["normal"].sample(rng, c.endsB, c.arrowsB, 1))
		if len(a) != c.unitsA || len(b) != c.unitsB {
			t.Errorf("%+v: counted were %d and %d", c, len(a), len(b))
		}
	}
}

// Groups without a mean distance, or without any spread of it, have no ratio.
func TestWelchNeedsSpread(t *testing.T) {
	for _, c := range []struct {
		a, b []float64
		ok   bool
	}{
		{[]float64{1, 2}, []float64{1, 3}, true}, {[]float64{1, 1}, []float64{1, 3}, true}, {[]float64{0, 0}, []float64{1, 3}, false},
		{[]float64{1, 3}, []float64{0, 0}, false}, {[]float64{1, 1}, []float64{2, 2}, false},
	} {
		if _, ok := newWelch(c.a, c.b); ok != c.ok {
			t.Errorf("%v and %v: %v", c.a, c.b, ok)
		}
	}
}

// More arrows are named while nothing is decided and something is to be seen, as
// many as the F test needs for that ratio and a tenth more; few arrows are warned
// of, and not many.
func TestFixedComparisonSaysHowManyMore(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 5))
	open, decided := 0, 0
	for range 300 {
		c, err := CompareFixed(shapes["normal"].sample(rng, 2, 9, 1.3), shapes["normal"].sample(rng, 2, 9, 1))
		if err != nil {
			t.Fatal(err)
		}
		ratio := max(c.Ratio.Value, 1/c.Ratio.Value)
		want := 0
		switch {
		case c.Verdict != CannotTellYet:
			decided++
		case ratio >= 1.03:
			open++
			n, err := ArrowsNeeded(SizeQuestion{Reduction: 1 - 1/ratio, Power: 0.8})
			if err != nil {
				t.Fatal(err)
			}
			want = max(1, int(math.Ceil(1.1*float64(n)))-18)
		}
		if c.More != want && math.Abs(ratio-1.03) > 1e-9 {
			t.Errorf("%s at a ratio of %g: %d more, not %d", c.Verdict, c.Ratio.Value, c.More, want)
		}
	}
	if open < 30 || decided < 30 {
		t.Errorf("%d are open and %d decided: too few to tell", open, decided)
	}
	for arrows, warned := range map[int]bool{6: true, 11: true, 12: false, 30: false} {
		c, err := CompareFixed(shapes["normal"].sample(rng, 1, arrows, 1), shapes["normal"].sample(rng, 1, arrows, 1))
		if err != nil {
			t.Fatal(err)
		}
		if said := strings.Contains(strings.Join(c.Warnings, " "), fmt.Sprintf("with %d arrows", arrows)); said != warned {
			t.Errorf("with %d arrows: %q", arrows, c.Warnings)
		}
	}
}

// The verdict and its interval never disagree, and the interval covers.
func TestFixedVerdictAgreesWithInterval(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	covers, n := 0, runs(1500)
	for range n {
		ratio := math.Exp(0.4 * rng.NormFloat64())
		a, b := shapes["t5"].sample(rng, 2, 9, ratio), shapes["t5"].sample(rng, 3, 6, 1)
		c, err := CompareFixed(a, b)
		if err != nil {
			t.Fatal(err)
		}
		if (c.Verdict == CannotTellYet) != c.Ratio.Holds(1) {
			t.Fatalf("%s with %v", c.Verdict, c.Ratio)
		}
		if c.Verdict == ATighter && c.Ratio.High >= 1 || c.Verdict == BTighter && c.Ratio.Low <= 1 {
			t.Fatalf("%s with %v", c.Verdict, c.Ratio)
		}
		if c.Ratio.Holds(ratio) {
			covers++
		}
	}
	within(t, "ratio's interval covers", covers, n, 0.93, 0.98)
}

// G7 (computed): single-look e-values of the F ratio, to the digits given.
func TestFEvidence(t *testing.T) {
	for _, c := range []struct {
		n           int
		ratio, want float64
	}{{36, .70, 15.5736}, {36, .85, 0.6613}, {72, .85, 1.2160}, {12, .70, 1.3663}} {
		nu := 2 * float64(c.n-1)
		if got := FEvidence(c.ratio*c.ratio, nu, nu); !near(got, c.want, 5.1e-5) {
			t.Errorf("n %d, ratio %g: E %.5f, want %.4f", c.n, c.ratio, got, c.want)
		}
	}
}

// G7 (computed): the martingale's golden values.
func TestEvidenceGolden(t *testing.T) {
	got := Evidence([]float64{-0.8, -0.3, 0.4, -1.1, -0.6}, []float64{10, 10, 10, 10, 10})
	for i, want := range []float64{1, 1.321825, .690073, .990915, 1.509654} {
		if !near(got[i], want, 5.1e-7) {
			t.Errorf("after pair %d: E %.7f, want %.6f", i+1, got[i], want)
		}
	}
	// A fair coin: averaged over both signs the factor is exactly 1, pair by pair.
	for _, d := range []float64{0, 0.3, 2, 40, 1e9, math.Inf(1)} {
		both := Evidence([]float64{-0.8, d}, []float64{10, 10})[1] + Evidence([]float64{-0.8, -d}, []float64{10, 10})[1]
		if !near(both/2, Evidence([]float64{-0.8}, []float64{10})[0], 1e-12) {
			t.Errorf("d = %g: the bet is not fair, mean %.15f", d, both/2)
		}
	}
}

// G7 (computed): ends of 6, decided by 144 arrows each, and mean arrows at the
// decision; false decisions ≤ 5 % in all shapes (issue), power within 3
// points. 800 trials a cell, standard error ≤ 1.8 %.
func TestLookingAsYouGo(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 5))
	for _, c := range []struct {
		measure SpreadMeasure
		shape   string
		power   [3]float64 // at ratios 0.8, 0.7, 0.6
	}{
		{SquareSum, "normal", [3]float64{.66, .97, 1}},
		{SquareSum, "5 % wild", [3]float64{.36, .78, .98}},
		{MedianDistance, "normal", [3]float64{.58, .96, 1}},
		{MedianDistance, "ellipse 1:2", [3]float64{.49, .91, 1}},
		{MedianDistance, "t5", [3]float64{.37, .82, .99}},
		{MedianDistance, "5 % wild", [3]float64{.41, .85, 1}},
	} {
		n := runs(800)
		for i, ratio := range []float64{1, 0.8, 0.7, 0.6} {
			decided := 0
			for range n {
				if decides(rng, c.measure, shapes[c.shape], ratio) {
					decided++
				}
			}
			name := string(c.measure) + ", " + c.shape
			if i == 0 {
				within(t, name+", equal", decided, n, 0, 0.05)
			} else {
				within(t, name+", power", decided, n, c.power[i-1]-0.03, c.power[i-1]+0.03)
			}
		}
	}
}

// decides shoots 24 pairs of ends of six and says whether it stopped.
func decides(rng *rand.Rand, m SpreadMeasure, s shape, ratio float64) bool {
	var d, nu []float64
	for range 24 {
		p := Pair{s.sample(rng, 1, 6, ratio)[0], s.sample(rng, 1, 6, 1)[0]}
		d, nu = append(d, p.logRatio(m)), append(nu, 10)
	}
	for _, e := range Evidence(d, nu) {
		if e >= EnoughEvidence {
			return true
		}
	}
	return false
}

// The verdict looking as you go and its interval never disagree.
func TestPairsVerdictAgreesWithInterval(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 5))
	covers, n := 0, runs(120)
	for range n {
		ratio := math.Exp(0.4 * rng.NormFloat64())
		var pairs []Pair
		for range 3 + rng.IntN(10) {
			pairs = append(pairs, Pair{shapes["normal"].sample(rng, 1, 6, ratio)[0], shapes["normal"].sample(rng, 1, 6, 1)[0]})
		}
		c, err := ComparePairs(pairs, SquareSum, 1)
		if err != nil {
			t.Fatal(err)
		}
		if (c.Verdict == CannotTellYet) != c.Ratio.Holds(1) {
			t.Fatalf("%s, evidence %g, with %v", c.Verdict, c.Evidence, c.Ratio)
		}
		if c.Ratio.Holds(ratio) {
			covers++
		}
	}
	within(t, "always-valid interval covers", covers, n, 0.95, 1)
}

// "Cannot tell yet: N more arrows" is about right: half of trials with the
// same difference decide by then.
func TestMorePairsIsAMedian(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 5))
	f := distuv.F{D1: 10, D2: 10, Src: rng}
	more := morePairs([]float64{0}, []float64{10}, math.Log(0.7), 9)
	decided, n := 0, runs(600)
	for range n {
		d, nu := []float64{0}, []float64{10}
		for range more {
			d, nu = append(d, 2*math.Log(0.7)+math.Log(f.Rand())), append(nu, 10)
		}
		for _, e := range Evidence(d, nu) {
			if e >= EnoughEvidence {
				decided++
				break
			}
		}
	}
	within(t, "decided by then", decided, n, 0.46, 0.58)
}

func TestBadComparisons(t *testing.T) {
	good := shapes["normal"].sample(rand.New(rand.NewPCG(1, 1)), 2, 3, 0.1)
	nan := Sample{End{{Right: 0}, {Up: unit.Length(math.NaN())}}}
	still := Sample{End{{}, {}, {}}}
	for name, s := range map[string]Sample{"empty": {}, "one arrow": {End{{}}}, "not a number": nan, "one point": still} {
		other := good
		if name == "one point" {
			other = still
		}
		if _, err := CompareFixed(s, other); err == nil {
			t.Errorf("%s: accepted", name)
		} else if e, ok := err.(*InputError); !ok || e.Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := ComparePairs([]Pair{{good[0], End{{}}}}, "", 1); err == nil {
		t.Error("a pair with an end of one arrow was accepted")
	}
	if _, err := ComparePairs(nil, "", 1); err == nil {
		t.Error("no pairs were accepted")
	}
	if _, err := ComparePairs([]Pair{{good[0], good[1]}}, "mean", 1); err == nil {
		t.Error("an unknown measure was accepted")
	}
}

func BenchmarkComparePairs(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	var pairs []Pair
	for range 12 {
		pairs = append(pairs, Pair{shapes["normal"].sample(rng, 1, 6, 0.9)[0], shapes["normal"].sample(rng, 1, 6, 1)[0]})
	}
	for b.Loop() {
		if _, err := ComparePairs(pairs, "", 1); err != nil {
			b.Fatal(err)
		}
	}
}
