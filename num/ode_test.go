package num_test

import (
	"math"
	"testing"

	"tautline/num"
	"tautline/num/numtest"
)

// distance is the largest difference of two states.
func distance(a, b []float64) float64 {
	d := 0.0
	for i := range a {
		d = math.Max(d, math.Abs(a[i]-b[i]))
	}
	return d
}

// copyOf copies a state.
func copyOf(v []float64) []float64 { return append([]float64(nil), v...) }

// scipyRow is what SciPy 1.10.1's RK45, the same pair of formulas in a general
// program, needs on a problem of the bank at rtol = atol = tol (computed), and
// its error at the end in units of tol.
type scipyRow struct {
	tol         float64
	evaluations int
	err         float64
}

var scipyRK45 = map[string][]scipyRow{
	"oscillator":                   {{1e-4, 542, 32.9}, {1e-6, 1382, 25.4}, {1e-8, 3494, 26.0}, {1e-10, 8798, 25.7}, {1e-12, 22118, 25.6}},
	"two bodies, eccentricity 0.3": {{1e-4, 92, 231}, {1e-6, 182, 70.7}, {1e-8, 356, 119}, {1e-10, 884, 97.5}, {1e-12, 2210, 77.5}},
	"two bodies, eccentricity 0.6": {{1e-4, 116, 122}, {1e-6, 254, 837}, {1e-8, 464, 638}, {1e-10, 1118, 387}, {1e-12, 2804, 251}},
	"two bodies, eccentricity 0.9": {{1e-4, 170, 14264}, {1e-6, 416, 35374}, {1e-8, 818, 25230}, {1e-10, 1676, 14847}, {1e-12, 4196, 9421}},
	"Arenstorf":                    {{1e-4, 494, 18956}, {1e-6, 1004, 16266}, {1e-8, 2114, 14753}, {1e-10, 4772, 32711}, {1e-12, 11990, 38985}},
	"Van der Pol, mu 1":            {{1e-4, 194, 6.6}, {1e-6, 392, 6.3}, {1e-8, 740, 2.7}, {1e-10, 1706, 1.15}, {1e-12, 4184, 0.65}},
}

// The adaptive pair against SciPy's: at most 15 % more evaluations, and an
// error in units of the tolerance asked at most three times SciPy's. The
// formulas are the same, the step control is not (PI against plain), and the
// error at the end depends on where the steps happen to fall.
func TestDormandPrinceAgainstSciPy(t *testing.T) {
	for _, p := range numtest.ODEs() {
		d := num.NewDormandPrince(len(p.Y0))
		for _, row := range scipyRK45[p.Name] {
			y := copyOf(p.Y0)
			out := d.Run(p.F, y, num.Span{From: p.From, To: p.To}, num.Accuracy{Relative: row.tol, Absolute: row.tol})
			err := distance(y, p.End) / row.tol
			if out.Status != num.Done || out.T != p.To {
				t.Errorf("%s at %g: %v at t = %v", p.Name, row.tol, out.Status, out.T)
			}
			if float64(out.Evaluations) > 1.15*float64(row.evaluations)+2 {
				t.Errorf("%s at %g: %d evaluations, SciPy %d", p.Name, row.tol, out.Evaluations, row.evaluations)
			}
			if err > 3*row.err {
				t.Errorf("%s at %g: error %.3g tolerances, SciPy %.3g", p.Name, row.tol, err, row.err)
			}
			t.Logf("%-29s tol %-6g evaluations %5d (SciPy %5d)  error/tol %8.3g (SciPy %8.3g)", p.Name, row.tol, out.Evaluations, row.evaluations, err, row.err)
		}
	}
}

