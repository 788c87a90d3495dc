package arrow

import (
	"strings"
	"testing"

	"tautline/unit"
)

// The window has two ends: a thrust far below what buckles the shaft is a shaft
// too stiff, one above it too soft (the trade's reading of spine against draw
// weight: common practice, no source). Between ordinary ratios a strike blames
// neither, and a shaft that leaves the string still on the button blames none.
func TestWindowNamesItsEnd(t *testing.T) {
	for _, c := range []struct {
		name   string
		of     Result
		want   Window
		reason string
	}{
		{"stiff", Result{TailStrike: true, ThrustRatio: 0.53}, Window{Beyond: TooStiff}, "too stiff for this bow (thrust 0.53"},
		{"soft", Result{TailStrike: true, ThrustRatio: 1.24}, Window{Beyond: TooSoft}, "too soft for this bow (thrust 1.24"},
		{"soft, at the end", Result{TailStrike: true, ThrustRatio: 1.05}, Window{Beyond: TooSoft}, "too soft"},
		{"ordinary", Result{TailStrike: true, ThrustRatio: 0.8}, Window{}, "neither very stiff nor very soft"},
		{"close and stiff", Result{TailGap: 0.001, ThrustRatio: 0.71}, Window{Beyond: TooStiff}, "1.0 mm"},
		{"close and soft", Result{TailGap: 0.001, ThrustRatio: 1.16}, Window{Beyond: TooSoft}, "1.0 mm"},
		{"close", Result{TailGap: 0.001, ThrustRatio: 0.9}, Window{}, "1.0 mm"},
		{"still on the button", Result{TailGap: 0.003, ThrustRatio: 0.6, LastContact: 0.015, TimeOnString: 0.014}, Window{}, "still on the button"},
		{"no shaft", Result{TailGap: 0.003, ThrustRatio: 3.7}, Window{Beyond: TooSoft}, "far too soft for this bow: the thrust is 3.7 times"},
		{"inside", Result{TailGap: 0.003, ThrustRatio: 0.6}, Window{In: true}, ""},
	} {
		got := c.of.Window()
		if got.In != c.want.In || got.Beyond != c.want.Beyond || !strings.Contains(got.Reason, c.reason) || (got.Reason == "") != got.In {
			t.Errorf("%s: %+v, want %+v because %q", c.name, got, c.want, c.reason)
		}
	}
}

// Shot through the model: a very stiff shaft's strike is named stiff, the soft
// ones soft.
func TestJudgeNamesItsEnd(t *testing.T) {
	c := newChain(t, Config{}, Resolution{})
	for spine, want := range map[float64]End{280: TooStiff, 540: Somewhere, 650: TooSoft, 720: TooSoft} {
		s := base()
		s.arrow.Spine = unit.Spine(spine) * unit.ThousandthInch
		j := judged(t, c, s)
		if j.Window.Beyond != want || j.Window.In != (want == Somewhere) {
			t.Errorf("spine %.0f: %+v, want %q", spine, j.Window, want)
		}
	}
}
