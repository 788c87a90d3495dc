package sound_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"tautline/sound"
	"tautline/unit"
)

// Run one with: go test -fuzz FuzzMP3 -fuzztime 5m -fuzzminimizetime 10x ./sound
// or all, with their executions counted: make fuzz.

// fuzzLimits keep one input cheap: what is tried is the decoder, not the
// length of the sound.
var fuzzLimits = sound.Limits{MaxDuration: 3 * unit.Second, MaxBytes: 1 << 22, Stall: 5 * time.Second, Total: 10 * time.Second}

const (
	fuzzTime  = 10 * time.Second // per input (bars.md T20)
	fuzzAlloc = 256 << 20        // bytes per input (bars.md T20)
)

func fuzzDecoder(f *testing.F, mend func([]byte) []byte, seeds ...string) {
	for _, s := range seeds {
		files, err := filepath.Glob(s)
		if err != nil {
			f.Fatal(err)
		}
		for _, name := range files {
			b, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(b[:min(len(b), 6000)])
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if mend != nil {
			b = mend(b)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		begin := time.Now()
		h, err := sound.Listen(context.Background(), bytes.NewReader(b), sound.Config{Limits: fuzzLimits})
		runtime.ReadMemStats(&after)
		if d := time.Since(begin); d > fuzzTime {
			t.Fatalf("%v for %d bytes", d, len(b))
		}
		if m := after.TotalAlloc - before.TotalAlloc; m > fuzzAlloc {
			t.Fatalf("%d MiB for %d bytes (%v)", m>>20, len(b), err)
		}
		if err != nil && (sound.ErrorCode(err) == "" || sound.ErrorCode(err) == sound.CodeTimeout || h.Duration != 0) {
			t.Fatalf("%d bytes: %v, heard %v", len(b), err, h.Duration)
		}
	})
}

func FuzzWAV(f *testing.F) {
	f.Add(wave(format(1, 1, 48000, 16), chunk("data", 2000, pcm16(1000))))
	f.Add(wave(chunk("abcd", 3, []byte{1, 2, 3, 0}), format(3, 2, 44100, 32), chunk("data", 80, make([]byte, 80))))
	fuzzDecoder(f, nil)
}

func FuzzFLAC(f *testing.F) {
	f.Add([]byte("fLaC\x80\x00\x00\x22"))
	fuzzDecoder(f, nil, "testdata/coded/*.flac")
}

func FuzzOgg(f *testing.F) {
	fuzzDecoder(f, nil, "testdata/coded/*.ogg", "testdata/coded/*.opus")
}

// FuzzOggMended puts the right checksum on every page: else hardly any change
// would get past the pages to the codecs.
func FuzzOggMended(f *testing.F) {
	fuzzDecoder(f, mendOgg, "testdata/coded/*.ogg", "testdata/coded/*.opus")
}

func mendOgg(b []byte) []byte {
	b = bytes.Clone(b)
	for i := 0; i+27 < len(b) && string(b[i:i+4]) == "OggS"; {
		end := i + 27 + int(b[i+26])
		for k := i + 27; k < min(i+27+int(b[i+26]), len(b)); k++ {
			end += int(b[k])
		}
		end = min(end, len(b))
		clear(b[i+22 : i+26])
		binary.LittleEndian.PutUint32(b[i+22:], sound.OggCRC(0, b[i:end]))
		i = end
	}
	return b
}

func FuzzMP3(f *testing.F) { fuzzDecoder(f, nil, "testdata/coded/*.mp3") }
