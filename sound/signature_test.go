package sound_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"tautline/sound"
	"tautline/sound/soundtest"
	"tautline/unit"
)

func usual(rng *rand.Rand) sound.Features {
	a, b := rng.NormFloat64(), rng.NormFloat64()
	return sound.Features{Early: -5 + 0.6*a, Late: -9 + 0.5*a + 0.5*b, Pitch: 1.2 + 0.05*rng.NormFloat64(), OK: true}
}

// The smallest p that n shots can give is 1/n, and no shot is flagged below
// 20 (measuring.md, Sound 3).
func TestNoFlagBelowTwentyShots(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{6, 19, 20} {
		shots := make([]sound.Features, n)
		for i := range shots {
			shots[i] = usual(rng)
		}
		shots[n-1].Late += 9 // eighteen standard deviations
		odd := sound.LeaveOneOut(shots)
		last := odd[n-1]
		if math.Abs(last.SmallestP-1/float64(n)) > 1e-12 || last.P != last.SmallestP {
			t.Errorf("n = %d: p %.4f, smallest %.4f", n, last.P, last.SmallestP)
		}
		if last.Flag != (n >= 20) {
			t.Errorf("n = %d: flag %v", n, last.Flag)
		}
		if n < 20 && last.Why == "" || last.Most != "late energy" {
			t.Errorf("n = %d: why %q, most %q", n, last.Why, last.Most)
		}
	}
}

// Under no oddness the flags must not exceed what is printed beside them: 5 %
// of the shots, 3.6 in 72 arrows. 400 sessions of 72: the mean of a count of
// at most 3.6 is known to 0.1.
func TestChanceFlagsAreAsPrinted(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	flags, sessions := 0, 400
	for range sessions {
		shots := make([]sound.Features, 72)
		for i := range shots {
			shots[i] = usual(rng)
		}
		for _, o := range sound.LeaveOneOut(shots) {
			if o.PerRound != 3.6 {
				t.Fatalf("%g flags per 72 arrows are promised, want 3.6", o.PerRound)
			}
			if o.Flag {
				flags++
			}
		}
	}
	mean := float64(flags) / float64(sessions)
	t.Logf("%.2f flags in 72 arrows", mean)
	if mean > 3.6 || mean < 1 {
		t.Errorf("%.2f flags in 72 usual arrows, at most 3.6 are promised and more than 1 expected", mean)
	}
}

// A new shot is ranked among n+1; p is uniform for usual shots, so P(p ≤ 0.05)
// is 5 % at most: 4000 shots know it to 0.35 %.
func TestJudgeNewShots(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	flagged, total := 0, 0
	for range 200 {
		ref := make([]sound.Features, 40)
		for i := range ref {
			ref[i] = usual(rng)
		}
		s, err := sound.NewSignature(ref)
		if err != nil {
			t.Fatal(err)
		}
		for range 20 {
			total++
			if o := s.Judge(usual(rng)); o.Flag {
				flagged++
			}
		}
		wrong := usual(rng)
		wrong.Early -= 4
		if o := s.Judge(wrong); !o.Flag || o.Most != "early energy" {
			t.Fatalf("a shot six standard deviations off: %+v", o)
		}
	}
	if rate := float64(flagged) / float64(total); rate > 0.06 {
		t.Errorf("%.3f of usual shots are flagged", rate)
	}
	if _, err := sound.NewSignature(make([]sound.Features, 30)); sound.ErrorCode(err) != sound.CodeConfig {
		t.Errorf("30 unmeasurable shots make a signature: %v", err)
	}
}

// The features must not depend on the gain, and a plucked-looking shot (late
// energy up, attack down) among 24 must be the one that is flagged.
func TestOddShotInARecording(t *testing.T) {
	bow := soundtest.DefaultBow()
	rng := rand.New(rand.NewPCG(5, 5))
	c := soundtest.Config{Seed: 5, Noise: soundtest.Noise{Pink: 0.001, Wind: 0.002}}
	for i := range 24 {
		s := bow.Shot(220*unit.Millimetre, 0, rng)
		s.Release = unit.Duration(1 + 2*float64(i))
		if i == 16 {
			s.Attack, s.String, s.Decay = 0.006, -3, 0.016
		}
		c.Shots = append(c.Shots, s)
	}
	x := soundtest.Synthesise(c)
	quiet := make([]float64, len(x))
	for i, v := range x {
		quiet[i] = v / 8
	}
	a := listen(t, x, 48000, sound.Config{SkipModes: true})
	b := listen(t, quiet, 48000, sound.Config{SkipModes: true})
	if len(a.Shots) != 24 || len(b.Shots) != 24 {
		t.Fatalf("%d and %d shots", len(a.Shots), len(b.Shots))
	}
	var shots []sound.Features
	for i := range a.Shots {
		f, g := sound.FeaturesOf(a.Shots[i].Measures), sound.FeaturesOf(b.Shots[i].Measures)
		if !f.OK {
			t.Fatalf("shot %d: %s", i, f.Why)
		}
		// 16-bit steps at an eighth of the level: 0.05 dB
		if math.Abs(f.Early-g.Early) > 0.05 || math.Abs(f.Late-g.Late) > 0.05 || math.Abs(f.Pitch-g.Pitch) > 0.005 {
			t.Errorf("shot %d: %+v at full gain, %+v at an eighth", i, f, g)
		}
		shots = append(shots, f)
	}
	for i, o := range sound.LeaveOneOut(shots) {
		if o.Flag != (i == 16) {
			t.Errorf("shot %d: flag %v, p %.3f, distance %.1f", i, o.Flag, o.P, o.Distance)
		}
	}
}

