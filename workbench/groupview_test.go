package workbench

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"tautline/group"
	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
)

var centimetres = unit.Metric().ImpactStyle()

func struck(arrow string, x, y float64) notebook.Impact {
	return notebook.Impact{Arrow: arrow, X: &x, Y: &y}
}

// An independent worked group (../shared/reference/groups.md G1, computed):
// centre (0.25, 0.416667) cm, s 1.7590717, σ̂ 1.8035286, 95 % CI 1.22909 to
// 3.08705, mean radius 2.1515937, extreme spread 5.3600373.
func TestWorkedGroupView(t *testing.T) {
	table := "end,arrow,x_cm,y_cm\n1,1,1.2,-0.4\n1,2,-2.1,1.8\n1,3,0.3,3.0\n1,4,2.6,0.9\n1,5,-1.0,-2.2\n1,6,0.5,-0.6\n"
	list, _, err := ReadVolleys(strings.NewReader(table), TableAsk{})
	if err != nil || len(list) != 1 {
		t.Fatal(list, err)
	}
	g, err := DescribeVolley(list[0], centimetres)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string][2]float64{
		"sigma": {*g.Sigma.Value, 0.018035286}, "low": {*g.Sigma.Low, 0.0122909}, "high": {*g.Sigma.High, 0.0308705},
		"x": {*g.Centre.X.Value, 0.0025}, "y": {*g.Centre.Y.Value, 0.00416667}, "mean radius": {*g.Radius, 0.021515937},
		"extreme spread": {*g.Extreme, 0.053600373}, "major": {square(unit.Length(*g.Ellipse.Major)) + square(unit.Length(*g.Ellipse.Minor)), (2.715 + 3.473667) * 1e-4},
	} {
		if math.Abs(c[0]/c[1]-1) > 2e-5 {
			t.Errorf("%s is %v, want %v", name, c[0], c[1])
		}
	}
	if g.Arrows != 6 || g.Ends != 1 || g.Score != nil || g.Face != blankFace {
		t.Errorf("%+v", g)
	}
	if raw, err := json.Marshal(g); err != nil || strings.Contains(string(raw), "NaN") {
		t.Error(string(raw), err)
	}
}

// Ends are sorted by set-up, distance and kind; corrected ones stay out; every
// odd arrow is named as it stands in the notebook.
func TestVolleys(t *testing.T) {
	far, err := unit.Read("70 m", unit.Reading[unit.Length]{})
	if err != nil {
		t.Fatal(err)
	}
	near, err := unit.Read("18 m", unit.Reading[unit.Length]{})
	if err != nil {
		t.Fatal(err)
	}
	end := func(id, setup string, d unit.Typed[unit.Length], impacts ...notebook.Impact) notebook.End {
		return notebook.End{Stamp: notebook.Stamp{ID: notebook.ID(id)}, SetUp: notebook.ID(setup), Distance: notebook.Length{Typed: d}, Face: "122", Number: 1, Impacts: impacts}
	}
	bare := struck("b1", 0.2, 0.1)
	bare.Bare = true
	wrong := end("a", "one", far, struck("1", 2.9, 0))
	right := end("b", "one", far, struck("1", 0.29, 0), bare, struck("2", 0.1, 0))
	right.Corrects = "a"
	other := end("d", "one", far, struck("1", 0.2, 0), struck("2", 0.15, 0.02))
	other.Face = ""
	list, err := Volleys([]notebook.End{wrong, right, end("c", "two", near, struck("1", 0, 0)), other}, map[notebook.ID]SetUpFacts{"one": {Label: "old", Shaft: 0.006}})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, v := range list {
		got = append(got, fmt.Sprintf("%s %v %s %d arrows in %d ends", v.SetUp, float64(v.Distance), v.Kind, len(v.Shots), len(v.Days)))
	}
	want := []string{"one 70 fletched 4 arrows in 2 ends", "one 70 bare 1 arrows in 1 ends", "two 18 fletched 1 arrows in 1 ends"}
	if strings.Join(got, "; ") != strings.Join(want, "; ") {
		t.Fatalf("%q", got)
	}
	v := list[0]
	if v.Label != "old" || v.Shaft != 0.006 || v.Face.Key != "122" && v.Face.Key != blankFace || v.Refs[1] != (ArrowRef{"b", 1, 2}) || v.Shots[3].End != 2 {
		t.Errorf("%+v", v)
	}
	if list[2].Shaft != AssumedShaft {
		t.Errorf("shaft %v", list[2].Shaft)
	}
}

// An arrow far out is flagged by its end's id and its place in it, and stays
// in the spread.
func TestOddArrowIsNamed(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var ends []notebook.End
	for e := range 6 {
		rec := notebook.End{Stamp: notebook.Stamp{ID: notebook.ID(fmt.Sprint("end", e))}, SetUp: "s", Face: "122", Number: e + 1}
		for a := range 6 {
			rec.Impacts = append(rec.Impacts, struck(strconv.Itoa(a+1), 0.06*rng.NormFloat64(), 0.06*rng.NormFloat64()))
		}
		ends = append(ends, rec)
	}
	far := 0.6
	ends[3].Impacts[2].X = &far
	ends[1].Impacts = append(ends[1].Impacts, notebook.Impact{Ring: "M"})
	list, err := Volleys(ends, nil)
	if err != nil {
		t.Fatal(err)
	}
	g, err := DescribeVolley(list[0], centimetres)
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Outliers) != 1 || g.Outliers[0].End != "end3" || g.Outliers[0].Index != 2 || g.Arrows != 36 || g.Missed != 1 {
		t.Errorf("%+v", g)
	}
	if s := strings.Join(g.Sentences, "\n"); !strings.Contains(s, "1 arrow lies further out than the rest explain; kept") {
		t.Error(s)
	}
	if !strings.Contains(strings.Join(g.Warnings, "\n"), "1 missed") {
		t.Error(g.Warnings)
	}
}

