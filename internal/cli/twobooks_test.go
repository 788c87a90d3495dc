package cli

import (
	"path/filepath"
	"strings"
	"testing"

	"tautline/internal/store"
)

// T9: where two notebooks keep their backups in one folder, each lists and puts
// back its own, tells of the other's, and the check of the notebook too.
func TestBackupsOfTwoNotebooks(t *testing.T) {
	in := filepath.Join(t.TempDir(), "kept")
	var dirs []string
	for range 2 {
		s := plantedBook(t)
		if _, err := s.AutoBackup(t.Context(), in, "daily"); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		dirs = append(dirs, s.Dir())
	}
	ran := func(data, from string) (list, said string, err error) {
		var out, tell strings.Builder
		c := restoreCmd{From: from}
		c.Data, c.Backups = data, in
		err = c.Run(t.Context(), &terminal{out: &out, err: &tell})
		return out.String(), tell.String(), err
	}
	own, others, err := store.Backups(in, dirs[0], store.Options{})
	if err != nil || len(own) != 1 || len(others) != 1 {
		t.Fatalf("%v, %v, %v", own, others, err)
	}
	list, said, err := ran(dirs[0], "")
	if err != nil || !strings.Contains(list, own[0].Dir+" ") || strings.Count(list, in) != 1 || !strings.Contains(said, "backups of another notebook too (1)") || !strings.Contains(said, others[0].Dir) {
		t.Errorf("the list is %s; said %s; %v", list, said, err)
	}
	if _, said, err = ran(dirs[0], "latest"); err != nil || !strings.Contains(said, "Restored from "+own[0].Dir+":") || strings.Contains(said, "goes on as") {
		t.Errorf("latest: %s, %v", said, err)
	}
	fresh := filepath.Join(t.TempDir(), "new")
	if _, said, err = ran(fresh, "latest"); err == nil || !strings.Contains(err.Error(), "several notebooks") {
		t.Errorf("latest on a new machine: %s, %v", said, err)
	}
	if _, said, err = ran(fresh, own[0].Dir); err != nil || !strings.Contains(said, "goes on as") {
		t.Errorf("on a new machine: %s, %v", said, err)
	}
	d := &diagnosis{dir: dirs[0], backups: in}
	d.backedUp(t.Context(), true)
	if len(d.kept) != 1 || !strings.Contains(d.found[0].What, "backups of another notebook in "+in+" (1)") {
		t.Errorf("the check found %+v", d.found)
	}
}
