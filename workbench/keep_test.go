package workbench

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, flow-rate example:
// centre 50.81, limits 45.8159 and 55.8041 (recalled; the arithmetic agrees).
func TestIndividualsChartAgainstTheHandbook(t *testing.T) {
	flow := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	sd, n := rangeSD(flow, make([]int, len(flow)))
	mean, _ := meanSD(flow)
	for what, c := range map[string][2]float64{
		"moving range": {sd * rangeToSD, 1.8778}, "centre": {mean, 50.81}, "upper limit": {mean + 3*sd, 55.8041}, "lower limit": {mean - 3*sd, 45.8159},
	} {
		if math.Abs(c[0]-c[1]) > 1e-4 {
			t.Errorf("%s %.4f, the handbook has %.4f", what, c[0], c[1])
		}
	}
	if n != 9 {
		t.Errorf("%d moving ranges", n)
	}
}

// The same handbook, 6.3.2.4: historical mean 50, s 2.0539, λ 0.3: limits
// 47.4115 and 52.5884, and the averages printed there (recalled).
func TestMovingAverageAgainstTheHandbook(t *testing.T) {
	data := []float64{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	printed := []float64{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99}
	c := CheckChart{Centre: 50, SD: 2.0539, Low: 0, High: 100, Points: make([]CheckPoint, len(data)), From: -1}
	wide := limitsAt * c.SD * math.Sqrt(weightOfNow/(2-weightOfNow))
	c.AverageLow, c.AverageHigh = 50-wide, 50+wide
	for i, v := range data {
		c.Points[i].Value = v
	}
	c.signals(0)
	if math.Abs(c.AverageHigh-52.5884) > 2e-4 || math.Abs(c.AverageLow-47.4115) > 2e-4 {
		t.Errorf("limits %.4f and %.4f", c.AverageLow, c.AverageHigh)
	}
	for i, want := range printed {
		if math.Abs(c.Points[i].Average-want) > 0.006 {
			t.Errorf("average %d is %.3f, the handbook prints %.2f", i+1, c.Points[i].Average, want)
		}
	}
	if c.State != InControl {
		t.Error(c.State)
	}
}

// What the charts must find and must not: by simulation, so that the rates are
// known. An individuals chart with 3 s limits alarms falsely about once in 370
// readings when its limits are known (e-Handbook 6.3.2.4's ARL of 371).
func TestChartFindsAShiftAndStaysQuiet(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	quiet, found := 0, 0
	const trials = 400
	for range trials {
		steady, moved := make([]float64, 20), make([]float64, 20)
		for i := range steady {
			steady[i] = 0.221 + 0.0005*r.NormFloat64()
			moved[i] = steady[i]
			if i >= 14 {
				moved[i] -= 0.0015
			}
		}
		if chart(steady, make([]int, 20)).State == InControl {
			quiet++
		}
		if chart(moved, make([]int, 20)).State != InControl {
			found++
		}
	}
	if quiet < trials*85/100 || found < trials*90/100 {
		t.Errorf("quiet in %d of %d steady series, found %d of %d shifts of three sd", quiet, trials, found, trials)
	}
}

func TestCreepIsToldFromAStep(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	hours := []float64{1, 3, 10, 24, 72, 168, 336, 500, 700, 1000}
	count := map[string]map[string]int{"creep": {}, "step": {}, "still": {}}
	const trials = 300
	for range trials {
		crept, stepped, still := make([]float64, len(hours)), make([]float64, len(hours)), make([]float64, len(hours))
		for i, h := range hours {
			noise := 0.0003 * r.NormFloat64()
			still[i] = 0.222 + noise
			crept[i] = 0.224 - 0.0012*math.Log10(1+h) + noise
			stepped[i] = 0.224 + noise
			if i >= 6 {
				stepped[i] -= 0.003
			}
		}
		count["creep"][creep(hours, crept).What]++
		count["step"][creep(hours, stepped).What]++
		count["still"][creep(hours, still).What]++
	}
	// wrong words are rarer than one in fifty; saying nothing is allowed
	if c := count["creep"]; c[CreepTrend] < trials*80/100 || c[CreepStep] > trials/50 {
		t.Errorf("creep of 1.2 mm a decade: %v", c)
	}
	if c := count["step"]; c[CreepStep] < trials*80/100 || c[CreepTrend] > trials/50 {
		t.Errorf("a step of 3 mm: %v", c)
	}
	if c := count["still"]; c[CreepNothing]+c[CreepCannotTell] < trials*90/100 {
		t.Errorf("a string that holds: %v", c)
	}
	if c := creep(hours[:4], make([]float64, 4)); c.What != CreepCannotTell || !strings.Contains(c.Text, "too few") {
		t.Error(c)
	}
}

// A chart from records: trials are no checks, corrected readings are gone, one
// sitting is one point, and a change made on purpose begins a new stretch.
func TestChartOfRecords(t *testing.T) {
	base := heron(t)
	day := time.Date(2026, 4, 1, 18, 0, 0, 0, time.UTC)
	b := BowRecords{SetUps: []notebook.SetUp{
		{Stamp: notebook.Stamp{ID: "s0", At: day}, Settings: base},
		{Stamp: notebook.Stamp{ID: "s1", At: day.AddDate(0, 0, 20)}, Parent: "s0", Settings: with(t, base, "brace_height", "219 mm")},
	}}
	read := func(id, setup notebook.ID, days float64, mm float64, more ...func(*notebook.Reading)) {
		r := notebook.Reading{Stamp: notebook.Stamp{ID: id, At: day.Add(time.Duration(days * 24 * float64(time.Hour)))}, SetUp: setup, Kind: notebook.ReadBrace, Value: float64(unit.Length(mm) * unit.Millimetre)}
		for _, m := range more {
			m(&r)
		}
		b.Readings = append(b.Readings, r)
	}
	read("a", "s0", 1, 224)
	read("b", "s0", 2, 250, func(r *notebook.Reading) { r.Trial = "t" })
	read("c", "s0", 3, 244)
	read("d", "s0", 3, 224.5, func(r *notebook.Reading) { r.Corrects = "c" })
	read("e", "s0", 3.001, 225.5)
	read("f", "s1", 21, 219)
	read("g", "s1", 22, 218.5)
	c := b.Chart(notebook.ReadBrace)
	want := []struct {
		mm      float64
		stretch int
	}{{224, 0}, {225, 0}, {219, 1}, {218.5, 1}}
	if len(c.Points) != len(want) {
		t.Fatalf("%d points: %+v", len(c.Points), c.Points)
	}
	for i, w := range want {
		if math.Abs(1e3*c.Points[i].Value-w.mm) > 1e-6 || c.Points[i].Stretch != w.stretch {
			t.Errorf("point %d: %.2f mm in stretch %d", i, 1e3*c.Points[i].Value, c.Points[i].Stretch)
		}
	}
	// moving ranges 1 and 0.5 mm, none across the change: 0.75/1.128
	if math.Abs(1e3*c.SD-0.75/1.128) > 1e-9 || c.Ranges != 2 || c.State != TooFew {
		t.Errorf("sd %.4f mm of %d ranges, %s", 1e3*c.SD, c.Ranges, c.State)
	}
}
