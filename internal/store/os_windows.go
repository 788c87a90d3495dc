package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// errSharing is ERROR_SHARING_VIOLATION: somebody else has the file open.
const errSharing = syscall.Errno(32)

// openLocked opens the file for this process alone, or fails with errHeld at
// once. Until it is closed, others can read the process's number in it and no
// more: Windows refuses whoever asks to write.
func openLocked(in *os.Root, file string, create bool) (*os.File, error) {
	path := filepath.Join(in.Name(), file)
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return nil, &fs.PathError{Op: "open", Path: path, Err: err}
	}
	how := uint32(syscall.OPEN_EXISTING)
	if create {
		how = syscall.OPEN_ALWAYS
	}
	h, err := syscall.CreateFile(name, syscall.GENERIC_READ|syscall.GENERIC_WRITE, syscall.FILE_SHARE_READ, nil, how, syscall.FILE_ATTRIBUTE_NORMAL, 0)
	if errors.Is(err, errSharing) {
		return nil, errHeld
	}
	if err != nil {
		return nil, &fs.PathError{Op: "open", Path: path, Err: err}
	}
	return os.NewFile(uintptr(h), path), nil
}

// syncFolder does nothing: NTFS keeps names in its journal, and a folder
// cannot be flushed.
func syncFolder(*os.Root, string) error { return nil }

// syncName does nothing, for the same reason.
func syncName(*os.Root) error { return nil }

// dataHome is where programs keep a person's data.
func dataHome(home string) string {
	if base := os.Getenv("LOCALAPPDATA"); filepath.IsAbs(base) {
		return base
	}
	return filepath.Join(home, "AppData", "Local")
}

// spaceOf is not asked for here.
func spaceOf(string) Space { return Space{Free: -1} }

// openToOthers is not told by the mode here: a person's folder is theirs.
func openToOthers(os.FileMode) bool { return false }

// The numbers are of Windows' own list of errors, winerror.h.
var (
	errsFull = []error{syscall.Errno(112), syscall.Errno(39)}                     // ERROR_DISK_FULL, ERROR_HANDLE_DISK_FULL
	errsDisk = []error{syscall.Errno(1117), syscall.Errno(19), syscall.Errno(23)} // ERROR_IO_DEVICE, ERROR_WRITE_PROTECT, ERROR_CRC
	errsOpen = []error{syscall.Errno(4)}                                          // ERROR_TOO_MANY_OPEN_FILES
)
