//go:build unix

package store

import (
	"context"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// large is a notebook of many readings, one a minute as their ids say, and of
// recordings of 31 MB, and its size in GB.
func large(b *testing.B, readings, recordings int) (*Store, storetest.Sample, float64) {
	b.Helper()
	ctx := b.Context()
	s, err := Open(ctx, b.TempDir(), Options{})
	if err != nil {
		b.Fatal(err)
	}
	x := storetest.New()
	stored(b, s.People(), x.Person)
	stored(b, s.Bows(), x.Bow)
	stored(b, s.SetUps(), x.SetUp)
	stored(b, s.Trials(), x.Trial)
	stored(b, s.Readings(), x.Reading)
	if _, err := s.write.Exec(`WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n WHERE i < $1), one AS (SELECT * FROM readings LIMIT 1),
		at AS (SELECT i, printf('%012x', 1764000000000 + 60000 * i) AS ms FROM n),
		made AS (SELECT substr(ms, 1, 8) || '-' || substr(ms, 9) || printf('-7%03x-8%03x-%012x', i % 4096, i / 4096 % 4096, i) AS new FROM at)
		INSERT INTO readings (id, version, by_person, at_utc, received_utc, bow, setup, session, trial, kind, value_si, body)
		SELECT new, version, by_person, at_utc, received_utc, bow, setup, session, trial, kind, value_si, replace(body, id, new) FROM made, one`, readings); err != nil {
		b.Fatal(err)
	}
	for range recordings {
		hash, size, err := s.Blobs().Add(ctx, &noise{left: 30 << 20}, 1<<30)
		if err != nil {
			b.Fatal(err)
		}
		stored(b, s.Recordings(), storetest.RestOf(x, hash, size).Recording)
	}
	if _, err := s.write.Exec("PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		b.Fatal(err)
	}
	return s, x, float64(sizeIn(s.files.own, databaseName)+sizeOf(s.files.sounds)) / 1e9
}

func stored[T notebook.Record](b *testing.B, to notebook.Records[T], r T) {
	b.Helper()
	if _, _, err := to.Put(b.Context(), r.Stamped().By, r); err != nil {
		b.Fatal(err)
	}
}

// noise is bytes without a pattern.
type noise struct{ left int }

func (n *noise) Read(p []byte) (int, error) {
	if n.left <= 0 {
		return 0, io.EOF
	}
	for i := 0; i < len(p); i += 8 {
		v := rand.Uint64()
		for k := i; k < min(i+8, len(p)); k++ {
			p[k], v = byte(v), v>>8
		}
	}
	m := min(len(p), n.left)
	n.left -= m
	return m, nil
}

// BenchmarkKeep measures a backup of a notebook under 50 writes a second, and
// its restore, on both engines: seconds for each GB, how many of them a
// processor worked (less than what passed: it waited; more: both did), and the
// longest that a writer waited, and does in as long without a backup. The GB are
// those of the SQLite file and the recordings; a PostgreSQL server's work is not
// counted.
func BenchmarkKeep(b *testing.B) {
	for of, c := range map[string]struct{ readings, recordings int }{"sound": {1000, 10}, "records": {300_000, 0}} {
		s, x, gb := large(b, c.readings, c.recordings)
		backup := filepath.Join(b.TempDir(), "backup")
		b.Run("backup/SQLite/"+of, func(b *testing.B) { benchmarkBackup(b, s, x, backup, gb) })
		b.Run("restore/SQLite/"+of, func(b *testing.B) {
			benchmarkRestore(b, backup, gb, func() Options { return Options{} })
		})
		if err := s.Close(); err != nil {
			b.Fatal(err)
		}
		b.Run("restore/PostgreSQL/"+of, func(b *testing.B) {
			benchmarkRestore(b, backup, gb, func() Options { return emptyDatabase(b) })
		})
		b.Run("backup/PostgreSQL/"+of, func(b *testing.B) {
			dir, o := b.TempDir(), emptyDatabase(b)
			if _, err := Restore(b.Context(), backup, dir, o); err != nil {
				b.Fatal(err)
			}
			benchmarkBackup(b, openWith(b, dir, o), x, filepath.Join(b.TempDir(), "backup"), gb)
		})
	}
}

func benchmarkBackup(b *testing.B, s *Store, x storetest.Sample, to string, gb float64) {
	worst, worked := time.Duration(0), work(b)
	for b.Loop() {
		if err := os.RemoveAll(to); err != nil {
			b.Fatal(err)
		}
		worst = max(worst, underWrites(b, s, x, func() {
			if _, err := s.Backup(context.Background(), to, BackupOptions{}); err != nil {
				b.Fatal(err)
			}
		}))
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/gb, "s/GB")
	b.ReportMetric((work(b)-worked).Seconds()/float64(b.N)/gb, "cpu-s/GB")
	b.ReportMetric(gb, "GB")
	b.ReportMetric(float64(worst.Milliseconds()), "ms-wait")
	b.StopTimer()
	alone := underWrites(b, s, x, func() { time.Sleep(b.Elapsed() / time.Duration(b.N)) })
	b.ReportMetric(float64(alone.Milliseconds()), "ms-wait-without")
}

func benchmarkRestore(b *testing.B, backup string, gb float64, empty func() Options) {
	worked := work(b)
	for b.Loop() {
		b.StopTimer()
		o := empty()
		b.StartTimer()
		if _, err := Restore(context.Background(), backup, b.TempDir(), o); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/gb, "s/GB")
	b.ReportMetric((work(b)-worked).Seconds()/float64(b.N)/gb, "cpu-s/GB")
}

// work is how long this program has kept a processor so far.
func work(b *testing.B) time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// underWrites does something while readings are written fifty times a second,
// and says how long the slowest took.
func underWrites(b *testing.B, s *Store, x storetest.Sample, do func()) (worst time.Duration) {
	stop, writing := make(chan struct{}), sync.WaitGroup{}
	writing.Go(func() {
		for {
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
			}
			r := x.Reading
			r.ID = notebook.NewID()
			began := time.Now()
			if _, _, err := s.Readings().Put(context.Background(), x.Person.ID, r); err != nil {
				b.Error(err)
				return
			}
			worst = max(worst, time.Since(began))
		}
	})
	do()
	close(stop)
	writing.Wait()
	return worst
}
