package sound_test

import (
	"bytes"
	"context"
	"math"
	"reflect"
	"slices"
	"testing"

	"tautline/sound"
	"tautline/sound/soundtest"
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

// A shot measured in its own clip must come out as in the whole recording.
// A bounded picture keeps its scales and its strongest values.
func TestBoundedSpectrogram(t *testing.T) {
	x := make([]float64, 48000)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 3000 * float64(i) / 48000)
	}
	whole := sound.Clip{Rate: 48000, Samples: x}.Spectrogram(-100)
	small := whole.Bounded(50, 60, 8000)
	if len(small.Level) > 50 || len(small.Level[0]) > 60 {
		t.Fatalf("%d × %d, wanted at most 50 × 60", len(small.Level), len(small.Level[0]))
	}
	if top := small.Frequency * float64(len(small.Level[0])); top < 8000 {
		t.Errorf("it reaches up to %g Hz only", top)
	}
	if end := float64(small.Start) + float64(small.Step)*float64(len(small.Level)); end < 0.98 {
		t.Errorf("it ends at %g s, the sound at 1 s", end)
	}
	row := int(3000 / small.Frequency)
	for i, c := range small.Level {
		if math.Abs(float64(slices.Max(c))+3) > 0.1 || slices.Index(c, slices.Max(c)) != row {
			t.Fatalf("column %d: %v dB in row %d; wanted −3 in row %d", i, slices.Max(c), slices.Index(c, slices.Max(c)), row)
		}
	}
}

// Several pieces of one pass are the pieces that single passes give.
func TestExtractAllIsThePieces(t *testing.T) {
	x := soundtest.Synthesise(soundtest.Config{Seed: 5, Duration: 6, Shots: []soundtest.Shot{{Release: 3}}})
	var file bytes.Buffer
	if err := sound.EncodeWAV(&file, x, 48000); err != nil {
		t.Fatal(err)
	}
	spans := []sound.Span{{From: 4, To: 5.5}, {From: -1, To: 0.25}, {From: 4.5, To: 5}, {From: 5.9, To: 9}}
	clips, err := sound.ExtractAll(t.Context(), bytes.NewReader(file.Bytes()), spans, sound.Config{})
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range spans {
		one, err := sound.Extract(t.Context(), bytes.NewReader(file.Bytes()), s.From, s.To, sound.Config{})
		if err != nil || one.Start != clips[i].Start || !slices.Equal(one.Samples, clips[i].Samples) {
			t.Errorf("piece %d: %d samples from %v, alone %d from %v, %v", i, len(clips[i].Samples), clips[i].Start, len(one.Samples), one.Start, err)
		}
	}
	for name, s := range map[string][]sound.Span{"behind the end": {{From: 1, To: 2}, {From: 7, To: 8}}, "too long": {{From: 0, To: 11}}, "too many": make([]sound.Span, 500)} {
		if _, err := sound.ExtractAll(t.Context(), bytes.NewReader(file.Bytes()), s, sound.Config{}); sound.ErrorCode(err) != sound.CodeConfig {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestClipMeasuresAsListenDoes(t *testing.T) {
	var file bytes.Buffer
	if err := sound.EncodeWAV(&file, soundtest.DefaultBow().Session(0.22, 2, 2, 48000, 4), 48000); err != nil {
		t.Fatal(err)
	}
	h, err := sound.Listen(t.Context(), bytes.NewReader(file.Bytes()), sound.Config{})
	if err != nil || len(h.Shots) != 2 {
		t.Fatal(len(h.Shots), err)
	}
	s := h.Shots[1]
	from, to := sound.Around(s.Release)
	c, err := sound.Extract(t.Context(), bytes.NewReader(file.Bytes()), from, to, sound.Config{})
	if err != nil {
		t.Fatal(err)
	}
	if again := c.Measure(s.Release, s.Impact); !reflect.DeepEqual(s.Measures, again) {
		t.Errorf("the clip says otherwise:\n%+v\n%+v", s.Measures, again)
	}
	d := c.Decay(s.Release, s.Impact, 0)
	if d.Early != s.DecayEarly || len(d.Curve) < 20 || d.Curve[0] != 0 || math.IsInf(d.Noise, 0) {
		t.Errorf("decay for the picture: %v of %d values, noise %g; the shot's is %v", d.Early, len(d.Curve), d.Noise, s.DecayEarly)
	}
	for i := 1; i < 10; i++ {
		if d.Curve[i] > d.Curve[i-1] {
			t.Errorf("the decay curve rises at %d", i)
		}
	}
}

// Third octaves of one setting and of the same 3 dB louder: 3 dB apart in
// every band, and together the energy between 45 Hz and 11 kHz.
func TestThirdOctaves(t *testing.T) {
	var clips, louder []sound.Clip
	var releases []unit.Duration
	total := 0.0
	for seed := range uint64(4) {
		x := soundtest.Synthesise(soundtest.Config{Seed: seed, Shots: []soundtest.Shot{{Release: 0.5, Slip: -90}}, Duration: 0.8})
		y := make([]float64, len(x))
		for i, v := range x {
			y[i] = v * math.Pow(10, 3.0/20)
		}
		clips, louder = append(clips, sound.Clip{Rate: 48000, Samples: x}), append(louder, sound.Clip{Rate: 48000, Samples: y})
		releases = append(releases, 0.5)
		total += sound.LevelsOf(x[24000:24000+3840], 48000).ExposureZ / 4
	}
	a, b := sound.ThirdOctaves(clips, releases), sound.ThirdOctaves(louder, releases)
	if a.Shots != 4 || len(a.Centre) != 24 {
		t.Fatalf("%d shots, %d bands", a.Shots, len(a.Centre))
	}
	sum := 0.0
	for k := range a.Centre {
		if math.Abs(b.Mean[k]-a.Mean[k]-3) > 1e-9 || a.Low[k] > a.Mean[k] || a.High[k] < a.Mean[k] {
			t.Errorf("%.0f Hz: %.2f (%.2f…%.2f) and %.2f dB", a.Centre[k], a.Mean[k], a.Low[k], a.High[k], b.Mean[k])
		}
		sum += math.Pow(10, a.Mean[k]/10)
	}
	// 0.7 dB: what the burst has beyond 11 kHz, and means of dB against the mean of one
	if d := 10*math.Log10(sum) - total; math.Abs(d) > 0.7 {
		t.Errorf("the bands hold %.2f dB more than the whole", d)
	}
}
