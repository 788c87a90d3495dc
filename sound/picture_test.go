package sound_test

import (
	"bytes"
	"context"
	"math"
	"testing"

	"tautline/sound"
	"tautline/unit"
)

func clipOf(t testing.TB, file string, from, to unit.Duration) sound.Clip {
	t.Helper()
	c, err := sound.Extract(context.Background(), bytes.NewReader(reference(t, recordings+file)), from, to, sound.Config{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// S9 (computed): spectrum peaks of flare-shoot, 0.06–0.40 s, Hann. A 0.34 s
// Hann window has bins of 2.9 Hz; 0.5 Hz and 0.5 dB are for another padding
// and peak reading, in the valley around a line 15 dB stronger.
func TestSpectrumLinesOfFlareShoot(t *testing.T) {
	c := clipOf(t, "flare-shoot.wav", 0, 0.45)
	lines := c.Spectrum(0.06, 0.40).Lines(50, 400, 20, 5)
	want := []sound.Line{{63.3, 0}, {126.8, -14.9}, {293.7, -16.1}, {178.3, -27.3}, {229.1, -27.7}}
	if len(lines) != len(want) {
		t.Fatalf("%d lines: %v", len(lines), lines)
	}
	for i, w := range want {
		if math.Abs(lines[i].Frequency-w.Frequency) > 0.5 || math.Abs(lines[i].Level-w.Level) > 0.5 {
			t.Errorf("line %d: %.1f Hz %.1f dB, want %.1f, %.1f", i+1, lines[i].Frequency, lines[i].Level, w.Frequency, w.Level)
		}
	}
}

// S9 (computed): similarity of unrelated sounds 0.24 and 0.31; ±0.02 for the
// other way of resampling and of bounding the overlap. A score must rank
// them below takes of one sound, ignore gain and survive 22.05 ↔ 44.1 kHz.
func TestSimilarity(t *testing.T) {
	bow := clipOf(t, "wesnoth-bow.wav", 0.15, 0.35)
	flare := clipOf(t, "flare-shoot.wav", 0, 0.45)
	a := sound.Similarity(bow, flare)
	b := sound.Similarity(clipOf(t, "wesnoth-bow.wav", 0, 0.4), clipOf(t, "wesnoth-crossbow.wav", 0, 0.2))
	if math.Abs(a-0.24) > 0.02 || math.Abs(b-0.31) > 0.02 {
		t.Errorf("unrelated sounds score %.3f and %.3f, want 0.24 and 0.31", a, b)
	}
	// another take: −14 dB, other polarity, half the rate, noise 20 dB below
	take := sound.Clip{Rate: bow.Rate / 2}
	for i := 0; i+1 < len(bow.Samples); i += 2 {
		noise := 0.01 * math.Sin(float64(i*i%977))
		take.Samples = append(take.Samples, -0.2*(bow.Samples[i]+bow.Samples[i+1])/2+0.2*noise)
	}
	if s := sound.Similarity(bow, take); s < 0.8 {
		t.Errorf("a take of one sound scores %.3f", s)
	}
	louder := sound.Clip{Rate: bow.Rate}
	for _, v := range bow.Samples {
		louder.Samples = append(louder.Samples, 3*v)
	}
	if s := sound.Similarity(louder, flare); math.Abs(s-a) > 1e-9 {
		t.Errorf("gain changes the score from %.6f to %.6f", a, s)
	}
	coded := clipOf(t, "wesnoth-bow.ogg", 0.15, 0.35)
	if s := sound.Similarity(bow, coded); s < 0.99 {
		t.Errorf("the same sound from another file scores %.3f", s)
	}
}

// A full-scale sine reads −3.01 dB in the spectrogram and the spectrum, at
// its frequency; the picture's scales would lie otherwise.
func TestPictureScales(t *testing.T) {
	c := sound.Clip{Rate: 48000, Start: 7}
	for i := range 24000 {
		c.Samples = append(c.Samples, math.Sin(2*math.Pi*3000*float64(i)/48000))
	}
	g := c.Spectrogram(-100)
	row := int(math.Round(3000 / g.Frequency))
	if l := float64(g.Level[10][row]); math.Abs(l+3.01) > 0.05 {
		t.Errorf("spectrogram says %.2f dB", l)
	}
	lines := c.Spectrum(7, 7.5).Lines(100, 20000, 100, 1)
	if len(lines) != 1 || math.Abs(lines[0].Frequency-3000) > 0.1 {
		t.Errorf("spectrum says %v", lines)
	}
	e := c.Envelope(10)
	if len(e.Max) != 10 || math.Abs(float64(e.Max[3])-1) > 0.01 || math.Abs(float64(e.Min[3])+1) > 0.01 {
		t.Errorf("envelope says %v %v", e.Min, e.Max)
	}
}

// A piece of the recording must be the recording's own samples.
func TestExtractIsThePiece(t *testing.T) {
	file := reference(t, recordings+"wesnoth-bow.wav")
	all, _ := mustDecode(t, file)
	c, err := sound.Extract(context.Background(), bytes.NewReader(file), 0.2, 0.3, sound.Config{})
	if err != nil {
		t.Fatal(err)
	}
	first := int(math.Round(float64(c.Start) * 44100))
	if first != 8820 || len(c.Samples) != 4410 {
		t.Fatalf("%d samples from %d, want 4410 from 8820", len(c.Samples), first)
	}
	for i, v := range c.Samples {
		if v != all[first+i] {
			t.Fatalf("sample %d is not the recording's", i)
		}
	}
	if _, err := sound.Extract(context.Background(), bytes.NewReader(file), 5, 6, sound.Config{}); sound.ErrorCode(err) != sound.CodeConfig {
		t.Errorf("behind the end: %v", err)
	}
	if _, err := sound.Extract(context.Background(), bytes.NewReader(file), 0, 60, sound.Config{}); sound.ErrorCode(err) != sound.CodeConfig {
		t.Errorf("a minute: %v", err)
	}
}
