package workbench

import (
	"context"
	"math"
	"testing"
	"time"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// The ends of the interval against the integral that defines them: Beta(k+½,
// n−k+½), done by the substitution p = sin²φ, which turns its density into
// sin^2k φ cos^2(n−k) φ, smooth at both ends (Brown, Cai & DasGupta 2001).
func TestJeffreysAgainstItsDefinition(t *testing.T) {
	below := func(k, n int, p float64) float64 {
		f := func(phi float64) float64 {
			return math.Pow(math.Sin(phi), float64(2*k)) * math.Pow(math.Cos(phi), float64(2*(n-k)))
		}
		simpson := func(a, b float64) float64 {
			const m = 4000
			h, sum := (b-a)/m, f(a)+f(b)
			for i := 1; i < m; i++ {
				sum += f(a+float64(i)*h) * float64(2+2*(i%2))
			}
			return sum * h / 3
		}
		return simpson(0, math.Asin(math.Sqrt(p))) / simpson(0, math.Pi/2)
	}
	for _, c := range [][2]int{{17, 20}, {9, 12}, {1, 2}, {19, 20}} {
		e := Jeffreys(c[0], c[1])
		if low, high := below(c[0], c[1], e.Low), below(c[0], c[1], e.High); math.Abs(low-0.05) > 1e-6 || math.Abs(high-0.95) > 1e-6 {
			t.Errorf("%d of %d: %.4f to %.4f hold %.5f and %.5f below", c[0], c[1], e.Low, e.High, low, high)
		}
	}
	if e := Jeffreys(20, 20); e.High != 1 || e.Low >= 1 || Jeffreys(0, 5).Low != 0 {
		t.Errorf("at the ends: %+v", e)
	}
}

// Its coverage over all shares from a half up is near what it claims, which is
// what the paper recommends it for.
func TestJeffreysCoverage(t *testing.T) {
	const n = 20
	mean, count := 0.0, 0
	for p := 0.5; p < 0.99; p += 0.007 {
		covered := 0.0
		for k := 0; k <= n; k++ {
			if e := Jeffreys(k, n); p >= e.Low && p <= e.High {
				covered += math.Exp(lchoose(n, k) + float64(k)*math.Log(p) + float64(n-k)*math.Log(1-p))
			}
		}
		mean, count = mean+covered, count+1
	}
	if mean /= float64(count); mean < 0.88 || mean > 0.93 {
		t.Errorf("mean coverage %.3f", mean)
	}
}

func lchoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// sealed is a little notebook: a bow, a change, readings on both sides.
type sealed struct {
	BowRecords
	clock time.Time
	fit   *KeptFit
}

func (b *sealed) stamp(id string) notebook.Stamp {
	b.clock = b.clock.Add(time.Hour)
	return notebook.Stamp{ID: notebook.ID(id), At: b.clock, Received: b.clock}
}

func (b *sealed) read(id, setup string, kind notebook.Kind, value float64, more ...func(*notebook.Reading)) {
	r := notebook.Reading{Stamp: b.stamp(id), SetUp: notebook.ID(setup), Kind: kind, Value: value}
	for _, m := range more {
		m(&r)
	}
	b.Readings = append(b.Readings, r)
}

func newSealed(t *testing.T) *sealed {
	b := &sealed{clock: time.Date(2026, 4, 1, 9, 0, 0, 0, time.UTC)}
	base := heron(t)
	b.SetUps = []notebook.SetUp{{Stamp: b.stamp("s0"), Bow: "bow", Settings: base}}
	return b
}

// change makes the next set-up and seals what is foretold of it.
func (b *sealed) change(t *testing.T, id string, changes ...string) {
	t.Helper()
	last := b.SetUps[len(b.SetUps)-1]
	next := notebook.SetUp{Stamp: b.stamp(id), Bow: "bow", Parent: last.ID, Settings: with(t, last.Settings, changes...)}
	forecasts, err := b.Foretell(context.Background(), next, arrow.RightHanded, b.fit)
	if err != nil {
		t.Fatal(err)
	}
	b.SetUps = append(b.SetUps, next)
	for i, f := range forecasts {
		f.Stamp = b.stamp(id + "f" + string(rune('a'+i)))
		b.Forecasts = append(b.Forecasts, f)
	}
}

func TestForecastMeetsTheFirstReadingAfterItWasSealed(t *testing.T) {
	b := newSealed(t)
	at30 := func(r *notebook.Reading) { r.Distance = notebook.Length{Typed: unit.Said(unit.Length(30), unit.M)} }
	b.read("r1", "s0", notebook.ReadSpeed, 58.2)
	b.read("r2", "s0", notebook.ReadSpeed, 58.6)
	b.read("r3", "s0", notebook.ReadBareShaft, 0.10, at30)
	b.change(t, "s1", "brace_height", "232 mm")
	kinds := map[string]notebook.Forecast{}
	for _, f := range b.Forecasts {
		f.Bow, f.SetUp, f.By = notebook.NewID(), notebook.NewID(), notebook.NewID() // ids as the store wants them
		f.ID, f.From = notebook.NewID(), ""
		if p := f.Check(); len(p) > 0 {
			t.Errorf("%s: %v", f.Kind, p)
		}
		kinds[f.Kind] = f
	}
	if len(kinds) != 3 || b.Forecasts[0].SetUp != "s1" {
		t.Fatalf("sealed %v; wanted the changes of speed and bare shaft, and the draw weight", kinds)
	}
	// +8 mm of brace height: some half a metre per second slower
	speed := kinds["speed"]
	if speed.Value > -0.2 || speed.Value < -1 || speed.High-speed.Low < 2*z90*0.25*math.Sqrt2 {
		t.Errorf("speed %+v", speed)
	}
	if l := b.Ledger(); len(l.Entries) != 0 || len(l.Waiting) != 3 {
		t.Errorf("before any reading: %d met, %d wait", len(l.Entries), len(l.Waiting))
	}
	b.read("r4", "s0", notebook.ReadSpeed, 58.4) // the old set-up once more: not what was forecast
	b.read("r5", "s1", notebook.ReadSpeed, 57.9)
	b.read("r6", "s1", notebook.ReadSpeed, 40) // only the first counts
	l := b.Ledger()
	if len(l.Entries) != 1 || l.Entries[0].Result != "r5" || math.Abs(l.Entries[0].Got-(57.9-58.4)) > 1e-9 {
		t.Fatalf("%+v", l.Entries)
	}
	if !l.Entries[0].Inside || l.Counted != 1 || l.Inside != 1 {
		t.Errorf("%+v", l)
	}
}

// A reading that came before the seal can never be counted as foretold.
func TestNothingIsForetoldAfterTheFact(t *testing.T) {
	b := newSealed(t)
	b.read("r1", "s0", notebook.ReadSpeed, 58)
	f := notebook.Forecast{Stamp: b.stamp("f"), SetUp: "s0", Kind: "speed", Value: 58, Low: 57, High: 59, Level: 0.9}
	b.Forecasts = append(b.Forecasts, f)
	if l := b.Ledger(); len(l.Entries) != 0 || len(l.Waiting) != 1 {
		t.Errorf("%+v", l)
	}
}

// Misses widen: with z of 3 in ten forecasts the factor is √((8+90)/18) = 2.33.
func TestMissesWiden(t *testing.T) {
	var l Ledger
	l.Widen = map[string]float64{}
	for range 10 {
		l.Entries = append(l.Entries, LedgerEntry{Of: Quantity{Kind: "speed"}, Z: 3})
	}
	l.count()
	l.widen()
	if got := l.Widen["speed"]; math.Abs(got-math.Sqrt(98.0/18)) > 1e-12 || l.Widen[""] != got {
		t.Errorf("%+v", l.Widen)
	}
	for i := range l.Entries {
		l.Entries[i].Z = 0.2
	}
	l.widen()
	if l.Widen["speed"] != 1 {
		t.Errorf("good forecasts narrowed or widened the bands: %g", l.Widen["speed"])
	}
}

// With a kept fit the change that is sealed is the fit's own, and says so; its
// band is the fit's and that of two readings, in squares, and misses of
// unfitted forecasts widen it as they widen others.
func TestForecastsOfAFittedBow(t *testing.T) {
	for _, missed := range []bool{false, true} {
		b := newSealed(t)
		b.fit = &KeptFit{"fit", heronFit()}
		b.read("r1", "s0", notebook.ReadSpeed, 58.2)
		if missed {
			for i := range 8 {
				f := notebook.Forecast{Stamp: b.stamp("m" + string(rune('a'+i))), SetUp: "s0", Kind: OfSpeed, Value: 70, Low: 68, High: 72}
				b.Forecasts = append(b.Forecasts, f)
			}
			b.read("r2", "s0", notebook.ReadSpeed, 58.2)
		}
		widen := max(1, b.Ledger().Widen[OfSpeed])
		if missed != (widen > 1.5) {
			t.Fatalf("widened by %g", widen)
		}
		sealed := len(b.Forecasts)
		b.change(t, "s1", "brace_height", "232 mm")
		shift, err := heronFit().Change(context.Background(), b.SetUps[0].Settings, b.SetUps[1].Settings, []Quantity{{Kind: QSpeed}})
		if err != nil {
			t.Fatal(err)
		}
		want := shift.Change[0]
		for _, f := range b.Forecasts[sealed:] {
			if f.Fit != "fit" {
				t.Errorf("%s does not say that it is a fit's", f.Kind)
			}
			half := math.Hypot(widen/heronFit().widened(QSpeed)*(want.High-want.Value), z90*0.25*math.Sqrt2)
			if f.Kind == OfSpeed && (f.Value != want.Value || math.Abs(f.High-f.Value-half) > 1e-9) {
				t.Errorf("%+v; the fit says %g, half of the band is %g", f, want.Value, half)
			}
		}
		if n := len(b.Forecasts) - sealed; n != 2 {
			t.Errorf("%d sealed; wanted the change of speed and the draw weight", n)
		}
	}
}

// Misses widen what a trial is expected to show, too.
func TestMissesWidenTrialForecasts(t *testing.T) {
	plan, err := PlanBrace(context.Background(), heron(t), BraceAsk{TurnsPerStep: 5}, nil)
	if err != nil {
		t.Fatal(err)
	}
	plain, wide := ForetellTrial(notebook.Trial{}, plan, nil), ForetellTrial(notebook.Trial{}, plan, map[string]float64{OfSpeed: 2})
	for i, f := range plain {
		if ForecastKind(f) == OfSpeed {
			half := f.High - f.Value
			model := math.Sqrt(max(0, half*half-z90*z90*0.25*0.25))
			half = math.Hypot(2*model, z90*0.25)
			if math.Abs(wide[i].High-wide[i].Value-half) > 1e-9 {
				t.Errorf("stop %d: half a band of %g, wanted %g", i, wide[i].High-wide[i].Value, half)
			}
		} else if wide[i] != f {
			t.Errorf("%s changed", f.Kind)
		}
	}
}

// Of two forecasts sealed before a reading the last word counts and the reading
// is counted once; one sealed after it waits for the next reading.
func TestTheLastWordBeforeAReadingCounts(t *testing.T) {
	day := func(h int) notebook.Stamp {
		at := time.Date(2026, 5, 2, h, 0, 0, 0, time.UTC)
		return notebook.Stamp{ID: notebook.ID(rune('a' + h)), At: at, Received: at}
	}
	said := func(h int, value float64) notebook.Forecast {
		return notebook.Forecast{Stamp: day(h), SetUp: "s", Kind: OfSpeed, Value: value, Low: value - 1, High: value + 1}
	}
	read := func(h int, value float64) notebook.Reading {
		return notebook.Reading{Stamp: day(h), SetUp: "s", Kind: notebook.ReadSpeed, Value: value}
	}
	b := BowRecords{SetUps: []notebook.SetUp{{Stamp: notebook.Stamp{ID: "s"}}}, Forecasts: []notebook.Forecast{said(1, 50), said(2, 57), said(4, 58)}, Readings: []notebook.Reading{read(3, 57.5)}}
	l := b.Ledger()
	if len(l.Entries) != 1 || l.Entries[0].Forecast.Value != 57 || !l.Entries[0].Inside || len(l.Waiting) != 1 || l.Waiting[0].Value != 58 {
		t.Errorf("%+v, waiting %+v", l.Entries, l.Waiting)
	}
	b.Readings = append(b.Readings, read(5, 57.6))
	if l := b.Ledger(); len(l.Entries) != 2 || l.Entries[1].Forecast.Value != 58 || len(l.Waiting) != 0 {
		t.Errorf("%+v, waiting %+v", l.Entries, l.Waiting)
	}
}
