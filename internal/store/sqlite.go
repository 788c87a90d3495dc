package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io/fs"
	"net/url"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"tautline/notebook"
)

// role is what a pool of connections is for.
type role int

const (
	writer role = iota
	reader
	inspector // of a file that must not change, a backup
	plain     // one connection with no settings of its own
)

// lite is SQLite on one file.
type lite struct{ path string }

func (l lite) open(r role) (*sql.DB, error) { return openSQLite(l.path, r) }

func (lite) dialect() goose.Dialect      { return goose.DialectSQLite3 }
func (lite) migrations(from fs.FS) fs.FS { return from }
func (lite) snapshot() *sql.TxOptions    { return nil } // a reader's transaction sees one state in WAL mode

// through is what every pool reaches its driver through: nothing. Tests put in its
// place what makes calls fail, since updates, backups and restores open
// databases that nothing outside of them can reach.
var through = func(c driver.Connector) driver.Connector { return c }

// openSQLite opens a pool.
func openSQLite(path string, r role) (*sql.DB, error) {
	address, conns := sqliteAddress(path, r)
	file, err := sqlite.NewConnector(address)
	if err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	db := sql.OpenDB(through(file))
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	return db, nil
}

// sqliteAddress is the DSN of a pool, and how many connections it has. Busy
// timeout first, so that the other pragmas wait for it; everything in the DSN, so
// that it holds for every connection.
func sqliteAddress(path string, r role) (address string, conns int) {
	q := url.Values{"_pragma": {"busy_timeout(5000)", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)"}}
	conns = 1
	switch r {
	case writer:
		q.Set("_txlock", "immediate")
		q.Add("_pragma", "secure_delete(1)")      // what is deleted is overwritten, see Erase
		q.Add("_pragma", "recursive_triggers(1)") // the log's triggers see a REPLACE too
	case reader:
		q.Add("_pragma", "query_only(1)")
		conns = 4
	case inspector:
		q = url.Values{"mode": {"ro"}, "_pragma": {"busy_timeout(5000)", "query_only(1)"}}
		conns = 3 // integrity, records, and what they name, side by side
	case plain:
		q = url.Values{"_pragma": {"busy_timeout(5000)"}}
	}
	return fileAddress(path, q), conns
}

// overwrite writes the database anew without what was deleted, and empties the
// journal. A reader may hold an old page of the journal for a moment.
func (lite) overwrite(ctx context.Context, s *Store) error {
	// What was deleted is overwritten in the file by this, were there room for
	// no more; and the journal's own room is free for the rest.
	if _, err := s.write.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		return err
	}
	if err := roomToVacuum(ctx, s); err != nil {
		return err
	}
	_, failed := s.write.ExecContext(ctx, "VACUUM")
	// Emptied after a failure too: it may have filled the disk with the journal.
	// A flush that fails in it counts, whatever was before.
	emptied := translate(emptyJournal(ctx, s), "the journal could not be emptied")
	s.noteFailure(emptied)
	return joined(failed, emptied)
}

// roomToVacuum tells whether the database can be written anew: its pages go
// through the journal, which lies beside it.
func roomToVacuum(ctx context.Context, s *Store) error {
	var needed int64
	if err := s.write.QueryRowContext(ctx, "SELECT (page_count - freelist_count) * page_size FROM pragma_page_count, pragma_freelist_count, pragma_page_size").Scan(&needed); err != nil {
		return err
	}
	if free := s.Space().Free; free >= 0 && free < needed {
		return &notebook.Error{Code: notebook.DiskFull, Message: fmt.Sprintf("%d MB are free, and %d MB are needed", free>>20, needed>>20), Hint: "free some space"}
	}
	return nil
}

// emptyJournal moves the journal into the database and leaves none of its bytes.
// It waits once for those who read, as long as a writer waits: meanwhile nobody
// writes. What it then leaves is for the next start, or the next backup.
func emptyJournal(ctx context.Context, s *Store) error {
	var busy, pages, moved int
	err := s.write.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &pages, &moved)
	if err == nil && busy != 0 {
		err = &notebook.Error{Code: notebook.Busy, Message: "a long read keeps the journal from being emptied", Hint: "try again in a moment"}
	}
	return err
}

