package store

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"time"

	"tautline/notebook"
)

// backupName is the file in a backup that says what the copy held when it was
// proved.
const backupName = "backup.json"

// Manifest is what a backup says of itself.
type Manifest struct {
	Made   time.Time `json:"made"` // UTC
	Report Report    `json:"report"`
}

// Backup copies the notebook into a folder that must not exist yet, while it
// is in use, and proves the copy: opens it anew, checks it whole, and compares
// its records one for one with the notebook's. A copy that fails is removed.
// The folder is a notebook: open it with --data to look into it.
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
	before, err := s.engine.copyTo(ctx, s, filepath.Join(to, databaseName))
	if err != nil {
		return r, err
	}
	if err := s.copyRecordings(ctx, filepath.Join(to, recordingsDir)); err != nil {
		return r, err
	}
	if r, err = s.prove(ctx, to, before); err != nil {
		return r, err
	}
	return r, s.writeManifest(to, r)
}

func (s *Store) writeManifest(to string, r Report) error {
	raw, err := json.MarshalIndent(Manifest{s.now().UTC().Truncate(time.Second), r}, "", " ")
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	f, err := os.OpenFile(filepath.Join(to, backupName), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fileError(err)
	}
	_, err = f.Write(append(raw, '\n'))
	return fileError(errors.Join(err, f.Sync(), f.Close(), syncFolder(to), syncFolder(filepath.Dir(to))))
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

// prove opens the copy, checks it, and holds it against the notebook. Records
// are only ever added, so the notebook's first rows, as many as the copy has,
// are what the copy must hold, even while others write.
func (s *Store) prove(ctx context.Context, copied string, before rowCounts) (r Report, err error) {
	db, err := openSQLite(filepath.Join(copied, databaseName), inspector)
	if err != nil {
		return r, err
	}
	defer func() { err = joined(err, db.Close()) }()
	if r, err = s.verify(ctx, lite{}, db, filepath.Join(copied, recordingsDir)); err != nil {
		return r, err
	}
	if len(r.Problems) > 0 {
		return r, &notebook.Error{Code: notebook.Damaged, Message: "the copy is not whole: " + r.Problems[0], Hint: "run tautline verify on the notebook; if it is whole, make the backup again"}
	}
	rows, err := s.countRows(ctx, db)
	if err != nil {
		return r, err
	}
	for _, k := range s.shelves() {
		here, err := digest(ctx, s.read, k, rows[k.kind()])
		if err != nil {
			return r, err
		}
		there, err := digest(ctx, db, k, rows[k.kind()])
		if err != nil {
			return r, err
		}
		if here != there || rows[k.kind()] < before[k.kind()] {
			return r, &notebook.Error{Code: notebook.Damaged, Message: fmt.Sprintf("the copy lacks records of kind %s", k.kind()), Hint: "make the backup again"}
		}
	}
	return r, nil
}

// rowCounts is how many rows each kind has.
type rowCounts map[string]int64

func (s *Store) countRows(ctx context.Context, from asker) (rowCounts, error) {
	out := rowCounts{}
	for _, k := range s.shelves() {
		var n int64
		if err := from.QueryRowContext(ctx, "SELECT count(*) FROM "+k.table()).Scan(&n); err != nil {
			return nil, translate(err, "the notebook could not be counted")
		}
		out[k.kind()] = n
	}
	return out, nil
}

// digest is a checksum over a kind's first rows, with their number.
func digest(ctx context.Context, from asker, k shelf, first int64) (out string, err error) {
	rows, err := from.QueryContext(ctx, "SELECT id, version, body FROM "+k.table()+" ORDER BY seq LIMIT $1", first)
	if err != nil {
		return "", translate(err, "the notebook could not be read")
	}
	defer func() { err = joined(err, rows.Close()) }()
	sum, n := sha256.New(), 0
	for rows.Next() {
		var id, body string
		var version int
		if err := rows.Scan(&id, &version, &body); err != nil {
			return "", translate(err, "the notebook could not be read")
		}
		n++
		fmt.Fprintf(sum, "%s %d %d\n%s\n", id, version, len(body), body)
	}
	return fmt.Sprintf("%d %x", n, sum.Sum(nil)), translate(rows.Err(), "the notebook could not be read")
}

// CheckBackup holds a backup against what it said of itself when it was made:
// the database whole, every record and recording there. It changes nothing. A
// database copied by hand says nothing of itself and is refused: what was
// written last may be missing from it.
func CheckBackup(ctx context.Context, dir string) (m Manifest, err error) {
	raw, err := os.ReadFile(filepath.Join(dir, backupName))
	if err != nil {
		return m, &notebook.Error{Code: notebook.NotFound, Field: "folder", Message: dir + " is not a backup: it has no " + backupName, Hint: "make one with tautline backup; a database copied by hand may lack what was written last", Cause: err}
	}
	if err := json.Unmarshal(raw, &m); err != nil {
		return m, &notebook.Error{Code: notebook.Damaged, Field: "folder", Message: backupName + " cannot be read", Hint: "use an older backup", Cause: err}
	}
	db, err := openSQLite(filepath.Join(dir, databaseName), inspector)
	if err != nil {
		return m, err
	}
	defer func() { err = joined(err, db.Close()) }()
	var s Store
	s.tables()
	now, err := s.verify(ctx, lite{}, db, filepath.Join(dir, recordingsDir))
	switch {
	case err != nil:
		return m, err
	case len(now.Problems) > 0:
		return m, &notebook.Error{Code: notebook.Damaged, Message: "the backup is damaged: " + now.Problems[0], Hint: "use an older backup"}
	case now.Digest != m.Report.Digest || !maps.Equal(now.Counts, m.Report.Counts):
		return m, &notebook.Error{Code: notebook.Damaged, Message: "the backup no longer holds what it held when it was made", Hint: "use an older backup"}
	}
	return m, nil
}
