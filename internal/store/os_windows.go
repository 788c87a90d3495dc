package store

import (
	"os"
	"path/filepath"

	"golang.org/x/sys/windows"
)

// lockFile takes the file for this process alone, or fails at once. Windows
// locks bytes, and others cannot read locked ones: the byte lies far behind
// the process's number.
func lockFile(f *os.File) error {
	return windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, &windows.Overlapped{Offset: 1 << 20})
}

// syncFolder does nothing: NTFS keeps names in its journal, and a folder
// cannot be flushed.
func syncFolder(string) error { return nil }

// dataHome is where programs keep a person's data.
func dataHome(home string) string {
	if base := os.Getenv("LOCALAPPDATA"); filepath.IsAbs(base) {
		return base
	}
	return filepath.Join(home, "AppData", "Local")
}

// freeBytes is not asked for here.
func freeBytes(string) int64 { return -1 }

// openToOthers is not told by the mode here: a person's folder is theirs.
func openToOthers(os.FileMode) bool { return false }

var (
	errsFull = []error{windows.ERROR_DISK_FULL, windows.ERROR_HANDLE_DISK_FULL}
	errsDisk = []error{windows.ERROR_IO_DEVICE, windows.ERROR_WRITE_PROTECT, windows.ERROR_CRC}
)
