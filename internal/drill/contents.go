//go:build unix

package drill

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver pgx
	_ "modernc.org/sqlite"             // the driver sqlite
)

// Row is one version of a record as it is stored.
type Row struct {
	Table string
	Body  []byte
}

// Contents are what a notebook holds, read by plain SQL and file reads: the
// program's own code is what is on trial.
type Contents struct {
	Rows     map[string]Row    // by id/version
	Files    map[string]string // name of a sound file → SHA-256 of its bytes
	Partial  []string          // unfinished uploads
	Problems []string          // what the database says of itself
}

func (c *Contents) add(format string, args ...any) {
	c.Problems = append(c.Problems, fmt.Sprintf(format, args...))
}

// Count is how many rows a table has.
func (c *Contents) Count(table string) (n int) {
	for _, r := range c.Rows {
		if r.Table == table {
			n++
		}
	}
	return n
}

// ReadFolder reads a notebook kept in a SQLite file that no program has open:
// the database's own check, foreign keys, every record, every sound file. The
// database is copied first, with its journal, so that looking mends nothing.
func ReadFolder(ctx context.Context, dir string) (*Contents, error) {
	copied, err := copyDatabase(dir)
	defer os.RemoveAll(copied)
	if err != nil {
		return nil, err
	}
	return read(ctx, filepath.Join(copied, "notebook.db"), "rwc", dir)
}

// copyDatabase puts a copy of the database with its journal into a new folder,
// which is there also beside an error.
func copyDatabase(dir string) (copied string, err error) {
	if copied, err = os.MkdirTemp(scratch(), "tautline-look-"); err != nil {
		return "", err
	}
	for _, name := range []string{"notebook.db", "notebook.db-wal", "notebook.db-journal"} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(copied, name), b, 0o600)
		}
		if err != nil {
			return copied, err
		}
	}
	return copied, nil
}

// ReadLive reads a notebook that a program has open.
func ReadLive(ctx context.Context, dir string) (*Contents, error) {
	return read(ctx, filepath.Join(dir, "notebook.db"), "ro", dir)
}

func read(ctx context.Context, file, mode, dir string) (*Contents, error) {
	db, err := sql.Open("sqlite", "file:"+file+"?mode="+mode+"&_pragma=busy_timeout(5000)")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	c := &Contents{Rows: map[string]Row{}}
	c.ask(ctx, db, "PRAGMA integrity_check", "ok")
	c.ask(ctx, db, "PRAGMA foreign_key_check", "")
	if err := c.readTables(ctx, db, "SELECT name FROM sqlite_master WHERE type = 'table' AND sql LIKE '%version INTEGER%body TEXT%'"); err != nil {
		return nil, err
	}
	return c, c.readFiles(dir)
}

// ReadPostgres reads a notebook kept in PostgreSQL, with the sound files of
// its folder.
func ReadPostgres(ctx context.Context, address, dir string) (*Contents, error) {
	db, err := sql.Open("pgx", address)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	c := &Contents{Rows: map[string]Row{}}
	err = c.readTables(ctx, db, `SELECT table_name FROM information_schema.columns WHERE table_schema = current_schema()
		AND column_name IN ('id', 'version', 'body') GROUP BY table_name HAVING count(*) = 3`)
	return c, errors.Join(err, c.readFiles(dir))
}

// ask demands that a pragma's every row begins with the one answer; "" is no
// row at all.
func (c *Contents) ask(ctx context.Context, db *sql.DB, pragma, answer string) {
	rows, err := db.QueryContext(ctx, pragma)
	if err != nil {
		c.add("%s: %v", pragma, err)
		return
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		c.add("%s: %v", pragma, err)
		return
	}
	n := 0
	for rows.Next() {
		cells := make([]any, len(columns))
		for i := range cells {
			cells[i] = new(sql.NullString)
		}
		if err := rows.Scan(cells...); err != nil {
			c.add("%s: %v", pragma, err)
			return
		}
		n++
		if said := cells[0].(*sql.NullString).String; answer == "" || said != answer {
			c.add("%s: %s", pragma, said)
		}
	}
	if err := rows.Err(); err != nil || n == 0 && answer != "" {
		c.add("%s: no answer, %v", pragma, err)
	}
}

// readTables reads every record of every kind.
func (c *Contents) readTables(ctx context.Context, db *sql.DB, list string) error {
	tables, err := texts(ctx, db, list)
	if err != nil {
		return err
	}
	for _, t := range tables {
		if err := c.readTable(ctx, db, t); err != nil {
			return fmt.Errorf("%s: %w", t, err)
		}
	}
	return nil
}

func (c *Contents) readTable(ctx context.Context, db *sql.DB, table string) error {
	rows, err := db.QueryContext(ctx, "SELECT id, version, body FROM "+table)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id, body string
		var version int
		if err := rows.Scan(&id, &version, &body); err != nil {
			return err
		}
		key := fmt.Sprintf("%s/%d", id, version)
		if _, twice := c.Rows[key]; twice {
			c.add("%s %s is stored twice", table, key)
		}
		c.Rows[key] = Row{table, []byte(body)}
	}
	return rows.Err()
}

func texts(ctx context.Context, db *sql.DB, query string) (out []string, err error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, rows.Err()
}

// readFiles reads every sound file and demands that each row has its own.
func (c *Contents) readFiles(dir string) error {
	c.Files = map[string]string{}
	entries, err := os.ReadDir(filepath.Join(dir, "recordings"))
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ".sha256") {
			continue // says of an upload in parts which file it became
		}
		if len(e.Name()) != 64 {
			c.Partial = append(c.Partial, e.Name())
			continue
		}
		b, err := os.ReadFile(filepath.Join(dir, "recordings", e.Name()))
		if err != nil {
			return err
		}
		if c.Files[e.Name()] = Hash(b); c.Files[e.Name()] != e.Name() {
			c.add("sound file %.12s holds other bytes", e.Name())
		}
	}
	for key, row := range c.Rows {
		if row.Table == "recordings" && !c.hasFile(row) {
			c.add("recording %s has no sound file", key)
		}
	}
	return nil
}

// hasFile looks for the file that a recording's record names.
func (c *Contents) hasFile(row Row) bool {
	_, rest, _ := strings.Cut(string(row.Body), `"hash":"`)
	hash, _, _ := strings.Cut(rest, `"`)
	return c.Files[hash] == hash && hash != ""
}
