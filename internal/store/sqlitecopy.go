package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
)

// tables lists the tables but those of the engine and of goose.
func (lite) tables(ctx context.Context, from asker) ([]string, error) {
	return names(ctx, from, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' AND name <> 'goose_db_version' ORDER BY name")
}

// names reads one column of text.
func names(ctx context.Context, from asker, query string) (out []string, err error) {
	rows, err := from.QueryContext(ctx, query)
	if err != nil {
		return nil, translate(err, "the database cannot be read")
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		out = append(out, name)
	}
	return out, translate(rows.Err(), "the database cannot be read")
}

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
	return translate(rows.Err(), "the notebook's references cannot be checked")
}

// copyBefore keeps the database as it was at a version, proved, beside what it
// holds.
func (l lite) copyBefore(ctx context.Context, s *Store, version int64) (string, error) {
	name := fmt.Sprintf("before-version-%d-%s", version+1, s.now().UTC().Format(copyTime))
	if err := s.files.copies.RemoveAll(name); err != nil { // begun and not finished within this second
		return "", fileError(err)
	}
	if err := keepBefore(ctx, s, name, version); err != nil {
		return "", begunLeft(translate(err, "the copy before the update could not be made, so nothing was changed"), pathIn(s.files.copies, name), s.files.copies.RemoveAll(name))
	}
	return pathIn(s.files.copies, name), nil
}

// copyTime is the time in a copy's name, in UTC.
const copyTime = "20060102T150405Z"

// keepBefore copies a database into a new folder of the copies, proves the
// copy and says what it holds. The sound files stay where they are: updates do not touch them.
func keepBefore(ctx context.Context, s *Store, to string, version int64) (err error) {
	if err := s.files.copies.Mkdir(to, 0o700); err != nil {
		return fileError(err)
	}
	files, err := s.files.copies.OpenRoot(to)
	if err != nil {
		return fileError(err)
	}
	defer func() { err = joined(err, files.Close()) }()
	m := Manifest{Made: s.now().UTC(), Why: beforeUpdate, Program: s.program, Version: version}
	state, err := s.freeze(ctx, files)
	if err != nil {
		return err
	}
	if err := m.proveCopy(ctx, files, state); err != nil {
		return err
	}
	return writeManifest(files, m)
}

// beforeUpdate is why a copy was made before the schema changed.
const beforeUpdate = "before an update"

// freeze copies one state of the file, whoever writes meanwhile, page by page as
// SQLite reads them out of its journal and its file: one statement sees one
// state, so writers wait for nothing. The pages are summed on their way.
func (l lite) freeze(ctx context.Context, s *Store, to *os.Root) (copied frozen, err error) {
	as := reader
	if IsBackup(s.dir) {
		as = inspector // opened otherwise, its file would change
	}
	db, err := openSQLite(l.path, as)
	if err != nil {
		return copied, err
	}
	defer func() { err = joined(err, db.Close()) }()
	out, err := newSummed(to, databaseName)
	if err != nil {
		return copied, fileError(err)
	}
	err = copyPages(ctx, db, out)
	var end error
	copied.file, end = out.end()
	return copied, errors.Join(translate(err, "the copy could not be made"), fileError(errors.Join(end, syncFolder(to, "."))))
}

// Bytes of a database's header (sqlite.org/fileformat2, 1.3).
const (
	versionsAt = 18 // write version and read version
	withoutWAL = 1  // of both: the file is all there is, and can be read where nothing can be written
)

// copyPages writes the pages of a database in their order.
func copyPages(ctx context.Context, from *sql.DB, to io.Writer) (err error) {
	rows, err := from.QueryContext(ctx, "SELECT pgno, data FROM sqlite_dbpage")
	if err != nil {
		return err
	}
	defer func() { err = joined(err, rows.Close()) }()
	var page sql.RawBytes
	for number, want := 0, 1; rows.Next(); want++ {
		if err := rows.Scan(&number, &page); err != nil {
			return err
		}
		if number != want {
			return fmt.Errorf("store: page %d came instead of %d", number, want)
		}
		if number == 1 {
			page = slices.Clone(page)
			page[versionsAt], page[versionsAt+1] = withoutWAL, withoutWAL
		}
		if _, err := to.Write(page); err != nil {
			return fileError(err)
		}
	}
	return rows.Err()
}
