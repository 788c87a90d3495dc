package cli

import (
	"context"
	"errors"
	"fmt"
	"os"

	"tautline/internal/store"
)

// migrateCmd brings a notebook up to date without serving it, and lets a lesser
// role of the database serve it.
type migrateCmd struct {
	place
	ServeAs string `name:"serve-as" help:"Let this role of the PostgreSQL server work in the database, and change neither tables nor log." placeholder:"ROLE"`
}

// Help shows an example.
func (migrateCmd) Help() string {
	return `Example:
  sudo -u postgres tautline migrate --database 'postgres:///club?role=club_owner' --serve-as tautline

Makes or updates the tables as their owner, after copying them, and lets another
role serve them that can change neither the tables nor the log of who did what.
Once before the first start, and again after each new version. Without
--serve-as it only updates.`
}

// Run updates and lets the role in.
func (c migrateCmd) Run(ctx context.Context, t *terminal) (err error) {
	if c.Database != "" && c.Data == "" { // the database's owner need not see the recordings
		if c.Data, err = os.MkdirTemp("", "tautline-"); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, os.RemoveAll(c.Data)) }()
	}
	return book{place: c.place}.with(ctx, func(s *store.Store) error {
		f, err := s.Facts(ctx)
		if err != nil {
			return err
		}
		if c.ServeAs == "" {
			_, err = fmt.Fprintf(t.out, "The notebook is of version %d.\n", f.Version)
			return err
		}
		if err := s.ServeAs(ctx, c.ServeAs); err != nil {
			return err
		}
		_, err = fmt.Fprintf(t.out, "The notebook is of version %d; %s may serve it.\n", f.Version, c.ServeAs)
		return err
	})
}
