package flight

import (
	"math"
	"testing"

	"tautline/unit"
)

// vacuumMarks is a fit's state without air: origin 0, ln C_D −30.
func vacuumMarks(speed, reach, eye float64) (*Marks, []float64) {
	m := &Marks{sight: Sight{Reach: unit.Length(reach), EyeAboveNock: unit.Length(eye)}, known: Expected{Mass: 0.02, Diameter: 0.0056}}
	p := make([]float64, parameters)
	p[pSpeed], p[pDrag], p[pReach] = math.Log(speed), -30, math.Log(reach)
	return m, p
}

// TestMarksAgainstDrawnGeometry holds the marks against the picture drawn out
// in full, with nothing of ours in it: the bow turned about the nock as a rigid
// body, eye and pin turned with it, the line of sight level through both, a
// parabola from the nock (Galilei), the elevation found by halving. The model
// leaves the eye where it is when the bow is tilted: at 90 m that misplaces it
// by h·sin θ = 16 mm along and h·(1 − cos θ) = 1.1 mm up, which is 0.022 and
// 0.011 mm of scale, a tenth of what an archer can set.
func TestMarksAgainstDrawnGeometry(t *testing.T) {
	const g, v, reach, eye = 9.80665, 57.0, 0.9, 0.115
	m, p := vacuumMarks(v, reach, eye)
	for _, d := range []float64{5, 10, 18, 30, 50, 70, 90} {
		// misses is how far below the aim an arrow passes when the bow is tilted.
		misses := func(tilt float64) float64 {
			sin, cos := math.Sincos(tilt)
			eyeX, eyeY := -eye*sin, eye*cos
			x := eyeX + d // the target's plane, d from the eye
			tm := x / (v * cos)
			return eyeY - (v*sin*tm - g*tm*tm/2)
		}
		low, high := 0.0, 0.5
		for range 80 {
			if mid := (low + high) / 2; misses(mid) > 0 {
				low = mid
			} else {
				high = mid
			}
		}
		// In the bow's own frame the level line from the eye falls by the tilt on
		// its way to the pin's bar; the pin stands eye − pin below the eye.
		pinBelowEye := reach * math.Tan(low)
		// A scale that grows downward and reads 0 where the pin is level with the
		// nock.
		want := pinBelowEye - eye
		got, shot := m.reading(p, StandardAir(), d, 0)
		t.Logf("%2.0f m: tilt %.4f°, mark %.3f mm, drawn %.3f", d, low*180/math.Pi, 1e3*got, 1e3*want)
		if math.Abs(got-want) > 4e-5 || math.Abs(float64(shot.Elevation)-low) > 5e-5 {
			t.Errorf("%g m: mark %.4f mm, drawn %.4f", d, 1e3*got, 1e3*want)
		}
	}
}

// TestMarksTurnRound: close to the target the marks come back, because the eye
// stands above the arrow. To first order the elevation is h/d + g·d/(2v²),
// least at d = v·√(2h/g): 8.7 m for 57 m/s and 115 mm (closed form). 1 % for
// the tangent's and the parabola's second order.
func TestMarksTurnRound(t *testing.T) {
	const g, v, reach, eye = 9.80665, 57.0, 0.9, 0.115
	m, p := vacuumMarks(v, reach, eye)
	best, least := 0.0, math.Inf(1)
	for d := 4.0; d < 20; d += 0.001 {
		if r, _ := m.reading(p, StandardAir(), d, 0); r < least {
			best, least = d, r
		}
	}
	if want := v * math.Sqrt(2*eye/g); math.Abs(best/want-1) > 0.01 {
		t.Errorf("the marks turn round at %.2f m, want %.2f", best, want)
	}
	if want := reach*math.Sqrt(2*g*eye)/v - eye; math.Abs(least-want) > 2e-5 {
		t.Errorf("the least mark is %.3f mm, want %.3f", 1e3*least, 1e3*want)
	}
}
