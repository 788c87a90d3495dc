package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"io/fs"
	"path"
	"path/filepath"

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
	// Notebook is the id that the notebook goes on under; empty: its own.
	Notebook notebook.ID `json:"notebook,omitempty"`
}

// swap lets the staged database take the notebook's place. From the mark on
// there is no way but forward.
func (p placing) swap(r Restored) error {
	m := mark{Notebook: r.Manifest.Notebook}
	if r.Kept != "" && !r.Whole {
		m.Keep = path.Join(copiesDir, filepath.Base(r.Kept))
	}
	raw, err := json.Marshal(m)
	if err != nil {
		return err
	}
	if err := writeSynced(p.files.own, markName, raw); err != nil {
		return fileError(err)
	}
	return p.files.finishPlacing()
}

// finishPlacing does what is left of a swap; without one it does nothing. It
// may be stopped at any step and done again.
func (f folders) finishPlacing() error {
	raw, err := f.own.ReadFile(markName)
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
	if _, err := f.own.Stat(stagedName); err == nil {
		if err := f.clearPlace(m.Keep); err != nil {
			return fileError(err)
		}
		if err := errors.Join(f.own.Rename(stagedName, databaseName), syncFolder(f.own, ".")); err != nil {
			return fileError(err)
		}
	}
	if err := takeOn(f.own, m.Notebook); err != nil {
		return err
	}
	return fileError(errors.Join(f.own.Remove(markName), syncFolder(f.own, ".")))
}

// clearPlace moves the old database and its journal away. The journal goes
// first and is gone for certain: beside another database it would ruin it.
func (f folders) clearPlace(keep string) error {
	for _, name := range []string{databaseName + "-wal", databaseName + "-shm", databaseName} {
		if _, err := f.own.Lstat(name); errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err := f.moveAway(name, keep); err != nil {
			return err
		}
	}
	return syncFolder(f.own, ".")
}

// moveAway keeps a file in a folder of the copies, unless one of its name is
// there from the try before, or removes it. That folder was not there when the
// first try began (keep sees to it).
func (f folders) moveAway(name, keep string) error {
	if keep == "" {
		return f.own.Remove(name)
	}
	copied := path.Base(filepath.ToSlash(keep))
	if _, err := f.copies.Lstat(path.Join(copied, name)); err == nil {
		return f.own.Remove(name) // made anew since by whoever looked for it
	}
	if err := f.copies.MkdirAll(copied, 0o700); err != nil {
		return err
	}
	return f.moveToCopy(name, copied, name)
}

// unfinishedPlacing reports whether a restore was interrupted.
func unfinishedPlacing(dir string) bool {
	root, err := openFolder(dir)
	if err != nil {
		return false
	}
	_, err = root.Stat(markName)
	return errors.Join(err, root.Close()) == nil
}
