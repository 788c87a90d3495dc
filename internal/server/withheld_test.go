package server

import (
	"testing"

	"tautline/unit"
	"tautline/workbench"
)

// A change that nobody can compute is no nought with an interval of nought.
func TestWithheldEffectsHaveNoNumber(t *testing.T) {
	mark := workbench.Quantity{Kind: workbench.QMark, Distance: 70}
	list := []workbench.Effect{
		{Expected: workbench.Expected{Quantity: mark, Unit: "m"}, Says: "not computed", Withheld: "the sight extension is not noted before"},
		{Expected: workbench.Expected{Quantity: mark, Unit: "m", Value: 2e-3, SD: 1e-4, Low: 1.8e-3, High: 2.2e-3}, Says: "2.0 mm up"},
	}
	got := viewEffects(list, unit.Metric())
	if e := got[0]; e.Change.Text != "–" || e.Change.Doubt != "not computed" || e.Now != "–" || e.Then != "–" || e.Says != "not computed" || e.Sure != 0 || e.Change.SI != nil || e.Change.Low != nil || e.Change.High != nil {
		t.Errorf("withheld: %+v", e)
	}
	if e := got[1]; e.Change.Text == "–" || e.Now == "–" || e.Says != "2 mm more" {
		t.Errorf("told: %+v", e)
	}
}
