package workbench

import (
	"math"
	"strings"
	"testing"

	"tautline/arrow"
	"tautline/flight"
	"tautline/trial"
)

// An arrow that leaves 2 mrad to the right, shaft along its path, in still air
// draws a straight line of that slope (geometry: nothing acts sideways). The
// tolerance is 1 % for the shaft's turning down into its falling path, which
// the angles of the path share.
func TestWalkBackIsGeometry(t *testing.T) {
	f, err := newFlyers(arrow.Generic(), flight.StandardAir())
	if err != nil {
		t.Fatal(err)
	}
	w, err := f.walk(flight.Launch{Speed: 58, Elevation: 0.03, Drift: 2e-3, Yaw: 2e-3})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(w.slant()/2e-3-1) > 0.01 || math.Abs(w.bend()) > 1e-3 {
		t.Errorf("slant %.4f mrad, want 2; bend %.2f mm", 1e3*w.slant(), 1e3*w.bend())
	}
}

// The words follow the line, and what a walk-back cannot separate is always
// said where it slants (model.md section 5).
func TestWalkBackWords(t *testing.T) {
	for _, c := range []struct {
		slant, bend float64
		shape       trial.WalkBackOutcome
		text        string
	}{
		{0.0005, 0.001, trial.Upright, "upright within"},
		{-0.003, 0.002, trial.Slanted, "3.0 cm in 10 m to the left"},
		{0.003, -0.03, trial.Curved, "bends by 3.0 cm"},
	} {
		w := WalkBack{Slant: c.slant, Bend: c.bend}
		w.judge()
		if w.Shape != c.shape || !strings.Contains(w.Text, c.text) || (len(w.CannotSeparate) == 4) != (c.shape != trial.Upright) {
			t.Errorf("%+v", w)
		}
	}
}

// Centre shot and button preload both turn the line and leave it straight:
// the walk-back cannot tell them apart (docs/theory/arrow.md, walk-back). The
// line mirrors with the hand.
func TestWalkBackOfABow(t *testing.T) {
	b, s := plausibleBows(t), example(t, "heron-70")
	now := target(t, b, s, arrow.RightHanded).WalkBack
	left := target(t, b, s, arrow.LeftHanded).WalkBack
	if math.Abs(now.Slant+left.Slant) > 1e-9 || now.Shape != left.Shape {
		t.Errorf("slants %+.6f and %+.6f are no mirror", now.Slant, left.Slant)
	}
	for key, text := range map[string]string{"centre_shot": "2.5 mm", "button": "4.5"} {
		moved, err := s.With(key, text)
		if err != nil {
			t.Fatal(err)
		}
		w := target(t, b, moved, arrow.RightHanded).WalkBack
		if w.Slant >= now.Slant || math.Abs(w.Bend-now.Bend) > worthBend {
			t.Errorf("%s %s: slant from %+.4f to %+.4f, bend from %.1f to %.1f mm", key, text, now.Slant, w.Slant, 1e3*now.Bend, 1e3*w.Bend)
		}
	}
}
