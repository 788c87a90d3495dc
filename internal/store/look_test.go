package store

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// A notebook in use can be checked, exported and backed up by a second
// program; a folder without one is named, not filled.
func TestLookBesideAWriter(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	s := open(t, dir)
	x := storetest.New()
	storetest.PutAll(t, s, x)
	look, err := Look(ctx, dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer look.Close()
	if r, err := look.Verify(ctx); err != nil || len(r.Problems) > 0 || r.Counts["reading"] != 1 {
		t.Errorf("verify beside a writer: %+v, %v", r, err)
	}
	copied := filepath.Join(t.TempDir(), "copy")
	if _, err := look.Backup(ctx, copied, BackupOptions{}); err != nil {
		t.Errorf("backup beside a writer: %v", err)
	}
	if _, err := CheckBackup(ctx, copied); err != nil {
		t.Errorf("the backup: %v", err)
	}
	if err := look.ExportFile(ctx, filepath.Join(t.TempDir(), "a.zip")); err != nil {
		t.Errorf("export beside a writer: %v", err)
	}
	more := x.Reading
	more.ID = notebook.NewID()
	if _, _, err := look.Readings().Put(ctx, x.Person.ID, more); notebook.CodeOf(err) != notebook.ReadOnly {
		t.Errorf("writing through a look gave %v", err)
	}
	if _, _, err := s.Readings().Put(ctx, x.Person.ID, more); err != nil {
		t.Errorf("the writer was disturbed: %v", err)
	}
}

func TestLookMakesNothing(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "typo")
	if _, err := Look(context.Background(), dir, Options{}); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("a folder without a notebook gave %v", err)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("looking made the folder")
	}
}