// volleyOf draws ends of a circular group.
func volleyOf(rng *rand.Rand, sigma float64, ends, arrows int, face string) Volley {
	f, err := group.FaceByKey(face)
	if err != nil {
		panic(err)
	}
	v := Volley{Kind: group.Fletched, Face: f, Shaft: AssumedShaft}
	for e := range ends {
		v.Days = append(v.Days, "")
		for range arrows {
			v.Shots = append(v.Shots, group.At(e+1, unit.Length(sigma*rng.NormFloat64()), unit.Length(sigma*rng.NormFloat64())))
			v.Refs = append(v.Refs, ArrowRef{})
		}
	}
	return v
}

// ringsOnly forgets the places.
func ringsOnly(v Volley) Volley {
	for i, s := range v.Shots {
		s.Ring, s.Placed = v.Face.Score(s.Point, v.Shaft).Label, false
		s.Point = group.Point{}
		v.Shots[i] = s
	}
	return v
}

// count of simulated trials; TAUTLINE_TRIALS=2000 for the long one.
func trials(short int) int {
	if n, err := strconv.Atoi(os.Getenv("TAUTLINE_TRIALS")); err == nil {
		return n
	}
	return short
}

// The verdict of a comparison and its interval never disagree, whatever it
// rests on, and equal set-ups are told apart by their rings in about 5 % of
// comparisons (nominal level; 120 trials leave three standard errors of 6 %; 1500 gave 6.1 %).
func TestComparisonsAgreeWithTheirIntervals(t *testing.T) {
	rng, wrong, n := rand.New(rand.NewPCG(11, 5)), 0, trials(120)
	for i := range n {
		a, b := volleyOf(rng, 0.09, 6, 6, "122"), volleyOf(rng, 0.09, 6, 6, "122")
		asks := []CompareAsk{{}}
		if i%40 == 0 {
			asks = append(asks, CompareAsk{Looking: true}, CompareAsk{Looking: true, Measure: trial.SquareSum})
		}
		for _, ask := range asks {
			agrees(t, a, b, ask)
		}
		c := agrees(t, ringsOnly(a), ringsOnly(b), CompareAsk{})
		if c.Verdict != trial.CannotTellYet {
			wrong++
		}
	}
	share := float64(wrong) / float64(n)
	t.Logf("%.3f false verdicts by rings", share)
	if share > 0.05+3*math.Sqrt(0.05*0.95/float64(n)) {
		t.Errorf("%.3f false verdicts by rings", share)
	}
}

func agrees(t *testing.T, a, b Volley, ask CompareAsk) CompareView {
	t.Helper()
	c, err := CompareVolleys(a, b, ask)
	if err != nil {
		t.Fatal(err)
	}
	low, high := 0.0, math.Inf(1)
	if c.Ratio.Low != nil {
		low = *c.Ratio.Low
	}
	if c.Ratio.High != nil {
		high = *c.Ratio.High
	}
	if holds := low <= 1 && 1 <= high; holds != (c.Verdict == trial.CannotTellYet) || c.Verdict == trial.ATighter && high > 1 || c.Verdict == trial.BTighter && low < 1 {
		t.Errorf("%v: %s with interval %v to %v", ask, c.Verdict, low, high)
	}
	if (c.More == nil) != (c.Needed == nil) && c.Verdict == trial.CannotTellYet {
		t.Errorf("more %v, needed %v", c.More, c.Needed)
	}
	return c
}

// A real difference is seen by the rings too, and the places see it more
// plainly: rings keep only a part of the information.
func TestRingsSeeADifference(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	a, b := volleyOf(rng, 0.06, 12, 6, "122"), volleyOf(rng, 0.12, 12, 6, "122")
	byPlace := agrees(t, a, b, CompareAsk{})
	byRing := agrees(t, ringsOnly(a), ringsOnly(b), CompareAsk{})
	if byPlace.Verdict != trial.ATighter || byRing.Verdict != trial.ATighter {
		t.Errorf("%s by place, %s by ring", byPlace.Verdict, byRing.Verdict)
	}
	if !(*byRing.Ratio.High / *byRing.Ratio.Low > *byPlace.Plain.High / *byPlace.Plain.Low) {
		t.Errorf("rings %v, places %v", byRing.Ratio, byPlace.Plain)
	}
}

// Groups that differ in more than the set-up are not compared.
func TestIncomparable(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	a, b := volleyOf(rng, 0.06, 2, 6, "122"), volleyOf(rng, 0.06, 2, 6, "122")
	a.Distance, b.Distance = 18, 70
	if _, err := CompareVolleys(a, b, CompareAsk{}); notebook.CodeOf(err) != notebook.Invalid {
		t.Error(err)
	}
	b.Distance, b.Kind = 18, group.Bare
	if _, err := CompareVolleys(a, b, CompareAsk{}); notebook.CodeOf(err) != notebook.Invalid {
		t.Error(err)
	}
}
