package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// T10: a database of every past version is brought up to date with every
// record as it was, after a copy was made.
func TestPastVersionsAreBroughtUp(t *testing.T) {
	if *fixture != "" {
		writeFixture(t, *fixture)
	}
	versions, err := filepath.Glob("testdata/v*")
	if err != nil {
		t.Fatal(err)
	}
	steps, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil || len(versions) != len(steps) {
		t.Fatalf("%d versions are kept of %d that there are (%v): write the one missing with -fixture and keep it", len(versions), len(steps), err)
	}
	for _, from := range versions {
		t.Run(filepath.Base(from), func(t *testing.T) {
			want, err := os.ReadFile(filepath.Join(from, recordsName))
			if err != nil {
				t.Fatal(err)
			}
			readings := bytes.Count(want, []byte(`{"kind":"reading"`))
			dir := t.TempDir()
			copyFiles(t, from, dir)
			old := versionOf(t, dir)
			s, ctx := open(t, dir), context.Background()
			if r, err := s.Verify(ctx); err != nil || len(r.Problems) > 0 || r.Counts["reading"] != readings {
				t.Errorf("after the update: %+v, %v", r, err)
			}
			var have bytes.Buffer
			if err := s.writeRecords(ctx, s.read, &have); err != nil || !bytes.Equal(have.Bytes(), want) {
				t.Errorf("the records are not as they were: %v\n%s", err, have.Bytes())
			}
			if filepath.Base(from) != fmt.Sprint("v", old) {
				t.Errorf("%s is of version %d", from, old)
			}
			if old >= accountsSince {
				checkFixtureAccounts(t, s)
			}
			if old < versionOf(t, dir) {
				checkCopyBefore(t, dir, readings)
			}
		})
	}
}

// The same on PostgreSQL: a database of every past version, with the rows of
// that version's fixture, is brought up to date with every record as it was.
func TestPastVersionsOnPostgres(t *testing.T) {
	versions, err := filepath.Glob("testdata/v*")
	if err != nil || len(versions) == 0 {
		t.Fatalf("no past versions: %v", err)
	}
	for _, from := range versions {
		t.Run(filepath.Base(from), func(t *testing.T) {
			o := pastPostgres(t, from)
			dir := t.TempDir()
			copyFiles(t, from, dir)
			s, ctx := openWith(t, dir, o), t.Context()
			if r, err := s.Verify(ctx); err != nil || len(r.Problems) > 0 {
				t.Errorf("after the update: %+v, %v", r, err)
			}
			var have bytes.Buffer
			want, err := os.ReadFile(filepath.Join(from, recordsName))
			if bad := s.writeRecords(ctx, s.read, &have); err != nil || bad != nil || !bytes.Equal(have.Bytes(), want) {
				t.Errorf("the records are not as they were: %v, %v\n%s", err, bad, have.Bytes())
			}
			var copies int
			if err := s.read.QueryRow("SELECT count(*) FROM information_schema.schemata WHERE schema_name LIKE 'before_version_%'").Scan(&copies); err != nil {
				t.Fatal(err)
			}
			if wanted := min(1, len(versions)-versionOf(t, dir)); copies != wanted {
				t.Errorf("%d copies were made before, %d wanted", copies, wanted)
			}
		})
	}
}

// pastPostgres makes a PostgreSQL database of a past version with the rows of a
// fixture.
func pastPostgres(t *testing.T, fixture string) Options {
	t.Helper()
	o := emptyDatabase(t)
	pastIn(t, fixture, o)
	return o
}

// pastIn does it in a database, as the role that its address names.
func pastIn(t *testing.T, fixture string, o Options) {
	t.Helper()
	dir := t.TempDir()
	copyFiles(t, fixture, dir)
	e, err := o.engine(dir)
	fatal(t, err)
	old := &Store{dir: dir, engine: e, now: time.Now, lock: &lock{}}
	old.write, err = e.open(writer)
	fatal(t, err)
	fatal(t, old.migrate(t.Context(), migrationsTo(t, fmt.Sprint(versionOf(t, dir)))))
	rows, err := openSQLite(filepath.Join(dir, databaseName), inspector)
	fatal(t, err)
	tables, err := (lite{}).tables(t.Context(), rows)
	fatal(t, err)
	for _, table := range inOrder(tables) {
		copyTable(t, rows, old.write, table)
	}
	fatal(t, errors.Join(rows.Close(), old.write.Close()))
}

