package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

func open(t *testing.T, dir string) *Store {
	t.Helper()
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func TestContract(t *testing.T) {
	storetest.Run(t, func(t *testing.T) notebook.Store { return open(t, t.TempDir()) })
}

func TestFilesAreTheOwnersAlone(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "with a space")
	s := open(t, dir)
	storetest.PutAll(t, s, storetest.New())
	for _, name := range []string{".", "recordings", "notebook.db", "notebook.db-wal", "lock", "reserve"} {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s is open to others: %v", name, info.Mode())
		}
	}
}

func TestSecondProgramIsToldWho(t *testing.T) {
	dir := t.TempDir()
	open(t, dir)
	_, err := Open(context.Background(), dir, Options{})
	if notebook.CodeOf(err) != notebook.Busy || !strings.Contains(err.Error(), fmt.Sprint("process ", os.Getpid())) {
		t.Errorf("a second opening gave %v", err)
	}
}

// F1 of the bars (tried there: NORMAL lost acknowledged commits at 314 of 400
// simulated power cuts, FULL at none).
func TestUnsafeSettingsAreRefused(t *testing.T) {
	for settings, told := range map[string]string{
		"journal_mode(WAL) synchronous(NORMAL) foreign_keys(1)":  "synchronous 1",
		"journal_mode(DELETE) synchronous(FULL) foreign_keys(1)": "journal delete",
		"journal_mode(WAL) synchronous(FULL) foreign_keys(0)":    "foreign keys 0",
		"journal_mode(WAL) synchronous(FULL) foreign_keys(1)":    "",
	} {
		db, err := sql.Open("sqlite", "file:"+filepath.Join(t.TempDir(), "a.db")+"?_pragma="+strings.ReplaceAll(settings, " ", "&_pragma="))
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if err := (lite{}).assert(context.Background(), db); (err == nil) != (told == "") || err != nil && !strings.Contains(err.Error(), told) {
			t.Errorf("%s gave %v", settings, err)
		}
	}
}

// F8: the driver works only with the C library it was generated against.
func TestLibcIsTheDriversOwn(t *testing.T) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "modernc.org/sqlite").Output()
	if err != nil {
		t.Fatal(err)
	}
	want := requirement(t, filepath.Join(strings.TrimSpace(string(out)), "go.mod"))
	if have := requirement(t, filepath.Join("..", "..", "go.mod")); have != want {
		t.Errorf("modernc.org/libc is %s here, %s in the driver's go.mod", have, want)
	}
}

func requirement(t *testing.T, path string) string {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(raw), "\n") {
		f := strings.Fields(line)
		if len(f) > 1 && f[0] == "modernc.org/libc" {
			return f[1]
		}
	}
	t.Fatalf("%s does not require modernc.org/libc", path)
	return ""
}

func TestNewerNotebookIsLeftAlone(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, 1)"); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(context.Background(), dir, Options{}); notebook.CodeOf(err) != notebook.TooNew {
		t.Errorf("a newer notebook gave %v", err)
	}
}

func TestUnnamedRecordingsAreSweptAfterADay(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	ctx := context.Background()
	x := storetest.New()
	storetest.PutAll(t, s, x)
	orphan, _, err := s.Blobs().Add(ctx, strings.NewReader("nobody names this"), 100)
	if err != nil {
		t.Fatal(err)
	}
	named, size, err := s.Blobs().Add(ctx, strings.NewReader("this one is named"), 100)
	if err != nil {
		t.Fatal(err)
	}
	rec := notebook.Recording{Stamp: notebook.Stamp{ID: notebook.NewID(), By: x.Person.ID, At: storetest.At}, Hash: named, Bytes: size}
	if _, _, err := s.Recordings().Put(ctx, x.Person.ID, rec); err != nil {
		t.Fatal(err)
	}
	s.now = func() time.Time { return time.Now().Add(25 * time.Hour) }
	if err := s.blobs.sweep(ctx, 24*time.Hour); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Blobs().Open(ctx, orphan); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("the orphan is still there: %v", err)
	}
	if f, err := s.Blobs().Open(ctx, named); err != nil {
		t.Errorf("the named recording is gone: %v", err)
	} else if err := f.Close(); err != nil {
		t.Error(err)
	}
}

