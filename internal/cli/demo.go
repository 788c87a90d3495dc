package cli

import (
	"context"
	"errors"
	"path/filepath"

	"tautline/internal/demo"
	"tautline/internal/store"
)

// demoCmd opens the invented demo notebook.
type demoCmd struct {
	Data   string `help:"Folder for the demo; it is kept apart from your own notebook." placeholder:"DIR"`
	Listen string `help:"Address to listen on." default:"127.0.0.1:8421" placeholder:"HOST:PORT"`
	Fill   bool   `help:"Only make the demo notebook, do not open it."`
}

// Help shows an example.
func (demoCmd) Help() string {
	return `Example:
  tautline demo

Makes an invented notebook in a folder of its own (once), then opens it: three
bows, some evenings of plotted arrows, and a finished brace-height trial with its
recordings. Remove the folder and nothing of it is left.`
}

// Run fills the demo notebook if it is empty and serves it.
func (c demoCmd) Run(ctx context.Context, t *terminal) error {
	if err := (serveCmd{Listen: c.Listen}).check(); err != nil {
		return err
	}
	dir := c.Data
	if dir == "" {
		own, err := store.DefaultDir()
		if err != nil {
			return err
		}
		dir = filepath.Join(filepath.Dir(own), "tautline-demo")
	}
	book, err := store.Open(ctx, dir, store.Options{})
	if err != nil {
		return err
	}
	full, err := demo.Loaded(ctx, book)
	if err == nil && !full {
		err = demo.Fill(ctx, book, t.progress("making the demo notebook"))
	}
	if err == nil && c.Fill {
		t.warnf("The demo notebook is in %s.", dir)
	}
	if err == nil && !c.Fill {
		err = serveCmd{Listen: c.Listen}.serve(ctx, t, book)
	}
	return errors.Join(err, book.Close())
}
