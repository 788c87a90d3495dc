package main

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"tautline/group"
	"tautline/num"
	"tautline/trial"
	"tautline/unit"
)

type rangedSaid struct{ Value, Low, High *float64 }

// rangeSaid is what web/src/trial/pairscheck.ts works out.
type rangeSaid struct {
	Golden []float64
	Pairs  []struct {
		Verdict  trial.Winner
		Evidence float64
		Pairs    int
		Arrows   [2]int
		Ratio    rangedSaid
	}
	More   []int
	Groups []rangedSaid
}

type pairOfEnds struct {
	A []place `json:"a"`
	B []place `json:"b"`
}

// rangeCases are what both are asked: the worked example of
// ../shared/reference/groups.md, G7, seeded pairs of ends of every shape an
// evening brings, and seeded groups.
type rangeCases struct {
	Golden struct {
		D  []float64 `json:"d"`
		Nu []float64 `json:"nu"`
	} `json:"golden"`
	Pairs  [][]pairOfEnds `json:"pairs"`
	Groups [][][]place    `json:"groups"`
}

func seededCases() rangeCases {
	var c rangeCases
	c.Golden.D, c.Golden.Nu = []float64{-0.8, -0.3, 0.4, -1.1, -0.6}, []float64{10, 10, 10, 10, 10}
	rng := rand.New(rand.NewPCG(19, 7))
	for k := range 60 {
		var pairs []pairOfEnds
		ratio := math.Exp(0.6 * rng.NormFloat64())
		for range 1 + rng.IntN(24) {
			pairs = append(pairs, pairOfEnds{shotEnd(rng, 2+rng.IntN(5), 0.05*ratio, k%4), shotEnd(rng, 2+rng.IntN(5), 0.05, k%4)})
		}
		c.Pairs = append(c.Pairs, pairs)
	}
	// Ends on one hole, and two arrows in one hole with the third beside it.
	hole := []place{{0.01, 0.02}, {0.01, 0.02}, {0.01, 0.02}}
	c.Pairs = append(c.Pairs, []pairOfEnds{{hole, hole}, {hole, []place{{0, 0}, {0, 0}, {0.03, 0}}}})
	for k := range 60 {
		var ends [][]place
		for range 1 + rng.IntN(8) {
			ends = append(ends, shotEnd(rng, 1+rng.IntN(7), 0.08, k%4))
		}
		c.Groups = append(c.Groups, ends)
	}
	return c
}

// shotEnd is an end of n arrows: round, three times as wide as high, with a
// wild arrow now and then, or on whole centimetres.
func shotEnd(rng *rand.Rand, n int, sigma float64, shape int) (end []place) {
	cx, cy := 0.05*rng.NormFloat64(), 0.05*rng.NormFloat64()
	for range n {
		x, y := sigma*rng.NormFloat64(), sigma*rng.NormFloat64()
		switch {
		case shape == 1:
			x *= 3
		case shape == 2 && rng.IntN(10) == 0:
			x, y = 6*x, 6*y
		case shape == 3:
			x, y = math.Round(100*x)/100, math.Round(100*y)/100
		}
		end = append(end, place{cx + x, cy + y})
	}
	return end
}

// TestRangeWithoutNetwork holds the stop decision and the plain spread that
// the pages work out to the notebook's own numbers, to ten digits.
func TestRangeWithoutNetwork(t *testing.T) {
	cases := seededCases()
	asked, err := json.Marshal(cases)
	if err != nil {
		t.Fatal(err)
	}
	var said rangeSaid
	inNode(t, "trial/pairscheck.ts", bytes.NewReader(asked), &said)
	for i, want := range []float64{1, 1.321825, .690073, .990915, 1.509654} { // G7 (computed)
		if math.Abs(said.Golden[i]-want) > 5.1e-7 {
			t.Errorf("after pair %d of G7 the evidence is %.7f, want %.6f", i+1, said.Golden[i], want)
		}
	}
	decided, more := samePairs(t, cases, said)
	if more < 5 {
		t.Errorf("of %d comparisons it is told how many arrows are missing; wanted some", more)
	}
	if decided < 10 || decided > len(cases.Pairs)-10 {
		t.Errorf("%d of %d comparisons are decided; wanted many of both", decided, len(cases.Pairs))
	}
	sameGroups(t, cases, said)
}

func samePairs(t *testing.T, cases rangeCases, said rangeSaid) (decided, more int) {
	for k, pairs := range cases.Pairs {
		var list []trial.Pair
		for _, p := range pairs {
			list = append(list, trial.Pair{A: endOf(p.A), B: endOf(p.B)})
		}
		want, err := trial.ComparePairs(list, "", 20260307) // the seed of workbench/groupcompare.go
		if err != nil {
			t.Fatal(err)
		}
		got := said.Pairs[k]
		if got.Verdict != want.Verdict || got.Pairs != len(pairs) || got.Arrows != [2]int{want.ArrowsA, want.ArrowsB} {
			t.Errorf("comparison %d: %s from %v arrows, want %s from %d and %d", k, got.Verdict, got.Arrows, want.Verdict, want.ArrowsA, want.ArrowsB)
		}
		sameNumber(t, k, "evidence", &got.Evidence, want.Evidence)
		sameEstimate(t, k, got.Ratio, want.Ratio)
		if want.Verdict != trial.CannotTellYet {
			decided++
		} else if said.More[k] != want.More {
			t.Errorf("comparison %d: %d more arrows, want %d", k, said.More[k], want.More)
		} else if want.More > 0 {
			more++
		}
	}
	return decided, more
}

func sameGroups(t *testing.T, cases rangeCases, said rangeSaid) {
	long := 0
	for k, ends := range cases.Groups {
		var shots []group.Shot
		for n, end := range ends {
			for _, p := range end {
				shots = append(shots, group.At(n+1, unit.Length(p.X), unit.Length(p.Y)))
			}
		}
		m, err := group.MomentsOf(shots)
		if err != nil {
			t.Fatal(err)
		}
		want, _ := m.Sigma()
		if !m.Circular() {
			long++
		}
		sameEstimate(t, k, said.Groups[k], num.Estimate[float64]{Value: float64(want.Value), Low: float64(want.Low), High: float64(want.High)})
	}
	if long < 5 {
		t.Errorf("%d groups are plainly longer one way; wanted some", long)
	}
}

func endOf(list []place) (end trial.End) {
	for _, p := range list {
		end = append(end, trial.Point{Right: unit.Length(p.X), Up: unit.Length(p.Y)})
	}
	return end
}

func sameEstimate(t *testing.T, k int, got rangedSaid, want num.Estimate[float64]) {
	t.Helper()
	sameNumber(t, k, "value", got.Value, want.Value)
	sameNumber(t, k, "lower end", got.Low, want.Low)
	sameNumber(t, k, "upper end", got.High, want.High)
}

func sameNumber(t *testing.T, k int, what string, got *float64, want float64) {
	t.Helper()
	if math.IsNaN(want) || math.IsInf(want, 0) {
		if got != nil {
			t.Errorf("case %d: %s is %g, want none", k, what, *got)
		}
		return
	}
	if got == nil || math.Abs(*got-want) > 1e-10*math.Abs(want) {
		t.Errorf("case %d: %s is %v, want %.12g", k, what, got, want)
	}
}
