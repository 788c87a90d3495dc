package figure

import (
	"bytes"
	"testing"
)

// Layers stand on each other: 1 and 2 and 0.5 reach 3.5, and each band is as
// tall as its layer.
func TestStacked(t *testing.T) {
	lines := Stacked([]float64{0, 1}, []Layer{{"a", []float64{1, 2}}, {"b", []float64{2, 0}}, {"c", []float64{0.5, 0.5}}})
	if lines[0].Name != "c" || lines[0].Y[0] != 3.5 || lines[0].Y[1] != 2.5 || lines[2].Low[1] != 0 {
		t.Errorf("%+v", lines)
	}
	for i, want := range []Number{0.5, 2, 1} {
		if got := lines[i].High[0] - lines[i].Low[0]; got != want {
			t.Errorf("%s is %v tall, want %v", lines[i].Name, got, want)
		}
	}
	var out bytes.Buffer
	f := Figure{Title: "t", Finding: "f", X: Axis{Label: "x"}, Y: Axis{Label: "y"}, Series: lines}
	if err := f.Write(&out, "svg", 100, 60); err != nil {
		t.Error(err)
	}
}
