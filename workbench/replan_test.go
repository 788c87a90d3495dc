package workbench

import (
	"math"
	"testing"

	"tautline/unit"
)

// A string that answers by 70 % of what the model thinks: two stops teach it,
// and a stop at which the turns were miscounted asks.
func TestLearnFollowsTheString(t *testing.T) {
	plan, err := PlanBrace(t.Context(), example(t, "heron-70"), BraceAsk{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	now := unit.Length(plan.Now)
	truth := func(stop int) unit.Length { return now + 0.7*(plan.Plan.Stops[stop].Brace.Value-now) }
	last := len(plan.Plan.Stops) - 1
	records := []StopRecord{{Stop: 0, Braces: []unit.Length{truth(0)}}, {Stop: 4, Braces: []unit.Length{truth(4)}}, {Stop: 7, Braces: []unit.Length{truth(7)}}}
	got, err := Learn(plan, records)
	if err != nil {
		t.Fatal(err)
	}
	before, after := plan.Plan.Stops[last].Brace, got.Expected[last]
	if math.Abs(float64(after.Value-truth(last))) > 0.0015 || after.Half() >= before.Half() {
		t.Errorf("the last stop is expected at %v ± %v, it will read %v", after.Value, after.Half(), truth(last))
	}
	if len(got.Questions) > 0 {
		t.Errorf("readings that agree raised %v", got.Questions)
	}
	// at stop 9 six turns were added and three noted: the square shows the next stop's height
	records = append(records, StopRecord{Stop: last - 1, Braces: []unit.Length{truth(last)}})
	got, err = Learn(plan, records)
	if err != nil {
		t.Fatal(err)
	}
	q, asked := got.Questions[last-1]
	if !asked || len(q.Answers) < 2 || q.Answers[0].Key != "turns" || math.Abs(q.Answers[0].Turns-6) > 1 {
		t.Errorf("6 turns for 3 raised %+v", got.Questions)
	}
	if len(got.Questions) != 1 {
		t.Errorf("one slip raised %d questions", len(got.Questions))
	}
}

// Before anything is measured the plan stands as it is.
func TestLearnWithoutReadings(t *testing.T) {
	plan, err := PlanBrace(t.Context(), example(t, "wren-25"), BraceAsk{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	got, err := Learn(plan, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, e := range got.Expected {
		if want := plan.Plan.Stops[i].Brace; e != want {
			t.Errorf("stop %d: %+v, planned %+v", i, e, want)
		}
	}
}
