package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"tautline/notebook"
)

// folders are the places of an open notebook. Every file in them is reached by
// its name through an os.Root, so that no name that came in a record, a backup
// or an export leads out of them, by dots or by a link. The folders themselves
// may be links: where a person keeps them is theirs to say. SQLite opens its
// files itself, under a name of ours.
type folders struct {
	own, sounds, copies *os.Root // nil where there is none, of a notebook that is only looked at
}

// openFolder opens a folder that a person named, or one of the three of a
// notebook.
func openFolder(dir string) (*os.Root, error) { return os.OpenRoot(dir) }

// makeFolders makes what is missing, for the owner alone, the database's file
// included: SQLite gives its journal the same permissions.
func makeFolders(dir string, e engine) (f folders, err error) {
	defer func() {
		if err != nil {
			err = errors.Join(noFolder(err), f.close())
		}
	}()
	if err = os.MkdirAll(dir, 0o700); err != nil {
		return f, err
	}
	if f.own, err = openFolder(dir); err != nil {
		return f, err
	}
	for _, name := range []string{recordingsDir, copiesDir} {
		if err = f.own.Mkdir(name, 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
			return f, err
		}
	}
	if f.sounds, err = openFolder(filepath.Join(dir, recordingsDir)); err != nil {
		return f, err
	}
	if f.copies, err = openFolder(filepath.Join(dir, copiesDir)); err != nil || e == nil {
		return f, err
	}
	if _, ok := e.(lite); !ok {
		return f, nil
	}
	db, err := f.own.OpenFile(databaseName, os.O_RDONLY|os.O_CREATE, 0o600)
	if err != nil {
		return f, err
	}
	return f, db.Close()
}

func noFolder(err error) error {
	if isAny(err, errsOpen) {
		return fileError(err)
	}
	return &notebook.Error{Code: notebook.Unavailable, Message: "the notebook's folder cannot be made or opened", Hint: "choose another with --data; a link in it that leads elsewhere is not followed", Cause: err}
}

// seenFolders opens the folders that are there.
func seenFolders(dir string) (f folders, err error) {
	for name, to := range map[string]**os.Root{".": &f.own, recordingsDir: &f.sounds, copiesDir: &f.copies} {
		root, bad := openFolder(filepath.Join(dir, name))
		switch {
		case bad == nil:
			*to = root
		case !errors.Is(bad, fs.ErrNotExist):
			err = errors.Join(err, fileError(bad))
		}
	}
	return f, err
}

func (f folders) close() error {
	var errs []error
	for _, root := range []*os.Root{f.own, f.sounds, f.copies} {
		if root != nil {
			errs = append(errs, root.Close())
		}
	}
	return errors.Join(errs...)
}

// pathIn is a file's whole path, for SQLite and for people.
func pathIn(root *os.Root, name string) string {
	return filepath.Join(root.Name(), filepath.FromSlash(name))
}

// openIn opens a file to read it; in no folder there is none.
func openIn(root *os.Root, name string) (*os.File, error) {
	if root == nil {
		return nil, fs.ErrNotExist
	}
	return root.Open(name)
}

// listed are the names in a folder.
func listed(root *os.Root) ([]fs.DirEntry, error) { return fs.ReadDir(root.FS(), ".") }

// isHash reports a name that sound files have.
func isHash(name string) bool {
	return len(name) == 2*sha256.Size && strings.Trim(name, "0123456789abcdef") == ""
}

// sumFile reads a file through.
func sumFile(ctx context.Context, root *os.Root, name string) (s FileSum, err error) {
	f, err := openIn(root, name)
	if err != nil {
		return s, err
	}
	defer func() { err = joined(err, f.Close()) }()
	sum := sha256.New()
	s.Bytes, err = io.Copy(sum, contextReader{ctx, f})
	s.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return s, err
}

// unwritten is how the name of a file ends that is not yet whole.
const unwritten = ".new"

// writeSynced writes a small file whole or not at all.
func writeSynced(root *os.Root, name string, raw []byte) error {
	tmp := name + unwritten
	f, err := root.OpenFile(tmp, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(raw)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return errors.Join(err, root.Remove(tmp))
	}
	return errors.Join(root.Rename(tmp, name), syncFolder(root, path.Dir(name)))
}

// copyFile copies to a new file and waits for the disk.
func copyFile(ctx context.Context, from *os.Root, name string, to *os.Root, as string) error {
	_, err := copySummed(ctx, from, name, to, as)
	return err
}

// copySummed copies to a new file, waits for the disk, and says what was read.
func copySummed(ctx context.Context, from *os.Root, name string, to *os.Root, as string) (s FileSum, err error) {
	in, err := openIn(from, name)
	if err != nil {
		return s, err
	}
	defer func() { err = joined(err, in.Close()) }()
	out, err := newSummed(to, as)
	if err != nil {
		return s, err
	}
	_, err = io.Copy(out, contextReader{ctx, in})
	read, end := out.end()
	return read, errors.Join(err, end)
}

// syncFile waits until a file that is whole is on the disk, its name too.
func syncFile(in *os.Root, name string) error {
	f, err := in.Open(name)
	if err != nil {
		return fileError(err)
	}
	return fileError(errors.Join(f.Sync(), f.Close(), syncFolder(in, path.Dir(name))))
}

// replaceFile copies to a name of its own first and then takes the place. What
// is read must have the hash, if one is given.
func replaceFile(ctx context.Context, from *os.Root, name string, to *os.Root, as, by, hash string) error {
	if err := to.RemoveAll(by); err != nil {
		return err
	}
	read, err := copySummed(ctx, from, name, to, by)
	if err == nil && hash != "" && read.SHA256 != hash {
		err = damaged("recording " + hash[:12] + " has changed since it was checked")
	}
	if err != nil {
		return errors.Join(err, to.RemoveAll(by))
	}
	return to.Rename(by, as)
}

// moveToCopy moves a file of the notebook's folder into one of its copies,
// which may be on another disk.
func (f folders) moveToCopy(name, copied, as string) error {
	to := path.Join(copied, as)
	if f.own.Rename(name, path.Join(copiesDir, to)) != nil {
		if err := replaceFile(context.Background(), f.own, name, f.copies, to, to+".part", ""); err != nil {
			return err
		}
		if err := f.own.Remove(name); err != nil {
			return err
		}
	}
	return syncFolder(f.copies, copied)
}

// sizeOf is the size of all files in a folder; what cannot be read counts
// nothing.
func sizeOf(root *os.Root) (n int64) {
	if root == nil {
		return 0
	}
	// what cannot be read is not counted
	_ = fs.WalkDir(root.FS(), ".", func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return nil
		}
		if info, err := d.Info(); err == nil {
			n += info.Size()
		}
		return nil
	})
	return n
}

// sizeIn is the size of one file, 0 for none.
func sizeIn(root *os.Root, name string) int64 {
	if root == nil {
		return 0
	}
	info, err := root.Stat(name)
	if err != nil {
		return 0
	}
	return info.Size()
}
