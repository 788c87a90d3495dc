package report

import (
	"bytes"
	"strings"
	"testing"

	"tautline/unit"
	"tautline/workbench"
)

// All shafts of a list stand on one scale that holds every doubt, with the
// number in the person's units and its side in words.
func TestShaftFaces(t *testing.T) {
	try := func(at, low, high float64) workbench.ShaftTry {
		return workbench.ShaftTry{Spine: 600, Bare18: at, Interval: map[string]workbench.Span{"bare_minus_fletched_18m_right_m": {low, high}}}
	}
	present := try(0.05, 0.01, 0.10)
	list := workbench.ShaftList{Shafts: []workbench.ShaftTry{try(-0.05, -0.20, 0.01), try(-0.30, -0.60, -0.1)}, Present: &present}
	faces := ShaftFaces(list, unit.Metric())
	if len(faces) != 3 || len(list.Shafts) != 2 {
		t.Fatalf("%d faces", len(faces))
	}
	for _, f := range faces {
		if f.Half != faces[0].Half || f.Half < 0.60 || len(f.Rings) != 10 || f.Rings[9] != 0.30 {
			t.Errorf("half %.2f m, rings %v", f.Half, f.Rings)
		}
		var svg bytes.Buffer
		if err := f.Write(&svg, "svg", 60); err != nil || !strings.Contains(svg.String(), "<svg") {
			t.Error(err)
		}
	}
	if !strings.Contains(faces[0].Finding, "5.0 cm left") || !strings.Contains(faces[2].Finding, "5.0 cm right") {
		t.Errorf("%q, %q", faces[0].Finding, faces[2].Finding)
	}
}
