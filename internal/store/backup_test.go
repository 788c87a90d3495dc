package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// D5 of the bars: a backup made while others write is whole and is checked
// again later; a flipped byte, a cut file, a missing recording, a record taken
// out and a database copied by hand are refused, each with its reason, and
// none is changed by the check.
func TestDamagedBackupsAreRefused(t *testing.T) {
	ctx := context.Background()
	s, x := filled(t)
	stop, writing := make(chan struct{}), sync.WaitGroup{}
	writing.Go(func() {
		for {
			select {
			case <-stop:
				return
			default:
			}
			r := x.Reading
			r.ID = notebook.NewID()
			if _, _, err := s.Readings().Put(ctx, x.Person.ID, r); err != nil {
				t.Error(err)
				return
			}
		}
	})
	good := filepath.Join(t.TempDir(), "good")
	made, err := s.Backup(ctx, good, BackupOptions{})
	close(stop)
	writing.Wait()
	if err != nil {
		t.Fatal(err)
	}
	if m, err := CheckBackup(ctx, good); err != nil || differ(m.Tables, made.Tables) != "" || m.Made.IsZero() {
		t.Fatalf("the good one: %+v, %v", m, err)
	}
	var sound string
	if names, err := filepath.Glob(filepath.Join(good, recordingsDir, "*")); err != nil || len(names) != 1 {
		t.Fatal(names, err)
	} else {
		sound = filepath.Join(recordingsDir, filepath.Base(names[0]))
	}
	for name, c := range map[string]struct {
		spoil func(dir string) error
		says  string
		code  notebook.Code
	}{
		"a byte of a record changed": {func(d string) error {
			return replace(filepath.Join(d, databaseName), `"text":"22,2 cm"`, `"text":"22,3 cm"`)
		}, "damaged", notebook.Damaged},
		"a byte of a note changed": {func(d string) error {
			return replace(filepath.Join(d, databaseName), "zweite", "dritte")
		}, "has changed", notebook.Damaged},
		"cut off":             {func(d string) error { return os.Truncate(filepath.Join(d, databaseName), 20480) }, "has 20480 bytes", notebook.Damaged},
		"a recording missing": {func(d string) error { return os.Remove(filepath.Join(d, sound)) }, "missing", notebook.Damaged},
		"a recording changed": {func(d string) error { return os.WriteFile(filepath.Join(d, sound), []byte("a sounb"), 0o600) }, "has changed", notebook.Damaged},
		"copied by hand":      {func(d string) error { return os.Remove(filepath.Join(d, backupName)) }, "not a backup", notebook.NotFound},
		"a note changed and the file's sum with it": {func(d string) error {
			return refit(d, func(*Manifest) {}, replace(filepath.Join(d, databaseName), `"text":"22,2 cm"`, `"text":"22,3 cm"`))
		}, "does not hold what the notebook holds in readings", notebook.Damaged},
		"without its tables' sums": {func(d string) error { return refit(d, func(m *Manifest) { m.Tables = nil }, nil) }, "says nothing of the tables", notebook.Damaged},
		"of another version":       {func(d string) error { return refit(d, func(m *Manifest) { m.Version-- }, nil) }, "it says", notebook.Damaged},
		"an older database": {func(d string) error {
			db, err := openSQLite(filepath.Join(d, databaseName), writer)
			if err != nil {
				return err
			}
			_, err = db.Exec("DELETE FROM readings WHERE seq = (SELECT max(seq) FROM readings)")
			return errors.Join(err, db.Close())
		}, "", notebook.Damaged},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			copyFiles(t, good, dir)
			if err := copiedFile(filepath.Join(good, backupName), filepath.Join(dir, backupName)); err != nil {
				t.Fatal(err)
			}
			if err := c.spoil(dir); err != nil {
				t.Fatal(err)
			}
			_, err := CheckBackup(ctx, dir)
			if notebook.CodeOf(err) != c.code || !strings.Contains(err.Error(), c.says) {
				t.Errorf("gave %v", err)
			}
		})
	}
}

// refit makes a backup say what its file is now, and something else of itself.
func refit(dir string, change func(*Manifest), before error) error {
	m, err := readManifest(dir)
	if err := errors.Join(before, err); err != nil {
		return err
	}
	root, err := openFolder(dir)
	if err != nil {
		return err
	}
	if m.Database, err = sumFile(context.Background(), root, databaseName); err != nil {
		return err
	}
	change(&m)
	return errors.Join(root.Remove(backupName), writeManifest(root, m), root.Close())
}

func replace(path, old, new string) error {
	raw, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	changed := strings.ReplaceAll(string(raw), old, new)
	if changed == string(raw) {
		return errors.New("there is no " + old + " in " + path)
	}
	return os.WriteFile(path, []byte(changed), 0o600)
}

// F3 of the bars: the database's file alone, copied while the program runs,
// lacks what was written last although it passes SQLite's own check. The proof
// of a backup finds it.
func TestCopyByHandIsProvedIncomplete(t *testing.T) {
	ctx, s, x := context.Background(), open(t, t.TempDir()), storetest.New()
	storetest.PutAll(t, s, x)
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, recordingsDir), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec("PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		t.Fatal(err)
	}
	for range 50 {
		r := x.Reading
		r.ID = notebook.NewID()
		if _, _, err := s.Readings().Put(ctx, x.Person.ID, r); err != nil {
			t.Fatal(err)
		}
	}
	sums, err := tableSums(ctx, s.engine, s.read)
	if err != nil {
		t.Fatal(err)
	}
	if err := copiedFile(filepath.Join(s.dir, databaseName), filepath.Join(dir, databaseName)); err != nil {
		t.Fatal(err)
	}
	db, err := openSQLite(filepath.Join(dir, databaseName), inspector)
	if err != nil {
		t.Fatal(err)
	}
	var check string
	if err := errors.Join(db.QueryRow("PRAGMA integrity_check").Scan(&check), db.Close()); err != nil || check != "ok" {
		t.Fatalf("the control is blind: SQLite says %q, %v", check, err)
	}
	if err := (&Manifest{Tables: sums}).proveDatabase(ctx, placesOf(t, dir).own); notebook.CodeOf(err) != notebook.Damaged {
		t.Errorf("a copy by hand was proved whole: %v", err)
	}
}
