package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// examine asks the database about itself.
func (lite) examine(ctx context.Context, db *sql.DB, r *Report) (err error) {
	var answer string
	if err := db.QueryRowContext(ctx, "PRAGMA integrity_check").Scan(&answer); err != nil {
		return translate(err, "the notebook's file cannot be checked")
	}
	if answer != "ok" {
		r.add("the database is damaged: %s", answer)
	}
	rows, err := db.QueryContext(ctx, "PRAGMA foreign_key_check")
	if err != nil {
		return translate(err, "the notebook's references cannot be checked")
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		var in, of sql.NullString
		var row, key sql.NullInt64
		if err := rows.Scan(&in, &row, &of, &key); err != nil {
			return translate(err, "the notebook's references cannot be checked")
		}
		r.add("row %d of %s names a row of %s that is missing", row.Int64, in.String, of.String)
	}
	return rows.Err()
}

// copyBefore keeps the database as it was at a version.
func (lite) copyBefore(ctx context.Context, s *Store, version int64) (string, error) {
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

// copyTo copies the file as it stands.
func (lite) copyTo(ctx context.Context, s *Store, path string) (rowCounts, error) {
	before, err := s.countRows(ctx, s.read)
	if err != nil {
		return nil, err
	}
	return before, translate(s.vacuumInto(ctx, path), "the copy could not be made")
}
