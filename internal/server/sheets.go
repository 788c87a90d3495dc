package server

import (
	"bytes"
	"context"
	"net/http"
	"net/url"
	"strings"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
)

// Sheets makes printed pages of records.
type Sheets interface {
	// Sheet makes one sheet in the person's units. kind is "setup" (a set-up),
	// "plan" (a trial's card for the pencil), "trial" (a trial with its verdict)
	// "marks" (a set-up's marks card) or "explain" (a set-up: what brace height
	// does); id names the record. An unknown kind or record is an error with
	// code NotFound.
	Sheet(ctx context.Context, actor notebook.ID, kind string, id notebook.ID, system unit.System) (report.Sheet, error)
}

// MarksCards is what Sheets may do beside: a marks card for a day's air in
// words, such as "28 °C, 1005 hPa".
type MarksCards interface {
	Marks(ctx context.Context, actor, id notebook.ID, system unit.System, air string) (report.Sheet, error)
}

// sheetInput names a sheet.
type sheetInput struct {
	IDInput
	Kind string `path:"kind" doc:"setup, plan, trial, marks (a set-up's marks card) or explain." example:"trial"`
	Air  string `query:"air" maxLength:"100" doc:"The day's air of a marks card; default 15 °C, 1013 hPa." example:"28 °C, 1005 hPa"`
}

// sheetView is a sheet as data, with the addresses of its other faces.
type sheetView struct {
	Sheet report.Sheet `json:"sheet"`
	PDF   string       `json:"pdf" example:"/sheets/trial/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e.pdf"`
	Text  string       `json:"text"`
	CSV   string       `json:"csv"`
}

func (s *server) getSheet(ctx context.Context, in *sheetInput) (*found[sheetView], error) {
	sheet, err := s.sheet(ctx, in.Kind, in.ID, in.Air)
	if err != nil {
		return nil, err
	}
	address, asked := "/sheets/"+in.Kind+"/"+in.ID, ""
	if in.Air != "" {
		asked = "?air=" + url.QueryEscape(in.Air)
	}
	return &found[sheetView]{Body: sheetView{sheet, address + ".pdf" + asked, address + ".txt" + asked, address + ".csv" + asked}}, nil
}

func (s *server) sheet(ctx context.Context, kind, id, air string) (report.Sheet, error) {
	if s.Sheets == nil {
		return report.Sheet{}, notOffered("This program makes no sheets.", "Use the command line, or a newer program.")
	}
	if notebook.ID(id).Check("") != nil {
		return report.Sheet{}, &notebook.Error{Code: notebook.NotFound, Message: "there is no such record", Hint: "open the sheet from its bow or trial"}
	}
	me, err := s.me(ctx)
	if err != nil {
		return report.Sheet{}, err
	}
	if cards, ok := s.Sheets.(MarksCards); ok && kind == "marks" {
		return cards.Marks(ctx, me.ID, notebook.ID(id), systemOf(me), air)
	}
	return s.Sheets.Sheet(ctx, me.ID, kind, notebook.ID(id), systemOf(me))
}

// serveSheet answers with a face of a sheet, by the file's ending.
func (s *server) serveSheet(w http.ResponseWriter, r *http.Request) {
	kind, file := r.PathValue("kind"), r.PathValue("file")
	id, ending, isFile := strings.Cut(file, ".")
	if !isFile {
		s.pages(w, r) // a sheet's page on the screen, reloaded or sent on
		return
	}
	sheet, err := s.sheet(r.Context(), kind, id, r.URL.Query().Get("air"))
	var page bytes.Buffer
	var media string
	if err == nil {
		media, err = writeFace(&page, sheet, ending, r.URL.Query().Get("paper"))
	}
	if err != nil {
		writeProblem(w, r, s.problem(r.Context(), err))
		return
	}
	h := w.Header()
	h.Set("Content-Type", media)
	h.Set("Content-Disposition", `inline; filename="tautline-`+kind+"."+ending+`"`)
	h.Set("Cache-Control", "no-store")
	if _, err := page.WriteTo(w); err != nil {
		return // the client has gone
	}
}

// writeFace writes the face and gives its media type.
func writeFace(page *bytes.Buffer, sheet report.Sheet, ending, paper string) (string, error) {
	switch ending {
	case "pdf":
		if paper == "" {
			paper = "A4"
		}
		if paper != "A4" && paper != "Letter" {
			return "", refuse(FieldError{"paper", codeInvalid, "is not a paper size known here", "A4 or Letter"})
		}
		return "application/pdf", sheet.WritePDF(page, paper)
	case "txt":
		return "text/plain; charset=utf-8", sheet.WriteText(page)
	case "csv":
		return "text/csv; charset=utf-8", sheet.WriteCSV(page)
	}
	return "", &notebook.Error{Code: notebook.NotFound, Message: "there is no such face of a sheet", Hint: "it ends in .pdf, .txt or .csv"}
}
