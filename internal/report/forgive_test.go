package report

import (
	"math"
	"testing"

	"tautline/internal/figure"
	"tautline/unit"
	"tautline/workbench"
)

// The stack is as high as the spread, and a band as thick as its error's share
// of the variance: 3 and 4 cm make 5 cm, of which 1.8 and 3.2 cm.
func TestForgiveFigure(t *testing.T) {
	row := workbench.ForgiveRow{BraceHeight: 0.22, Sideways: 0.05, BySource: map[string]float64{"aim": 0.03, "release_size": 0.04}}
	f := ForgiveFigure(workbench.Forgiveness{Over: workbench.OverBrace, Rows: []workbench.ForgiveRow{row}, Summary: "so"}, unit.Metric())
	if err := f.Validate(); err != nil {
		t.Fatal(err)
	}
	thick := map[string]float64{}
	for _, s := range f.Series {
		thick[s.Name] = float64(s.High[0] - s.Low[0])
	}
	if math.Abs(thick["the aim"]-1.8) > 1e-9 || math.Abs(thick["the size of the release"]-3.2) > 1e-9 || math.Abs(float64(f.Series[0].Y[0])-5) > 1e-9 {
		t.Errorf("%v, top %v", thick, f.Series[0].Y)
	}
	if f.Series[len(f.Series)-1].Name != "the size of the release" || f.Series[0].Kind != figure.Curve {
		t.Errorf("the largest error does not stand at the bottom: %+v", f.Series)
	}
}
