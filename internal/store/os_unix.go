//go:build !windows

package store

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
)

// lockFile takes the file for this process alone, or fails at once.
func lockFile(f *os.File) error {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
}

// syncFolder makes a new or renamed file's name last.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// dataHome is where programs keep a person's data, unless XDG_DATA_HOME says.
func dataHome(home string) string {
	if runtime.GOOS == "darwin" {
		return filepath.Join(home, "Library", "Application Support")
	}
	return filepath.Join(home, ".local", "share")
}

// freeBytes is how much a person may still write on a folder's disk, −1 if
// that cannot be told.
func freeBytes(dir string) int64 {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return -1
	}
	return int64(s.Bavail) * int64(s.Bsize)
}

// openToOthers reports whether others than the owner may look into a folder.
func openToOthers(mode os.FileMode) bool { return mode.Perm()&0o077 != 0 }

var (
	errsFull = []error{syscall.ENOSPC, syscall.EDQUOT}
	errsDisk = []error{syscall.EIO, syscall.EROFS}
)
