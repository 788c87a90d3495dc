package store

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"tautline/notebook"
)

// lock keeps a second program out of the folder. The kernel lets go of it when
// the process ends, however it ends. The file holds the process's number while
// the notebook is open and nothing after it was closed, so that what is left
// in it tells of a program that was killed or of a power cut.
type lock struct {
	file *os.File
	// left is the process that last had the notebook and never closed it, "".
	left string
	// unchecked says that nobody has looked yet at what that process left.
	unchecked bool
}

// lockName is its name in the folder.
const lockName = "lock"

// errHeld: another process has the lock.
var errHeld = errors.New("the lock is held")

func acquire(own *os.Root) (*lock, error) {
	f, err := openLocked(own, lockName, true)
	switch {
	case errors.Is(err, errHeld):
		by := ""
		if left := holderOf(own); left != "" {
			by = " by process " + left
		}
		return nil, &notebook.Error{Code: notebook.Busy, Message: "the notebook is already open" + by, Hint: "close the other program, or name another folder with --data", Cause: err}
	case err != nil:
		return nil, &notebook.Error{Code: notebook.Unavailable, Message: "the notebook's folder cannot be written", Hint: "choose another with --data", Cause: err}
	}
	l := &lock{file: f}
	if l.left, err = holderIn(f); err != nil {
		return nil, errors.Join(fileError(err), f.Close())
	}
	l.unchecked = l.left != ""
	if err := l.write(fmt.Sprintf("%d\n", os.Getpid())); err != nil {
		return nil, errors.Join(fmt.Errorf("store: %w", fileError(err)), f.Close())
	}
	return l, nil
}

// holderOf names the process that wrote itself down, "" for none, or where that
// cannot be seen.
func holderOf(own *os.Root) string {
	f, err := own.Open(lockName)
	if err != nil {
		return ""
	}
	defer f.Close() // only read
	by, err := holderIn(f)
	if err != nil {
		return ""
	}
	return by
}

func holderIn(f *os.File) (string, error) {
	b, err := io.ReadAll(io.NewSectionReader(f, 0, 32))
	return strings.TrimSpace(string(b)), err
}

func (l *lock) write(text string) error {
	if err := l.file.Truncate(0); err != nil {
		return err
	}
	_, err := l.file.WriteAt([]byte(text), 0)
	return err
}

// release lets the next program in; whole says that everything was closed in
// order, so that it need not check the notebook first: unless this one should
// have, and did not come to it or found damage.
func (l *lock) release(whole bool) error {
	if l == nil || l.file == nil {
		return nil
	}
	var err error
	if whole && !l.unchecked {
		err = l.write("")
	}
	err = errors.Join(err, l.file.Close())
	l.file = nil
	return err
}