// The law of the order: sixteen times less error for half the step. The range
// 3.5 to 4.6 of the exponent leaves room for the next order at these steps.
func TestRK4Order(t *testing.T) {
	for _, p := range []numtest.ODE{numtest.Decay(), numtest.Kepler(0.3), numtest.VanDerPolCycle()} {
		r := num.NewRK4(len(p.Y0))
		errors := []float64{}
		for _, n := range []float64{400, 800, 1600} {
			y := copyOf(p.Y0)
			out := r.Run(p.F, y, (p.To-p.From)/n, num.Span{From: p.From, To: p.To})
			if out.Status != num.Done || out.T != p.To && math.Abs(out.T-p.To) > 1e-12 || out.Evaluations != 4*int(n) {
				t.Errorf("%s: %+v", p.Name, out)
			}
			errors = append(errors, distance(y, p.End))
		}
		for i := range 2 {
			if order := math.Log2(errors[i] / errors[i+1]); order < 3.5 || order > 4.6 {
				t.Errorf("%s: order %.2f from errors %v", p.Name, order, errors)
			}
		}
	}
}

// Step is one step of Run.
func TestRK4StepIsARunOfOne(t *testing.T) {
	p := numtest.Kepler(0.6)
	a, b := copyOf(p.Y0), copyOf(p.Y0)
	r := num.NewRK4(4)
	r.Step(p.F, 0, 0.01, a)
	r.Run(p.F, b, 0.01, num.Span{To: 0.01})
	if distance(a, b) != 0 {
		t.Errorf("%v against %v", a, b)
	}
}

// fall drops a stone from height 1 with g = 2: it lands at t = 1 with speed 2.
// RK4 is exact for it, so the event is found to the tolerance asked.
func fall(_ float64, y, dy []float64) { dy[0], dy[1] = y[1], -2 }

func landing(_ float64, y []float64) float64 { return y[0] }

func TestEventEndsTheRunInsideAStep(t *testing.T) {
	span := num.Span{To: 5, Events: []num.Event{{Value: landing, Ends: true}}}
	check := func(name string, out num.Outcome, y []float64) {
		if out.Status != num.AtEvent || out.Event != 0 || len(out.Hits) != 1 {
			t.Fatalf("%s: %+v", name, out)
		}
		// 1e-12 of the step is the tolerance asked.
		if math.Abs(out.T-1) > 1e-12 || math.Abs(y[0]) > 2e-12 || math.Abs(y[1]+2) > 2e-12 || out.Hits[0].T != out.T {
			t.Errorf("%s: lands at t = %.16g with %v", name, out.T, y)
		}
	}
	y := []float64{1, 0}
	check("RK4", num.NewRK4(2).Run(fall, y, 0.3, span), y)
	y = []float64{1, 0}
	check("Dormand–Prince", num.NewDormandPrince(2).Run(fall, y, span, num.Accuracy{}), y)
}

// Starting on the event does not end the run; a direction not asked for does
// not count; events that do not end are listed in the order of time.
func TestEventRules(t *testing.T) {
	sine := num.Event{Value: func(_ float64, y []float64) float64 { return y[0] }}
	rising, falling := sine, sine
	rising.Direction, falling.Direction = 1, -1
	half := num.Event{Value: func(_ float64, y []float64) float64 { return y[0] - 0.5 }}
	span := num.Span{To: 9, Events: []num.Event{half, rising, falling}}
	p := numtest.Oscillator()
	// sin t: 1/2 at π/6, 5π/6, …; zeros at π, 2π.
	want := []num.Hit{{0, math.Pi / 6}, {0, 5 * math.Pi / 6}, {2, math.Pi}, {1, 2 * math.Pi}, {0, 13 * math.Pi / 6}, {0, 17 * math.Pi / 6}}
	compare := func(name string, hits []num.Hit, tol float64) {
		if len(hits) != len(want) {
			t.Fatalf("%s: hits %v, want %v", name, hits, want)
		}
		for i, h := range hits {
			if h.Event != want[i].Event || math.Abs(h.T-want[i].T) > tol {
				t.Errorf("%s: hit %d is %v, want %v", name, i, h, want[i])
			}
		}
	}
	// RK4 with h = 0.01: global error h⁴/120 per unit of time, 9 units: 8e-10.
	out := num.NewRK4(2).Run(p.F, copyOf(p.Y0), 0.01, span)
	compare("RK4", out.Hits, 1e-9)
	// Error at t = 9 about 3 tolerances (20 after 20π), dense output of order 4: 10.
	out = num.NewDormandPrince(2).Run(p.F, copyOf(p.Y0), span, num.Accuracy{Relative: 1e-10})
	compare("Dormand–Prince", out.Hits, 1e-9)
	// Backward in time.
	y := []float64{math.Sin(9), math.Cos(9)}
	back := span
	back.From, back.To = 9, 0.1
	back.Events = []num.Event{half}
	out = num.NewDormandPrince(2).Run(p.F, y, back, num.Accuracy{Relative: 1e-10})
	if len(out.Hits) != 4 || math.Abs(out.Hits[3].T-math.Pi/6) > 1e-9 {
		t.Errorf("backward: %v", out.Hits)
	}
}

