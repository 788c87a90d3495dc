//go:build unix

package drill

import (
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// mostBytes is how large the one file may be (docs/decisions/0093: 40 MB are
// asked by bars.md U1, and not reached).
const mostBytes = 50_000_000

func justRun(t testing.TB) *Run {
	return &Run{N: 1, Seed: 1, bin: bin, dir: t.TempDir(), log: io.Discard, dice: rand.New(rand.NewPCG(1, 1))}
}

// U1: one file, which starts with an empty home and nothing in its environment,
// and leaves nothing outside the folder that it prints.
func TestOneFileIsEnough(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the real binary; not in -short")
	}
	if info, err := os.Stat(bin); err != nil || os.Getenv("TAUTLINE_BIN") == "" && info.Size() > mostBytes {
		t.Errorf("%v, %d bytes, at most %d", err, info.Size(), mostBytes)
	}
	home := t.TempDir()
	p := justRun(t).Program("") // where it likes
	p.Wrap = []string{"env", "-i", "HOME=" + home}
	where, err := p.Run(t.Context(), "where")
	if err != nil {
		t.Fatalf("%v: %s", err, where)
	}
	folder := strings.TrimSpace(strings.SplitN(where, "\n", 2)[0])
	if err := p.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := p.Stop(); err != nil {
		t.Error(err)
	}
	if err := os.RemoveAll(folder); err != nil {
		t.Error(err)
	}
	err = filepath.WalkDir(home, func(path string, e os.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			t.Errorf("%s stays after the file and the folder %s are gone", path, folder)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// BenchmarkStart is the real binary from its start until it can be used, the
// worst of its runs too: 0.5 s empty and 1 s with a hundred thousand readings are
// asked (bars.md U1).
func BenchmarkStart(b *testing.B) {
	for _, c := range []struct {
		name     string
		readings int
	}{{"empty", 0}, {"readings=100000", 100_000}} {
		b.Run(c.name, func(b *testing.B) {
			r := justRun(b)
			p := r.Program(r.Folder())
			if c.readings > 0 {
				if _, err := FillClub(b.Context(), p.Data, "", Size{Archers: 1, Impacts: 6, Readings: c.readings}, r.Random()); err != nil {
					b.Fatal(err)
				}
			}
			var worst time.Duration
			for b.Loop() {
				begun := time.Now()
				if err := p.Start(b.Context()); err != nil {
					b.Fatal(err)
				}
				worst = max(worst, time.Since(begun))
				b.StopTimer()
				if err := p.Stop(); err != nil {
					b.Fatal(err)
				}
				b.StartTimer()
			}
			b.ReportMetric(float64(worst.Milliseconds()), "worst-ms")
		})
	}
}
