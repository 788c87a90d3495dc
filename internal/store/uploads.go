package store

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"tautline/notebook"
)

// An upload in parts lies beside the finished files, under a name that says
// whose it is, so that nobody else's is ever reached. When it is whole its hash
// is noted first and then it takes that name: after a stop in between either
// the parts are there or the file is, and whoever asks again hears which.

// partsName is where the parts of an upload lie.
func partsName(u notebook.Upload) string {
	return unfinished + string(u.ID) + "-" + string(u.By)
}

// notedName holds the hash of an upload that is whole.
func notedName(u notebook.Upload) string { return partsName(u) + ".sha256" }

// isUploadOf recognises what lies here of a person's uploads.
func isUploadOf(name string, person notebook.ID) bool {
	return strings.HasPrefix(name, unfinished) && strings.HasSuffix(strings.TrimSuffix(name, ".sha256"), "-"+string(person))
}

// checked refuses an upload that could not have a file name of its own.
func checked(u notebook.Upload) error {
	if err := u.ID.Check("/id"); err != nil {
		return err
	}
	return u.By.Check("/by")
}

// Held tells how much is here, see notebook.Blobs.
func (b blobs) Held(_ context.Context, u notebook.Upload) (h notebook.Held, err error) {
	if err := checked(u); err != nil {
		return h, err
	}
	if b.files == nil {
		return h, noUpload(nil)
	}
	if noted, err := b.files.ReadFile(notedName(u)); err == nil && isHash(string(noted)) {
		if info, err := b.files.Stat(string(noted)); err == nil {
			// its sender will throw its own copy away: the name that a stop may
			// have left unsynced must last first, and a disk that failed may say
			// so once only
			if err := b.store.Writable(); err != nil {
				return h, err
			}
			if err := b.failed(syncFolder(b.files, ".")); err != nil {
				return h, err
			}
			return notebook.Held{Bytes: info.Size(), Hash: string(noted)}, nil
		}
	}
	info, err := b.files.Stat(partsName(u))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return h, noUpload(err)
	case err != nil:
		return h, fileError(err)
	}
	return notebook.Held{Bytes: info.Size()}, nil
}

func noUpload(cause error) error {
	return &notebook.Error{Code: notebook.NotFound, Message: "no such upload was begun here, or nothing came of it for a day", Hint: "begin it at its first byte", Cause: cause}
}

// Append adds what comes, see notebook.Blobs.
func (b blobs) Append(ctx context.Context, u notebook.Upload, at int64, r io.Reader, limit int64) (size int64, err error) {
	if err := b.store.Writable(); err != nil {
		return 0, err
	}
	held, err := b.Held(ctx, u)
	switch {
	case err != nil && notebook.CodeOf(err) != notebook.NotFound:
		return 0, err
	case held.Bytes != at:
		return held.Bytes, &notebook.Error{Code: notebook.Different, Message: "the notebook holds another number of bytes of this upload", Hint: "ask how many it holds, and go on from there"}
	case held.Hash != "":
		return held.Bytes, nil
	}
	size, err = b.append(ctx, u, at, r, limit)
	switch notebook.CodeOf(err) {
	case notebook.TooLarge:
		return 0, errors.Join(err, b.Drop(ctx, u))
	case notebook.DiskFull, // room for what is small; what was acknowledged stays
		notebook.ReadOnly: // what a failed flush left may look written and never be: no one may go on from there
		return at, errors.Join(err, b.shorten(u, at))
	}
	return size, err
}

// shorten takes away what came of a part that did not fit or did not reach the
// disk.
func (b blobs) shorten(u notebook.Upload, to int64) error {
	f, err := b.files.OpenFile(partsName(u), os.O_WRONLY, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return b.failed(err)
	}
	return b.failed(errors.Join(f.Truncate(to), f.Close()))
}

