package workbench

import (
	"math"
	"strings"
	"testing"

	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
)

// Two brace heights shot A-B-B-A by their speeds: the answer is which is
// faster, by how much, and neither a spot nor a want of stops.
func TestJudgeComparesTwoBraceHeights(t *testing.T) {
	s := example(t, "heron-70")
	text := func(l unit.Length) notebook.Length { return notebook.Length{Typed: unit.Said(l, unit.MM)} }
	plan, err := PlanBrace(t.Context(), s, BraceAsk{Order: trial.ABBA, StopA: text(0.210).Text, StopB: text(0.230).Text}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var readings []notebook.Reading
	for i, stop := range plan.Plan.Stops {
		at := i
		note := func(kind notebook.Kind, value float64) {
			readings = append(readings, notebook.Reading{Stamp: notebook.Stamp{ID: notebook.NewID()}, Kind: kind, Value: value, Stop: &at})
		}
		note(notebook.ReadBrace, float64(stop.Brace.Value))
		for k := range 6 {
			note(notebook.ReadSpeed, 60-150*float64(stop.Brace.Value-0.21)+0.1*float64(i)+0.05*math.Sin(float64(9*i+4*k)))
		}
	}
	v, err := JudgeBrace(t.Context(), s, plan, readings, nil)
	if err != nil {
		t.Fatal(err)
	}
	apart := 150 * float64(plan.Plan.Stops[1].Brace.Value-plan.Plan.Stops[0].Brace.Value)
	if v.Outcome != trial.Differ || len(v.Contrasts) != 1 || math.Abs(v.Contrasts[0].Difference.Value-apart) > 0.1 || !v.Contrasts[0].Difference.Holds(apart) {
		t.Fatalf("%s, %+v: %s", v.Outcome, v.Contrasts, v.Text)
	}
	if !strings.Contains(v.Text, "faster than B at ") || strings.Contains(v.Text, "spot") {
		t.Error(v.Text)
	}
}
