package sound_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tautline/sound"
	"tautline/unit"
)

// wave builds a WAV file from chunks, with sizes as given.
func wave(chunks ...[]byte) []byte {
	body := bytes.Join(chunks, nil)
	return append(append([]byte("RIFF"), binary.LittleEndian.AppendUint32(nil, uint32(4+len(body)))...), append([]byte("WAVE"), body...)...)
}

func chunk(id string, size int, body []byte) []byte {
	return append(append([]byte(id), binary.LittleEndian.AppendUint32(nil, uint32(size))...), body...)
}

// format makes a format chunk.
func format(tag, channels, rate, bits int) []byte {
	le := binary.LittleEndian
	frame := channels * ((bits + 7) / 8)
	b := le.AppendUint16(nil, uint16(tag))
	b = le.AppendUint16(b, uint16(channels))
	b = le.AppendUint32(b, uint32(rate))
	b = le.AppendUint32(b, uint32(rate*frame))
	b = le.AppendUint16(b, uint16(frame))
	return chunk("fmt ", 16, le.AppendUint16(b, uint16(bits)))
}

func pcm16(n int) []byte {
	var b []byte
	for i := range n {
		b = binary.LittleEndian.AppendUint16(b, uint16(int16(1000*math.Sin(float64(i)))))
	}
	return b
}

func float32s(v ...float32) []byte {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
	}
	return b
}

// fuzzSeed reads a crasher in the Go fuzzer's corpus format.
func fuzzSeed(t testing.TB, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	line := strings.TrimSuffix(strings.TrimPrefix(strings.Split(string(text), "\n")[1], "[]byte("), ")")
	s, err := strconv.Unquote(line)
	if err != nil {
		t.Fatal(err)
	}
	return []byte(s)
}