// append writes at the end of the parts. They are on the disk when it returns
// without an error.
func (b blobs) append(ctx context.Context, u notebook.Upload, at int64, r io.Reader, limit int64) (size int64, err error) {
	f, err := b.files.OpenFile(partsName(u), os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return 0, b.failed(err)
	}
	n, copied := io.Copy(f, io.LimitReader(contextReader{ctx, r}, limit-at+1))
	err = errors.Join(f.Sync(), f.Close()) // also of what a broken connection left: its sender is told that it is here
	if err == nil && at == 0 {
		err = syncFolder(b.files, ".")
	}
	if err == nil {
		err = copied
	}
	if err == nil && at+n > limit {
		err = tooLargeFile(limit)
	}
	return at + n, b.failed(err)
}

// failed puts a disk's error into words and notes it.
func (b blobs) failed(err error) error {
	err = fileError(err)
	b.store.noteFailure(err)
	return err
}

// Finish makes the file, see notebook.Blobs.
func (b blobs) Finish(ctx context.Context, u notebook.Upload, want string) (hash string, size int64, err error) {
	if err := b.store.Writable(); err != nil {
		return "", 0, err
	}
	held, err := b.Held(ctx, u)
	switch {
	case err != nil:
		return "", 0, err
	case held.Hash != "" && (want == "" || want == held.Hash):
		return held.Hash, held.Bytes, nil
	case held.Hash != "":
		return "", 0, &notebook.Error{Code: notebook.Different, Message: "this upload is finished, and its file is another: its SHA-256 is not what is asked for now", Hint: "send the other file under an id of its own"}
	case held.Bytes == 0:
		return "", 0, errors.Join(emptyFile(), b.Drop(ctx, u))
	}
	sum, err := sumFile(ctx, b.files, partsName(u))
	if err != nil {
		return "", 0, b.failed(err)
	}
	if want != "" && want != sum.SHA256 {
		return "", 0, errors.Join(&notebook.Error{Code: notebook.Invalid, Message: "what arrived is not the file that was sent: its SHA-256 is another; nothing of it was kept", Hint: "send it again from its first byte"}, b.Drop(ctx, u))
	}
	return sum.SHA256, held.Bytes, b.named(u, sum.SHA256)
}

// named gives whole parts their name.
func (b blobs) named(u notebook.Upload, hash string) error {
	if err := writeSynced(b.files, notedName(u), []byte(hash)); err != nil {
		return b.failed(err)
	}
	if err := b.files.Rename(partsName(u), hash); err != nil {
		return b.failed(err)
	}
	return b.failed(syncFolder(b.files, "."))
}

// Drop gives an upload up, see notebook.Blobs.
func (b blobs) Drop(_ context.Context, u notebook.Upload) error {
	if err := checked(u); err != nil {
		return err
	}
	if b.files == nil {
		return nil
	}
	for _, name := range []string{partsName(u), notedName(u)} {
		if err := b.files.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return b.failed(err)
		}
	}
	return nil
}

// dropUploads gives all unfinished uploads of a person up.
func (b blobs) dropUploads(person notebook.ID) error {
	return b.remove(func(e fs.DirEntry) bool { return isUploadOf(e.Name(), person) })
}

// sweepUploads gives up the uploads of which nothing came for a while. Unlike
// the files that are whole, which a record may name at any moment, these can go
// while the notebook works: who goes on with one begins it anew.
func (b blobs) sweepUploads(age time.Duration) error {
	return b.remove(func(e fs.DirEntry) bool { return strings.HasPrefix(e.Name(), unfinished) && b.older(e, age) })
}

// older tells a file that was last written to longer ago than age.
func (b blobs) older(e fs.DirEntry, age time.Duration) bool {
	info, err := e.Info()
	return err == nil && b.store.now().Sub(info.ModTime()) >= age
}

// remove takes away certain files.
func (b blobs) remove(which func(fs.DirEntry) bool) error {
	entries, err := listed(b.files)
	if err != nil {
		return fileError(err)
	}
	for _, e := range entries {
		if !which(e) {
			continue
		}
		if err := b.files.Remove(e.Name()); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return b.failed(err)
		}
	}
	return nil
}
