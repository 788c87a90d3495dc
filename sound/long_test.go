package sound_test

import (
	"bytes"
	"io"
	"math"
	"os"
	"runtime"
	"testing"
	"time"

	"tautline/sound"
	"tautline/sound/soundtest"
	"tautline/unit"
)

// repeated reads a header, then the same bytes so many times.
type repeated struct {
	head  *bytes.Reader
	block []byte
	times int
	at    int
}

func (r *repeated) Read(p []byte) (int, error) {
	if n, err := r.head.Read(p); err == nil {
		return n, nil
	}
	if r.at == len(r.block) {
		r.at, r.times = 0, r.times-1
	}
	if r.times == 0 {
		return 0, io.EOF
	}
	n := copy(p, r.block[r.at:])
	r.at += n
	return n, nil
}

// TestHalfAnHour listens to the longest recording that is read, 30 minutes of
// stereo at 96 kHz (691 MB), a shot every 15 s: each is found, and what is
// alive stays far below the file:
//
//	TAUTLINE_LONG=1 go test -run TestHalfAnHour -v ./sound
//
// What is kept: three seconds of history and its bands while a trigger is
// judged (20 MB), the overview in 5 ms steps (3 MB), the features.
func TestHalfAnHour(t *testing.T) {
	blocks := 2 // 30 s
	if os.Getenv("TAUTLINE_LONG") != "" {
		blocks = 120
	}
	const rate, every = 96000, 15
	mono := soundtest.Synthesise(soundtest.Config{Rate: rate, Duration: every, Seed: 4, Noise: soundtest.Noise{Pink: 0.001},
		Shots: []soundtest.Shot{{Release: 5, Impact: 0.12, Clicker: 0.2}}})
	stereo := make([]float64, 0, 2*len(mono))
	for _, x := range mono {
		stereo = append(stereo, x, x)
	}
	var file bytes.Buffer
	if err := sound.EncodeWaveLayout(&file, stereo, sound.WaveLayout{Rate: rate, Channels: 2, Bits: 16}); err != nil {
		t.Fatal(err)
	}
	source := &repeated{head: bytes.NewReader(wave(format(1, 2, rate, 16), chunk("data", math.MaxUint32, nil))), block: file.Bytes()[44:], times: blocks}
	var most, before runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	begin, told := time.Now(), unit.Duration(0)
	h, err := sound.Listen(t.Context(), source, sound.Config{SkipModes: true, Progress: func(done, _ unit.Duration) {
		if done-told < 3 {
			return
		}
		told = done
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		if m.HeapAlloc > most.HeapAlloc {
			most = m
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	alive := float64(int64(most.HeapAlloc)-int64(before.HeapAlloc)) / (1 << 20)
	t.Logf("%v of sound in %v, %d shots, at most %.1f MiB alive; the file has %.0f MiB", h.Duration, time.Since(begin).Round(time.Second), len(h.Shots), alive, float64(blocks*len(source.block))/(1<<20))
	if len(h.Shots) != blocks || math.Abs(float64(h.Duration)-float64(every*blocks)) > 0.01 {
		t.Errorf("%d shots in %v, wanted %d in %d s", len(h.Shots), h.Duration, blocks, every*blocks)
	}
	if alive > 40 {
		t.Errorf("%.1f MiB alive, wanted at most 40", alive)
	}
}
