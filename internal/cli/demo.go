package cli

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"tautline/internal/demo"
	"tautline/internal/store"
	"tautline/notebook"
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
	full, err := holdsBows(ctx, book)
	if err == nil && !full {
		err = addDemo(ctx, book, "")
	}
	if err == nil && c.Fill {
		t.warnf("The demo notebook is in %s.", dir)
	}
	if err == nil && !c.Fill {
		err = c.serve(ctx, t, book)
	}
	return errors.Join(err, book.Close())
}

func holdsBows(ctx context.Context, book *store.Store) (bool, error) {
	page, err := book.Bows().List(ctx, "", notebook.Query{Limit: 1, Retracted: true})
	return len(page.Rows) > 0, err
}

// addDemo puts the demo into a notebook, whole or not at all; with an owner it
// stands beside that person's own bows.
func addDemo(ctx context.Context, book *store.Store, owner notebook.ID) error {
	files, err := demo.Archive(owner)
	if err != nil {
		return err
	}
	r, err := book.Import(ctx, files, store.ImportOptions{})
	if err == nil && !r.Done {
		err = fmt.Errorf("the demo could not be put in: %s", r.Text())
	}
	return err
}

// demoDoor loads the demo beside a person's own bows, and takes it out again
// without a trace.
type demoDoor struct{ book *store.Store }

// Loaded tells whether any of the demo's bows is there.
func (d demoDoor) Loaded(ctx context.Context) (bool, error) {
	for _, id := range demo.Bows() {
		_, err := d.book.Bows().Get(ctx, "", id)
		if notebook.CodeOf(err) != notebook.NotFound {
			return err == nil, err
		}
	}
	return false, nil
}

// Load puts the demo in.
func (d demoDoor) Load(ctx context.Context, owner notebook.ID) error {
	if there, err := d.Loaded(ctx); err != nil || there {
		return err
	}
	return addDemo(ctx, d.book, owner)
}

// Remove takes the demo out, and what was written on its bows meanwhile.
func (d demoDoor) Remove(ctx context.Context) error {
	_, err := d.book.Forget(ctx, demo.Bows())
	return err
}

func (c demoCmd) serve(ctx context.Context, t *terminal, book *store.Store) error {
	s := serveCmd{Listen: c.Listen, alone: true}
	at, err := s.open(ctx)
	if err != nil {
		return err
	}
	return s.serve(t, book, at)
}
