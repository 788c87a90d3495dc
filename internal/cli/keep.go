package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"tautline/internal/demo"
	"tautline/internal/store"
	"tautline/notebook"
)

// place says where a notebook is kept.
type place struct {
	Data     string `help:"The notebook's folder; see tautline where." placeholder:"DIR"`
	Database string `help:"A club's PostgreSQL database, postgres://…; recordings stay in the folder. The password may be in PGPASSWORD or .pgpass." env:"TAUTLINE_DATABASE" placeholder:"ADDRESS"`
	Backups  string `help:"Where automatic backups are kept; better on another disk. By default in the notebook's folder." type:"path" placeholder:"DIR"`
}

// find gives the folder and how it is opened.
func (p place) find() (string, store.Options, error) {
	dir, err := dataDir(p.Data)
	return dir, store.Options{Database: p.Database, Program: version(), Apart: demo.Bows()}, err
}

// keptIn is the folder of automatic backups.
func (p place) keptIn(dir string) string {
	if p.Backups != "" {
		return p.Backups
	}
	return store.BackupsDir(dir)
}

// book are the arguments of commands that work on a notebook.
type book struct {
	place
	JSON bool `name:"json" help:"Print the result for a program."`
}

// with opens the notebook, works on it and closes it.
func (b book) with(ctx context.Context, work func(*store.Store) error) error {
	dir, options, err := b.find()
	if err != nil {
		return err
	}
	s, err := store.Open(ctx, dir, options)
	if err != nil {
		return err
	}
	return errors.Join(work(s), s.Close())
}

// look opens the notebook to read it, also while a server has it open.
func (b book) look(ctx context.Context, work func(*store.Store) error) error {
	dir, options, err := b.find()
	if err != nil {
		return err
	}
	s, err := store.Look(ctx, dir, options)
	if err != nil {
		return err
	}
	return errors.Join(work(s), s.Close())
}

// verifyCmd checks the notebook.
type verifyCmd struct {
	book
	Backup string `help:"Check this backup against what it said of itself when it was made, instead of the notebook." placeholder:"DIR"`
}

// Help shows an example.
func (verifyCmd) Help() string {
	return `Example:
  tautline verify

Checks the database, that every record can be read and what it names is there,
and every recording's bytes against its checksum.`
}

// Run checks and prints; problems are exit code 1.
func (c verifyCmd) Run(ctx context.Context, t *terminal) error {
	if c.Backup != "" {
		return c.checkBackup(ctx, t)
	}
	return c.look(ctx, func(s *store.Store) error {
		r, err := s.Verify(ctx)
		if err != nil {
			return err
		}
		if c.JSON {
			err = t.printJSON(r)
		} else {
			err = printReport(t, r)
		}
		if err == nil && len(r.Problems) > 0 {
			return fmt.Errorf("the notebook has %d problems; keep it as it is and restore a backup beside it", len(r.Problems))
		}
		return err
	})
}

func (c verifyCmd) checkBackup(ctx context.Context, t *terminal) error {
	m, err := store.CheckBackup(ctx, c.Backup)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Backup, err)
	}
	if c.JSON {
		return t.printJSON(m)
	}
	_, err = fmt.Fprintf(t.out, "The backup in %s is whole: %s.\n", c.Backup, held(m))
	return err
}

func printReport(t *terminal, r store.Report) error {
	for _, p := range r.Problems {
		t.warnf("problem: %s", p)
	}
	total := 0
	for _, n := range r.Counts {
		total += n
	}
	_, err := fmt.Fprintf(t.out, "%d records, %d recordings, digest %s: %d problems\n", total, r.Recordings, r.Digest[:12], len(r.Problems))
	return err
}

// exportCmd writes the notebook as open files.
type exportCmd struct {
	book
	To string `arg:"" help:"A new .zip file, or a new folder." type:"path"`
}

// Help shows an example.
func (exportCmd) Help() string {
	return `Example:
  tautline export bows.zip

A name that does not end in .zip makes a folder with the same content. It holds every record as JSON with its schema, tables with units in their
headers, the recordings as they came, and checksums. See
tautline manual notebook-format.`
}

