package store

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"tautline/internal/store/storetest"
)

// T8: of two years of daily backups the last 7 days, 4 weeks and 12 months are
// kept; the same after a clock that jumped back and forth.
func TestWhichBackupsAreKept(t *testing.T) {
	at := time.Date(2026, 9, 30, 3, 0, 0, 0, time.UTC) // a Wednesday
	var all []Kept
	for day := range 730 {
		made := at.AddDate(0, 0, day-729)
		all = append(all, Kept{made.Format(backupTime), Manifest{Made: made}})
	}
	gone := surplus(all)
	var kept []string
	for _, b := range all {
		if !slices.ContainsFunc(gone, func(g Kept) bool { return g.Dir == b.Dir }) {
			kept = append(kept, b.Manifest.Made.Format(time.DateOnly))
		}
	}
	want := []string{
		"2025-10-31", "2025-11-30", "2025-12-31", "2026-01-31", "2026-02-28", "2026-03-31", "2026-04-30", "2026-05-31", "2026-06-30", "2026-07-31", "2026-08-31",
		"2026-09-13", "2026-09-20", "2026-09-24", "2026-09-25", "2026-09-26", "2026-09-27", "2026-09-28", "2026-09-29", "2026-09-30",
	}
	if !slices.Equal(kept, want) {
		t.Errorf("kept are %v", kept)
	}
	if again := surplus(slices.DeleteFunc(slices.Clone(all), func(b Kept) bool { return slices.ContainsFunc(gone, func(g Kept) bool { return g.Dir == b.Dir }) })); len(again) > 0 {
		t.Errorf("what was kept once is not kept again: %d of them", len(again))
	}
	few := all[:3]
	if len(surplus(few)) > 0 {
		t.Error("one of three days was not kept")
	}
}

// T8: the keeper makes a proved backup when the newest is a day old, shares the
// sound files with the one before, clears what was begun, and says what went
// wrong.
func TestKeeper(t *testing.T) {
	now := storetest.At
	from, _ := filled(t)
	from.now = func() time.Time { return now }
	in, told := filepath.Join(t.TempDir(), "kept"), []BackupStanding{}
	k := &Keeper{Store: from, In: in, Tell: func(s BackupStanding) { told = append(told, s) }}
	fatal(t, os.MkdirAll(filepath.Join(in, begun+"2026-01-01T000000Z"), 0o700))
	for range 3 {
		k.try(context.Background())
		now = now.Add(24 * time.Hour)
	}
	all, _, err := Backups(in, from.dir, Options{})
	if err != nil || len(all) != 3 || len(told) != 3 || told[2].Failed != nil {
		t.Fatalf("%d backups, told %+v, %v", len(all), told, err)
	}
	for _, b := range all {
		if _, err := CheckBackup(t.Context(), b.Dir); err != nil {
			t.Errorf("%s: %v", b.Dir, err)
		}
	}
	sounds := func(i int) os.FileInfo {
		found, err := filepath.Glob(filepath.Join(all[i].Dir, recordingsDir, "*"))
		fatal(t, err)
		info, err := os.Stat(found[0])
		fatal(t, err)
		return info
	}
	if !os.SameFile(sounds(0), sounds(2)) {
		t.Error("the sound file was copied again")
	}
	if names, err := os.ReadDir(in); err != nil || len(names) != 3 {
		t.Errorf("what was begun is still there: %v", names)
	}
	fresh := &Keeper{Store: from, In: in}
	if _, err := fresh.Look(); err != nil || !fresh.Standing().Last.Equal(storetest.At.Add(48*time.Hour)) {
		t.Errorf("after a start the keeper knows of %v, %v", fresh.Standing(), err)
	}
	fatal(t, os.WriteFile(filepath.Join(t.TempDir(), "file"), nil, 0o600))
	k.In = filepath.Join(from.Dir(), databaseName, "kept") // below a file
	if k.try(context.Background()); told[3].Failed == nil || told[3].Last.IsZero() {
		t.Errorf("a backup below a file: %+v", told[3])
	}
}

