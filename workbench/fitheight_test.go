package workbench

import (
	"math"
	"os"
	"strconv"
	"testing"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

var up30 = Quantity{Kind: QBareUp, Distance: 30}

// nocked is the example bow with its rest known to stand clear of the tail.
func nocked(t testing.TB, nocking string) notebook.Settings {
	t.Helper()
	s, err := withAll(example(t, "heron-70"), []Setting{{"nocking_point.value", nocking}, {"rest.wire_reach", "0.5 mm"}})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// plausibleHeights are what one plausible bow, hand and rest shows of a bare
// shaft at 30 m at nocking points: the model of PredictUpright, whose bow, lower
// limb, wire and string the fit does not have.
func plausibleHeights(t *testing.T, b *BowModel, j, n int, at ...string) ([]float64, bool) {
	t.Helper()
	var out []float64
	for _, nocking := range at {
		s := nocked(t, nocking)
		side, err := SidewaysFromSettings(s, arrow.RightHanded)
		if err != nil {
			t.Fatal(err)
		}
		v := VerticalFromSettings(s, unit.Length(side.Arrow.Diameter))
		a, err := arrow.New(side.Arrow, arrow.Resolution{})
		if err != nil {
			t.Fatal(err)
		}
		f, err := newFlyers(side.Arrow, side.Air)
		if err != nil {
			t.Fatal(err)
		}
		w := b.pairConfig(sways(n, v.Known)[j].apply(v))
		r, err := newPairRun(b.members[j].model, w.Setup, b.Now()+b.members[j].shift, w.Shot)
		if err != nil {
			return nil, false
		}
		p, err := newPlanes()
		if err != nil {
			t.Fatal(err)
		}
		both, err := p.loose(r, a, draws(n, side.CentreKnown)[j].apply(side.Setup), w.Wire, arrow.UprightCheck{})
		if err != nil || both.rise.TailGap < LeastTailGap {
			return nil, false
		}
		h, err := both.land(a, f)
		if err != nil {
			return nil, false
		}
		out = append(out, h.bare30)
	}
	return out, true
}

// TestTwoHeightsCalibrate: on plausible bows that the fit does not know, two
// readings 2 mm apart narrow what the next 2 mm of nocking point do, and the
// narrower interval holds the truth about as often as it says. TAUTLINE_BOWS
// asks for more bows.
func TestTwoHeightsCalibrate(t *testing.T) {
	bows := 4
	if n, err := strconv.Atoi(os.Getenv("TAUTLINE_BOWS")); err == nil {
		bows = n
	}
	s, higher, lower := nocked(t, "12 mm"), nocked(t, "14 mm"), nocked(t, "10 mm")
	in, err := FromSettings(s)
	if err != nil {
		t.Fatal(err)
	}
	b, err := NewBowModel(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	before := fitted(t, s, nil)
	prior, err := before.Change(t.Context(), s, lower, []Quantity{up30})
	if err != nil {
		t.Fatal(err)
	}
	held, heldBefore, tried := 0, 0, 0
	for j := 1; j < len(b.members) && tried < bows; j++ {
		h, ok := plausibleHeights(t, b, j, len(b.members), "10 mm", "12 mm", "14 mm")
		if !ok {
			continue
		}
		tried++
		f := fitted(t, s, []Observation{
			{Settings: s, Quantity: up30, Value: h[1] + 0.003, Doubt: 0.005},
			{Settings: higher, Quantity: up30, Value: h[2] - 0.003, Doubt: 0.005},
		})
		c, err := f.Change(t.Context(), s, lower, []Quantity{up30})
		if err != nil {
			t.Fatal(err)
		}
		truth, was, got := h[0]-h[1], prior.Change[0], c.Change[0]
		t.Logf("bow %d: truth %+.1f cm, before %+.1f ± %.1f, after %+.1f ± %.1f", j, 100*truth, 100*was.Value, 100*(was.High-was.Value), 100*got.Value, 100*(got.High-got.Value))
		if !(got.SD < 0.8*was.SD) {
			t.Errorf("bow %d: two readings leave ± %.1f cm of ± %.1f", j, 100*got.SD, 100*was.SD)
		}
		if truth >= got.Low && truth <= got.High {
			held++
		}
		if truth >= was.Low && truth <= was.High {
			heldBefore++
		}
	}
	t.Logf("held %d after, %d before, of %d", held, heldBefore, tried)
	// nine tenths less two standard deviations of a count
	least := 0.9*float64(tried) - 2*math.Sqrt(0.09*float64(tried))
	if tried < bows || float64(held) < least || float64(heldBefore) < least {
		t.Errorf("of %d bows the interval held the change on %d, before any reading on %d", tried, held, heldBefore)
	}
}

// heightEffect is the told change at 30 m.
func heightEffect(w Foreseen) (Effect, bool) {
	for _, e := range w.Effects {
		if e.Quantity == up30 {
			return e, true
		}
	}
	return Effect{}, false
}

// TestWhatIfTellsHeights: a higher nocking point lowers the bare shaft
// (the trade's rule: nock high, bare shaft low; model.md section 5), rest and
// hook move it too, and where the tail touches the rest nothing is told.
func TestWhatIfTellsHeights(t *testing.T) {
	s := nocked(t, "12 mm")
	f := fitted(t, s, nil)
	for _, c := range []struct {
		moved Setting
		sign  float64
	}{{Setting{"nocking_point.value", "14 mm"}, -1}, {Setting{"nocking_point.value", "10 mm"}, 1}} {
		w, err := f.WhatIf(t.Context(), []Setting{c.moved})
		if err != nil {
			t.Fatal(err)
		}
		e, told := heightEffect(w)
		if !told || !w.HeightInWindow || e.Value*c.sign <= 0 || !(e.Low < e.Value && e.Value < e.High) {
			t.Errorf("%v: %+v, in window %v (%s)", c.moved, e, w.HeightInWindow, w.HeightReason)
		}
	}
	for _, moved := range []Setting{{"rest.height", "41 mm"}, {"hook_below", "9 mm"}} {
		w, err := f.WhatIf(t.Context(), []Setting{moved})
		if err != nil {
			t.Fatal(err)
		}
		if e, told := heightEffect(w); !told || e.Value == 0 {
			t.Errorf("%v moves no height: %+v", moved, e)
		}
	}
	w, err := f.WhatIf(t.Context(), []Setting{{"nocking_point.value", "2 mm"}, {"rest.wire_reach", "6 mm"}})
	if err != nil {
		t.Fatal(err)
	}
	if e, told := heightEffect(w); w.HeightInWindow || told && e.Says != touchingSays {
		t.Errorf("a tail that drags over the rest: %+v, %q", e, w.HeightReason)
	}
	if w, err = f.WhatIf(t.Context(), []Setting{{"string_walking", "true"}}); err == nil {
		if _, told := heightEffect(w); told || w.HeightReason != stringWalking {
			t.Errorf("string-walking: %q", w.HeightReason)
		}
	}
}

// BenchmarkWhatIfHeights: a slider's step with the heights in it.
func BenchmarkWhatIfHeights(b *testing.B) {
	s := nocked(b, "12 mm")
	f, err := FitBow(b.Context(), FitAsk{Settings: s}, nil)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := f.WhatIf(b.Context(), []Setting{{"nocking_point.value", "14 mm"}}); err != nil {
			b.Fatal(err)
		}
	}
}
