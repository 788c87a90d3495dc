package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"tautline/notebook"
)

// execs is what changes a database: one, a connection or a transaction.
type execs interface {
	asker
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// markName is the file that says that a staged database is taking the
// notebook's place.
const markName = "restoring.json"

// mark is its content.
type mark struct {
	// Keep is where the old files go, inside the folder; empty: a proved copy
	// was made, they are removed.
	Keep string `json:"keep"`
}

// swap lets the staged database take the notebook's place. From the mark on
// there is no way but forward.
func (p placing) swap(r Restored) error {
	m := mark{}
	if r.Kept != "" && !r.Whole {
		m.Keep = filepath.Join(copiesDir, filepath.Base(r.Kept))
	}
	raw, err := json.Marshal(m)
	if err != nil {
		return err
	}
	path := filepath.Join(p.dir, markName)
	if err := writeSynced(path, raw); err != nil {
		return fileError(err)
	}
	return finishPlacing(p.dir)
}

// writeSynced writes a small file whole or not at all.
func writeSynced(path string, raw []byte) error {
	tmp := path + ".new"
	f, err := os.OpenFile(tmp, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(raw)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return errors.Join(err, os.Remove(tmp))
	}
	return errors.Join(os.Rename(tmp, path), syncFolder(filepath.Dir(path)))
}

// finishPlacing does what is left of a swap; without one it does nothing. It
// may be stopped at any step and done again.
func finishPlacing(dir string) error {
	raw, err := os.ReadFile(filepath.Join(dir, markName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fileError(err)
	}
	var m mark
	if err := json.Unmarshal(raw, &m); err != nil {
		return &notebook.Error{Code: notebook.Damaged, Message: markName + " cannot be read", Hint: "restore the backup again", Cause: err}
	}
	staged := filepath.Join(dir, stagedName)
	if _, err := os.Stat(staged); err == nil {
		if err := clearPlace(dir, m.Keep); err != nil {
			return fileError(err)
		}
		if err := errors.Join(os.Rename(staged, filepath.Join(dir, databaseName)), syncFolder(dir)); err != nil {
			return fileError(err)
		}
	}
	return fileError(errors.Join(os.Remove(filepath.Join(dir, markName)), syncFolder(dir)))
}

// clearPlace moves the old database and its journal away. The journal goes
// first and is gone for certain: beside another database it would ruin it.
func clearPlace(dir, keep string) error {
	for _, name := range []string{databaseName + "-wal", databaseName + "-shm", databaseName} {
		path := filepath.Join(dir, name)
		if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err := moveAway(path, dir, keep); err != nil {
			return err
		}
	}
	return syncFolder(dir)
}

// moveAway keeps a file in a folder, unless one of its name is there from the
// try before, or removes it.
func moveAway(path, dir, keep string) error {
	if keep == "" {
		return os.Remove(path)
	}
	to := filepath.Join(dir, keep, filepath.Base(path))
	if _, err := os.Lstat(to); err == nil {
		return os.Remove(path) // made anew since by whoever looked for it
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return err
	}
	err := os.Rename(path, to)
	if errors.Is(err, syscall.EXDEV) { // the copies are on another disk
		if err = replaceFile(context.Background(), path, to, to+".part"); err == nil {
			err = os.Remove(path)
		}
	}
	return errors.Join(err, syncFolder(filepath.Dir(to)))
}

// unfinishedPlacing reports whether a restore was interrupted.
func unfinishedPlacing(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, markName))
	return err == nil
}