// Issue 4: with 0.7 dB of scatter a step of 1.5 dB between two settings of 6
// shots is found in ≥ 90 % of 500 runs, a zero step claimed in ≤ 5 %. The
// exact power of the t test is 93 %; 500 runs know it to 1.1 %, the level of
// 5 % to 1 % (so 7 % is the two-sigma bound of a true 5 %).
func TestStepBetweenTwoSettings(t *testing.T) {
	scatter := measuredScatter(t)
	run := func(step float64, seed uint64) int {
		rng := rand.New(rand.NewPCG(seed, 7))
		found := 0
		for range 500 {
			var a, b []sound.Measure
			for range 6 {
				a = append(a, sound.Measure{Value: -30 + 0.7*rng.NormFloat64() + scatter*rng.NormFloat64(), OK: true})
				b = append(b, sound.Measure{Value: -30 + step + 0.7*rng.NormFloat64() + scatter*rng.NormFloat64(), OK: true})
			}
			if c := sound.Compare(a, b); c.Found {
				found++
			}
		}
		return found
	}
	if n := run(1.5, 1); n < 450 {
		t.Errorf("a step of 1.5 dB is found in %d of 500 runs, want 450", n)
	}
	if n := run(0, 2); n > 35 {
		t.Errorf("no step is claimed to be one in %d of 500 runs, want about 25", n)
	}
}

// measuredScatter is what measuring itself adds: the r.m.s. error of levels
// of equal shots in noise 30 dB below them.
func measuredScatter(t *testing.T) float64 {
	t.Helper()
	c := soundtest.Config{Seed: 9, Noise: soundtest.Noise{Pink: 0.01, Wind: 0.005}}
	for i := range 12 {
		c.Shots = append(c.Shots, soundtest.Shot{Release: unit.Duration(1 + 2.1*float64(i)), Impact: 0.1})
	}
	x, clean := mix(c, 30)
	h := listen(t, x, 48000, sound.Config{SkipModes: true})
	sum := 0.0
	for i, s := range h.Shots {
		r := int(c.Shots[i].Release * 48000)
		d := s.Exposure.Value - sound.LevelsOf(clean[r-48:r+int(0.097*48000)], 48000).ExposureA
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(h.Shots)))
}

func TestCompareSaysWhenItCannotTell(t *testing.T) {
	one := []sound.Measure{{Value: -30, OK: true}}
	c := sound.Compare(one, one)
	if c.OK || c.Why == "" {
		t.Errorf("one shot a side: %+v", c)
	}
	a := []sound.Measure{{Value: -30, OK: true}, {Value: -30.5, OK: true}, {Why: "clipped"}}
	c = sound.Compare(a, a, sound.Conditions{Device: "phone A"}, sound.Conditions{Device: "phone B"})
	if !c.OK || c.Found || c.Shots != [2]int{2, 2} || len(c.Warnings) == 0 {
		t.Errorf("two settings on two phones: %+v", c)
	}
}

func TestConditions(t *testing.T) {
	a := sound.Conditions{Device: "phone", Place: "hall", Position: "1.5 m left", Gain: "50 %", SampleRate: 48000, Format: sound.WAV}
	if w := a.Compare(a); len(w) != 0 {
		t.Errorf("the same conditions: %q", w)
	}
	for name, change := range map[string]func(*sound.Conditions){
		"device":    func(c *sound.Conditions) { c.Device = "other" },
		"place":     func(c *sound.Conditions) { c.Place = "field" },
		"position":  func(c *sound.Conditions) { c.Position = "" },
		"gain":      func(c *sound.Conditions) { c.Gain = "80 %" },
		"auto gain": func(c *sound.Conditions) { c.AutoGain = true },
		"bale":      func(c *sound.Conditions) { c.BaleDistance = 5 },
		"rate":      func(c *sound.Conditions) { c.SampleRate = 22050 },
		"format":    func(c *sound.Conditions) { c.Format = sound.MP3 },
	} {
		b := a
		change(&b)
		if w := a.Compare(b); len(w) != 1 {
			t.Errorf("%s: warnings %q, want one", name, w)
		}
	}
}
