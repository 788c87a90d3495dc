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
			err = begunLeft(err, to, os.RemoveAll(to))
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
	if m.Notebook, err = s.knownID(); err != nil {
		return m, err
	}
	// the database first: a recording is on the disk before any record names it
	state, err := s.freeze(ctx, files)
	if err != nil {
		return m, err
	}
	kept := m
	err = together(ctx,
		func(ctx context.Context) error { return m.proveCopy(ctx, files, state) },
		func(ctx context.Context) error { return s.copySounds(ctx, files, o.Beside, &kept) })
	if err != nil {
		return m, err
	}
	m.Recordings, m.SoundBytes, m.Lost = kept.Recordings, kept.SoundBytes, kept.Lost
	return m, writeManifest(files, m)
}

// begunLeft is an error with what could not be removed after it.
func begunLeft(err error, what string, gone error) error {
	if gone == nil {
		return err
	}
	e := &notebook.Error{Code: notebook.Unavailable, Message: "the copy could not be made", Hint: "remove that first", Cause: errors.Join(err, gone)}
	var known *notebook.Error
	if errors.As(err, &known) {
		e.Code, e.Field, e.Message, e.Hint = known.Code, known.Field, known.Message, "remove that first; "+known.Hint
	}
	e.Message += "; what was begun is left in " + what
	return e
}

// freeze copies one state of the database into a folder.
func (s *Store) freeze(ctx context.Context, in *os.Root) (frozen, error) {
	state, err := s.engine.freeze(ctx, s, in)
	return state, translate(err, "the copy could not be made")
}

// proveCopy reads a copied database again, its bytes and what is in it, and
// holds both against the state that was copied.
func (m *Manifest) proveCopy(ctx context.Context, dir *os.Root, state frozen) error {
	m.Tables = state.tables
	return together(ctx,
		func(ctx context.Context) error { return m.proveBytes(ctx, dir, state.file) },
		func(ctx context.Context) error { return m.proveDatabase(ctx, dir) })
}

// proveBytes reads a copied file again, and holds it against what was written,
// where that is known.
func (m *Manifest) proveBytes(ctx context.Context, dir *os.Root, written FileSum) (err error) {
	if m.Database, err = sumFile(ctx, dir, databaseName); err != nil {
		return fileError(err)
	}
	if written != (FileSum{}) && written != m.Database {
		return &notebook.Error{Code: notebook.Damaged, Message: "the copy does not hold what the notebook holds: other bytes came back from the disk than were written", Hint: "check the disk, then make the backup again"}
	}
	return nil
}

// proveDatabase opens a copied database anew, checks it whole and holds every
// table against the sums of the state that was copied. Where the copy's bytes
// are known to be that state, the sums are its own.
func (m *Manifest) proveDatabase(ctx context.Context, dir *os.Root) (err error) {
	db, err := openSQLite(pathIn(dir, databaseName), inspector)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, db.Close()) }()
	var r Report
	var have map[string]TableSum
	err = together(ctx,
		func(ctx context.Context) error { return lite{}.examine(ctx, db, &r) },
		func(ctx context.Context) (err error) { have, err = tableSums(ctx, lite{}, db); return err })
	if err != nil {
		return err
	}
	if len(r.Problems) > 0 {
		return &notebook.Error{Code: notebook.Damaged, Message: "the copy is not whole: " + r.Problems[0], Hint: "run tautline verify on the notebook; if it is whole, make the backup again"}
	}
	if m.Tables == nil {
		m.Tables = have
	}
	if table := differ(m.Tables, have); table != "" {
		return &notebook.Error{Code: notebook.Damaged, Message: "the copy does not hold what the notebook holds in " + table, Hint: "make the backup again"}
	}
	m.Version, err = schemaVersion(ctx, db)
	return err
}
