package flight

import (
	"math"
	"math/rand/v2"
	"testing"

	"tautline/unit"
)

// ordinary is a recurve's sight and what its archer knows.
func ordinary() (Sight, Expected) {
	return Sight{Reach: 0.9, EyeAboveNock: 0.115},
		Expected{Mass: 0.0206, Diameter: 0.0056, Speed: 58, SpeedDoubt: 3, Drag: 1.8, DragDoubt: 0.4, Air: StandardAir()}
}

// makeMarks gives the marks of a true arrow, by the point mass and the
// geometry written out again.
func makeMarks(t testing.TB, speed, drag, reach, origin float64, s Sight, e Expected, noise func() float64, distances ...float64) []Mark {
	t.Helper()
	var marks []Mark
	h := float64(s.EyeAboveNock)
	for _, d := range distances {
		p := PointMass{Mass: e.Mass, Diameter: e.Diameter, Drag: ConstantDrag(drag), Air: e.Air}
		shot, err := p.Aim(unit.Speed(speed), unit.Length(d), unit.Length(h))
		if err != nil {
			t.Fatal(err)
		}
		// Pin below the arrow's line where the line of sight crosses it.
		pin := h - reach*math.Tan(float64(shot.Elevation))
		marks = append(marks, Mark{Distance: unit.Length(d), Reading: unit.Length(origin - pin + noise())})
	}
	return marks
}

func quiet() float64 { return 0 }

// TestMarksRecover: exact marks give speed and drag back, as far as the
// expectation does not pull.
func TestMarksRecover(t *testing.T) {
	s, e := ordinary()
	s.Doubt, s.ReachDoubt, e.SpeedDoubt, e.DragDoubt = 1e-6, 1e-4, 20, 2
	marks := makeMarks(t, 56, 2.1, 0.9, 0.02, s, e, quiet, 18, 30, 40, 50, 60, 70, 90)
	m, err := FitMarks(marks, s, e)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(float64(m.Speed)-56) > 0.02 || math.Abs(m.Drag-2.1) > 0.005 {
		t.Errorf("fitted %.4f m/s and C_D %.4f, true 56 and 2.1", float64(m.Speed), m.Drag)
	}
	if m.Misfit > 1 || len(m.Warnings) > 0 {
		t.Errorf("misfit %g, warnings %v", m.Misfit, m.Warnings)
	}
	// Against the truth at distances between and beyond.
	for _, d := range []float64{25, 65, 80} {
		p, err := m.Predict(unit.Length(d), 0, e.Air)
		if err != nil {
			t.Fatal(err)
		}
		truth := makeMarks(t, 56, 2.1, 0.9, 0.02, s, e, quiet, d)[0]
		if off := math.Abs(float64(p.Reading - truth.Reading)); off > 2e-5 {
			t.Errorf("%g m: predicted %v, true %v", d, p.Reading, truth.Reading)
		}
	}
}

// TestTwoMarks: two marks are enough, and leave speed and drag entangled.
func TestTwoMarks(t *testing.T) {
	s, e := ordinary()
	m, err := FitMarks(makeMarks(t, 56, 2.1, 0.9, 0.02, s, e, quiet, 30, 70), s, e)
	if err != nil {
		t.Fatal(err)
	}
	if m.DragDoubt < 0.1 || m.SpeedDoubt < 0.2 {
		t.Errorf("two marks cannot know C_D to %g and the speed to %v", m.DragDoubt, m.SpeedDoubt)
	}
	if m.SpeedDoubt > e.SpeedDoubt || m.Correlation < 0.2 {
		t.Errorf("speed ± %v, correlation %g: the marks should narrow the speed and tie it to the drag", m.SpeedDoubt, m.Correlation)
	}
	inside, err := m.Predict(50, 0, e.Air)
	if err != nil {
		t.Fatal(err)
	}
	outside, err := m.Predict(90, 0, e.Air)
	if err != nil {
		t.Fatal(err)
	}
	if inside.Beyond || !outside.Beyond {
		t.Errorf("50 m beyond: %v, 90 m beyond: %v", inside.Beyond, outside.Beyond)
	}
	if outside.High-outside.Low <= inside.High-inside.Low {
		t.Errorf("90 m ± %v, 50 m ± %v: extrapolation must be less sure", outside.High-outside.Low, inside.High-inside.Low)
	}
}

