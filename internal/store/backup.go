package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"time"

	"tautline/notebook"
)

// BackupOptions say how a backup is made. The zero value is right for one made
// by hand.
type BackupOptions struct {
	// Why stands in the backup, such as "daily".
	Why string
	// Beside is an older backup on the same disk; sound files that are whole
	// there are shared with it instead of copied (hard links).
	Beside string
}

// Backup copies the notebook into a folder that must not exist yet, while it
// is in use, and proves the copy: opens it anew, checks it whole, and compares
// every table of it, and every sound file, with the state that was copied. A
// copy that fails is removed.
func (s *Store) Backup(ctx context.Context, to string, o BackupOptions) (m Manifest, err error) {
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		return m, &notebook.Error{Code: notebook.Invalid, Field: "folder", Message: to + " exists already; a backup never overwrites", Hint: "name a new folder, such as one with today's date"}
	}
	if err := os.MkdirAll(to, 0o700); err != nil {
		return m, fileError(err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(to))
		}
	}()
	files, err := openFolder(to)
	if err != nil {
		return m, fileError(err)
	}
	defer func() { err = joined(err, files.Close()) }()
	if err := files.Mkdir(recordingsDir, 0o700); err != nil {
		return m, fileError(err)
	}
	if o.Why == "" {
		o.Why = "by hand"
	}
	m = Manifest{Made: s.now().UTC().Truncate(time.Second), Why: o.Why, Program: s.program}
	// the database first: a recording is on the disk before any record names it
	if m.Tables, err = s.engine.freeze(ctx, s, files); err != nil {
		return m, translate(err, "the copy could not be made")
	}
	if err := m.proveDatabase(ctx, files); err != nil {
		return m, err
	}
	if err := s.copySounds(ctx, files, o.Beside, &m); err != nil {
		return m, err
	}
	return m, writeManifest(files, m)
}

// proveDatabase opens a copied database anew, checks it whole and holds every
// table against the sums of the state that was copied. It notes the file's own
// sum.
func (m *Manifest) proveDatabase(ctx context.Context, dir *os.Root) (err error) {
	db, err := openSQLite(pathIn(dir, databaseName), inspector)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, db.Close()) }()
	var r Report
	if err := (lite{}).examine(ctx, db, &r); err != nil {
		return err
	}
	if len(r.Problems) > 0 {
		return &notebook.Error{Code: notebook.Damaged, Message: "the copy is not whole: " + r.Problems[0], Hint: "run tautline verify on the notebook; if it is whole, make the backup again"}
	}
	have, err := tableSums(ctx, lite{}, db)
	if err != nil {
		return err
	}
	if table := differ(m.Tables, have); table != "" {
		return &notebook.Error{Code: notebook.Damaged, Message: "the copy does not hold what the notebook holds in " + table, Hint: "make the backup again"}
	}
	if m.Version, err = schemaVersion(ctx, db); err != nil {
		return err
	}
	m.Database, err = sumFile(ctx, dir, databaseName)
	return fileError(err)
}
