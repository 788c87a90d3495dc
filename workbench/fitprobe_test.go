package workbench

import (
	"context"
	"math"
	"sync"
	"testing"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// heronFit is the example bow fitted to a speed, a bare shaft, and the bare
// shaft with the button harder; all somewhat off the generic bow's.
var heronFit = sync.OnceValue(func() *FittedBow {
	base := heron(outside{})
	harder := with(outside{}, base, "button", "4")
	ask := FitAsk{Settings: base, Hand: arrow.RightHanded}
	for _, o := range []Observation{
		{Name: "speed", Quantity: Quantity{Kind: QSpeed}, Value: 1, Doubt: 0.2, Settings: base},
		{Name: "bare", Quantity: at(QBare, 30), Value: -0.02, Doubt: 0.01, Settings: base},
		{Name: "harder", Quantity: at(QBare, 30), Value: -0.03, Doubt: 0.01, Settings: harder},
	} {
		shows, err := probe(context.Background(), o.Settings, arrow.RightHanded, 1, []unit.Length{30}, &bench{})
		if err != nil {
			panic(err)
		}
		o.Value += shows.of[o.Quantity][0]
		ask.Readings = append(ask.Readings, o)
	}
	f, err := FitBow(context.Background(), ask, nil)
	if err != nil {
		panic(err)
	}
	return f
})

var fittedSlopes = sync.OnceValue(func() *Slopes {
	s := NewSlopes(heron(outside{}), arrow.RightHanded, 30, 70)
	s.Fit = heronFit()
	return s
})

// The laws of standing hold for a fitted bow, too.
func TestFittedStandingKeepsItsLaws(t *testing.T) {
	noChangeIsFresh(t, fittedSlopes())
	neverFreshens(t, fittedSlopes(), 16)
}

// The fitted bow's own slopes stand behind it: the most probable bow moves as
// the fit says, and the drawn bows' spread of a change is that of the fit's own
// interval within what 20 draws can show.
func TestFittedSlopesAreTheFits(t *testing.T) {
	ctx, base := context.Background(), heron(t)
	one := base
	turns, _ := moverOf("button.turns")
	turns.write(&one, *base.Button.Turns+1)
	for _, c := range []struct {
		q   Quantity
		key string
		to  notebook.Settings
	}{
		{Quantity{Kind: OfSpeed}, "brace_height.value", with(t, base, "brace_height", "236 mm")},
		{Quantity{Kind: OfTime}, "brace_height.value", with(t, base, "brace_height", "236 mm")},
		{at(OfBare, 30), "button.turns", one},
	} {
		m, _ := moverOf(c.key)
		was, _ := m.read(base)
		is, _ := m.read(c.to)
		got, ok, err := fittedSlopes().of(ctx, c.key, is-was, c.q)
		if err != nil || !ok {
			t.Fatal(c.key, err)
		}
		shift, err := heronFit().Change(ctx, base, c.to, []Quantity{c.q})
		if err != nil {
			t.Fatal(err)
		}
		want := shift.Change[0]
		_, sd := meanSD(got.signed[1:])
		t.Logf("%s: %.4g ± %.2g, the fit says %.4g ± %.2g", c.key, got.signed[0], sd, want.Value, want.SD)
		if math.Abs(got.signed[0]-want.Value) > 0.05*math.Abs(want.Value)+0.1*want.SD {
			t.Errorf("%s on %s: %g, the fit says %g", c.key, c.q, got.signed[0], want.Value)
		}
		if sd < want.SD/2 || sd > 2*want.SD {
			t.Errorf("%s on %s: spread %g, the fit says %g", c.key, c.q, sd, want.SD)
		}
	}
}
