package sound_test

import (
	"bytes"
	"context"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"tautline/sound"
	"tautline/sound/soundtest"
)

const recordings = "../../shared/reference/recordings/"

// reference opens a file of the shared reference folder, or skips the test.
func reference(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Skipf("reference file %s is missing beside this clone: %v", name, err)
	}
	return b
}

// decode reads a whole recording into interleaved samples.
func decode(b []byte) (samples []float64, s *sound.Stream, err error) {
	s, err = sound.Open(context.Background(), bytes.NewReader(b), sound.Limits{})
	if err != nil {
		return nil, nil, err
	}
	defer s.Close()
	buf := make([]float64, 1000)
	for {
		n, err := s.Read(buf)
		samples = append(samples, buf[:n*s.Channels()]...)
		if err == io.EOF {
			return samples, s, nil
		}
		if err != nil {
			return samples, s, err
		}
	}
}

func mustDecode(t testing.TB, b []byte) ([]float64, *sound.Stream) {
	t.Helper()
	x, s, err := decode(b)
	if err != nil {
		t.Fatal(err)
	}
	return x, s
}

// codedTruth is the sound that testdata/coded/ holds in other formats.
func codedTruth(rate int) []float64 {
	return soundtest.Synthesise(soundtest.Config{
		Rate: rate, Duration: 0.3, Seed: 7, Noise: soundtest.Noise{Pink: 0.001},
		Shots: []soundtest.Shot{{Release: 0.1, Impact: 0.1, Modes: []soundtest.Mode{{Frequency: 187, Damping: 0.012, Amplitude: 0.1}}}},
	})
}

func TestDecodersAgreeWithTheSource(t *testing.T) {
	tests := []struct {
		file     string
		format   sound.Format
		rate     int // of the source
		channels int
		out      int     // rate given
		exact    bool    // lossless, to the 16-bit step
		likeness float64 // correlation with the source; a burst of noise at these bit rates (our own choice)
	}{
		{"shot.flac", sound.FLAC, 22050, 1, 22050, true, 0.99999},
		{"stereo.flac", sound.FLAC, 16000, 2, 16000, true, 0.99999},
		{"shot.ogg", sound.Vorbis, 22050, 1, 22050, false, 0.97},
		{"stereo.ogg", sound.Vorbis, 44100, 2, 44100, false, 0.97},
		{"shot.mp3", sound.MP3, 44100, 1, 44100, false, 0.97},
		{"stereo.mp3", sound.MP3, 44100, 2, 44100, false, 0.97},
		{"lsf24.mp3", sound.MP3, 24000, 1, 24000, false, 0.9},
		{"lsf16.mp3", sound.MP3, 16000, 1, 16000, false, 0.9},
		{"celt.opus", sound.Opus, 48000, 1, 48000, false, 0.97},
		{"stereo.opus", sound.Opus, 48000, 2, 48000, false, 0.97},
		{"hybrid.opus", sound.Opus, 48000, 1, 48000, false, 0.7},
		{"silk.opus", sound.Opus, 16000, 1, 48000, false, 0.7},
	}
	for _, tt := range tests {
		t.Run(tt.file, func(t *testing.T) {
			b, err := os.ReadFile(filepath.Join("testdata/coded", tt.file))
			if err != nil {
				t.Fatal(err)
			}
			got, s := mustDecode(t, b)
			if s.Format() != tt.format || s.SampleRate() != tt.out || s.Channels() != tt.channels {
				t.Fatalf("%s, %d Hz, %d channels; want %s, %d, %d", s.Format(), s.SampleRate(), s.Channels(), tt.format, tt.out, tt.channels)
			}
			left, right := split(got, tt.channels)
			want := resampled(codedTruth(tt.rate), tt.rate, tt.out)
			if tt.exact {
				compareExact(t, left, want)
			}
			r, lag := likeness(left, want)
			if r < tt.likeness {
				t.Errorf("correlation with the source %.4f at lag %d, want ≥ %.2f", r, lag, tt.likeness)
			}
			if tt.format != sound.MP3 && (math.Abs(float64(lag)) > 0.0005*float64(tt.out) || len(left) != len(want)) {
				t.Errorf("shifted by %d frames, %d frames long; want 0 and %d: padding is not trimmed", lag, len(left), len(want))
			}
			if right != nil {
				// the second channel gets fewer bits: 0.9
				if r, _ := likeness(right, left); r > -0.9 {
					t.Errorf("right channel is not the left one turned over: correlation %.3f", r)
				}
			}
		})
	}
}

func split(x []float64, channels int) (left, right []float64) {
	if channels == 1 {
		return x, nil
	}
	for i := 0; i+1 < len(x); i += 2 {
		left, right = append(left, x[i]), append(right, x[i+1])
	}
	return left, right
}

// resampled interpolates linearly; only used where the codec itself keeps
// nothing above 8 kHz.
func resampled(x []float64, from, to int) []float64 {
	if from == to {
		return x
	}
	out := make([]float64, len(x)*to/from)
	for i := range out {
		p := float64(i) * float64(from) / float64(to)
		k := int(p)
		f := p - float64(k)
		out[i] = (1-f)*x[k] + f*x[min(k+1, len(x)-1)]
	}
	return out
}

