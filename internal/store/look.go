package store

import (
	"context"
	"errors"
	"time"

	"tautline/notebook"
)

// Exists reports whether a folder holds a notebook.
func Exists(dir string) bool {
	root, err := openFolder(dir)
	if err != nil {
		return false
	}
	defer root.Close() // only read
	info, err := root.Stat(databaseName)
	return err == nil && info.Mode().IsRegular()
}

// Look opens a notebook that is there already to read it, also while another
// program has it open and writes. Nothing is made, mended or brought up to
// date; every write is refused.
func Look(ctx context.Context, dir string, o Options) (*Store, error) {
	engine, err := o.engine(dir)
	if err != nil {
		return nil, err
	}
	if unfinishedPlacing(dir) {
		return nil, &notebook.Error{Code: notebook.Busy, Message: "a backup is being restored in " + dir + ", or was when the program stopped", Hint: "wait for it; if no program is at it, tautline serve finishes it"}
	}
	if o.Database == "" && !Exists(dir) {
		return nil, &notebook.Error{Code: notebook.NotFound, Field: "data", Message: "there is no notebook in " + dir, Hint: "check the name; tautline where prints the usual folder"}
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	files, err := seenFolders(dir)
	if err != nil {
		return nil, errors.Join(err, files.close())
	}
	s := &Store{dir: dir, files: files, engine: engine, now: o.Now, program: o.Program, apart: o.Apart}
	s.broken.Store(&notebook.Error{Code: notebook.ReadOnly, Message: "the notebook was opened to read it only", Hint: "open it with: tautline serve"})
	looking := reader
	if IsBackup(dir) && o.Database == "" {
		looking = inspector // opened otherwise, its file would change
	}
	if s.read, err = engine.open(looking); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	if err := s.assertCurrent(ctx); err != nil && !(o.AnyVersion && notebook.CodeOf(err) == notebook.TooNew) {
		return nil, errors.Join(err, s.Close())
	}
	s.tables()
	s.blobs = blobs{store: s, files: files.sounds}
	return s, nil
}

// assertCurrent refuses a notebook of another version than this program's.
func (s *Store) assertCurrent(ctx context.Context) error {
	have, err := schemaVersion(ctx, s.read)
	switch {
	case err != nil:
		return err
	case have > newest():
		return tooNew(have)
	case have < newest():
		return &notebook.Error{Code: notebook.Unavailable, Message: "this notebook was written by an older program", Hint: "open it once with: tautline serve, which copies it and brings it up to date"}
	}
	return nil
}

// NoteExport notes in the log of who did what that all of the notebook is taken
// out by whoever has this machine. A notebook without accounts has no log, and
// a backup does not change. It writes one line through a connection of its own,
// also while another program has the notebook open: nobody keeps the log in mind.
func (s *Store) NoteExport(ctx context.Context) error {
	n, err := s.CountAccounts(ctx)
	if _, file := s.engine.(lite); err != nil || n == 0 || file && IsBackup(s.dir) {
		return err
	}
	db, err := s.engine.open(plain)
	if err != nil {
		return err
	}
	return translate(errors.Join(note(ctx, db, s.entry(exporting)), db.Close()), "the log of who did what could not be written")
}
