package cli

import (
	"context"
	"errors"
	"fmt"
	"text/tabwriter"
	"time"

	"tautline/internal/store"
)

// backupCmd copies the notebook.
type backupCmd struct {
	book
	To string `arg:"" help:"A new folder for the copy." type:"path"`
}

// Help shows an example.
func (backupCmd) Help() string {
	return `Example:
  tautline backup ~/backups/bows-2026-05-04

The copy is opened and compared with the notebook, table by table and recording
by recording, before this command says that it is done. Do not copy the database
file by hand: what was written last may be missing from it. tautline serve makes
a backup every day by itself; see tautline restore.`
}

// Run copies and proves.
func (c backupCmd) Run(ctx context.Context, t *terminal) error {
	return c.look(ctx, func(s *store.Store) error {
		m, err := s.Backup(ctx, c.To, store.BackupOptions{})
		if err != nil {
			return err
		}
		if c.JSON {
			err = t.printJSON(m)
		} else {
			t.warnf("The copy in %s was opened and is whole.", c.To)
			_, err = fmt.Fprintln(t.out, held(m))
		}
		if err == nil && len(m.Lost) > 0 {
			return fmt.Errorf("the copy is whole but for %d recordings that the notebook itself has lost; run: tautline verify", len(m.Lost))
		}
		return err
	})
}

// held says what a backup holds.
func held(m store.Manifest) string {
	return fmt.Sprintf("%d records, %d recordings, made %s", m.Records(), m.Recordings, m.Made.Local().Format("2006-01-02 15:04"))
}

// restoreCmd puts a backup in the notebook's place.
type restoreCmd struct {
	book
	From string `arg:"" optional:"" help:"The folder of a backup, or latest for the newest automatic one. Without it the backups are listed." placeholder:"BACKUP"`
}

// Help shows an example.
func (restoreCmd) Help() string {
	return `Example:
  tautline restore
  tautline restore latest

Stop tautline serve first. The backup is checked whole before anything is
replaced, and a damaged one changes nothing. The notebook from before is kept
and can be restored in its turn. In a notebook with accounts, people log in
again, and tokens and open links are made anew.`
}

// Run lists or restores.
func (c restoreCmd) Run(ctx context.Context, t *terminal) error {
	dir, options, err := c.find()
	if err != nil {
		return err
	}
	if c.From == "" {
		return c.list(t, c.keptIn(dir), dir, options)
	}
	if c.From == "latest" {
		newest, err := store.Latest(c.keptIn(dir), dir, options)
		if err != nil {
			return err
		}
		c.From = newest.Dir
	}
	r, err := store.Restore(ctx, c.From, dir, options)
	if err != nil {
		return err
	}
	if c.JSON {
		return t.printJSON(r)
	}
	t.warnf("Restored from %s: %s; every record was compared.", c.From, held(r.Manifest))
	tellKept(t, r)
	if r.TakenOn {
		t.warnf("It goes on as the notebook that the backup was made of. If that one is used elsewhere too, give each its own folder with --backups.")
	}
	return printReport(t, *r.Report)
}

// tellKept says where the notebook from before is.
func tellKept(t *terminal, r store.Restored) {
	switch {
	case r.Kept == "":
	case r.Whole:
		t.warnf("What was there before is kept in %s.", r.Kept)
	default:
		t.warnf("What was there before could not be read whole; its files are kept in %s.", r.Kept)
	}
	if r.LoggedIn {
		t.warnf("Everyone logs in again; tokens and open links are to be made anew.")
	}
}

// list prints the automatic backups, newest last, and tells of those of others.
func (c restoreCmd) list(t *terminal, in, dir string, o store.Options) error {
	all, others, err := store.Backups(in, dir, o)
	if err != nil {
		return err
	}
	if len(others) > 0 {
		t.warnf("In %s there are backups of another notebook too (%d), which are passed over:", in, len(others))
		for _, b := range others {
			t.warnf("  %s, %s, %d records", b.Dir, age(time.Since(b.Manifest.Made)), b.Manifest.Records())
		}
	}
	if c.JSON {
		return t.printJSON(all)
	}
	if len(all) == 0 {
		t.warnf("There is no automatic backup of this notebook in %s yet; tautline serve makes one every day.", in)
		return nil
	}
	w := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	for _, b := range all {
		fmt.Fprintf(w, "%s\t%s\t%d records\t%d recordings\t%s\n", b.Dir, age(time.Since(b.Manifest.Made)), b.Manifest.Records(), b.Manifest.Recordings, b.Manifest.Why)
	}
	return errors.Join(w.Flush(), c.hint(t))
}

func (restoreCmd) hint(t *terminal) error {
	t.warnf("Restore one with: tautline restore FOLDER, or tautline restore latest.")
	return nil
}

// age says how long ago something was.
func age(d time.Duration) string {
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min ago", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d hours ago", int(d.Hours()))
	}
	return fmt.Sprintf("%d days ago", int(d.Hours()/24))
}

// goBackCmd undoes an update of the notebook.
type goBackCmd struct{ book }

// Help shows an example.
func (goBackCmd) Help() string {
	return `Example:
  tautline go-back

When a newer program first opens a notebook it copies it and brings it up to
date. This puts that copy back, for the older program to work on; what was
written since is kept. Stop tautline serve first.`
}

// Run goes back.
func (c goBackCmd) Run(ctx context.Context, t *terminal) error {
	dir, options, err := c.find()
	if err != nil {
		return err
	}
	r, err := store.GoBack(ctx, dir, options)
	if err != nil {
		return err
	}
	if c.JSON {
		return t.printJSON(r)
	}
	t.warnf("The notebook is as it was before the update, in version %d, from %s.", r.Manifest.Version, r.From)
	tellKept(t, r)
	t.warnf("Open it with the program from before; this one would bring it up to date again.")
	return nil
}