// fileAddress is how the driver is told of a file, whatever its name.
func fileAddress(path string, q url.Values) string {
	return (&url.URL{Scheme: "file", OmitHost: true, Path: path, RawQuery: q.Encode()}).String()
}

// oldestEngine is the first SQLite without the WAL-reset race, which can
// corrupt a database with two connections (sqlite.org/changes, 3.51.3).
const oldestEngine = 3_051_003

// assert refuses to start on an engine or with settings that could lose
// what was acknowledged.
func (lite) assert(ctx context.Context, db *sql.DB) error {
	var version, journal string
	var sync, foreign int
	for query, into := range map[string]any{
		"SELECT sqlite_version()": &version, "PRAGMA journal_mode": &journal,
		"PRAGMA synchronous": &sync, "PRAGMA foreign_keys": &foreign,
	} {
		if err := db.QueryRowContext(ctx, query).Scan(into); err != nil {
			return translate(err, "the notebook's file cannot be read")
		}
	}
	if err := checkEngine(version); err != nil {
		return err
	}
	const full = 2
	if journal != "wal" || sync != full || foreign != 1 {
		return fmt.Errorf("store: unsafe settings: journal %s, synchronous %d, foreign keys %d", journal, sync, foreign)
	}
	return nil
}

// checkEngine refuses an older SQLite.
func checkEngine(version string) error {
	var a, b, c int
	if _, err := fmt.Sscanf(version, "%d.%d.%d", &a, &b, &c); err != nil || a*1_000_000+b*1_000+c < oldestEngine {
		return fmt.Errorf("store: SQLite %s is older than 3.51.3 and can damage a notebook", version)
	}
	return nil
}

// translate turns an engine's error into the notebook's words. The cause goes
// along for the log.
func translate(err error, doing string) error {
	var known *notebook.Error
	var engine *sqlite.Error
	var server *pgconn.PgError
	switch {
	case err == nil, errors.As(err, &known), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.As(err, &server):
		e := postgresError(server, doing)
		e.Cause = err
		return e
	case !errors.As(err, &engine):
		return &notebook.Error{Code: notebook.Unavailable, Message: doing, Hint: "try again; if it stays, run: tautline verify", Cause: err}
	}
	if engine.Code() == sqlite3.SQLITE_IOERR_GETTEMPPATH { // of no disk that the notebook is on
		return &notebook.Error{Code: notebook.Unavailable, Message: doing + ": there is no folder for temporary files", Hint: "name one that the program may write to: TMPDIR=… in its environment", Cause: err}
	}
	switch engine.Code() & 0xff {
	case sqlite3.SQLITE_FULL:
		return &notebook.Error{Code: notebook.DiskFull, Message: "the disk is full; nothing was changed", Hint: "free some space, then try again; reading and exporting still work", Cause: err}
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return &notebook.Error{Code: notebook.Busy, Message: "another program is writing in the notebook", Hint: "try again in a moment", Cause: err}
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_IOERR:
		return &notebook.Error{Code: notebook.ReadOnly, Message: "writing failed; nothing more is written until the notebook is opened anew", Hint: "check the disk, then start the program again and run: tautline verify", Cause: err}
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return &notebook.Error{Code: notebook.Damaged, Message: "the notebook's file is damaged", Hint: "keep it, and restore the last backup", Cause: err}
	case sqlite3.SQLITE_CONSTRAINT:
		return &notebook.Error{Code: notebook.Invalid, Message: "the record names another that is not in the notebook", Hint: "send the set-up or trial it belongs to first", Cause: err}
	}
	return &notebook.Error{Code: notebook.Unavailable, Message: doing, Hint: "try again; if it stays, run: tautline verify", Cause: err}
}