func compareExact(t *testing.T, got, want []float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d frames, want %d", len(got), len(want))
	}
	for i := range got {
		if d := math.Abs(got[i] - want[i]); d > 0.5/32768+1e-12 {
			t.Fatalf("frame %d is off by %g, more than half a 16-bit step", i, d)
		}
	}
}

// likeness is the extreme normalised cross-correlation and its lag.
func likeness(a, b []float64) (r float64, lag int) {
	for l := -300; l <= 3000; l++ {
		var ab, aa, bb float64
		for i := max(0, -l); i < len(b) && i+l < len(a); i++ {
			ab += a[i+l] * b[i]
			aa += a[i+l] * a[i+l]
			bb += b[i] * b[i]
		}
		if c := ab / math.Sqrt(aa*bb+1e-30); math.Abs(c) > math.Abs(r) {
			r, lag = c, l
		}
	}
	return r, lag
}

// The reference recordings exist as Ogg Vorbis and, decoded by another
// program, as 32-bit float WAV (recordings/PROVENANCE.md, with lengths).
func TestVorbisAgreesWithReference(t *testing.T) {
	for name, frames := range map[string]int{"wesnoth-bow": 32352, "wesnoth-crossbow": 21952, "flare-shoot": 9905} {
		coded, _ := mustDecode(t, reference(t, recordings+name+".ogg"))
		plain, _ := mustDecode(t, reference(t, recordings+name+".wav"))
		if len(coded) != frames || len(plain) != frames {
			t.Fatalf("%s: %d frames from Ogg, %d from WAV, want %d", name, len(coded), len(plain), frames)
		}
		for i := range coded {
			// 1e-5: two decoders of one bit stream, 32-bit arithmetic
			if d := math.Abs(coded[i] - plain[i]); d > 1e-5 {
				t.Fatalf("%s: frame %d differs by %g", name, i, d)
			}
		}
	}
}

// The MP3 library plays noise for this file (correlation with the source 0.2;
// lame decodes it at 0.93): better no answer than a wrong one.
func TestMP3WithLostPaddingIsRefused(t *testing.T) {
	b, err := os.ReadFile("testdata/coded/lsf.mp3")
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := decode(b); sound.ErrorCode(err) != sound.CodeUnsupported {
		t.Errorf("got %v, want it refused", err)
	}
}

func TestWaveLayouts(t *testing.T) {
	want := codedTruth(16000)[:2000]
	for _, l := range []sound.WaveLayout{
		{Rate: 16000, Channels: 1, Bits: 8}, {Rate: 16000, Channels: 2, Bits: 16},
		{Rate: 16000, Channels: 1, Bits: 24}, {Rate: 16000, Channels: 2, Bits: 32},
		{Rate: 16000, Channels: 1, Bits: 32, Float: true}, {Rate: 16000, Channels: 2, Bits: 64, Float: true},
	} {
		var b bytes.Buffer
		if err := sound.EncodeWaveLayout(&b, want, l); err != nil {
			t.Fatal(err)
		}
		got, s := mustDecode(t, b.Bytes())
		if s.Bits() != l.Bits || s.Channels() != l.Channels || len(got) != len(want) {
			t.Fatalf("%+v: read as %d bits, %d channels, %d values", l, s.Bits(), s.Channels(), len(got))
		}
		// half a step of the width; float32 has 24 bits of mantissa
		step := math.Pow(2, -float64(l.Bits))
		if l.Float {
			step = math.Pow(2, -25)
		}
		for i := range want {
			if math.Abs(got[i]-want[i]) > step*1.001 {
				t.Fatalf("%+v: value %d is %g, want %g", l, i, got[i], want[i])
			}
		}
	}
}

// The same shot must be heard alike in every format: onset to 3 ms (MP3 smears a
// blow over part of its 26 ms blocks; the silence it begins with is taken off
// as the correlation with the source finds it), level to 1 dB, which is what
// these bit rates leave of a burst of noise.
func TestHeardAlikeInEveryFormat(t *testing.T) {
	for _, file := range []string{"shot.flac", "stereo.flac", "shot.ogg", "stereo.ogg", "shot.mp3", "stereo.mp3", "celt.opus", "stereo.opus"} {
		x, s := mustDecode(t, coded(t, file))
		rate := s.SampleRate()
		left, _ := split(x, s.Channels())
		_, lag := likeness(left, codedTruth(rate))
		delay := float64(lag) / float64(rate)
		plain := listen(t, codedTruth(rate), rate, sound.Config{})
		h, err := sound.Listen(t.Context(), bytes.NewReader(coded(t, file)), sound.Config{Channel: sound.Left})
		if err != nil || len(h.Shots) != 1 || len(plain.Shots) != 1 {
			t.Fatalf("%s: %d shots, %v; %d in the source", file, len(h.Shots), err, len(plain.Shots))
		}
		got, want := h.Shots[0], plain.Shots[0]
		if d := float64(got.Release-want.Release) - delay; math.Abs(d) > 0.003 {
			t.Errorf("%s: release %.4f s off the source's", file, d)
		}
		if d := got.Exposure.Value - want.Exposure.Value; math.Abs(d) > 1 {
			t.Errorf("%s: level %.2f dB off the source's", file, d)
		}
	}
}