// TestMarksCoverage: 90 % intervals hold the truth in about 90 % of 200
// invented archers drawn from what was expected. Binomial sampling of 600
// predictions, three per archer and so not independent: 85 to 95 %.
func TestMarksCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	s, e := ordinary()
	in, all := 0, 0
	for range 200 {
		speed, drag := 58+3*r.NormFloat64(), math.Max(0.8, 1.8+0.4*r.NormFloat64())
		reach := 0.9 + 0.01*r.NormFloat64()
		marks := makeMarks(t, speed, drag, reach, 0.02, s, e, func() float64 { return 0.0005 * r.NormFloat64() }, 18, 30, 50)
		m, err := FitMarks(marks, s, e)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range []float64{25, 60, 70} {
			p, err := m.Predict(unit.Length(d), 0, e.Air)
			if err != nil {
				t.Fatal(err)
			}
			truth := makeMarks(t, speed, drag, reach, 0.02, s, e, quiet, d)[0].Reading + unit.Length(0.0005*r.NormFloat64())
			all++
			if truth >= p.Low && truth <= p.High {
				in++
			}
		}
	}
	share := float64(in) / float64(all)
	t.Logf("coverage %.3f", share)
	if share < 0.85 || share > 0.95 {
		t.Errorf("90 %% intervals hold %.1f %% of %d readings", share*100, all)
	}
}

// TestMarksAir: denser air asks for a lower pin, that is a larger reading, and
// a scale that runs upward for a smaller one.
func TestMarksAir(t *testing.T) {
	s, e := ordinary()
	marks := makeMarks(t, 56, 2.0, 0.9, 0.02, s, e, quiet, 18, 30, 50, 70)
	m, err := FitMarks(marks, s, e)
	if err != nil {
		t.Fatal(err)
	}
	cold, hot := Air{-2, 103000, 0.5}, Air{35, 90000, 0.5}
	c, _ := m.Predict(70, 0, cold)
	h, _ := m.Predict(70, 0, hot)
	if !(c.Reading > h.Reading+0.001) {
		t.Errorf("70 m: cold air %v, hot thin air %v", c.Reading, h.Reading)
	}
	up := s
	up.Upward = true
	for i := range marks {
		marks[i].Reading = -marks[i].Reading
	}
	u, err := FitMarks(marks, up, e)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(float64(u.Speed-m.Speed)) > 1e-6 {
		t.Errorf("upward scale: %v, downward %v", u.Speed, m.Speed)
	}
}

// TestMarksWrongOne: a mark misread by 10 mm is noticed.
func TestMarksWrongOne(t *testing.T) {
	s, e := ordinary()
	marks := makeMarks(t, 56, 2.0, 0.9, 0.02, s, e, quiet, 18, 30, 40, 50, 60, 70)
	marks[3].Reading += 0.010
	m, err := FitMarks(marks, s, e)
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Warnings) == 0 {
		t.Errorf("a mark 10 mm off passed unnoticed, misfit %g", m.Misfit)
	}
}

// TestMarksRefusals: what cannot be fitted is refused.
func TestMarksRefusals(t *testing.T) {
	s, e := ordinary()
	for name, marks := range map[string][]Mark{
		"one mark":     {{Distance: 30, Reading: 0.03}},
		"one distance": {{Distance: 30, Reading: 0.03}, {Distance: 30, Reading: 0.031}},
		"nan":          {{Distance: 30, Reading: unit.Length(math.NaN())}, {Distance: 50, Reading: 0.05}},
	} {
		if _, err := FitMarks(marks, s, e); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

// BenchmarkFitMarks is a fit to six marks.
func BenchmarkFitMarks(b *testing.B) {
	s, e := ordinary()
	marks := makeMarks(b, 56, 2.0, 0.9, 0.02, s, e, quiet, 18, 30, 40, 50, 60, 70)
	for b.Loop() {
		if _, err := FitMarks(marks, s, e); err != nil {
			b.Fatal(err)
		}
	}
}