func coded(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata/coded", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Issue 4: bad files give a clear error, no crash, nothing half-stored.
func TestBadFiles(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	good := wave(format(1, 1, 48000, 16), chunk("data", 2000, pcm16(1000)))
	cut := func(b []byte, n int) []byte { return b[:n] }
	opus := coded(t, "celt.opus")
	flipped := bytes.Clone(coded(t, "shot.ogg"))
	flipped[len(flipped)-200] ^= 0x40
	tests := []struct {
		name string
		file []byte
		code sound.Code
		says string // part of the message
	}{
		{"nothing", nil, sound.CodeEmpty, "0 bytes"},
		{"text", []byte("brace height 22 cm\n"), sound.CodeUnknown, "WAV, FLAC, Ogg Vorbis, Opus or MP3"},
		{"a JPEG named .wav", []byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01"), sound.CodeUnsupported, "JPEG"},
		{"an M4A of a phone", []byte("\x00\x00\x00\x20ftypM4A \x00\x00"), sound.CodeUnsupported, "browser"},
		{"RIFF that is no WAVE", []byte("RIFF\x24\x00\x00\x00AVI LIST"), sound.CodeUnsupported, "AVI"},
		{"cut in the header", cut(good, 30), sound.CodeDamaged, "ends"},
		{"cut before the sound", cut(good, 36), sound.CodeDamaged, "sound chunk"},
		{"sound before format", wave(chunk("data", 4, pcm16(2))), sound.CodeDamaged, "before its format"},
		{"no sound chunk", wave(format(1, 1, 48000, 16)), sound.CodeDamaged, "sound chunk"},
		{"0 samples", wave(format(1, 1, 48000, 16), chunk("data", 0, nil)), sound.CodeEmpty, "0 samples"},
		{"0 samples and a list", wave(format(1, 1, 48000, 16), chunk("data", 0, nil), chunk("LIST", 4, []byte("INFO"))), sound.CodeEmpty, "0 samples"},
		{"NaN", wave(format(3, 1, 48000, 32), chunk("data", 12, float32s(0, nan, 0))), sound.CodeSamples, "NaN"},
		{"infinity", wave(format(3, 1, 48000, 32), chunk("data", 12, float32s(0, 0, inf))), sound.CodeSamples, "Inf"},
		{"float scaled to integers", wave(format(3, 1, 48000, 32), chunk("data", 8, float32s(0, 20000))), sound.CodeSamples, "full scale"},
		{"1-bit", wave(format(1, 1, 48000, 1), chunk("data", 4, pcm16(2))), sound.CodeUnsupported, "1-bit"},
		{"500 channels", wave(format(1, 500, 48000, 16), chunk("data", 1000, pcm16(500))), sound.CodeLimit, "500 channels"},
		{"no channels", wave(format(1, 0, 48000, 16), chunk("data", 4, pcm16(2))), sound.CodeDamaged, "0 channels"},
		{"rate 0", wave(format(1, 1, 0, 16), chunk("data", 4, pcm16(2))), sound.CodeLimit, "0 Hz"},
		{"rate 4 GHz", wave(format(1, 1, 4000000000, 16), chunk("data", 4, pcm16(2))), sound.CodeLimit, "96000"},
		{"ADPCM", wave(format(2, 1, 48000, 4), chunk("data", 4, pcm16(2))), sound.CodeUnsupported, "ADPCM"},
		{"format chunk of 4 GB", wave(chunk("fmt ", math.MaxUint32, nil)), sound.CodeDamaged, "format chunk"},
		{"FLAC cut in its header", cut(coded(t, "shot.flac"), 20), sound.CodeDamaged, "FLAC"},
		{"FLAC of 8 lying channels", []byte("fLaC\x80\x00\x00\x22\x10\x00\x10\x00\x00\x00\x00\x00\x00\x00\x0a\xc4\x4e\xf0\x00\x00\x00\x00" + strings.Repeat("\x00", 16)), sound.CodeLimit, "8 channels"},
		{"Vorbis cut in its headers", cut(coded(t, "shot.ogg"), 100), sound.CodeDamaged, "Ogg Vorbis"},
		{"Vorbis with a flipped bit", flipped, sound.CodeDamaged, "checksum"},
		{"Opus cut in its header", cut(coded(t, "celt.opus"), 40), sound.CodeDamaged, "Opus"},
		{"Opus without its pages of sound", cut(opus, bytes.LastIndex(opus, []byte("OggS"))), sound.CodeEmpty, "0 samples"},
		{"MP3 without a frame", append([]byte("ID3\x04\x00\x00\x00\x00\x00\x04"), make([]byte, 3000)...), sound.CodeDamaged, "frame"},
		{"the crasher of the Vorbis library", fuzzSeed(t, "testdata/fuzz/FuzzOgg/oggvorbis-panic"), sound.CodeDamaged, "Ogg"},
		{"the crasher of the MP3 library", fuzzSeed(t, "testdata/fuzz/FuzzMP3/go-mp3-panic"), sound.CodeDecoder, "damaged"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h, err := sound.Listen(context.Background(), bytes.NewReader(tt.file), sound.Config{})
			if sound.ErrorCode(err) != tt.code {
				t.Fatalf("code %q from %v, want %q (heard %v)", sound.ErrorCode(err), err, tt.code, h.Duration)
			}
			var fe *sound.FileError
			errors.As(err, &fe)
			if !strings.Contains(err.Error(), tt.says) || fe.Field == "" || fe.Hint == "" || fe.Reason == "" {
				t.Errorf("%q lacks %q, a field or a hint", err, tt.says)
			}
			if len(h.Shots) != 0 || h.Duration != 0 {
				t.Error("a part of the hearing came back with the error")
			}
		})
	}
}

// What can be read of a damaged recording is read, with a warning.
func TestLenientFiles(t *testing.T) {
	ext := append(format(0xFFFE, 1, 48000, 24)[8:], 22, 0, 20, 0, 4, 0, 0, 0)
	ext = append(ext, "\x01\x00\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"...)
	rf64 := wave(chunk("ds64", 28, append(make([]byte, 8), append(binary.LittleEndian.AppendUint64(nil, 2000), make([]byte, 12)...)...)),
		format(1, 1, 48000, 16), chunk("data", math.MaxUint32, pcm16(1000)), chunk("LIST", 4, []byte("INFO")))
	copy(rf64, "RF64")
	flac, ogg, mp3 := coded(t, "shot.flac"), reference(t, recordings+"wesnoth-bow.ogg"), coded(t, "shot.mp3")
	tests := []struct {
		name   string
		file   []byte
		frames int // −1: some
		warns  bool
	}{
		{"size 0, as a recorder that was cut off leaves it", wave(format(1, 1, 48000, 16), chunk("data", 0, pcm16(1000))), 1000, false},
		{"size all ones", wave(format(1, 1, 48000, 16), chunk("data", math.MaxUint32, pcm16(1000))), 1000, false},
		{"size too large", wave(format(1, 1, 48000, 16), chunk("data", 90000, pcm16(1000))), 1000, true},
		{"half a frame at the end", append(wave(format(1, 2, 48000, 16), chunk("data", 0, pcm16(1000))), 1, 2, 3), 500, false},
		{"an odd chunk, padded", wave(chunk("abcd", 3, []byte{1, 2, 3, 0}), format(1, 1, 48000, 16), chunk("data", 2000, pcm16(1000))), 1000, false},
		{"an odd chunk, pad forgotten", wave(chunk("abcd", 3, []byte{1, 2, 3}), format(1, 1, 48000, 16), chunk("data", 2000, pcm16(1000))), 1000, false},
		{"a chunk after the sound", wave(format(1, 1, 48000, 16), chunk("data", 2000, pcm16(1000)), chunk("LIST", 4, []byte("INFO"))), 1000, false},
		{"extensible, 20 of 24 bits", wave(chunk("fmt ", 40, ext), chunk("data", 30, make([]byte, 30))), 10, false},
		{"RF64", rf64, 1000, false},
		{"FLAC cut in the sound", flac[:len(flac)-300], 4096, true},
		{"Vorbis cut in the sound", ogg[:len(ogg)*3/4], -1, true},
		{"MP3 cut in the sound", mp3[:len(mp3)/2], -1, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			x, s, err := decode(tt.file)
			if err != nil {
				t.Fatal(err)
			}
			if n := len(x) / s.Channels(); tt.frames >= 0 && n != tt.frames || n == 0 {
				t.Errorf("%d frames, want %d", n, tt.frames)
			}
			if w := s.Warnings(); (len(w) > 0) != tt.warns {
				t.Errorf("warnings %q, want some: %v", w, tt.warns)
			}
		})
	}
}

