package store

import (
	"context"
	"embed"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"

	"tautline/notebook"
)

//go:embed migrations/*.sql
var migrations embed.FS

// migrate brings the database up to this program's version. A database that
// is not new is copied first; the copy stays in the folder copies. The
// notebook's lock keeps a second program out meanwhile.
func (s *Store) migrate(ctx context.Context, from fs.FS) error {
	files, err := fs.Sub(from, "migrations")
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	steps, err := goose.NewProvider(s.engine.dialect(), s.write, s.engine.migrations(files))
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	have, want, err := steps.GetVersions(ctx)
	switch {
	case err != nil:
		return translate(err, "the notebook's version cannot be read")
	case have > want:
		return tooNew(have)
	case have == want:
		return nil
	}
	var roles []string
	if p, ok := s.engine.(postgres); ok {
		if owns, err := ownsTables(ctx, s.write); err != nil {
			return err
		} else if !owns {
			return &notebook.Error{Code: notebook.Unavailable, Message: fmt.Sprintf("the database is of version %d, this program needs %d, and its role may not change tables", have, want), Hint: "as the database's owner, once: tautline migrate --database … --serve-as ROLE; then start this again"}
		}
		if roles, err = p.serving(ctx, s.write); err != nil {
			return err
		}
	}
	kept := ""
	if have > 0 {
		if kept, err = s.engine.copyBefore(ctx, s, have); err != nil {
			return err
		}
	}
	if _, err := steps.Up(ctx); err != nil {
		hint := "try again; if it stays, check the disk"
		if kept != "" {
			hint = "the copy from before is " + kept
		}
		return &notebook.Error{Code: notebook.Unavailable, Message: "the notebook could not be brought up to date; no record was changed", Hint: hint, Cause: err}
	}
	return translate(letServeAgain(ctx, s.write, roles), "the notebook is up to date, but its role may not serve it yet: tautline migrate --serve-as ROLE")
}
