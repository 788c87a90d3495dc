package store

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/pressly/goose/v3"

	"tautline/notebook"
)

//go:embed migrations/*.sql
var migrations embed.FS

// migrate brings the database up to this program's version. A database that
// is not new is copied first; the copy stays in the folder copies. The
// notebook's lock keeps a second program out meanwhile.
func (s *Store) migrate(ctx context.Context, from fs.FS) error {
	files, err := fs.Sub(from, "migrations")
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	steps, err := goose.NewProvider(goose.DialectSQLite3, s.write, files)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	have, want, err := steps.GetVersions(ctx)
	switch {
	case err != nil:
		return translate(err, "the notebook's version cannot be read")
	case have > want:
		return &notebook.Error{Code: notebook.TooNew, Message: fmt.Sprintf("this notebook was written by a newer program (version %d, this one knows %d)", have, want), Hint: "use the newer program; nothing was changed"}
	case have == want:
		return nil
	}
	kept := ""
	if have > 0 {
		if kept, err = s.copyBefore(ctx, have); err != nil {
			return err
		}
	}
	if _, err := steps.Up(ctx); err != nil {
		hint := "try again; if it stays, check the disk"
		if kept != "" {
			hint = "the copy from before is " + kept
		}
		return &notebook.Error{Code: notebook.Unavailable, Message: "the notebook could not be brought up to date; no record was changed", Hint: hint, Cause: err}
	}
	return nil
}

// copyBefore keeps the database as it was at a version.
func (s *Store) copyBefore(ctx context.Context, version int64) (string, error) {
	path := filepath.Join(s.dir, copiesDir, fmt.Sprintf("before-version-%d-%s.db", version+1, s.now().UTC().Format("20060102T150405Z")))
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("store: %w", err)
	}
	if err := s.vacuumInto(ctx, path); err != nil {
		return "", translate(err, "the copy before the update could not be made, so nothing was changed")
	}
	return path, nil
}

// vacuumInto writes the database as it stands to a new file, for the owner
// alone, and waits for the disk: SQLite does not, for such a copy.
func (s *Store) vacuumInto(ctx context.Context, path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fileError(err)
	}
	if err := s.vacuum(ctx, path); err != nil {
		return errors.Join(err, f.Close(), os.Remove(path))
	}
	return fileError(errors.Join(f.Sync(), f.Close(), syncFolder(filepath.Dir(path))))
}

// vacuum copies the database as it stands; whoever only looks borrows a
// connection for it, since a reader's may write no other file either.
func (s *Store) vacuum(ctx context.Context, path string) (err error) {
	db := s.write
	if db == nil {
		if db, err = openSQLite(filepath.Join(s.dir, databaseName), writer); err != nil {
			return err
		}
		defer func() { err = joined(err, db.Close()) }()
	}
	_, err = db.ExecContext(ctx, "VACUUM INTO $1", path)
	return err
}
