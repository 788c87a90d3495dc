package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"

	"modernc.org/sqlite"
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
	return rows.Err()
}

// copyBefore keeps the database as it was at a version, proved, beside what it
// holds.
func (l lite) copyBefore(ctx context.Context, s *Store, version int64) (string, error) {
	name := fmt.Sprintf("before-version-%d-%s", version+1, s.now().UTC().Format(copyTime))
	if err := s.files.copies.RemoveAll(name); err != nil { // begun and not finished within this second
		return "", fileError(err)
	}
	if err := keepDatabase(ctx, l, s, name, version); err != nil {
		return "", errors.Join(translate(err, "the copy before the update could not be made, so nothing was changed"), s.files.copies.RemoveAll(name))
	}
	return pathIn(s.files.copies, name), nil
}

// copyTime is the time in a copy's name, in UTC.
const copyTime = "20060102T150405Z"

// keepDatabase copies a database into a new folder of the copies, proves the
// copy and says what it holds. The sound files stay where they are: updates do not touch them.
func keepDatabase(ctx context.Context, e engine, s *Store, to string, version int64) (err error) {
	if err := s.files.copies.Mkdir(to, 0o700); err != nil {
		return fileError(err)
	}
	files, err := s.files.copies.OpenRoot(to)
	if err != nil {
		return fileError(err)
	}
	defer func() { err = joined(err, files.Close()) }()
	m := Manifest{Made: s.now().UTC(), Why: beforeUpdate, Program: s.program, Version: version}
	if m.Tables, err = e.freeze(ctx, s, files); err != nil {
		return err
	}
	if err := m.proveDatabase(ctx, files); err != nil {
		return err
	}
	return writeManifest(files, m)
}

// beforeUpdate is why a copy was made before the schema changed.
const beforeUpdate = "before an update"

// freeze copies one state of the file, whoever writes meanwhile, and sums what
// it holds. The reading transaction pins the state; the pages are copied out of
// it, so writers wait for nothing.
func (l lite) freeze(ctx context.Context, _ *Store, to *os.Root) (sums map[string]TableSum, err error) {
	db, err := openSQLite(l.path, reader)
	if err != nil {
		return nil, err
	}
	defer func() { err = joined(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { err = joined(err, conn.Close()) }()
	if _, err := conn.ExecContext(ctx, "BEGIN"); err != nil {
		return nil, err
	}
	defer func() {
		_, undone := conn.ExecContext(context.WithoutCancel(ctx), "ROLLBACK")
		err = joined(err, undone)
	}()
	if sums, err = tableSums(ctx, l, conn); err != nil {
		return nil, err
	}
	return sums, copyPages(ctx, conn, to)
}

// pagesAtOnce are copied before the next look at whether to stop: 4 MB.
const pagesAtOnce = 1000

// copyPages writes the connection's state to a new file, for the owner alone,
// and waits for the disk.
func copyPages(ctx context.Context, conn *sql.Conn, to *os.Root) error {
	f, err := to.OpenFile(databaseName, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fileError(err)
	}
	path := pathIn(to, databaseName)
	err = conn.Raw(func(driver any) error {
		from, ok := driver.(interface {
			NewBackup(string) (*sqlite.Backup, error)
		})
		if !ok {
			return errors.New("store: this SQLite cannot copy a database in use")
		}
		copying, err := from.NewBackup(fileAddress(path, nil))
		if err != nil {
			return err
		}
		for more := true; more && err == nil; {
			if more, err = copying.Step(pagesAtOnce); err == nil {
				err = ctx.Err()
			}
		}
		return errors.Join(err, copying.Finish())
	})
	if err == nil {
		err = withoutJournal(ctx, path)
	}
	return errors.Join(translate(err, "the copy could not be made"), fileError(errors.Join(f.Sync(), f.Close(), syncFolder(to, "."))))
}

// withoutJournal makes a database one file that can be read where nothing can
// be written.
func withoutJournal(ctx context.Context, path string) (err error) {
	db, err := openSQLite(path, plain)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, db.Close()) }()
	var mode string
	if err := db.QueryRowContext(ctx, "PRAGMA journal_mode = DELETE").Scan(&mode); err != nil {
		return err
	}
	if mode != "delete" {
		return fmt.Errorf("store: a copy keeps its journal: %s", mode)
	}
	return nil
}
