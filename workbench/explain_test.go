package workbench

import (
	"context"
	"math"
	"strings"
	"testing"

	"tautline/arrow"
)

// The trends for one centimetre more brace height that independent engines
// gave for the generic bow (docs/theory/shot.md): speed −0.2 to −0.9 m/s, time
// on the string about −0.22 ms, energy left behind about −0.75 J.
func TestExplanationHasTheKnownTrends(t *testing.T) {
	e, err := Explain(context.Background(), heron(t), arrow.RightHanded, nil)
	if err != nil {
		t.Fatal(err)
	}
	limits := map[string][2]float64{"speed": {-0.9, -0.2}, "time": {-0.35e-3, -0.12e-3}, "left": {-1.5, -0.2}, "bend": {-0.04, -0.005}}
	for _, topic := range e.Topics {
		l := limits[topic.Key]
		if topic.PerCM.Value < l[0] || topic.PerCM.Value > l[1] || len(topic.Values) != explainHeights {
			t.Errorf("%s: %+v per cm of %d heights", topic.Key, topic.PerCM, len(topic.Values))
		}
		// pictures and slope are one model: the ends of the curve agree with it
		first, last := topic.Values[0].Value, topic.Values[explainHeights-1].Value
		span := float64(e.Heights[explainHeights-1]-e.Heights[0]) / 0.01
		if slope := (last - first) / span; math.Abs(slope-topic.PerCM.Value) > 0.35*math.Abs(slope) {
			t.Errorf("%s: %.3g per cm over the range, %.3g at the set-up", topic.Key, slope, topic.PerCM.Value)
		}
		if !strings.Contains(topic.Text, "For one centimetre more") {
			t.Error(topic.Text)
		}
	}
	if len(e.Topics) != 4 || math.Abs(e.Heights[0].Millimetres()-215) > 1e-9 || math.Abs(e.Heights[6].Millimetres()-240) > 1e-9 {
		t.Errorf("%d topics over %v", len(e.Topics), e.Heights)
	}
}

// A slope whose sign is not sure says so.
func TestAnUnsureSlopeSaysSo(t *testing.T) {
	if text := toldPerCM(Estimate[float64]{0.2, -0.1, 0.5}, "J", 1, "%s %s stays", "more", "less"); !strings.Contains(text, "not sure") {
		t.Error(text)
	}
	if text := toldPerCM(Estimate[float64]{-0.6, -0.9, -0.3}, "m/s", 1, "the arrow leaves %s %s", "faster", "slower"); text != "For one centimetre more brace height the arrow leaves 0.6 m/s slower (0.3 to 0.9)." {
		t.Error(text)
	}
}

// From a fitted bow the page follows the readings: a bow read 2 m/s slower
// than the generic one is drawn slower, with a narrower band, and the trend
// keeps its sign.
func TestExplanationFollowsTheReadings(t *testing.T) {
	s := heron(t)
	generic, err := Explain(context.Background(), s, arrow.RightHanded, nil)
	if err != nil {
		t.Fatal(err)
	}
	ask := FitAsk{Settings: s, Hand: arrow.RightHanded}
	for range 3 {
		ask.Readings = append(ask.Readings, Observation{Settings: s, Quantity: Quantity{Kind: QSpeed}, Value: 56.6, Arrows: 6})
	}
	f, err := FitBow(context.Background(), ask, nil)
	if err != nil {
		t.Fatal(err)
	}
	e, err := f.Explain(context.Background(), s, arrow.RightHanded, nil)
	if err != nil {
		t.Fatal(err)
	}
	speed, before := e.Topics[0], generic.Topics[0]
	// at 224 mm, between the third and the fourth height
	if v := (speed.Values[2].Value + speed.Values[3].Value) / 2; math.Abs(v-56.6) > 0.6 {
		t.Errorf("%.1f m/s at the set-up that was read at 56.6", v)
	}
	if speed.Values[3].High-speed.Values[3].Low > before.Values[3].High-before.Values[3].Low {
		t.Error("the readings widened the band")
	}
	if speed.PerCM.Value > -0.2 || speed.PerCM.Value < -0.9 || !e.Fitted || len(e.Topics) != 4 {
		t.Errorf("%+v per cm", speed.PerCM)
	}
}
