package store

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// The database of every past version is kept as it was written then, beside
// the records it holds. -fixture writes the one of the present version; it is
// done once, when a version is published, and never again.
var fixture = flag.String("fixture", "", "write testdata/v`VERSION` with the migrations up to it")

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
			dir := t.TempDir()
			copyFiles(t, from, dir)
			s, ctx := open(t, dir), context.Background()
			if r, err := s.Verify(ctx); err != nil || len(r.Problems) > 0 || r.Counts["reading"] != 2 {
				t.Errorf("after the update: %+v, %v", r, err)
			}
			want, err := os.ReadFile(filepath.Join(from, recordsName))
			if err != nil {
				t.Fatal(err)
			}
			var have bytes.Buffer
			if err := s.writeRecords(ctx, s.read, &have); err != nil || !bytes.Equal(have.Bytes(), want) {
				t.Errorf("the records are not as they were: %v\n%s", err, have.Bytes())
			}
			copies, err := filepath.Glob(filepath.Join(dir, copiesDir, "before-version-*.db"))
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
			if err := db.QueryRow("SELECT count(*) FROM readings").Scan(&n); err != nil || n != 2 {
				t.Errorf("the copy holds %d readings, %v", n, err)
			}
		})
	}
}

func writeFixture(t *testing.T, version string) {
	dir := filepath.Join("testdata", "v"+version)
	if _, err := os.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
		t.Fatalf("%s is there already and stays as it is", dir)
	}
	s, _ := filled(t)
	var records bytes.Buffer
	if err := s.writeRecords(context.Background(), s.read, &records); err != nil {
		t.Fatal(err)
	}
	// an empty notebook of that version takes the records in
	old := t.TempDir()
	upTo := fstest.MapFS{}
	files, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if name := filepath.Base(f); name[:5] <= "0000"+version {
			raw, err := fs.ReadFile(migrations, f)
			if err != nil {
				t.Fatal(err)
			}
			upTo[f] = &fstest.MapFile{Data: raw}
		}
	}
	file := lite{filepath.Join(old, databaseName)}
	if err := makeFolders(old, file); err != nil {
		t.Fatal(err)
	}
	o := &Store{dir: old, engine: file, now: s.now, lock: &lock{}}
	if o.write, err = openSQLite(filepath.Join(old, databaseName), writer); err != nil {
		t.Fatal(err)
	}
	if err := o.migrate(context.Background(), upTo); err != nil {
		t.Fatal(err)
	}
	o.read = o.write
	o.tables()
	o.blobs = blobs{store: o, dir: filepath.Join(old, recordingsDir)}
	sound := filepath.Join(s.dir, recordingsDir)
	from := fstest.MapFS{recordsName: &fstest.MapFile{Data: records.Bytes()}}
	sounds, err := os.ReadDir(sound)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range sounds {
		raw, err := os.ReadFile(filepath.Join(sound, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		from[recordingsDir+"/"+f.Name()] = &fstest.MapFile{Data: raw}
	}
	if r, err := o.Import(context.Background(), from, ImportOptions{}); err != nil || !r.Done {
		t.Fatalf("%+v, %v", r, err)
	}
	if err := o.write.Close(); err != nil {
		t.Fatal(err)
	}
	copyFiles(t, old, dir)
	if err := os.WriteFile(filepath.Join(dir, recordsName), records.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// copyFiles copies the database and the sound files.
func copyFiles(t *testing.T, from, to string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(to, recordingsDir), 0o700); err != nil {
		t.Fatal(err)
	}
	names, err := filepath.Glob(filepath.Join(from, recordingsDir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range append(names, filepath.Join(from, databaseName)) {
		rel, err := filepath.Rel(from, path)
		if err != nil {
			t.Fatal(err)
		}
		if err := copyFile(path, filepath.Join(to, rel)); err != nil {
			t.Fatal(err)
		}
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
	next := func(sql string) fs.FS {
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
	err := s.migrate(ctx, next("CREATE TABLE half (a TEXT);\nDELETE FROM readings;\nINSERT INTO nowhere VALUES (1);\n"))
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
	if copies, err := filepath.Glob(filepath.Join(dir, copiesDir, "*.db")); err != nil || len(copies) != 1 {
		t.Errorf("copies: %v, %v", copies, err)
	}
	if err := s.migrate(ctx, next("CREATE TABLE whole (a TEXT);\n")); err != nil {
		t.Errorf("the mended migration gave %v", err)
	}
}
