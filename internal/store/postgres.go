package store

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"

	"tautline/notebook"
)

// postgres is PostgreSQL 13 or newer. Recordings stay files in the folder.
type postgres struct {
	config *pgx.ConnConfig
}

// writerLock is the advisory lock that a program holds on every connection it
// writes with, so that one program writes at a time; the server lets go of it
// when the connection ends, however it ends.
const writerLock = 0x7461757464 // "tautd"

// parsePostgres reads a connection string, postgres://… or key=value. The
// password may stand in PGPASSWORD or a .pgpass file instead.
func parsePostgres(dsn string) (postgres, error) {
	config, err := pgx.ParseConfig(dsn)
	if err != nil {
		// the message of pgx leaves the password out, but not every cause does
		return postgres{}, &notebook.Error{Code: notebook.Invalid, Field: "database", Message: "this is no address of a PostgreSQL database", Hint: "like postgres://tautline@localhost/club, the password in PGPASSWORD or .pgpass", Cause: err}
	}
	return postgres{config}, nil
}

// open opens a pool. One connection writes, so that rows become visible in the
// order of their numbers, which a list's cursor relies on.
func (p postgres) open(r role) (*sql.DB, error) {
	config := p.config.Copy()
	config.RuntimeParams["application_name"] = "tautline"
	config.RuntimeParams["timezone"] = "UTC"
	config.RuntimeParams["synchronous_commit"] = "on"
	var options []stdlib.OptionOpenDB
	conns := 8
	switch r {
	case writer:
		conns = 1
		options = append(options, stdlib.OptionAfterConnect(holdWriterLock))
	case reader, inspector:
		config.RuntimeParams["default_transaction_read_only"] = "on"
	}
	db := sql.OpenDB(through(stdlib.GetConnector(*config, options...)))
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	return db, nil
}

// holdWriterLock takes the lock. The server notices a moment late that the
// program before has gone, so it is asked for some seconds.
func holdWriterLock(ctx context.Context, conn *pgx.Conn) error {
	for try := 0; ; try++ {
		var mine bool
		if err := conn.QueryRow(ctx, "SELECT pg_try_advisory_lock($1)", int64(writerLock)).Scan(&mine); err != nil || mine {
			return err
		}
		if try == 50 {
			return &notebook.Error{Code: notebook.Busy, Message: "another program has this database open", Hint: "close it first; one program writes at a time"}
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(100 * time.Millisecond):
		}
	}
}

// assert refuses a server that could lose what was acknowledged.
func (postgres) assert(ctx context.Context, db *sql.DB) error {
	var version int
	if err := db.QueryRowContext(ctx, "SELECT current_setting('server_version_num')::int").Scan(&version); err != nil {
		return translate(err, "the database cannot be reached")
	}
	if err := checkServer(version); err != nil {
		return err
	}
	for _, name := range []string{"fsync", "full_page_writes", "synchronous_commit"} {
		var value string
		if err := db.QueryRowContext(ctx, "SELECT current_setting($1)", name).Scan(&value); err != nil {
			return translate(err, "the database cannot be read")
		}
		if value != "on" {
			return &notebook.Error{
				Code: notebook.Unavailable, Field: "database", Message: "the PostgreSQL server could lose what was acknowledged: its " + name + " is " + value + ", not on",
				Hint: "as its administrator: ALTER SYSTEM RESET " + name + "; then SELECT pg_reload_conf(); or look for it in postgresql.conf",
			}
		}
	}
	return nil
}

// oldestServer is the first version that the tables and functions are made for,
// by PostgreSQL's own number.
const oldestServer = 130_000

// checkServer refuses a server of an older version.
func checkServer(version int) error {
	if version < oldestServer {
		return &notebook.Error{Code: notebook.Unavailable, Field: "database", Message: fmt.Sprintf("PostgreSQL %d is older than 13", version/10000), Hint: "bring the database server up to date, or use another"}
	}
	return nil
}

func (postgres) dialect() goose.Dialect { return goose.DialectPostgres }

// migrations are SQLite's text with some words exchanged; what SQLite has no
// words for stands there as a comment.
func (postgres) migrations(from fs.FS) fs.FS {
	return reworded{from, strings.NewReplacer(
		"INTEGER PRIMARY KEY AUTOINCREMENT", "BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY",
		"INTEGER", "BIGINT",
		"REAL", "DOUBLE PRECISION",
		"-- in PostgreSQL: ", "",
		"/* in PostgreSQL: ON audit */", "ON audit",
		"BEGIN SELECT RAISE(ABORT, 'the log of who did what only grows'); END", "EXECUTE FUNCTION log_only_grows()",
	)}
}

func (postgres) snapshot() *sql.TxOptions {
	return &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}
}

// examine asks whether every row still satisfies the keys between tables; the
// server's pages are checked by its own data checksums as they are read.
func (postgres) examine(ctx context.Context, db *sql.DB, r *Report) error {
	for _, k := range []struct{ table, column, of string }{
		{"readings", "setup", "setups"}, {"trials", "setup", "setups"}, {"ends", "setup", "setups"},
		{"trial_events", "trial", "trials"}, {"verdicts", "trial", "trials"},
	} {
		var n int
		q := "SELECT count(*) FROM " + k.table + " WHERE " + k.column + " NOT IN (SELECT id FROM " + k.of + ")"
		if err := db.QueryRowContext(ctx, q).Scan(&n); err != nil {
			return translate(err, "the notebook's references cannot be checked")
		}
		if n > 0 {
			r.add("%d rows of %s name a row of %s that is missing", n, k.table, k.of)
		}
	}
	return nil
}