// The earliest of two events in one step ends the run.
func TestEarliestEventWins(t *testing.T) {
	late := num.Event{Ends: true, Value: func(t float64, _ []float64) float64 { return t - 0.8 }}
	early := num.Event{Ends: true, Value: func(t float64, _ []float64) float64 { return t - 0.3 }}
	after := num.Event{Value: func(t float64, _ []float64) float64 { return t - 0.5 }}
	y := []float64{1}
	out := num.NewRK4(1).Run(numtest.Decay().F, y, 1, num.Span{To: 1, Events: []num.Event{late, after, early}})
	if out.Event != 2 || math.Abs(out.T-0.3) > 1e-12 || len(out.Hits) != 1 {
		t.Errorf("%+v", out)
	}
}

// Van der Pol's period (recalled, see the bank) from the crossings of y' = 0
// by both methods; tolerance: two crossings, each with the method's error of
// about 10 tolerances, or h⁴ times the growth of the bank.
func TestVanDerPolPeriod(t *testing.T) {
	top := num.Event{Direction: -1, Value: func(_ float64, y []float64) float64 { return y[1] }}
	span := num.Span{To: 60, Events: []num.Event{top}}
	period := func(hits []num.Hit) float64 { return hits[len(hits)-1].T - hits[len(hits)-2].T }
	f := numtest.VanDerPol(1)
	out := num.NewDormandPrince(2).Run(f, []float64{2, 0.1}, span, num.Accuracy{Relative: 1e-12})
	if got := period(out.Hits); math.Abs(got-numtest.VanDerPolPeriod) > 2e-11 {
		t.Errorf("Dormand–Prince: %.14f, want %.14f", got, numtest.VanDerPolPeriod)
	}
	out = num.NewRK4(2).Run(f, []float64{2, 0.1}, 0.002, span)
	if got := period(out.Hits); math.Abs(got-numtest.VanDerPolPeriod) > 5e-10 {
		t.Errorf("RK4: %.14f, want %.14f", got, numtest.VanDerPolPeriod)
	}
}

// Output between the steps: as good as the steps. The continuous extension of
// order 4 errs by a few tolerances at these tolerances; RK4 takes real steps.
func TestOutputAtTimesAsked(t *testing.T) {
	times := []float64{0, 0.1, 1, 2.5, 2.5, 6, 10}
	p := numtest.Oscillator()
	worst, seen := 0.0, 0
	span := num.Span{To: 10, Times: times, Observe: func(t float64, y []float64) bool {
		if t != times[seen] {
			return false
		}
		seen++
		worst = math.Max(worst, math.Max(math.Abs(y[0]-math.Sin(t)), math.Abs(y[1]-math.Cos(t))))
		return true
	}}
	out := num.NewDormandPrince(2).Run(p.F, copyOf(p.Y0), span, num.Accuracy{Relative: 1e-9})
	if out.Status != num.Done || seen != len(times) || worst > 20e-9 {
		t.Errorf("Dormand–Prince: %v, %d outputs, error %g", out.Status, seen, worst)
	}
	worst, seen = 0, 0
	out = num.NewRK4(2).Run(p.F, copyOf(p.Y0), 0.01, span)
	if out.Status != num.Done || seen != len(times) || worst > 1e-9 { // h⁴/120 · 10
		t.Errorf("RK4: %v, %d outputs, error %g", out.Status, seen, worst)
	}
}

