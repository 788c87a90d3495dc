package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgconn"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// T1: an engine that is too old is refused. SQLite's first version without the
// WAL-reset race is 3.51.3 (sqlite.org/changes, read); PostgreSQL's number is
// the major version times 10 000 (manual, server_version_num, read).
func TestOldEnginesAreRefused(t *testing.T) {
	for version, good := range map[string]bool{
		"3.51.3": true, "3.51.4": true, "3.51.10": true, "3.52.0": true, "3.100.0": true, "4.0.0": true,
		"3.51.2": false, "3.50.9": false, "3.9.99": false, "2.99.99": false, "": false, "3.51": false, "new": false,
	} {
		if err := checkEngine(version); (err == nil) != good {
			t.Errorf("SQLite %q: %v", version, err)
		}
	}
	for version, good := range map[int]bool{130000: true, 130021: true, 170002: true, 129999: false, 120020: false, 90624: false} {
		if err := checkServer(version); (err == nil) != good || err != nil && notebook.CodeOf(err) != notebook.Unavailable {
			t.Errorf("PostgreSQL %d: %v", version, err)
		}
	}
}

// T1: a server that could lose what it acknowledged (manual, "Write Ahead Log":
// fsync, full_page_writes, synchronous_commit) is refused at the opening; what a
// database or a role has set for synchronous_commit, the program sets right
// itself.
func TestUnsafeServerIsRefused(t *testing.T) {
	o, ctx := emptyDatabase(t), context.Background()
	db, err := sql.Open("pgx", o.Database)
	fatal(t, err)
	defer db.Close()
	do := func(statement string) {
		t.Helper()
		_, err := db.ExecContext(ctx, statement)
		fatal(t, err)
	}
	setting := func(name, want string) { // a moment after the reload
		t.Helper()
		do("SELECT pg_reload_conf()")
		for end := time.Now().Add(20 * time.Second); ; time.Sleep(20 * time.Millisecond) {
			var have string
			fatal(t, db.QueryRowContext(ctx, "SELECT current_setting($1)", name).Scan(&have))
			if have == want {
				return
			}
			if time.Now().After(end) {
				t.Fatalf("%s stays %s", name, have)
			}
		}
	}
	for _, name := range []string{"fsync", "full_page_writes"} {
		do("ALTER SYSTEM SET " + name + " = off")
		setting(name, "off")
		s, err := Open(ctx, t.TempDir(), o)
		var e *notebook.Error
		if !errors.As(err, &e) || e.Code != notebook.Unavailable || !strings.Contains(e.Message, name+" is off") || !strings.Contains(e.Hint, name) {
			t.Errorf("%s off: %v", name, err)
		}
		if s != nil {
			fatal(t, s.Close())
		}
		do("ALTER SYSTEM RESET " + name)
		setting(name, "on")
	}
	var name string
	fatal(t, db.QueryRowContext(ctx, "SELECT current_database()").Scan(&name))
	do("ALTER DATABASE " + name + " SET synchronous_commit = off")
	s := openWith(t, t.TempDir(), o)
	for role, pool := range map[string]*sql.DB{"writes": s.write, "reads": s.read} {
		var have string
		if err := pool.QueryRowContext(ctx, "SHOW synchronous_commit").Scan(&have); err != nil || have != "on" {
			t.Errorf("who %s commits with synchronous_commit %s, %v", role, have, err)
		}
	}
	off, err := sql.Open("pgx", o.Database)
	fatal(t, err)
	defer off.Close()
	if err := (postgres{}).assert(ctx, off); err == nil || !strings.Contains(err.Error(), "synchronous_commit is off") {
		t.Errorf("synchronous_commit off: %v", err)
	}
}

// T5, D4: a full disk of the database's server (SQLSTATE 53100) is told as one;
// nothing is changed, reading and exporting go on, and so does writing once there
// is room. What is erased is refused whole, for there is no reserve (0088).
func TestFullDiskOfTheServer(t *testing.T) {
	r, ctx := twoRoles(t, "crowded"), t.Context()
	r.served(t)
	s := openWith(t, t.TempDir(), r.lesser)
	x := storetest.New()
	storetest.PutAll(t, s, x)
	before := exported(t, s)
	r.as(t, "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RAISE EXCEPTION ''could not extend file: No space left on device'' USING ERRCODE = ''disk_full''; END'")
	r.as(t, "CREATE TRIGGER full_disk BEFORE INSERT OR DELETE ON readings FOR EACH ROW EXECUTE FUNCTION full_disk()")
	told := func(doing string, err error, words string) {
		t.Helper()
		var e *notebook.Error
		if !errors.As(err, &e) || e.Code != notebook.DiskFull || !strings.Contains(e.Message, words) || e.Hint == "" {
			t.Errorf("%s: %v", doing, err)
		}
	}
	more := x.Reading
	more.ID = notebook.NewID()
	_, _, err := s.Readings().Put(ctx, x.Person.ID, more)
	told("noting", err, "the database server's disk is full; nothing was changed")
	_, err = s.Erase(ctx, x.Person.ID)
	told("erasing", err, "the database server's disk is full; nothing was changed")
	if err := s.Writable(); err != nil {
		t.Errorf("a full disk ends the writing for good: %v", err)
	}
	if string(exported(t, s)) != string(before) {
		t.Error("what was refused changed the notebook")
	}
	r.as(t, "DROP TRIGGER full_disk ON readings")
	if _, _, err := s.Readings().Put(ctx, x.Person.ID, more); err != nil {
		t.Errorf("with room again: %v", err)
	}
	r.as(t, "CREATE OR REPLACE FUNCTION write_tables_anew() RETURNS void LANGUAGE plpgsql AS 'BEGIN RAISE EXCEPTION ''no space'' USING ERRCODE = ''disk_full''; END'")
	done, err := s.Erase(ctx, x.Person.ID)
	told("writing the tables anew", err, "the records are gone; there is no room yet")
	if done.Removed[notebook.BowNoun] != 1 || storetest.CountReadings(t, s) != 0 {
		t.Errorf("%+v", done)
	}
}

// The server's words become the notebook's (codes: PostgreSQL's manual,
// appendix A, read).
func TestServersErrors(t *testing.T) {
	for code, want := range map[string]notebook.Code{
		"53100": notebook.DiskFull, "53200": notebook.Busy, "53300": notebook.Busy, "40001": notebook.Busy, "40P01": notebook.Busy, "55P03": notebook.Busy,
		"42501": notebook.Unavailable, "42883": notebook.Unavailable, "23503": notebook.Invalid, "25006": notebook.Unavailable, "58030": notebook.ReadOnly,
		"XX001": notebook.ReadOnly, "XX002": notebook.ReadOnly, "28P01": notebook.Unavailable, "3D000": notebook.Unavailable, "57P01": notebook.Unavailable,
	} {
		cause := &pgconn.PgError{Code: code, Message: "in the server's words"}
		var e *notebook.Error
		if err := translate(cause, "it could not be stored"); !errors.As(err, &e) || e.Code != want || e.Hint == "" || !errors.Is(err, cause) || strings.Contains(e.Message+e.Hint, cause.Message) {
			t.Errorf("%s: %v, not %s", code, err, want)
		}
	}
}
