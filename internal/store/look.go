package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"tautline/notebook"
)

// Exists reports whether a folder holds a notebook.
func Exists(dir string) bool {
	info, err := os.Stat(filepath.Join(dir, databaseName))
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
	if o.Database == "" && !Exists(dir) {
		return nil, &notebook.Error{Code: notebook.NotFound, Field: "data", Message: "there is no notebook in " + dir, Hint: "check the name; tautline where prints the usual folder"}
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	s := &Store{dir: dir, engine: engine, now: o.Now}
	s.broken.Store(&notebook.Error{Code: notebook.ReadOnly, Message: "the notebook was opened to read it only", Hint: "open it with: tautline serve"})
	if s.read, err = engine.open(reader); err != nil {
		return nil, err
	}
	if err := s.assertCurrent(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	s.tables()
	s.blobs = blobs{store: s, dir: filepath.Join(dir, recordingsDir)}
	return s, nil
}

// assertCurrent refuses a notebook of another version than this program's.
func (s *Store) assertCurrent(ctx context.Context) error {
	files, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return err
	}
	var have int
	if err := s.read.QueryRowContext(ctx, "SELECT max(version_id) FROM goose_db_version WHERE is_applied").Scan(&have); err != nil {
		return translate(err, "the notebook's version cannot be read")
	}
	switch {
	case have > len(files):
		return &notebook.Error{Code: notebook.TooNew, Message: "this notebook was written by a newer program", Hint: "use the newer program; nothing was changed"}
	case have < len(files):
		return &notebook.Error{Code: notebook.Unavailable, Message: "this notebook was written by an older program", Hint: "open it once with: tautline serve, which copies it and brings it up to date"}
	}
	return nil
}
