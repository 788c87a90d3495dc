package trial

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tautline/unit"
)

// paired shoots two brace heights in turns: order as "ABBA", six counted arrows
// a visit, every visit off by the scatter of a setting made again.
func paired(rng *rand.Rand, order string, again, drift float64, apart, scatter map[Measure]float64) BraceReadings {
	r := BraceReadings{Order: ABBA}
	for at, s := range order {
		v := BraceVisit{Stop: 1, Braces: []unit.Length{0.21}}
		if s == 'B' {
			v = BraceVisit{Stop: 2, Braces: []unit.Length{0.23}}
		}
		off := map[Measure]float64{}
		for _, m := range measures {
			off[m] = again*scatter[m]*rng.NormFloat64() + drift*float64(at)
			if s == 'A' {
				off[m] += apart[m]
			}
		}
		for k := range 9 {
			shot := BraceShot{Settling: k < 3, Values: map[Measure]float64{}}
			for _, m := range measures {
				if sd, ok := scatter[m]; ok {
					shot.Values[m] = off[m] + sd*rng.NormFloat64()
				}
			}
			v.Shots = append(v.Shots, shot)
		}
		r.Visits = append(r.Visits, v)
	}
	return r
}

// Two brace heights 6 dB apart at 0.5 dB of scatter, in the order that was
// planned to tell them apart: they are told apart, and no spot is claimed.
func TestABBATellsTwoBraceHeightsApart(t *testing.T) {
	r := paired(rand.New(rand.NewPCG(1, 1)), "ABBA", 0, 0.7, map[Measure]float64{Level: 6}, map[Measure]float64{Level: 0.5})
	v, err := DecideBrace(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(v.Text)
	if v.Outcome != Differ || len(v.Candidates) != 0 || len(v.Contrasts) != 1 {
		t.Fatalf("%s with %d spots: %s", v.Outcome, len(v.Candidates), v.Text)
	}
	c := v.Contrasts[0]
	if !c.Claimed || !c.Difference.Holds(6) || c.Difference.Half() > 3 || c.Visits != 4 || c.DF != 1 || c.Shots != 24 {
		t.Errorf("contrast %+v", c)
	}
	if !strings.HasPrefix(v.Text, "A at 210 mm is ") || !strings.Contains(v.Text, "louder than B at 230 mm") {
		t.Error(v.Text)
	}
	// The same by CompareVisits, from the visits' means.
	var visits []Visit
	for i, b := range r.Visits {
		visits = append(visits, Visit{string("BAAB"[i]), mean(b.values(Level))})
	}
	same, err := CompareVisits(visits, Confidence) // B minus A with the names turned is A minus B
	if err != nil || math.Abs(same.Difference.Value-c.Difference.Value) > 1e-9 || same.P > c.P+1e-12 {
		t.Errorf("CompareVisits: %v, p %g; the trial %v, p %g; %v", same.Difference, same.P, c.Difference, c.P, err)
	}
	if tr := v.Trends[0]; tr.Direction != "falls" || tr.Note != "" || math.Abs(tr.SlopePerCM.Value+c.Difference.Value/2) > 1e-9 {
		t.Errorf("trend %+v", tr)
	}
}

// What cannot be told is said with what it hangs on, not as a missing spot.
func TestABBASaysWhatItCannotTell(t *testing.T) {
	level := map[Measure]float64{Level: 0.5}
	for _, c := range []struct {
		order string
		want  string
	}{
		{"A", "at one brace height only"},
		{"AB", "2 visits to the two brace heights; 4 in turns, A-B-B-A, are the least"},
		{"ABB", "3 visits"},
		{"ABBA", "Cannot tell A at 210 mm from B at 230 mm yet: level of A minus B"},
	} {
		v, err := DecideBrace(paired(rand.New(rand.NewPCG(3, 1)), c.order, 1, 0, nil, level))
		if err != nil || v.Outcome != CannotTell || !strings.Contains(v.Text, c.want) || strings.Contains(v.Text, "spot") || len(v.WouldChange) == 0 {
			t.Errorf("%s: %s %q %v %v, want %q", c.order, v.Outcome, v.Text, v.WouldChange, err, c.want)
		}
		if told := len(v.Repeats); c.order == "ABBA" && told != 2 {
			t.Errorf("%d brace heights to visit again, want both", told)
		}
	}
}

// Settings that scatter as much as a shot when made again, with four measures:
// in at most 5 % of trials is any two alike called different, and the interval
// leaves zero out exactly where a difference is claimed. Six visits tell what
// four cannot. 1000 trials, s.e. 0.7 %.
func TestPairRates(t *testing.T) {
	all := map[Measure]float64{Level: 0.7, LateEnergy: 0.7, Attack: 0.4, Speed: 0.25}
	apart := map[Measure]float64{Level: 6}
	for _, c := range []struct {
		name, order string
		again       float64
		apart       map[Measure]float64
		low, high   float64
	}{
		{"alike, four visits", "ABBA", 1, nil, 0, 0.062},
		{"alike, six visits", "ABBAAB", 1, nil, 0, 0.062},
		{"alike and coming back exactly", "ABBA", 0, nil, 0, 0.062},
		{"6 dB apart, four visits, coming back by 0.2 dB", "ABBA", 0.3, apart, 0.15, 0.5},
		{"6 dB apart, six visits, coming back by 0.2 dB", "ABBAAB", 0.3, apart, 0.95, 1},
	} {
		rng, hits, n := rand.New(rand.NewPCG(9, 4)), 0, runs(1000)
		for range n {
			v, err := DecideBrace(paired(rng, c.order, c.again, 0.4, c.apart, all))
			if err != nil {
				t.Fatal(err)
			}
			if v.Outcome == Differ {
				hits++
			}
			for _, k := range v.Contrasts {
				if k.Claimed == k.Difference.Holds(0) {
					t.Fatalf("claimed %v with %v, p %g", k.Claimed, k.Difference, k.P)
				}
			}
		}
		within(t, c.name, hits, n, c.low, c.high)
	}
}

// A plan under way, or a search with few stops, is no comparison.
func TestFewStopsAreNoPair(t *testing.T) {
	r := paired(rand.New(rand.NewPCG(1, 1)), "AB", 0, 0, nil, map[Measure]float64{Level: 0.5})
	r.Order = Up
	if v, err := DecideBrace(r); err != nil || !strings.Contains(v.Text, "2 stops cannot tell a spot") {
		t.Errorf("%v %s", err, v.Text)
	}
	// One arrow a visit and no digit's difference between visits: no scatter at all.
	r = paired(rand.New(rand.NewPCG(1, 1)), "ABBA", 0, 0, map[Measure]float64{Speed: 1}, map[Measure]float64{Speed: 0})
	for i := range r.Visits {
		r.Visits[i].Shots = r.Visits[i].Shots[8:]
	}
	if v, err := DecideBrace(r); err != nil || v.Outcome != CannotTell {
		t.Errorf("%v %s", err, v.Text)
	}
}

// Two measures with the same p of 0.03: the first fails at α/2, so neither is
// claimed, and no interval may leave zero out although 0.03 is below α.
func TestPairIntervalsFollowHolm(t *testing.T) {
	r := BraceReadings{Order: ABBA}
	for i, y := range []float64{21.2 + 0.2236, -0.6708, 0.6708, 21.2 - 0.2236} { // t = 21.2 with one degree of freedom
		v := BraceVisit{Stop: 1 + (i+1)/2%2, Braces: []unit.Length{0.21 + 0.02*unit.Length((i+1)/2%2)}}
		v.Shots = []BraceShot{{Values: map[Measure]float64{Level: y, LateEnergy: y}}}
		r.Visits = append(r.Visits, v)
	}
	v, err := DecideBrace(r)
	if err != nil || v.Outcome != CannotTell || len(v.Contrasts) != 2 {
		t.Fatalf("%v %s: %s", err, v.Outcome, v.Text)
	}
	for _, c := range v.Contrasts {
		if !c.Difference.Holds(0) || math.Abs(c.P-0.06) > 0.001 {
			t.Errorf("%s: %v at p %.4f", c.Measure, c.Difference, c.P)
		}
	}
}
