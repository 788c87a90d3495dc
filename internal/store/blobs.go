package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"tautline/notebook"
)

// blobs keeps files by their SHA-256 in one folder: written to a temporary
// name, synced, renamed, the folder synced. A file is there before any row
// names it; a file that no row has named after a day is swept, and so is an
// upload of which nothing came for as long.
type blobs struct {
	store *Store
	files *os.Root
}

const unfinished = "incoming-"

// Add streams a file in, see notebook.Blobs.
func (b blobs) Add(ctx context.Context, r io.Reader, limit int64) (hash string, size int64, err error) {
	if err := b.store.Writable(); err != nil {
		return "", 0, err
	}
	name := unfinished + string(notebook.NewID())
	tmp, err := b.files.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return "", 0, b.failed(err)
	}
	defer func() {
		if err != nil {
			err = b.failed(err)
			// the sweep takes what cannot be removed now
			_, _ = tmp.Close(), b.files.Remove(name)
		}
	}()
	sum := sha256.New()
	size, err = io.Copy(io.MultiWriter(tmp, sum), io.LimitReader(contextReader{ctx, r}, limit+1))
	switch {
	case err != nil:
		return "", 0, err
	case size > limit:
		return "", 0, tooLargeFile(limit)
	case size == 0:
		return "", 0, emptyFile()
	}
	if err = tmp.Sync(); err != nil {
		return "", 0, err
	}
	hash = hex.EncodeToString(sum.Sum(nil))
	if err = tmp.Close(); err != nil {
		return "", 0, err
	}
	if err = b.files.Rename(name, hash); err != nil {
		return "", 0, err
	}
	if err = syncFolder(b.files, "."); err != nil {
		return "", 0, err
	}
	return hash, size, nil
}

func tooLargeFile(limit int64) error {
	return &notebook.Error{Code: notebook.TooLarge, Message: fmt.Sprintf("the file is larger than %d MB", limit/1_000_000), Hint: "record in mono, or one file a stop"}
}

func emptyFile() error {
	return &notebook.Error{Code: notebook.Invalid, Message: "the file is empty", Hint: "choose the recording again"}
}

// Open gives a file, see notebook.Blobs.
func (b blobs) Open(ctx context.Context, hash string) (io.ReadSeekCloser, error) {
	if !isHash(hash) {
		return nil, &notebook.Error{Code: notebook.NotFound, Message: "there is no such recording", Hint: "open it from its trial"}
	}
	f, err := openIn(b.files, hash)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &notebook.Error{Code: notebook.NotFound, Message: "there is no such recording", Hint: "open it from its trial", Cause: err}
	}
	if err != nil {
		return nil, fileError(err)
	}
	return f, nil
}

// sweep removes files that no row names, once they are older than age. One that
// cannot be removed keeps no other.
func (b blobs) sweep(ctx context.Context, age time.Duration) (left error) {
	entries, err := listed(b.files)
	if err != nil {
		return fileError(err)
	}
	for _, e := range entries {
		if !b.older(e, age) {
			continue
		}
		var named bool
		if !strings.HasPrefix(e.Name(), unfinished) {
			err := b.store.read.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM recordings WHERE sha256 = $1)", e.Name()).Scan(&named)
			if err != nil {
				return translate(err, "the recordings could not be checked")
			}
		}
		if !named {
			if err := b.files.Remove(e.Name()); err != nil && !errors.Is(err, fs.ErrNotExist) {
				left = errors.Join(left, b.failed(err))
			}
		}
	}
	return left
}

// fileError puts a file system's error into the notebook's words.
func fileError(err error) error {
	var known *notebook.Error
	switch {
	case err == nil, errors.As(err, &known), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case isAny(err, errsFull):
		return &notebook.Error{Code: notebook.DiskFull, Message: "the disk is full; the file was not kept", Hint: "free some space and try again", Cause: err}
	case isAny(err, errsOpen):
		return &notebook.Error{Code: notebook.Busy, Message: "as many files are open as the system allows", Hint: "try again in a moment; if it stays, allow more: LimitNOFILE= of the service, or ulimit -n", Cause: err}
	case isAny(err, errsDisk):
		return &notebook.Error{Code: notebook.ReadOnly, Message: "writing failed; nothing more is written until the notebook is opened anew", Hint: "check the disk, then start the program again and run: tautline verify", Cause: err}
	}
	return &notebook.Error{Code: notebook.Unavailable, Message: "the file could not be stored", Hint: "try again", Cause: err}
}

func isAny(err error, of []error) bool {
	for _, e := range of {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}

// contextReader stops reading when the request is given up.
type contextReader struct {
	ctx context.Context
	r   io.Reader
}

func (c contextReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}