// Run writes the zip.
func (c exportCmd) Run(ctx context.Context, t *terminal) error {
	return c.look(ctx, func(s *store.Store) error {
		if err := s.NoteExport(ctx); err != nil { // who may read the files may export them, also where nothing can be written
			t.warnf("The log of who did what does not tell of this export: %v", err)
		}
		write := s.ExportFolder
		if strings.EqualFold(filepath.Ext(c.To), ".zip") {
			write = s.ExportFile
		}
		if err := write(ctx, c.To); err != nil {
			return err
		}
		if c.JSON {
			return t.printJSON(map[string]string{"file": c.To})
		}
		t.warnf("Exported to %s.", c.To)
		return nil
	})
}

// importCmd reads an export in.
type importCmd struct {
	book
	From     string `arg:"" help:"An export: the .zip, or the folder it was unpacked into." type:"path"`
	KeepGood bool   `help:"Import the good records although others are bad."`
	DryRun   bool   `help:"Only say what would happen."`
	As       string `help:"Whose what is the export's own person's becomes: a login of this notebook, or me in one without accounts." placeholder:"LOGIN"`
}

// Help shows an example.
func (importCmd) Help() string {
	return `Example:
  tautline import bows.zip --dry-run

Nothing is ever overwritten. One bad record stops the import, with its line
number, unless --keep-good is given.

  tautline import my-notebook.zip --as ida --database postgres:///club

brings somebody's own notebook in under a login that they have already. What
they take along from the club comes home with: --as me`
}

// Run imports and reports.
func (c importCmd) Run(ctx context.Context, t *terminal) error {
	if dir, o, err := c.find(); err == nil && o.Database == "" && c.DryRun && !store.Exists(dir) {
		return fmt.Errorf("there is no notebook in %s to try the import on; without --dry-run one is made", dir)
	}
	if _, err := os.Stat(c.From); err != nil {
		return openError(c.From, err)
	}
	return c.with(ctx, func(s *store.Store) error {
		if err := c.backupFirst(ctx, t, s); err != nil {
			return err
		}
		as, err := c.whose(ctx, s)
		if err != nil {
			return err
		}
		r, err := s.ImportPath(ctx, c.From, store.ImportOptions{KeepGood: c.KeepGood, DryRun: c.DryRun, As: as})
		if err != nil {
			return err
		}
		if c.JSON {
			err = t.printJSON(r)
		} else {
			_, err = fmt.Fprint(t.out, r.Text())
		}
		if err == nil && !r.Done && !c.DryRun {
			return fmt.Errorf("%d bad records, so nothing was imported; mend them, or use --keep-good", len(r.Problems))
		}
		return err
	})
}

// whose finds the person whom --as names.
func (c importCmd) whose(ctx context.Context, s *store.Store) (notebook.ID, error) {
	if c.As == "" {
		return "", nil
	}
	n, err := s.CountAccounts(ctx)
	if err != nil {
		return "", err
	}
	if n == 0 {
		page, err := s.People().List(ctx, "", notebook.Query{Limit: 1})
		if err != nil || c.As != "me" || len(page.Rows) == 0 {
			return "", errors.Join(err, usageError{errors.New("this notebook has no accounts: write --as me, in a notebook that is somebody's already")})
		}
		return page.Rows[0].ID, nil
	}
	a, err := s.AccountFor(ctx, strings.ToLower(strings.TrimSpace(c.As)))
	if notebook.CodeOf(err) == notebook.NotFound {
		return "", usageError{fmt.Errorf("nobody logs in here as %s: the owner invites them first, or leave --as out", c.As)}
	}
	return a.Person, err
}

// backupFirst makes a proved backup before an import into a notebook that
// holds something.
func (c importCmd) backupFirst(ctx context.Context, t *terminal, s *store.Store) error {
	page, err := s.People().List(ctx, "", notebook.Query{Limit: 1})
	if err != nil || c.DryRun || len(page.Rows) == 0 {
		return err
	}
	in := c.keptIn(s.Dir())
	m, err := s.AutoBackup(ctx, in, "before an import")
	if err != nil && m.Made.IsZero() {
		return fmt.Errorf("nothing was imported, since no backup could be made first: %w", err)
	}
	if err != nil {
		t.warnf("The backup is made, but not all that it should have removed is gone: %v", err)
	}
	t.warnf("A backup from before is in %s: %s.", in, held(m))
	return nil
}
