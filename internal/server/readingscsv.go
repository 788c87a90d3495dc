package server

import (
	"context"
	"net/http"

	"tautline/notebook"
	"tautline/workbench"
)

// pageRows is how many records are held at once by what is streamed.
const pageRows = 500

// readingExportInput says which readings to write.
type readingExportInput struct {
	Bow     string  `query:"bow" doc:"Only of this bow." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	SetUp   string  `query:"setup" doc:"Only on this set-up." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Session string  `query:"session" doc:"Only of this session." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Trial   string  `query:"trial" doc:"Only of this trial." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Dialect dialect `query:"dialect" enum:"comma,semicolon" default:"comma" doc:"comma: 1.5 and a comma between; semicolon: 1,5 and a semicolon, with a byte order mark, for a spreadsheet that writes numbers so."`
}

// exportReadings writes the readings that stand as a table, page by page.
// Corrected and retracted ones are left out.
func (s *server) exportReadings(ctx context.Context, in *readingExportInput) (*fileOutput, error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	q := notebook.Query{Bow: notebook.ID(in.Bow), SetUp: notebook.ID(in.SetUp), Session: notebook.ID(in.Session), Trial: notebook.ID(in.Trial), Limit: pageRows}
	// a correction may be of another set-up, session or trial: only the bow narrows
	fixes, err := all(ctx, s, s.Notebook.Readings(), notebook.Query{Bow: q.Bow, Correcting: true, Limit: pageRows})
	if err != nil {
		return nil, err
	}
	wrong := notebook.Replaced(fixes)
	return s.attachment("readings.csv", csvKind, func(ctx context.Context, w http.ResponseWriter) error {
		table, err := workbench.NewReadingWriter(in.Dialect.of(w))
		if err != nil {
			return err
		}
		return eachOf(ctx, s.Notebook.Readings(), me.ID, q, func(r notebook.Reading) error {
			if _, replaced := wrong[r.ID]; replaced {
				return nil
			}
			return table.Write(r)
		}, func() error { return sentOn(table.Flush(), w) })
	}), nil
}

// eachOf goes through a list, a page at a time, and says when one is done.
func eachOf[T notebook.Record](ctx context.Context, records notebook.Records[T], actor notebook.ID, q notebook.Query, each func(T) error, paged func() error) error {
	for rows, err := range notebook.Pages(ctx, records, actor, q) {
		if err != nil {
			return err
		}
		for _, r := range rows {
			if err := each(r); err != nil {
				return err
			}
		}
		if err := paged(); err != nil {
			return err
		}
	}
	return nil
}

// sentOn has what was written leave at once.
func sentOn(err error, w http.ResponseWriter) error {
	if err != nil {
		return err
	}
	return http.NewResponseController(w).Flush()
}
