package store

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

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
	if err != nil || len(versions) == 0 {
		t.Fatalf("no past versions: %v", err)
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
	out := fstest.MapFS{"migrations/00099_next.sql": {Data: []byte("-- +goose Up\n" + sql)}}
	files, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		raw, err := fs.ReadFile(migrations, f)
		if err != nil {
			t.Fatal(err)
		}
		out[f] = &fstest.MapFile{Data: raw}
	}
	return out
}
