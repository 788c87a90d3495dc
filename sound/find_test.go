package sound_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tautline/sound"
	"tautline/sound/soundtest"
	"tautline/unit"
)

// listen encodes samples as 16-bit WAV and listens to them.
func listen(t testing.TB, x []float64, rate int, c sound.Config) sound.Hearing {
	t.Helper()
	var b bytes.Buffer
	if err := sound.EncodeWAV(&b, x, rate); err != nil {
		t.Fatal(err)
	}
	h, err := sound.Listen(context.Background(), &b, c)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func hear(t testing.TB, file string) sound.Hearing {
	t.Helper()
	h, err := sound.Listen(context.Background(), bytes.NewReader(reference(t, recordings+file)), sound.Config{})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// recordings/PROVENANCE.md: what is heard when, ± 0.005 s; the tolerance of
// the onset is 0.010 s. wesnoth-bow has creak ticks at 0.071 and 0.133 that
// rise by 15 and 23 dB within 4 ms: an energy gate takes them for the shot.
func TestRecordingsOnsets(t *testing.T) {
	tests := []struct {
		file            string
		release, within float64 // release: −1 if there is none
		impact          float64 // −1 if there is none
	}{
		{"wesnoth-bow.wav", 0.205, 0.010, 0.513},
		{"wesnoth-bow.ogg", 0.205, 0.010, 0.513},
		// "release within the first 0.06 (first rise 0.002)"
		{"wesnoth-crossbow.wav", 0.030, 0.040, 0.283},
		{"wesnoth-crossbow.ogg", 0.030, 0.040, 0.283},
		{"flare-shoot.wav", 0.005, 0.010, -1},
		{"flare-shoot.ogg", 0.005, 0.010, -1},
		{"freedink-arrow.wav", -1, 0, 0.072},
		{"megaglest-arrow_hit2.wav", -1, 0, 0.002},
	}
	for _, tt := range tests {
		t.Run(tt.file, func(t *testing.T) {
			h := hear(t, tt.file)
			if tt.release < 0 {
				if len(h.Shots) != 0 {
					t.Fatalf("a release was heard at %.4f s in a recording without one", float64(h.Shots[0].Release))
				}
			} else {
				if len(h.Shots) != 1 {
					t.Fatalf("%d shots, want 1: %v", len(h.Shots), h.Events)
				}
				if d := float64(h.Shots[0].Release) - tt.release; math.Abs(d) > tt.within {
					t.Errorf("release at %.4f s, want %.3f ± %.3f", float64(h.Shots[0].Release), tt.release, tt.within)
				}
			}
			var impacts []float64
			for _, e := range h.Events {
				if e.Kind == sound.Impact {
					impacts = append(impacts, float64(e.At))
				}
			}
			switch {
			case tt.impact < 0 && len(impacts) != 0:
				t.Errorf("impacts at %v, want none", impacts)
			case tt.impact >= 0 && (len(impacts) != 1 || math.Abs(impacts[0]-tt.impact) > 0.010):
				t.Errorf("impacts at %v, want one at %.3f ± 0.010", impacts, tt.impact)
			}
		})
	}
}

// scene makes a long recording of n shots with everything that surrounds
// them, its noise scaled to snr dB below the shots: mean A-weighted power of
// the first 50 ms of the burst against that of the noise.
func session(seed uint64, n int, snr float64, shape func(i int, rng *rand.Rand) soundtest.Shot) (x []float64, truth []soundtest.Shot) {
	const rate = 48000
	rng := rand.New(rand.NewPCG(seed, 11))
	c := soundtest.Config{Rate: rate, Seed: seed, Noise: soundtest.Noise{Pink: 0.01, Wind: 0.005}}
	at := unit.Duration(1.5)
	for i := range n {
		s := shape(i, rng)
		s.Release = at
		c.Shots = append(c.Shots, s)
		at += unit.Duration(2.5 + rng.Float64())
	}
	if seed%2 == 1 {
		c.Room = soundtest.Room{T60: 0.4}
	}
	clean, noise := soundtest.Parts(c)
	from := int(c.Shots[0].Release * rate)
	signal := sound.LevelsOf(clean[from:from+rate/20], rate).ExposureA - 10*math.Log10(0.05)
	background := sound.LevelsOf(noise[:rate], rate)
	gain := math.Pow(10, (signal-snr-background.ExposureA)/20)
	for i := range clean {
		clean[i] += gain * noise[i]
	}
	return clean, c.Shots
}

// varied draws a shot as different sessions would have it.
func varied(i int, rng *rand.Rand) soundtest.Shot {
	u := rng.Float64
	s := soundtest.Shot{
		Level: 2*u() - 1, Attack: unit.Duration(0.0008 + 0.002*u()), Decay: unit.Duration(0.006 + 0.012*u()),
		String: -18 + 10*u(), Impact: unit.Duration(0.09 + 0.25*u()), Thud: -8 + 12*u(),
		Modes: []soundtest.Mode{
			{Frequency: 50 + 40*u(), Damping: 0.03, Amplitude: 0.08},
			{Frequency: 150 + 100*u(), Damping: 0.015, Amplitude: 0.06},
		},
	}
	if i%3 != 0 {
		s.Clicker = unit.Duration(0.08 + 0.15*u())
	}
	if i%5 == 0 {
		for k := range 4 {
			s.Creaks = append(s.Creaks, unit.Duration(0.05+0.06*float64(k)+0.02*u()))
		}
	}
	return s
}

// Issue 4: detection ≥ 99 % with ≤ 1 false shot per 10 minutes at 20 dB. In
// the eight minutes here that is none.
// A release counts as found within 10 ms, as on the recordings.
func TestShotsFoundAtTwentyDecibels(t *testing.T) {
	found, total, wrong, impacts := 0, 0, 0, 0
	seconds := 0.0
	for seed := range uint64(4) {
		x, truth := session(seed, 40, 20, varied)
		h := listen(t, x, 48000, sound.Config{SkipModes: true})
		seconds += float64(h.Duration)
		total += len(truth)
		used := make([]bool, len(h.Shots))
		for _, s := range truth {
			hit := false
			for i, got := range h.Shots {
				if !used[i] && math.Abs(float64(got.Release-s.Release)) < 0.010 {
					used[i], hit = true, true
					if got.Impact != nil && math.Abs(float64(*got.Impact-s.Release-s.Impact)) < 0.010 {
						impacts++
					}
				}
			}
			if hit {
				found++
			} else {
				t.Logf("seed %d: missed the shot at %.3f s: %s", seed, float64(s.Release), around(h, s.Release))
			}
		}
		for i := range used {
			if !used[i] {
				wrong++
				t.Logf("seed %d: no shot at %.3f s", seed, float64(h.Shots[i].Release))
			}
		}
	}
	t.Logf("found %d of %d, %d false in %.0f s, %d impacts", found, total, wrong, seconds, impacts)
	if float64(found) < 0.99*float64(total) {
		t.Errorf("found %d of %d shots, want 99 %%", found, total)
	}
	if float64(wrong) > seconds/600 {
		t.Errorf("%d false shots in %.0f s, at most 1 in 600 s", wrong, seconds)
	}
	if float64(impacts) < 0.95*float64(total) {
		t.Errorf("found %d impacts of %d, want 95 %% (our own bar)", impacts, total)
	}
}

// Every rate that is let in must do: the same session at all of them.
func TestEveryRate(t *testing.T) {
	for _, rate := range []int{8000, 16000, 22050, 44100, 48000, 96000} {
		h := listen(t, soundtest.DefaultBow().Session(220*unit.Millimetre, 4, 2, rate, 6), rate, sound.Config{SkipModes: true})
		if len(h.Shots) != 4 {
			t.Errorf("%d Hz: %d shots, want 4: %v", rate, len(h.Shots), h.Events)
			continue
		}
		for i, s := range h.Shots {
			if d := float64(s.Release) - float64(2+2*i); math.Abs(d) > 0.003 || s.Impact == nil || s.Clicker == nil || !s.Exposure.OK || !s.Attack.OK {
				t.Errorf("%d Hz, shot %d: %.4f s off, impact %v, clicker %v, level %v, attack %v", rate, i, d, s.Impact, s.Clicker, s.Exposure, s.Attack)
			}
		}
		if (len(h.Warnings) > 0) != (rate < 32000) {
			t.Errorf("%d Hz: warnings %q", rate, h.Warnings)
		}
	}
}

// A phone that is stopped too early: the shot counts, and what needs the time
// that is missing says so.
func TestRecordingThatEndsTooEarly(t *testing.T) {
	x := soundtest.DefaultBow().Session(220*unit.Millimetre, 1, 2, 48000, 6)
	h := listen(t, x[:48000*2+48*45], 48000, sound.Config{})
	if len(h.Shots) != 1 {
		t.Fatalf("%d shots", len(h.Shots))
	}
	s := h.Shots[0]
	if !s.Exposure.OK || s.Attack.OK || s.Late.OK || s.Attack.Why != "the recording ends sooner than 80 ms after the release" {
		t.Errorf("level %v, attack %v, late %v", s.Exposure, s.Attack, s.Late)
	}
	near := listen(t, soundtest.Synthesise(soundtest.Config{Seed: 1, Noise: soundtest.Noise{Pink: 0.001}, Shots: []soundtest.Shot{{Release: 1, Impact: 0.06}}}), 48000, sound.Config{})
	if len(near.Shots) != 1 || near.Shots[0].Attack.OK || near.Shots[0].Impact == nil {
		t.Errorf("a bale at 3 m: %+v", near.Shots)
	}
}

// A range is full of other sounds. Ten minutes of voices, steps, claps,
// rattling arrows and birds, one every 2 s and up to as loud as a shot, with
// 99 shots at a bale among them, of which every seventh is not heard to land:
// at most one false shot (issue 4), and the shots are found (99 %).
func TestOtherSoundsAreNoShots(t *testing.T) {
	found, total, wrong := 0, 0, 0
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 13))
		c := soundtest.Config{Seed: seed, Duration: 200, Noise: soundtest.Noise{Pink: 0.004, Wind: 0.02}}
		kinds := map[unit.Duration]soundtest.OtherKind{}
		for i := range 99 {
			o := soundtest.Other{At: unit.Duration(2*i) + 2, Kind: soundtest.OtherKind(rng.IntN(5)), Level: -20 + 18*rng.Float64()}
			c.Others = append(c.Others, o)
			kinds[o.At] = o.Kind
			if i%3 == 0 {
				s := varied(i, rng)
				s.Release, s.Impact, s.Creaks = o.At+unit.Duration(0.7+0.6*rng.Float64()), unit.Duration(0.105*(1+0.02*rng.NormFloat64())), nil
				if i%7 == 0 {
					s.Impact = 0
				}
				c.Shots = append(c.Shots, s)
			}
		}
		h := listen(t, soundtest.Synthesise(c), 48000, sound.Config{SkipModes: true})
		used := make([]bool, len(h.Shots))
		total += len(c.Shots)
		for _, s := range c.Shots {
			hit := false
			for i, got := range h.Shots {
				if !used[i] && math.Abs(float64(got.Release-s.Release)) < 0.010 {
					used[i], hit = true, true
				}
			}
			if hit {
				found++
			} else {
				t.Logf("seed %d: missed %.3f s: %s", seed, float64(s.Release), around(h, s.Release))
			}
		}
		for i, s := range h.Shots {
			if !used[i] {
				wrong++
				near := unit.Duration(2 * math.Round(float64(s.Release)/2))
				t.Logf("seed %d: false shot at %.3f s, sound of kind %d: %s", seed, float64(s.Release), kinds[near], s.Why)
			}
		}
	}
	t.Logf("found %d of %d, %d false", found, total, wrong)
	if wrong > 1 || float64(found) < 0.99*float64(total) {
		t.Errorf("found %d of %d shots and %d false ones in ten minutes", found, total, wrong)
	}
}

func around(h sound.Hearing, at unit.Duration) string {
	text := ""
	for _, e := range h.Events {
		if math.Abs(float64(e.At-at)) < 0.6 {
			text += fmt.Sprintf("%.3f %s; ", float64(e.At), e.Kind)
		}
	}
	return text
}

// A clicker on which wind or a foot happens to lie is no release: the shot
// after it, 25 dB louder, is found. These sessions once lost one.
func TestWindUnderTheClicker(t *testing.T) {
	for _, c := range []struct {
		rate int
		seed uint64
	}{{16000, 1}, {22050, 31}, {48000, 31}} {
		for _, brace := range []unit.Length{205, 220, 235} {
			x := soundtest.DefaultBow().Session(brace*unit.Millimetre, 6, 1.5, c.rate, c.seed)
			if h := listen(t, x, c.rate, sound.Config{SkipModes: true}); len(h.Shots) != 6 {
				t.Errorf("%d Hz, seed %d, %v: %d shots, wanted 6", c.rate, c.seed, brace*unit.Millimetre, len(h.Shots))
			}
		}
	}
}
