package workbench

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"tautline/arrow"
	"tautline/notebook"
)

// A typed 0 is a reading: 0 mm and 0.01 mm of centre shot agree within 1 mm at
// 30 m (by continuity; a millimetre of centre shot is 2 to 4 cm there), the 0
// is not called assumed, and it outlives being written and read again. Left
// out, 1 mm is assumed and said.
func TestCentreShotZeroIsAReading(t *testing.T) {
	s := example(t, "heron-70")
	bare := map[string]float64{}
	for _, text := range []string{"0 mm", "0.01 mm", "0,00 in", ""} {
		to := changed(t, s, "centre_shot", text)
		raw, err := json.Marshal(to)
		if err != nil {
			t.Fatal(err)
		}
		if to, err = notebook.ReadSettings(raw); err != nil {
			t.Fatal(err)
		}
		v, err := PredictTarget(t.Context(), to, arrow.RightHanded)
		if err != nil {
			t.Fatal(err)
		}
		bare[text] = v.Bare30
		if assumed := strings.Contains(strings.Join(v.Notes, " "), "No centre shot given"); assumed != (text == "") {
			t.Errorf("%q: assumed is %v: %q", text, assumed, v.Notes)
		}
	}
	for _, text := range []string{"0 mm", "0,00 in"} {
		if apart := math.Abs(bare[text] - bare["0.01 mm"]); apart > 0.001 {
			t.Errorf("%q lands %.1f mm from 0.01 mm at 30 m", text, 1e3*apart)
		}
	}
	if math.Abs(bare[""]-bare["0 mm"]) < 0.01 {
		t.Errorf("left out, the centre shot is taken as 0: %.1f cm", 100*bare[""])
	}
}

// A pin at the riser: 0 cm of sight extension is not the usual 17 cm, neither
// for the pin nor for the sight's part in the riser's inertia.
func TestSightExtensionZeroIsAReading(t *testing.T) {
	s := example(t, "heron-70")
	if err := json.Unmarshal([]byte(`[{"place":"long","length":"75 cm","mass":"150 g"}]`), &s.Riser.Rods); err != nil {
		t.Fatal(err)
	}
	at := func(text string) Sideways {
		side, err := SidewaysFromSettings(changed(t, s, "sight_extension", text), arrow.RightHanded)
		if err != nil {
			t.Fatal(err)
		}
		return side
	}
	none, zero, near := at(""), at("0 cm"), at("0.1 mm")
	if apart := math.Abs(float64(zero.PinAhead - near.PinAhead)); apart > 2e-4 || zero.PinAhead >= none.PinAhead {
		t.Errorf("the pin stands %.0f mm ahead at 0 cm, %.0f at 0.1 mm, %.0f if not given", zero.PinAhead.Millimetres(), near.PinAhead.Millimetres(), none.PinAhead.Millimetres())
	}
	if math.Abs(zero.Inertia-near.Inertia) > 1e-4 || zero.Inertia >= none.Inertia {
		t.Errorf("inertia %.4f kg m² at 0 cm, %.4f at 0.1 mm, %.4f if not given", zero.Inertia, near.Inertia, none.Inertia)
	}
}