// endless gives a WAV header and then noise without end.
type endless struct {
	head *bytes.Reader
	n    byte
}

func (e *endless) Read(p []byte) (int, error) {
	if e.head.Len() > 0 {
		return e.head.Read(p)
	}
	for i := range p {
		e.n = e.n*29 + 7
		p[i] = e.n & 0x3f
	}
	return len(p), nil
}

func newEndless() *endless {
	return &endless{head: bytes.NewReader(wave(format(1, 2, 96000, 16), chunk("data", math.MaxUint32, nil)))}
}

func TestLimitsHold(t *testing.T) {
	for _, c := range []struct {
		name   string
		limits sound.Limits
		field  string
	}{
		{"duration", sound.Limits{MaxDuration: 2 * unit.Second}, "duration"},
		{"bytes", sound.Limits{MaxBytes: 1 << 20}, "file"},
	} {
		_, err := sound.Listen(context.Background(), newEndless(), sound.Config{Limits: c.limits})
		var fe *sound.FileError
		if !errors.As(err, &fe) || fe.Code != sound.CodeLimit || fe.Field != c.field {
			t.Errorf("%s: got %v", c.name, err)
		}
	}
}

// Issue 4: memory does not grow with the recording. What is alive at 96 kHz
// stereo: three seconds of history, and while triggers are judged four bands
// of it with three running sums, 20 MB together; as much at the end as early.
func TestMemoryDoesNotGrow(t *testing.T) {
	var live []float64
	_, err := sound.Listen(context.Background(), newEndless(), sound.Config{
		Limits: sound.Limits{MaxDuration: 40 * unit.Second},
		Progress: func(done, promised unit.Duration) {
			var m runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&m)
			live = append(live, float64(m.HeapAlloc)/(1<<20))
		},
	})
	if sound.ErrorCode(err) != sound.CodeLimit || len(live) < 30 {
		t.Fatalf("%v after %d seconds", err, len(live))
	}
	early, late := slices.Max(live[5:15]), slices.Max(live[len(live)-10:])
	t.Logf("%.1f MiB early, %.1f MiB late", early, late)
	if late > early+2 || late > 40 {
		t.Errorf("%.1f MiB alive early, %.1f MiB late", early, late)
	}
}

func TestListenStopsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	progress := 0
	_, err := sound.Listen(ctx, newEndless(), sound.Config{Progress: func(done, promised unit.Duration) {
		if progress++; progress == 3 {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want the context's error", err)
	}
	if progress < 3 {
		t.Errorf("progress was told %d times", progress)
	}
}

// A reader that fails is no damaged file.
type failing struct{ n int }

var errLine = errors.New("line dropped")

func (f *failing) Read(p []byte) (int, error) {
	if f.n++; f.n == 1 {
		return copy(p, wave(format(1, 1, 48000, 16), chunk("data", 900000, pcm16(1000)))), nil
	}
	return 0, errLine
}

func TestReaderFailureIsReported(t *testing.T) {
	_, err := sound.Listen(context.Background(), &failing{}, sound.Config{})
	if sound.ErrorCode(err) != sound.CodeRead || !errors.Is(err, errLine) {
		t.Errorf("got %v", err)
	}
}

// A slow line is not the decoder's fault: the stall limit counts only the
// decoder's own time.
type slow struct{ r io.Reader }

func (s slow) Read(p []byte) (int, error) {
	time.Sleep(30 * time.Millisecond)
	return s.r.Read(p[:min(len(p), 8000)])
}

func TestSlowReaderIsPatientlyAwaited(t *testing.T) {
	file := wave(format(1, 1, 48000, 16), chunk("data", 64000, pcm16(32000)))
	h, err := sound.Listen(context.Background(), slow{bytes.NewReader(file)}, sound.Config{Limits: sound.Limits{Stall: 10 * time.Millisecond}})
	if err != nil || math.Abs(float64(h.Duration)-32000.0/48000) > 1e-9 {
		t.Errorf("heard %v s, %v", h.Duration, err)
	}
}