// A sound file that went bad in an older backup is copied anew, not shared;
// one that the notebook itself has lost is named, and the rest is kept.
func TestBadSoundsAreNotHandedOn(t *testing.T) {
	from, _ := filled(t)
	first := backedUp(t, from)
	found, err := filepath.Glob(filepath.Join(first, recordingsDir, "*"))
	fatal(t, err)
	fatal(t, os.WriteFile(found[0], []byte("a sounb"), 0o600))
	second := filepath.Join(t.TempDir(), "second")
	m, err := from.Backup(t.Context(), second, BackupOptions{Beside: first})
	if err != nil || len(m.Lost) > 0 {
		t.Fatal(m.Lost, err)
	}
	if _, err := CheckBackup(t.Context(), second); err != nil {
		t.Error(err)
	}
	fatal(t, os.Remove(filepath.Join(from.Dir(), recordingsDir, filepath.Base(found[0]))))
	third := filepath.Join(t.TempDir(), "third")
	if m, err = from.Backup(t.Context(), third, BackupOptions{}); err != nil || len(m.Lost) != 1 || m.Recordings != 0 {
		t.Fatalf("%+v, %v", m, err)
	}
	if _, err := CheckBackup(t.Context(), third); err != nil {
		t.Errorf("a backup of a notebook that lost a sound: %v", err)
	}
	restored(t, third)
}

// T27: backups and copies from before a person was erased are gone after 90
// days, and not before.
func TestBackupsForgetErasedPersons(t *testing.T) {
	ctx, now := context.Background(), storetest.At
	s, x := filled(t)
	s.now = func() time.Time { return now }
	in := filepath.Join(t.TempDir(), "kept")
	_, err := s.AutoBackup(ctx, in, "daily")
	fatal(t, err)
	fatal(t, keepBefore(ctx, s, "before-version-0-x", 1)) // all that is in it is in the notebook too
	fatal(t, keepBefore(ctx, s, "before-restore-x", 1))
	now = now.Add(24 * time.Hour)
	done, err := s.Erase(ctx, x.Person.ID)
	fatal(t, err)
	if done.Copies != 1 || !done.Until.Equal(now.Add(90*24*time.Hour).Truncate(time.Second)) {
		t.Errorf("%+v", done)
	}
	holds := func() (n int) {
		for _, root := range []string{in, s.dir} {
			fatal(t, filepath.WalkDir(root, func(path string, d os.DirEntry, err error) error {
				if err != nil || d.IsDir() {
					return err
				}
				raw, err := os.ReadFile(path)
				if bytes.Contains(raw, []byte(x.Person.Name)) {
					n++
				}
				return err
			}))
		}
		return n
	}
	for _, c := range []struct{ day, want int }{{80, 2}, {91, 0}} {
		now = storetest.At.Add(time.Duration(1+c.day) * 24 * time.Hour)
		_, err = s.AutoBackup(ctx, in, "daily")
		fatal(t, err)
		if n := holds(); n != c.want {
			t.Errorf("%d days after, %d files hold the name, not %d", c.day, n, c.want)
		}
	}
	if all, _, err := Backups(in, s.dir, Options{}); err != nil || len(all) != 2 {
		t.Errorf("%d backups are left, %v", len(all), err)
	}
}

// A backup of which nobody can tell now whether it is whole is not what was begun
// and never finished, and stays.
func TestBackupThatCannotBeLookedAtStays(t *testing.T) {
	s, in := open(t, t.TempDir()), t.TempDir()
	s.now = func() time.Time { return storetest.At }
	_, err := s.AutoBackup(t.Context(), in, "daily")
	fatal(t, err)
	all, _, err := Backups(in, s.dir, Options{})
	fatal(t, err)
	said := filepath.Join(all[0].Dir, backupName)
	fatal(t, os.Rename(said, said+".was"))
	fatal(t, os.Symlink(backupName, said)) // a link to itself: ELOOP, as EMFILE or EACCES of a moment
	begunDir := filepath.Join(in, "2026-01-01T000000Z")
	fatal(t, os.Mkdir(begunDir, 0o700))
	s.now = func() time.Time { return storetest.At.AddDate(0, 0, 1) }
	_, err = s.AutoBackup(t.Context(), in, "daily")
	fatal(t, err)
	fatal(t, os.Rename(said+".was", said))
	if _, err := CheckBackup(t.Context(), all[0].Dir); err != nil {
		t.Errorf("the backup is gone: %v", err)
	}
	if _, err := os.Stat(begunDir); err == nil {
		t.Error("what was begun and never finished stays")
	}
}
