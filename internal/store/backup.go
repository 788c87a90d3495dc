package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"tautline/notebook"
)

// Backup copies the notebook into a folder that must not exist yet, while it
// is in use, and proves the copy: opens it anew, checks it whole, and compares
// its records with the notebook's. A copy that fails is removed.
func (s *Store) Backup(ctx context.Context, to string) (r Report, err error) {
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		return r, &notebook.Error{Code: notebook.Invalid, Field: "folder", Message: to + " exists already; a backup never overwrites", Hint: "name a new folder, such as one with today's date"}
	}
	if err := os.MkdirAll(filepath.Join(to, recordingsDir), 0o700); err != nil {
		return r, fileError(err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(to))
		}
	}()
	// the database first: a recording is on the disk before any record names it
	if _, err := s.write.ExecContext(ctx, "VACUUM INTO $1", filepath.Join(to, databaseName)); err != nil {
		return r, translate(err, "the copy could not be made")
	}
	if err := s.copyRecordings(ctx, filepath.Join(to, recordingsDir)); err != nil {
		return r, err
	}
	return s.prove(ctx, to)
}

func (s *Store) copyRecordings(ctx context.Context, to string) error {
	from := filepath.Join(s.dir, recordingsDir)
	entries, err := os.ReadDir(from)
	if err != nil {
		return fileError(err)
	}
	for _, e := range entries {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if strings.HasPrefix(e.Name(), unfinished) {
			continue
		}
		if err := copyFile(filepath.Join(from, e.Name()), filepath.Join(to, e.Name())); err != nil {
			return fileError(err)
		}
	}
	return fileError(syncFolder(to))
}

func copyFile(from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, in.Close()) }()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}

// prove opens the copy and checks it; what was written meanwhile may be
// missing, so the copy is held against itself, not against later records.
func (s *Store) prove(ctx context.Context, copied string) (r Report, err error) {
	db, err := openSQLite(filepath.Join(copied, databaseName), reader)
	if err != nil {
		return r, err
	}
	defer func() { err = joined(err, db.Close()) }()
	if r, err = s.verify(ctx, db, filepath.Join(copied, recordingsDir)); err != nil {
		return r, err
	}
	if len(r.Problems) > 0 {
		return r, &notebook.Error{Code: notebook.Damaged, Message: "the copy is not whole: " + r.Problems[0], Hint: "run: tautline verify"}
	}
	return r, s.nothingLost(ctx, r)
}

// nothingLost compares counts: records are only ever added, so a copy may
// hold fewer than the notebook has by now, but never none where there are
// some, and never more.
func (s *Store) nothingLost(ctx context.Context, r Report) error {
	for _, k := range s.shelves() {
		var now int
		if err := s.read.QueryRowContext(ctx, "SELECT count(*) FROM "+k.table()).Scan(&now); err != nil {
			return translate(err, "the notebook could not be counted")
		}
		if r.Counts[k.kind()] > now || r.Counts[k.kind()] == 0 && now > 0 {
			return &notebook.Error{Code: notebook.Damaged, Message: fmt.Sprintf("the copy holds %d of %d records of kind %s", r.Counts[k.kind()], now, k.kind()), Hint: "make the backup again"}
		}
	}
	return nil
}
