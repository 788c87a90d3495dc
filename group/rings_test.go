package group

import (
	"math"
	"math/rand/v2"
	"testing"

	"tautline/unit"
)

// G11 (computed): the share of the information on ln σ kept by the rings of a
// ten-ring face, known centre, three digits.
func TestInformationKept(t *testing.T) {
	for ratio, want := range map[float64]float64{0.3: .120, 0.5: .638, 0.75: .777, 1: .857, 1.5: .931, 2: .960, 3: .978, 4: .948, 5: .861} {
		if got := InformationKept(plainFace(), 0, Circle(unit.Length(ratio))); !near(got, want, 5.1e-4) {
			t.Errorf("σ/w %g: %.4f, want %.3f", ratio, got, want)
		}
	}
}

func ringsOf(t *testing.T, rng *rand.Rand, f Face, n int, sigma, offset float64) RingCounts {
	t.Helper()
	shots := normalShots(rng, 1, n, sigma, sigma)
	for i := range shots {
		shots[i].Right += unit.Length(offset)
	}
	c, err := CountRings(f, 0.0055, shots)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The interval from rings alone covers the true σ in about 95 %, and the
// offset's does; likelihood intervals of few arrows run a little short.
// 300 groups of 36, standard error 1.3 %: 95 % ± 2.5 of them, 1 % for the asymptotics.
func TestRingFitCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	face, _ := FaceByKey("122")
	sigmaHits, offsetHits, groups := 0, 0, runs(150)
	for range groups {
		fit, err := FitRings(ringsOf(t, rng, face, 36, 0.12, 0.08))
		if err != nil {
			t.Fatal(err)
		}
		if fit.Sigma.Holds(0.12) {
			sigmaHits++
		}
		if fit.Offset.Holds(0.08) {
			offsetHits++
		}
	}
	for name, h := range map[string]int{"σ": sigmaHits, "offset": offsetHits} {
		share := float64(h) / float64(groups)
		t.Logf("%s: %.3f", name, share)
		if tol := 0.01 + 3*math.Sqrt(0.95*0.05/float64(groups)); !near(share, 0.95, tol) {
			t.Errorf("%s: the interval covers %.3f, want 0.95 ± %.3f", name, share, tol)
		}
	}
}

// Many arrows give the σ they were shot with, and rings agree with places.
func TestRingFitIsConsistent(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	face, _ := FaceByKey("80")
	fit, err := FitRings(ringsOf(t, rng, face, 4000, 0.05, 0.03))
	if err != nil || !near(float64(fit.Sigma.Value), 0.05, 0.0015) || !near(float64(fit.Offset.Value), 0.03, 0.005) {
		t.Errorf("%v: σ %v, offset %v", err, fit.Sigma, fit.Offset)
	}
	if fit.Kept < 0.5 || fit.Kept > 1 {
		t.Errorf("kept %.3f", fit.Kept)
	}
}

func TestRingsThatTellLittle(t *testing.T) {
	face, _ := FaceByKey("122")
	c := RingCounts{face, 0.0055, make([]int, 12)}
	c.Counts[0] = 12 // twelve in the inner ten
	fit, err := FitRings(c)
	if err != nil || fit.Sigma.Known() || fit.Sigma.Low != 0 || fit.Sigma.High > 0.04 || len(fit.Warnings) == 0 {
		t.Errorf("all in the inner ten: %v %+v", err, fit)
	}
	c.Counts[0] = 2
	if _, err := FitRings(c); err == nil {
		t.Error("two arrows were fitted")
	}
	if _, err := CountRings(face, 0.005, []Shot{{Ring: "12"}}); err == nil {
		t.Error("ring 12 was counted")
	}
	blank, _ := FaceByKey("blank")
	if _, err := CountRings(blank, 0.005, worked()); err == nil {
		t.Error("blank paper was counted")
	}
}

func BenchmarkFitRings(b *testing.B) {
	face, _ := FaceByKey("122")
	c := RingCounts{face, 0.0055, []int{2, 4, 8, 7, 6, 4, 2, 1, 1, 1, 0, 0}}
	for b.Loop() {
		if _, err := FitRings(c); err != nil {
			b.Fatal(err)
		}
	}
}
