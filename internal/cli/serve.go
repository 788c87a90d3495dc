package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"

	"tautline/internal/report"
	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/web"
)

// serveCmd opens a notebook in the browser.
type serveCmd struct {
	place
	Listen string `help:"Address to listen on; this machine only unless you know better." default:"127.0.0.1:8421" placeholder:"HOST:PORT"`
}

// Help shows an example.
func (serveCmd) Help() string {
	return `Example:
  tautline serve --data ~/bows

Opens the notebook in that folder, making one if there is none, and prints the
address of its pages. Stop with Ctrl-C: running work is finished first.`
}

// Run serves until it is stopped.
func (c serveCmd) Run(ctx context.Context, t *terminal) error {
	dir, options, err := c.find()
	if err != nil {
		return err
	}
	book, err := store.Open(ctx, dir, options)
	if err != nil {
		return err
	}
	return errors.Join(serve(ctx, t, book, c.Listen), book.Close())
}

// serve runs the server on an open notebook.
func serve(ctx context.Context, t *terminal, book *store.Store, listen string) error {
	listener, err := server.Listen(listen)
	if err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(t.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	handler, err := server.New(server.Config{
		Notebook: book, Sheets: report.Maker{Notebook: book}, App: pages(), Version: version(), Log: log,
	})
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	t.warnf("The notebook in %s is open at http://%s/", book.Dir(), listener.Addr())
	t.warnf("Stop with Ctrl-C.")
	if err := server.Run(ctx, listener, handler, log); err != nil {
		return fmt.Errorf("the server stopped: %w", err)
	}
	return nil
}

// pages are the built pages, nil when this program was built without them.
func pages() fs.FS {
	if web.Built() {
		return web.Dist()
	}
	return nil
}
