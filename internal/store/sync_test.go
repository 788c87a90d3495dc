//go:build unix

package store

import (
	"errors"
	"os"
	"syscall"
	"testing"
	"time"
)

// What brings a file to the disk while it is written says so when that failed,
// and leaves the writer's own error: a pipe is no file that could be brought
// there (POSIX, fsync: EINVAL).
func TestSyncedMeanwhile(t *testing.T) {
	in, err := os.OpenRoot(t.TempDir())
	fatal(t, err)
	defer func() { fatal(t, in.Close()) }()
	fatal(t, in.WriteFile("file", nil, 0o600))
	fatal(t, syscall.Mkfifo(pathIn(in, "pipe"), 0o600))
	slow := func() error { time.Sleep(2 * syncedEvery); return nil }
	fatal(t, syncedMeanwhile(in, "file", slow))
	if err := syncedMeanwhile(in, "pipe", slow); !errors.Is(err, syscall.EINVAL) {
		t.Errorf("what cannot be brought to the disk gave %v", err)
	}
	if err := syncedMeanwhile(in, "file", func() error { return errors.ErrUnsupported }); !errors.Is(err, errors.ErrUnsupported) {
		t.Errorf("a writer that failed gave %v", err)
	}
}
