//go:build !windows

package store

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
)

// openLocked opens the file for this process alone, or fails with errHeld at
// once. Others can read the process's number in it.
func openLocked(in *os.Root, name string, create bool) (*os.File, error) {
	flags := os.O_RDWR
	if create {
		flags |= os.O_CREATE
	}
	f, err := in.OpenFile(name, flags, 0o600)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		return nil, errors.Join(errHeld, err, f.Close())
	}
	return f, nil
}

// syncFolder makes a new or renamed file's name last.
func syncFolder(root *os.Root, name string) error {
	d, err := root.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// syncName makes a new folder's own name last.
func syncName(root *os.Root) error {
	above, err := openFolder(filepath.Dir(root.Name()))
	if err != nil {
		return err
	}
	return errors.Join(syncFolder(above, "."), above.Close())
}

// dataHome is where programs keep a person's data, unless XDG_DATA_HOME says.
func dataHome(home string) string {
	if runtime.GOOS == "darwin" {
		return filepath.Join(home, "Library", "Application Support")
	}
	return filepath.Join(home, ".local", "share")
}

// spaceOf looks at a folder's disk.
func spaceOf(dir string) Space {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return Space{Free: -1}
	}
	return Space{Free: int64(s.Bavail) * int64(s.Bsize), Total: int64(s.Blocks) * int64(s.Bsize)}
}

// openToOthers reports whether others than the owner may look into a folder.
func openToOthers(mode os.FileMode) bool { return mode.Perm()&0o077 != 0 }

var (
	errsFull = []error{syscall.ENOSPC, syscall.EDQUOT}
	errsDisk = []error{syscall.EIO, syscall.EROFS}
	// as many files are open as may be: it says nothing of the one that was wanted
	errsOpen = []error{syscall.EMFILE, syscall.ENFILE}
)
