package sound_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"tautline/sound"
	"tautline/sound/soundtest"
	"tautline/unit"
)

// mix returns clean shots under noise at a signal-to-noise ratio of the shots
// (plain mean power over 50 ms from the first release), and the clean part.
func mix(c soundtest.Config, snr float64) (x, clean []float64) {
	clean, noise := soundtest.Parts(c)
	from := int(float64(c.Shots[0].Release) * 48000)
	signal := sound.LevelsOf(clean[from:from+2400], 48000).MeanZ
	gain := math.Pow(10, (signal-snr-sound.LevelsOf(noise, 48000).MeanZ)/20)
	x = make([]float64, len(clean))
	for i := range x {
		x[i] = clean[i] + gain*noise[i]
	}
	return x, clean
}

// Issue 4: level within 0.3 dB at 30 dB. The truth is the clean sound's
// A-weighted exposure in the true window, room included.
func TestLevelOfSynthesisedShots(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	worst, inside, total := 0.0, 0, 0
	for seed := range uint64(8) {
		c := soundtest.Config{Seed: seed, Noise: soundtest.Noise{Pink: 0.01, Wind: 0.005}, Room: soundtest.Room{T60: unit.Duration(0.3 * float64(seed%2))}}
		for i := range 4 {
			s := varied(3*i+1, rng)
			s.Release = unit.Duration(1.5 + 2.2*float64(i))
			c.Shots = append(c.Shots, s)
		}
		x, clean := mix(c, 30)
		h := listen(t, x, 48000, sound.Config{SkipModes: true})
		if len(h.Shots) != 4 {
			t.Fatalf("seed %d: %d shots, want 4", seed, len(h.Shots))
		}
		for i, s := range h.Shots {
			r := int(c.Shots[i].Release * 48000)
			end := int((c.Shots[i].Release + min(c.Shots[i].Impact-0.003, 0.3)) * 48000)
			truth := sound.LevelsOf(clean[r-48:end], 48000).ExposureA
			d := s.Exposure.Value - truth
			worst = max(worst, math.Abs(d))
			total++
			if math.Abs(d) < 2*s.Exposure.SD+0.02 {
				inside++
			}
			if math.Abs(d) > 0.3 {
				t.Errorf("seed %d shot %d: %.2f dB, truth %.2f", seed, i, s.Exposure.Value, truth)
			}
		}
	}
	t.Logf("worst %.3f dB, %d of %d within 2 SD", worst, inside, total)
	if inside < total*3/4 {
		t.Errorf("only %d of %d levels within their own doubt", inside, total)
	}
}

// Issue 4: mode frequency within 1 %, damping within 15 % at 30 dB where at
// least 8 cycles are heard, withheld otherwise. The modes of one bow, every
// shot with its own burst, string, clicker and noise; a shot with a window of
// 90 ms to the impact, one of 300 ms.
func TestModesOfSynthesisedShots(t *testing.T) {
	truth := []soundtest.Mode{
		{Frequency: 62, Damping: 0.025, Amplitude: 0.10},
		{Frequency: 187, Damping: 0.012, Amplitude: 0.08, Phase: 0.7},
		{Frequency: 412, Damping: 0.009, Amplitude: 0.06, Phase: 1.9},
	}
	found, asked, damped := 0, 0, 0
	for seed := range uint64(12) {
		s := soundtest.Shot{Release: 1, Modes: truth, String: -30, Impact: 0.095, Clicker: 0.2}
		if seed%2 == 0 {
			s.Impact = 0.32
		}
		x, _ := mix(soundtest.Config{Seed: seed, Noise: soundtest.Noise{Pink: 0.01}, Shots: []soundtest.Shot{s}}, 30)
		h := listen(t, x, 48000, sound.Config{})
		if len(h.Shots) != 1 {
			t.Fatalf("seed %d: %d shots", seed, len(h.Shots))
		}
		for _, m := range truth {
			got, ok := modeNear(h.Shots[0].Modes, m.Frequency)
			// heard from 20 ms after the release to the impact, less the shift of the second window
			cycles := m.Frequency * (min(float64(s.Impact), 0.3) - 0.023) / 1.2
			if m.Frequency > 240 {
				cycles = m.Frequency * min(0.09, float64(s.Impact)-0.023) / 1.2
			}
			if cycles > 8.5 {
				asked++
			}
			if !ok {
				if cycles > 8.5 {
					t.Logf("seed %d: no mode near %g Hz; %v", seed, m.Frequency, h.Shots[0].Modes)
				}
				continue
			}
			if cycles > 8.5 {
				found++
			}
			if d := math.Abs(got.Frequency.Value/m.Frequency - 1); d > 0.01 && cycles > 8.5 {
				t.Errorf("seed %d: %.2f Hz for %g Hz", seed, got.Frequency.Value, m.Frequency)
			}
			if got.Damping.OK && cycles < 7.5 {
				t.Errorf("seed %d: a damping after %.1f cycles", seed, cycles)
			}
			if got.Damping.OK {
				damped++
				if d := math.Abs(got.Damping.Value/m.Damping - 1); d > 0.15 {
					t.Errorf("seed %d: ζ %.5f ± %.5f for %g at %g Hz", seed, got.Damping.Value, got.Damping.SD, m.Damping, m.Frequency)
				}
			}
		}
		for _, got := range h.Shots[0].Modes {
			if _, ok := truthNear(append(truth, stringPartials...), got.Frequency.Value); !ok {
				t.Errorf("seed %d: a mode at %.1f Hz that is not there (%v, %v, agreement %.2f)", seed, got.Frequency.Value, got.Damping, got.Level, got.Agreement)
			}
		}
	}
	t.Logf("found %d of %d modes with 8 cycles, %d dampings", found, asked, damped)
	if float64(found) < 0.9*float64(asked) || float64(damped) < 0.8*float64(asked) {
		t.Errorf("found %d and damped %d of %d modes: the answer may not always be “not measurable”", found, damped, asked)
	}
}

// stringPartials ring along in every synthesised shot (soundtest/synth.go).
var stringPartials = []soundtest.Mode{{Frequency: 118}, {Frequency: 236.5}, {Frequency: 356}, {Frequency: 476.5}, {Frequency: 599}, {Frequency: 723}}

func modeNear(modes []sound.Mode, f float64) (sound.Mode, bool) {
	for _, m := range modes {
		if math.Abs(m.Frequency.Value-f) < 0.05*f {
			return m, true
		}
	}
	return sound.Mode{}, false
}

func truthNear(modes []soundtest.Mode, f float64) (soundtest.Mode, bool) {
	for _, m := range modes {
		if math.Abs(m.Frequency-f) < 0.05*f {
			return m, true
		}
	}
	return soundtest.Mode{}, false
}