// U18: wherever a power cut stops the finishing of an upload, whoever asks again
// goes on and gets the file; what nobody goes on with for a day is given up.
func TestUploadAfterAStop(t *testing.T) {
	ctx, data := context.Background(), "all of the sound"
	sum := sha256.Sum256([]byte(data))
	hash := hex.EncodeToString(sum[:])
	for _, stop := range []struct {
		when  string
		parts bool
		noted string
		named bool
	}{
		{"before the end", true, "", false}, {"while the hash is noted", true, hash[:7], false},
		{"before it has its name", true, hash, false}, {"after", false, hash, true},
	} {
		dir := t.TempDir()
		s := open(t, dir)
		u := notebook.Upload{ID: notebook.NewID(), By: notebook.NewID()}
		for name, text := range map[string]string{partsName(u): data, notedName(u): stop.noted, hash: data} {
			if name == partsName(u) && stop.parts || name == notedName(u) && stop.noted != "" || name == hash && stop.named {
				if err := os.WriteFile(filepath.Join(dir, recordingsDir, name), []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
		}
		held, err := s.Blobs().Held(ctx, u)
		if err != nil || held.Bytes != int64(len(data)) || (held.Hash != "") != stop.named {
			t.Errorf("%s: %+v, %v", stop.when, held, err)
		}
		if got, _, err := s.Blobs().Finish(ctx, u, hash); got != hash || err != nil {
			t.Errorf("%s: finished as %s, %v", stop.when, got, err)
		}
		if _, err := s.Blobs().Open(ctx, hash); err != nil {
			t.Errorf("%s: %v", stop.when, err)
		}
		begun := notebook.Upload{ID: notebook.NewID(), By: u.By}
		if _, err := s.Blobs().Append(ctx, begun, 0, strings.NewReader("half"), 100); err != nil {
			t.Fatal(err)
		}
		s.now = func() time.Time { return time.Now().Add(23 * time.Hour) }
		if err := s.blobs.sweepUploads(sweptAfter); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Blobs().Held(ctx, begun); err != nil {
			t.Errorf("%s: given up after 23 hours: %v", stop.when, err)
		}
		s.now = func() time.Time { return time.Now().Add(25 * time.Hour) }
		if err := s.blobs.sweepUploads(sweptAfter); err != nil {
			t.Fatal(err)
		}
		if left, err := filepath.Glob(filepath.Join(dir, recordingsDir, "*")); err != nil || len(left) != 1 {
			t.Errorf("%s: left after a day: %v, %v", stop.when, left, err)
		}
	}
}

// childDir names a notebook that a child of the test tries to open.
const childDir = "TAUTLINE_TEST_CHILD_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(childDir); dir != "" {
		_, err := Open(context.Background(), dir, Options{})
		fmt.Println(err)
		os.Exit(1)
	}
	code := m.Run()
	stopServer()
	os.Exit(code)
}

func BenchmarkPut(b *testing.B) {
	s, err := Open(context.Background(), b.TempDir(), Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	x := storetest.New()
	if _, _, err := s.SetUps().Put(context.Background(), x.Person.ID, x.SetUp); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		r := x.Reading
		r.ID, r.Trial = notebook.NewID(), ""
		if _, _, err := s.Readings().Put(context.Background(), x.Person.ID, r); err != nil {
			b.Fatal(err)
		}
	}
}

// A page of 200 readings of one trial out of 20 000.
func BenchmarkList(b *testing.B) {
	ctx := context.Background()
	s, err := Open(ctx, b.TempDir(), Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	x := storetest.New()
	if _, _, err := s.SetUps().Put(ctx, x.Person.ID, x.SetUp); err != nil {
		b.Fatal(err)
	}
	tx, err := s.write.Begin()
	if err != nil {
		b.Fatal(err)
	}
	for i := range 20_000 {
		r := x.Reading
		r.ID, r.Trial = notebook.NewID(), ""
		if i%100 == 0 {
			r.Trial = x.Trial.ID
		}
		if _, err := s.readings.insert(ctx, tx, r, storetest.At); err != nil {
			b.Fatal(err)
		}
	}
	if err := tx.Commit(); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		page, err := s.Readings().List(ctx, x.Person.ID, notebook.Query{Trial: x.Trial.ID})
		if err != nil || len(page.Rows) != 200 {
			b.Fatal(len(page.Rows), err)
		}
	}
}

func TestDefaultDir(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", "/data of mine")
	if dir, err := DefaultDir(); err != nil || dir != filepath.Join("/data of mine", "tautline") {
		t.Errorf("%q, %v", dir, err)
	}
	t.Setenv("XDG_DATA_HOME", "relative")
	t.Setenv("HOME", "/home/ida")
	if dir, err := DefaultDir(); err != nil || !strings.HasPrefix(dir, "/home/ida/") || filepath.Base(dir) != "tautline" {
		t.Errorf("%q, %v", dir, err)
	}
}