// overwrite writes every table anew without what was deleted. The server's own
// journal holds the old bytes until it has gone round; only its administrator
// can hasten that.
func (postgres) overwrite(ctx context.Context, s *Store) (err error) {
	// Who waits for a table alone holds up everybody behind: not for long.
	if _, err := s.write.ExecContext(ctx, "SET lock_timeout = '5s'"); err != nil {
		return err
	}
	defer func() {
		short, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		_, reset := s.write.ExecContext(short, "RESET lock_timeout")
		err = joined(err, reset)
	}()
	if owns, err := ownsTables(ctx, s.write); err != nil {
		return err
	} else if !owns {
		_, err := s.write.ExecContext(ctx, "SELECT write_tables_anew()")
		return err
	}
	tables, err := allTables(ctx, s.write)
	if err != nil {
		return err
	}
	for _, t := range tables {
		if _, err := s.write.ExecContext(ctx, "VACUUM (FULL) "+t); err != nil {
			return err
		}
	}
	return nil
}

// saysWho are the columns that hold what people write, and their logins.
const saysWho = "('body', 'login')"

// keepOutOfStatistics has the server keep no samples of what people write: its
// catalogue would hold them after an erasure, where nobody but its
// administrator reaches them, and no query is planned by them. Samples from
// before are removed. Only the owner of the tables can do it, and does it once.
func (postgres) keepOutOfStatistics(ctx context.Context, db *sql.DB) error {
	if owns, err := ownsTables(ctx, db); err != nil || !owns {
		return err
	}
	const sampled = " FROM pg_attribute a JOIN pg_class r ON r.oid = a.attrelid WHERE r.relnamespace = current_schema()::regnamespace AND r.relkind = 'r' AND a.attname IN " + saysWho
	steps, err := names(ctx, db, "SELECT format('ALTER TABLE %I ALTER COLUMN %I SET STATISTICS 0', r.relname, a.attname)"+sampled+" AND a.attstattarget IS DISTINCT FROM 0")
	if err != nil || len(steps) == 0 {
		return err
	}
	// the type that it has already: nothing is written anew, and the samples go
	old, err := names(ctx, db, "SELECT format('ALTER TABLE %I ALTER COLUMN %I TYPE TEXT', r.relname, a.attname)"+sampled+
		" AND EXISTS (SELECT 1 FROM pg_stats s WHERE s.schemaname = current_schema() AND s.tablename = r.relname AND s.attname = a.attname)")
	if err != nil {
		return err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := inTurn(ctx, tx, append(old, steps...)); err != nil {
		return joined(err, ignoreDone(tx.Rollback()))
	}
	if err := tx.Commit(); err != nil || len(old) == 0 {
		return err
	}
	_, err = db.ExecContext(ctx, "VACUUM (FULL) pg_statistic") // the owner of the database may; another is warned and passed over
	return err
}

// postgresError puts the server's error into the notebook's words; the classes
// are in PostgreSQL's manual, appendix A.
func postgresError(e *pgconn.PgError, doing string) *notebook.Error {
	switch {
	case e.Code == "53100":
		return &notebook.Error{Code: notebook.DiskFull, Message: "the database server's disk is full; nothing was changed", Hint: "free some space there, then try again; reading and exporting still work"}
	case e.Code == "42501", e.Code == "42883":
		return &notebook.Error{Code: notebook.Unavailable, Message: "the database's role may not do this", Hint: "as the database's owner: tautline migrate --database … --serve-as ROLE"}
	case e.Code == "23503":
		return &notebook.Error{Code: notebook.Invalid, Message: "the record names another that is not in the notebook", Hint: "send the set-up or trial it belongs to first"}
	case e.Code == "25006":
		return &notebook.Error{Code: notebook.Unavailable, Message: "the database takes no writing now", Hint: "it may be a standby; use the address of the primary server"}
	case e.Code == "58030", strings.HasPrefix(e.Code, "XX"): // the disk failed, or the data are damaged
		return &notebook.Error{Code: notebook.ReadOnly, Message: "writing failed; nothing more is written until the notebook is opened anew", Hint: "look at the database server's log, then start the program again and run: tautline verify"}
	case e.Code == "40001", e.Code == "40P01", e.Code == "55P03", strings.HasPrefix(e.Code, "53"):
		return &notebook.Error{Code: notebook.Busy, Message: "the database is too busy", Hint: "try again in a moment"}
	case strings.HasPrefix(e.Code, "28"), e.Code == "3D000":
		return &notebook.Error{Code: notebook.Unavailable, Message: "the database lets nobody in under this name", Hint: "check name, password and database in the address"}
	}
	return &notebook.Error{Code: notebook.Unavailable, Message: doing, Hint: "try again; if it stays, look at the database server"}
}