// inOrder puts the tables that others refer to first.
func inOrder(tables []string) []string {
	first := []string{"people", "bows", "setups", "sessions", "recordings", "trials"}
	return append(slices.DeleteFunc(slices.Clone(first), func(n string) bool { return !slices.Contains(tables, n) }),
		slices.DeleteFunc(slices.Clone(tables), func(n string) bool { return slices.Contains(first, n) || n == "goose_db_version" })...)
}

// copyTable copies the rows of a table as they are, without their numbers.
func copyTable(t *testing.T, from, to *sql.DB, table string) {
	t.Helper()
	rows, err := from.Query("SELECT * FROM " + table + " ORDER BY rowid")
	fatal(t, err)
	defer rows.Close()
	columns, err := rows.Columns()
	fatal(t, err)
	for rows.Next() {
		cells := make([]any, len(columns))
		for i := range cells {
			cells[i] = new(any)
		}
		fatal(t, rows.Scan(cells...))
		var names, marks []string
		var values []any
		for i, c := range columns {
			if c == "seq" {
				continue
			}
			values = append(values, *cells[i].(*any))
			names, marks = append(names, c), append(marks, fmt.Sprint("$", len(values)))
		}
		if _, err := to.Exec("INSERT INTO "+table+" ("+strings.Join(names, ", ")+") VALUES ("+strings.Join(marks, ", ")+")", values...); err != nil {
			t.Fatalf("%s: %v", table, err)
		}
	}
	fatal(t, rows.Err())
}

// checkCopyBefore: exactly one copy was made before the update, for the owner
// alone, and holds the readings.
func checkCopyBefore(t *testing.T, dir string, readings int) {
	t.Helper()
	copies, err := filepath.Glob(filepath.Join(dir, copiesDir, "before-version-*", databaseName))
	if err != nil || len(copies) != 1 {
		t.Fatalf("copies made before: %v, %v", copies, err)
	}
	if info, err := os.Stat(copies[0]); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the copy is open to others: %v, %v", info.Mode(), err)
	}
	db, err := openSQLite(copies[0], inspector)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var n int
	if err := db.QueryRow("SELECT count(*) FROM readings").Scan(&n); err != nil || n != readings {
		t.Errorf("the copy holds %d readings, %v", n, err)
	}
}

// F9: a migration that fails half-way leaves the notebook as it was, in its
// old version, with the copy beside it; the same program mended goes on.
func TestFailedMigrationChangesNothing(t *testing.T) {
	dir, ctx := t.TempDir(), context.Background()
	s := open(t, dir)
	x := storetest.New()
	storetest.PutAll(t, s, x)
	before := exported(t, s)
	err := s.migrate(ctx, nextVersion(t, "CREATE TABLE half (a TEXT);\nDELETE FROM readings;\nINSERT INTO nowhere VALUES (1);\n"))
	if notebook.CodeOf(err) != notebook.Unavailable {
		t.Fatalf("a failing migration gave %v", err)
	}
	var half int
	if err := s.write.QueryRow("SELECT count(*) FROM sqlite_master WHERE name = 'half'").Scan(&half); err != nil || half != 0 {
		t.Errorf("half a migration stayed: %d, %v", half, err)
	}
	if !bytes.Equal(before, exported(t, s)) {
		t.Error("the records changed")
	}
	if copies, err := filepath.Glob(filepath.Join(dir, copiesDir, "*", databaseName)); err != nil || len(copies) != 1 {
		t.Errorf("copies: %v, %v", copies, err)
	}
	if err := s.migrate(ctx, nextVersion(t, "CREATE TABLE whole (a TEXT);\n")); err != nil {
		t.Errorf("the mended migration gave %v", err)
	}
}

// nextVersion is the migrations with one more.
func nextVersion(t *testing.T, sql string) fs.FS {
	t.Helper()
	out := migrationsTo(t, "9")
	out["migrations/00099_next.sql"] = &fstest.MapFile{Data: []byte("-- +goose Up\n" + sql)}
	return out
}
