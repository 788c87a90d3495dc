package cli

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"tautline/internal/demo"
	"tautline/internal/report"
	"tautline/internal/store"
	"tautline/notebook"
)

// sheetCmd prints a sheet of the notebook.
type sheetCmd struct {
	book
	Kind  string `arg:"" enum:"session,compare,setup,trial,plan,explain,putback" help:"session, compare (two set-ups), setup, trial, plan (a trial's pencil card), explain (what brace height does) or putback (the way back to a set-up)."`
	ID    string `arg:"" optional:"" help:"The record's id, as it stands at a sheet's foot and in a page's address; default the latest."`
	With  string `help:"The second set-up of a comparison; default the one before it on the same bow." placeholder:"ID"`
	To    string `help:"A file ending in .pdf, .txt or .csv; default text on the terminal." type:"path" placeholder:"FILE"`
	Paper string `enum:"A4,Letter" default:"A4" help:"Paper of a PDF: A4 or Letter."`
}

// Help shows an example.
func (sheetCmd) Help() string {
	return `Example:
  tautline sheet session --to evening.pdf
  tautline sheet compare --to before-after.pdf --paper Letter

The same sheets that the pages print, also while the notebook is open in the
browser.`
}

// Run makes the sheet and writes it.
func (c sheetCmd) Run(ctx context.Context, t *terminal) error {
	return c.look(ctx, func(s *store.Store) error {
		me, err := owner(ctx, s)
		if err != nil {
			return err
		}
		sheet, err := c.sheet(ctx, s, me)
		if err != nil {
			return err
		}
		if c.JSON {
			return t.printJSON(sheet)
		}
		return c.write(t, sheet)
	})
}

// sheet makes the sheet for the person whose notebook it is.
func (c sheetCmd) sheet(ctx context.Context, s *store.Store, me notebook.Person) (report.Sheet, error) {
	maker, id, system := report.Maker{Notebook: s, Invented: demo.Invented}, notebook.ID(c.ID), me.System()
	if id == "" {
		var err error

		if id, err = c.latest(ctx, s); err != nil {
			return report.Sheet{}, err
		}
	}
	if c.Kind != "compare" {
		return maker.Sheet(ctx, me.ID, c.Kind, id, system)
	}
	other := notebook.ID(c.With)
	if other == "" {
		setup, err := s.SetUps().Get(ctx, me.ID, id)
		if err != nil {
			return report.Sheet{}, err
		}
		if other = setup.Parent; other == "" {
			return report.Sheet{}, usageError{fmt.Errorf("this set-up is its bow's first; name another with --with ID")}
		}
		id, other = other, id // the older one first
	}
	return maker.Comparison(ctx, me.ID, id, other, system)
}

// latest finds the record that was received last of the kind a sheet is about.
func (c sheetCmd) latest(ctx context.Context, s *store.Store) (notebook.ID, error) {
	var id notebook.ID
	var err error
	switch c.Kind {
	case "session":
		id, err = lastOf(ctx, s.Sessions())
	case "trial", "plan":
		id, err = lastOf(ctx, s.Trials())
	default:
		id, err = lastOf(ctx, s.SetUps())
	}
	if err == nil && id == "" {
		err = &notebook.Error{Code: notebook.NotFound, Message: "there is nothing yet to make this sheet of", Hint: "note something first: tautline serve"}
	}
	return id, err
}

func lastOf[T notebook.Record](ctx context.Context, from notebook.Records[T]) (id notebook.ID, err error) {
	page, err := from.List(ctx, "", notebook.Query{Newest: true, Limit: 1})
	if err != nil || len(page.Rows) == 0 {
		return "", err
	}
	return page.Rows[0].Stamped().ID, nil
}

// write writes the sheet where it was asked for.
func (c sheetCmd) write(t *terminal, sheet report.Sheet) error {
	if c.To == "" {
		return sheet.WriteText(t.out)
	}
	face := sheet.WriteText
	switch strings.ToLower(filepath.Ext(c.To)) {
	case ".pdf":
		face = func(w io.Writer) error { return sheet.WritePDF(w, c.Paper) }
	case ".csv":
		face = sheet.WriteCSV
	case ".txt":
	default:
		return usageError{fmt.Errorf("%s: name a file that ends in .pdf, .txt or .csv", c.To)}
	}
	if err := writeFile(c.To, face); err != nil {
		return err
	}
	t.warnf("Written to %s.", c.To)
	return nil
}
