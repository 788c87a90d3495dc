package notebook

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestEndsThatCannotStand(t *testing.T) {
	at := func(x, y float64) Impact { return Impact{X: &x, Y: &y} }
	one := 0.01
	for name, c := range map[string]struct {
		change func(*End)
		field  string
	}{
		"no arrows":        {func(e *End) { e.Impacts = nil }, "/impacts"},
		"half a place":     {func(e *End) { e.Impacts = []Impact{{X: &one}} }, "/impacts/0"},
		"nothing":          {func(e *End) { e.Impacts = []Impact{at(0, 0), {Arrow: "2"}} }, "/impacts/1"},
		"in centimetres":   {func(e *End) { e.Impacts = []Impact{at(12, -3)} }, "/impacts/0"},
		"no number":        {func(e *End) { e.Impacts = []Impact{at(math.NaN(), 0)} }, "/impacts/0"},
		"an eleven":        {func(e *End) { e.Impacts = []Impact{{Ring: "11"}} }, "/impacts/0/ring"},
		"a novel":          {func(e *End) { e.Impacts = []Impact{{Ring: "9", Arrow: strings.Repeat("7", 13)}} }, "/impacts/0/arrow"},
		"corrects itself":  {func(e *End) { e.Corrects = e.ID }, "/corrects"},
		"end minus one":    {func(e *End) { e.Number = -1 }, "/number"},
		"no set-up":        {func(e *End) { e.SetUp = "" }, "/setup"},
		"too many to read": {func(e *End) { e.Impacts = make([]Impact, mostImpacts+1) }, "/impacts"},
	} {
		e := End{Stamp: Stamp{ID: NewID(), By: NewID(), At: time.Now()}, Bow: NewID(), SetUp: NewID(), Face: "122", Impacts: []Impact{at(0.01, -0.3), {Ring: "M", Bare: true}}}
		if p := e.Check(); len(p) != 0 {
			t.Fatalf("a good end is refused: %v", p)
		}
		c.change(&e)
		if p := e.Check(); len(p) != 1 || p[0].Field != c.field || p[0].Hint == "" {
			t.Errorf("%s: %+v, want one problem at %s", name, p, c.field)
		}
	}
}

func TestFittedRecordsThatCannotStand(t *testing.T) {
	stamp := Stamp{ID: NewID(), By: NewID(), At: time.Now()}
	good := Forecast{Stamp: stamp, Bow: NewID(), SetUp: NewID(), Kind: "speed", Value: 57, Low: 56, High: 58, Level: 0.9}
	if p := good.Check(); len(p) != 0 {
		t.Fatalf("a good forecast is refused: %v", p)
	}
	for name, bad := range map[string]Record{
		"outside itself": Forecast{Stamp: stamp, Bow: good.Bow, SetUp: good.SetUp, Kind: "speed", Value: 59, Low: 56, High: 58, Level: 0.9},
		"no number":      Forecast{Stamp: stamp, Bow: good.Bow, SetUp: good.SetUp, Kind: "speed", Value: 57, Low: math.Inf(-1), High: 58, Level: 0.9},
		"certain":        Forecast{Stamp: stamp, Bow: good.Bow, SetUp: good.SetUp, Kind: "speed", Value: 57, Low: 56, High: 58, Level: 1},
		"no reason":      Ruling{Stamp: stamp, Target: NewID(), Counts: true, Reason: " "},
		"empty fit":      Fit{Stamp: stamp, Bow: good.Bow, SetUp: good.SetUp},
		"no onset":       Onsets{Stamp: stamp, Recording: NewID(), Corrections: []OnsetCorrection{{NoShot: true}}},
	} {
		if p := bad.Check(); len(p) != 1 || p[0].Hint == "" {
			t.Errorf("%s: %+v, want one problem", name, p)
		}
	}
}