// What cannot be integrated ends with a status, at a finite state.
func TestRunsThatCannotFinish(t *testing.T) {
	blowUp := func(_ float64, y, dy []float64) { dy[0] = y[0] * y[0] } // infinite at t = 1
	undefined := func(t float64, y, dy []float64) { dy[0] = math.Sqrt(1 - t) }
	for _, c := range []struct {
		name string
		f    num.Derivative
		want num.Status
	}{{"blow-up", blowUp, num.StepTooSmall}, {"end of the domain", undefined, num.StepTooSmall}} {
		y := []float64{1}
		out := num.NewDormandPrince(1).Run(c.f, y, num.Span{To: 2}, num.Accuracy{Relative: 1e-8})
		if out.Status != c.want || math.Abs(out.T-1) > 1e-6 || math.IsNaN(y[0]) || math.IsInf(y[0], 0) {
			t.Errorf("%s: %v at t = %v, y = %v", c.name, out.Status, out.T, y)
		}
	}
	y := []float64{1}
	out := num.NewRK4(1).Run(undefined, y, 0.3, num.Span{To: 2})
	if out.Status != num.NotFinite || math.IsNaN(y[0]) || out.T > 1 {
		t.Errorf("RK4: %v at %v, y = %v", out.Status, out.T, y)
	}
	y = []float64{1}
	out = num.NewDormandPrince(1).Run(numtest.Decay().F, y, num.Span{To: 1e6}, num.Accuracy{Steps: 50})
	if out.Status != num.BudgetSpent || out.Steps+out.Rejected != 50 {
		t.Errorf("budget: %+v", out)
	}
	out = num.NewRK4(1).Run(numtest.Decay().F, y, 0.1, num.Span{To: 1, Observe: func(t float64, _ []float64) bool { return t < 0.45 }})
	if out.Status != num.Stopped || math.Abs(out.T-0.5) > 1e-12 {
		t.Errorf("stop: %+v", out)
	}
}

// A run with events and observers allocates nothing once its workspace has
// grown.
func TestRunsDoNotAllocate(t *testing.T) {
	p := numtest.Oscillator()
	rk, dp, y := num.NewRK4(2), num.NewDormandPrince(2), make([]float64, 2)
	events := []num.Event{{Value: func(_ float64, y []float64) float64 { return y[0] - 0.5 }}}
	span := num.Span{To: 20, Events: events, Observe: func(float64, []float64) bool { return true }}
	if n := testing.AllocsPerRun(5, func() { copy(y, p.Y0); rk.Run(p.F, y, 0.01, span) }); n != 0 {
		t.Errorf("RK4: %v allocations", n)
	}
	if n := testing.AllocsPerRun(5, func() { copy(y, p.Y0); dp.Run(p.F, y, span, num.Accuracy{}) }); n != 0 {
		t.Errorf("Dormand–Prince: %v allocations", n)
	}
}

func BenchmarkRK4Step(b *testing.B) {
	p := numtest.Kepler(0.3)
	r, y := num.NewRK4(4), copyOf(p.Y0)
	b.ReportAllocs()
	for b.Loop() {
		r.Step(p.F, 0, 1e-6, y)
	}
}

func BenchmarkDormandPrinceKepler(b *testing.B) {
	p := numtest.Kepler(0.6)
	d, y := num.NewDormandPrince(4), make([]float64, 4)
	b.ReportAllocs()
	for b.Loop() {
		copy(y, p.Y0)
		d.Run(p.F, y, num.Span{To: p.To}, num.Accuracy{Relative: 1e-8})
	}
}

func BenchmarkRK4RunWithEvent(b *testing.B) {
	r, y := num.NewRK4(2), make([]float64, 2)
	span := num.Span{To: 5, Events: []num.Event{{Value: landing, Ends: true}}}
	b.ReportAllocs()
	for b.Loop() {
		y[0], y[1] = 1, 0
		r.Run(fall, y, 0.003, span)
	}
}
