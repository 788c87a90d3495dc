package store

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"syscall"

	"tautline/notebook"
)

// lock keeps a second program out of the folder. The kernel lets go of it when
// the process ends, however it ends.
type lock struct{ file *os.File }

func acquire(path string) (*lock, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, &notebook.Error{Code: notebook.Unavailable, Message: "the notebook's folder cannot be written", Hint: "choose another with --data", Cause: err}
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		holder := holderOf(f)
		return nil, errors.Join(&notebook.Error{Code: notebook.Busy, Message: "the notebook is already open" + holder, Hint: "close the other program, or name another folder with --data", Cause: err}, f.Close())
	}
	if err := f.Truncate(0); err == nil {
		_, err = f.WriteAt(fmt.Appendf(nil, "%d\n", os.Getpid()), 0)
		if err != nil {
			return nil, errors.Join(fmt.Errorf("store: %w", err), f.Close())
		}
	}
	return &lock{f}, nil
}

// holderOf names the process that holds the lock, if it wrote itself down.
func holderOf(f *os.File) string {
	b, err := io.ReadAll(io.LimitReader(f, 32))
	pid := strings.TrimSpace(string(b))
	if err != nil || pid == "" {
		return ""
	}
	return " by process " + pid
}

func (l *lock) release() error {
	if l == nil {
		return nil
	}
	return l.file.Close()
}
