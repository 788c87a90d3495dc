package store

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"tautline/notebook"
)

// lying is SQLite on a disk that gives back other bytes than it was given.
type lying struct{ lite }

func (l lying) freeze(ctx context.Context, s *Store, to *os.Root) (frozen, error) {
	state, err := l.lite.freeze(ctx, s, to)
	return state, errors.Join(err, replace(pathIn(to, databaseName), `"text":"22,2 cm"`, `"text":"22,3 cm"`))
}

// T8: a copy is read again and held against what was read of the notebook; the
// database's own check would not see that a text in it is another.
func TestCopyIsReadAgain(t *testing.T) {
	s, _ := filled(t)
	s.engine = lying{s.engine.(lite)}
	to := filepath.Join(t.TempDir(), "backup")
	if _, err := s.Backup(t.Context(), to, BackupOptions{}); notebook.CodeOf(err) != notebook.Damaged {
		t.Errorf("another text in the copy gave %v", err)
	}
	if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("it was left there: %v", err)
	}
}

// T9: after a restore every row is held against the backup, and a sound file
// that changed since it was checked takes nobody's place.
func TestRestoredIsHeldAgainstTheBackup(t *testing.T) {
	from, _ := filled(t)
	backup := backedUp(t, from)
	m, err := readManifest(backup)
	fatal(t, err)
	s := open(t, t.TempDir())
	move(t, exported(t, from), s)
	p, r := placing{Store: s}, Restored{Manifest: m, logged: true}
	sums, err := tableSums(t.Context(), s.engine, s.read)
	fatal(t, err)
	fatal(t, p.compare(t.Context(), content{tables: sums}, &r))
	sums["readings"] = TableSum{Rows: sums["readings"].Rows, SHA256: sums["bows"].SHA256}
	if err := p.compare(t.Context(), content{tables: sums}, &r); notebook.CodeOf(err) != notebook.Damaged {
		t.Errorf("another row gave %v", err)
	}
	if err := p.compare(t.Context(), content{report: &Report{Digest: "other", Counts: r.Report.Counts}}, &r); notebook.CodeOf(err) != notebook.Damaged {
		t.Errorf("another record gave %v", err)
	}

	old := Restored{Manifest: Manifest{Report: &Report{Digest: "other"}}}
	if _, err := p.staged(t.Context(), placesOf(t, backup).own, &old); notebook.CodeOf(err) != notebook.Damaged {
		t.Errorf("an old backup of another digest gave %v", err)
	}
	if _, err := s.files.own.Stat(stagedName); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("it was left there: %v", err)
	}

	sounds, err := soundsIn(t.Context(), placesOf(t, backup).own)
	fatal(t, err)
	fatal(t, os.WriteFile(filepath.Join(backup, recordingsDir, sounds[0].hash), []byte("a sounb"), 0o600))
	empty := open(t, t.TempDir())
	if _, err := (placing{Store: empty}).bringSounds(t.Context(), placesOf(t, backup)); notebook.CodeOf(err) != notebook.Damaged {
		t.Errorf("another sound gave %v", err)
	}
	if left, err := listed(empty.files.sounds); err != nil || len(left) > 0 {
		t.Errorf("it left %v, %v", left, err)
	}
}

// A backup of PostgreSQL is the same SQLite file that a notebook is, indexes
// and all, though those are made last.
func TestBackupOfPostgresHasItsIndexes(t *testing.T) {
	from, _ := filled(t)
	s, _ := club(t)
	move(t, exported(t, from), s)
	schema := func(dir string) []string {
		db, err := openSQLite(filepath.Join(dir, databaseName), inspector)
		fatal(t, err)
		out, err := names(t.Context(), db, "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name")
		fatal(t, errors.Join(err, db.Close()))
		return out
	}
	if want, have := schema(from.Dir()), schema(backedUp(t, s)); !slices.Equal(want, have) || len(want) < 40 {
		t.Errorf("%d tables, indexes and triggers, not %d", len(have), len(want))
	}
}

// A backup is one file that can be read where nothing can be written: its
// header asks for no journal (sqlite.org/fileformat2, 1.3.3).
func TestBackupNeedsNoJournal(t *testing.T) {
	s, _ := filled(t)
	raw, err := os.ReadFile(filepath.Join(backedUp(t, s), databaseName))
	if err != nil || !bytes.Equal(raw[versionsAt:versionsAt+2], []byte{1, 1}) {
		t.Errorf("%v, %v", raw[versionsAt:versionsAt+2], err)
	}
}
