package workbench

import (
	"context"
	"math"
	"sync"
	"testing"

	"tautline/arrow"
)

var heightSlopes = sync.OnceValue(func() *Slopes {
	s := NewSlopes(heron(outside{}), arrow.RightHanded, 30)
	s.Fit = heronFit()
	return s
})

// A bare shaft's height, read to ± 3 cm at 30 m on a fitted bow, stands by the
// vertical model's slopes: a millimetre of nocking point moves it by some 4 to
// 5 cm (docs/theory/fit.md, 14 cm for 3 mm), so that 2 mm make it stale, where
// the floors alone could only say drifted; 1 mm of tiller at equal brace height
// moves it by well under a centimetre (docs/theory/vertical.md). A decided
// nocking point goes with the same slope.
func TestHeightsStandByTheVerticalModel(t *testing.T) {
	base, ctx := heron(t), context.Background()
	read := Result{Label: "height", Of: Quantity{Kind: OfBareUp, Distance: 30}, Value: 0.05, Half: 0.03, Unit: "m"}
	at := func(r Result, slopes *Slopes, set ...string) Standing {
		t.Helper()
		s, err := Stand(ctx, r, Since{base, with(t, base, set...)}, slopes)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	nock := at(read, heightSlopes(), "nocking_point", "11 mm")
	if nock.State != Stale || nock.Net == nil || math.Abs(nock.Net.Value) < 0.05 || math.Abs(nock.Net.Value) > 0.14 {
		t.Errorf("2 mm of nocking point: %s, net %+v", nock.State, nock.Net)
	}
	if s := at(read, NewSlopes(base, arrow.RightHanded, 30), "nocking_point", "11 mm"); s.State != Drifted || s.Net != nil {
		t.Errorf("without a fit the floors alone say %s, net %+v", s.State, s.Net)
	}
	more := at(read, heightSlopes(), "nocking_point", "12 mm")
	if more.Likely < nock.Likely || more.Far < nock.Far {
		t.Errorf("3 mm move it less than 2: %.3f and %.3f m", more.Likely, nock.Likely)
	}
	if s := at(read, heightSlopes(), "tiller", "4 mm"); s.State != Fresh {
		t.Errorf("1 mm of tiller: %s, far %.3f m", s.State, s.Far)
	}
	decided := Result{Label: "nocking point by bare shaft", By: "nocking_point.value", Of: read.Of, Value: 0.009, Half: 0.0007, Unit: "m"}
	if s := at(decided, heightSlopes()); s.State != Fresh {
		t.Errorf("nothing changed: %s", s.State)
	}
	if s := at(decided, heightSlopes(), "tiller", "4 mm"); s.State != Fresh {
		t.Errorf("a decided nocking point after 1 mm of tiller: %s, far %.2f mm of %.2f", s.State, 1e3*s.Far, 1e3*decided.Half)
	}
	if s := at(decided, heightSlopes(), "brace_height", "239 mm"); s.State == Fresh || s.Unknown {
		t.Errorf("a decided nocking point after 15 mm of brace height: %s, unknown %t, far %.2f mm", s.State, s.Unknown, 1e3*s.Far)
	}
	if s := at(decided, heightSlopes(), "nocking_point", "11 mm"); s.NotSet == "" {
		t.Error("the bow is no longer set to what was decided, and nothing says so")
	}
}
