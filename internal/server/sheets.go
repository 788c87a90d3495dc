package server

import (
	"bytes"
	"context"
	"net"
	"net/http"
	"net/url"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
)

// Sheets makes printed pages of records.
type Sheets interface {
	// Sheet makes one sheet in the person's units. kind is "setup" (a set-up),
	// "plan" (a trial's card for the pencil), "trial" (a trial with its verdict)
	// "session" (one visit to the range), "marks" (a set-up's marks card) or
	// "explain" (a set-up: what brace height does); id names the record. An unknown kind or record is an error with
	// code NotFound.
	Sheet(ctx context.Context, actor notebook.ID, kind string, id notebook.ID, system unit.System) (report.Sheet, error)
}

// MarksCards is what Sheets may do beside: a marks card for a day's air in
// words, such as "28 °C, 1005 hPa".
type MarksCards interface {
	Marks(ctx context.Context, actor, id notebook.ID, system unit.System, air string) (report.Sheet, error)
}

// LabelSheets is what Sheets may do beside: labels for bows, with codes that
// lead to where the notebook is found; far is false when only this machine
// finds it there.
type LabelSheets interface {
	Labels(ctx context.Context, actor notebook.ID, bows []notebook.ID, base string, far bool) (report.Sheet, error)
}

// ComparisonSheets is what Sheets may do beside: two set-ups side by side.
type ComparisonSheets interface {
	Comparison(ctx context.Context, actor, first, second notebook.ID, system unit.System) (report.Sheet, error)
}

// sheetInput names a sheet.
type sheetInput struct {
	IDInput
	Kind string `path:"kind" doc:"setup, plan, trial, session, compare (two set-ups), marks (a set-up's marks card), explain, putback (the way back to a set-up), week (of a person), weeklist (the coach's) or label (of a bow)." example:"trial"`
	Air  string `query:"air" maxLength:"100" doc:"The day's air of a marks card; default 15 °C, 1013 hPa." example:"28 °C, 1005 hPa"`
	With string `query:"with" maxLength:"100" doc:"The second set-up of a comparison." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Also string `query:"also" maxLength:"8000" doc:"Further bows of a sheet of labels, ids with commas between." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`

	base string // where the request found the notebook
}

// Resolve notes where the request was sent, which labels lead back to.
func (in *sheetInput) Resolve(ctx huma.Context) []error {
	in.base = baseOf(ctx.Host(), ctx.TLS() != nil)
	return nil
}

func baseOf(host string, secure bool) string {
	if secure {
		return "https://" + host + "/"
	}
	return "http://" + host + "/"
}

// asked is what of the request's query a sheet's other faces need too.
func (in *sheetInput) asked() string {
	q := url.Values{}
	if in.Air != "" {
		q.Set("air", in.Air)
	}
	if in.With != "" {
		q.Set("with", in.With)
	}
	if in.Also != "" {
		q.Set("also", in.Also)
	}
	if len(q) == 0 {
		return ""
	}
	return "?" + q.Encode()
}

// sheetView is a sheet as data, with the addresses of its other faces.
type sheetView struct {
	Sheet report.Sheet `json:"sheet"`
	PDF   string       `json:"pdf" example:"/sheets/trial/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e.pdf"`
	Text  string       `json:"text"`
	CSV   string       `json:"csv"`
}

func (s *server) getSheet(ctx context.Context, in *sheetInput) (*found[sheetView], error) {
	sheet, err := s.sheet(ctx, in)
	if err != nil {
		return nil, err
	}
	address, asked := "/sheets/"+in.Kind+"/"+in.ID, in.asked()
	return &found[sheetView]{Body: sheetView{sheet, address + ".pdf" + asked, address + ".txt" + asked, address + ".csv" + asked}}, nil
}

func (s *server) sheet(ctx context.Context, in *sheetInput) (report.Sheet, error) {
	kind, id := in.Kind, in.ID
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
		return cards.Marks(ctx, me.ID, notebook.ID(id), systemOf(me), in.Air)
	}
	if labels, ok := s.Sheets.(LabelSheets); ok && kind == "label" {
		bows := []notebook.ID{notebook.ID(id)}
		for _, other := range strings.FieldsFunc(in.Also, func(r rune) bool { return r == ',' || r == ' ' }) {
			bows = append(bows, notebook.ID(other))
		}
		base, far := s.labelBase(in.base)
		return labels.Labels(ctx, me.ID, bows, base, far)
	}
	sheet, err := s.ownSheet(ctx, me, in)
	if base, far := s.labelBase(in.base); err == nil && far {
		sheet.Link = strings.TrimSuffix(base, "/") + backTo(in)
	}
	return sheet, err
}

// ownSheet makes a sheet of one record, or of two side by side.
func (s *server) ownSheet(ctx context.Context, me notebook.Person, in *sheetInput) (report.Sheet, error) {
	if in.Kind == "week" || in.Kind == "weeklist" {
		return s.weekSheet(ctx, in.Kind, notebook.ID(in.ID))
	}
	if pairs, ok := s.Sheets.(ComparisonSheets); ok && in.Kind == "compare" {
		if notebook.ID(in.With).Check("") != nil {
			return report.Sheet{}, refuse(FieldError{"with", codeInvalid, "names no second set-up", "open the sheet from the page of two set-ups side by side"})
		}
		ctx, cancel := context.WithTimeout(ctx, s.Limits.Compute)
		defer cancel()
		return pairs.Comparison(ctx, me.ID, notebook.ID(in.ID), notebook.ID(in.With), systemOf(me))
	}
	return s.Sheets.Sheet(ctx, me.ID, in.Kind, notebook.ID(in.ID), systemOf(me))
}

// backTo is the page that a printed sheet's code opens: a pencil card leads to
// its trial, where it is typed up; the others to themselves.
func backTo(in *sheetInput) string {
	if in.Kind == "plan" {
		return "/trials/" + in.ID
	}
	return "/sheets/" + in.Kind + "/" + in.ID + in.asked()
}

// labelBase is where phones find the notebook, and whether they do.
func (s *server) labelBase(asked string) (base string, far bool) {
	if s.Public != "" {
		return s.Public, true
	}
	if s.Proxied {
		asked = "https://" + strings.TrimPrefix(asked, "http://")
	}
	at, err := url.Parse(asked)
	if err != nil {
		return asked, false
	}
	ip := net.ParseIP(at.Hostname())
	return asked, at.Hostname() != "localhost" && (ip == nil || !ip.IsLoopback())
}

// serveSheet answers with a face of a sheet, by the file's ending.
func (s *server) serveSheet(w http.ResponseWriter, r *http.Request) {
	kind, file := r.PathValue("kind"), r.PathValue("file")
	id, ending, isFile := strings.Cut(file, ".")
	if !isFile {
		s.pages(w, r) // a sheet's page on the screen, reloaded or sent on
		return
	}
	q := r.URL.Query()
	in := &sheetInput{IDInput: IDInput{ID: id}, Kind: kind, Air: q.Get("air"), With: q.Get("with"), Also: q.Get("also"), base: baseOf(r.Host, r.TLS != nil)}
	sheet, err := s.sheet(r.Context(), in)
	var page bytes.Buffer
	var media string
	if err == nil {
		media, err = writeFace(&page, sheet, ending, q.Get("paper"))
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
