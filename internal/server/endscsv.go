package server

import (
	"context"
	"errors"
	"io"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// Limits of a table of arrows.
const (
	tableBytes  = 64 << 20 // a million lines
	tableArrows = 100_000  // taken at once
)

// tables documents a body of a table's own text.
func tables(op *huma.Operation) {
	op.MaxBodyBytes = tableBytes
	op.RequestBody = &huma.RequestBody{Required: true, Description: "The table as text: end,arrow,x_cm,y_cm (also _mm, _m, _in), or ring instead of places; optional kind, setup, time.",
		Content: map[string]*huma.MediaType{"text/csv": {Schema: &huma.Schema{Type: "string"}}}}
}

// tableInput is a table of arrows, read as it arrives.
type tableInput struct {
	w http.ResponseWriter
	r *http.Request
}

// Resolve takes hold of the body.
func (in *tableInput) Resolve(ctx huma.Context) []error {
	in.r, in.w = humago.Unwrap(ctx)
	return nil
}

// tableView is a table read. Nothing of it is stored.
type tableView struct {
	Ends     []readEnd `json:"ends" nullable:"false" doc:"Ready to be sent to PUT /ends/{id}, once bow, set-up, distance and face are added."`
	Arrows   int       `json:"arrows"`
	Warnings []string  `json:"warnings" nullable:"false"`
}

// readEnd is one end of a table.
type readEnd struct {
	Number  int               `json:"number"`
	SetUp   string            `json:"setup_text,omitempty" doc:"What the column setup says; the person says which set-up that is."`
	Impacts []notebook.Impact `json:"impacts" nullable:"false"`
}

// readTable reads a table of arrows without storing anything. A mistake
// anywhere refuses the whole, every mistake with its line.
func (s *server) readTable(_ context.Context, in *tableInput) (*found[tableView], error) {
	until := s.Now().Add(bodyTime)
	body := &patient{in: http.MaxBytesReader(in.w, in.r.Body, tableBytes), w: in.w, idle: bodyTime, until: until, now: s.Now}
	ends, warnings, err := workbench.ReadEnds(body, tableArrows)
	if body.failed != nil {
		return nil, brokenTable(body.failed)
	}
	if err != nil {
		return nil, err
	}
	out := tableView{Ends: []readEnd{}, Warnings: someText(warnings)}
	for _, e := range ends {
		out.Arrows += len(e.Impacts)
		out.Ends = append(out.Ends, readEnd{e.Number, e.Note, e.Impacts})
	}
	return &found[tableView]{Body: out}, nil
}

// brokenTable says why the table did not arrive.
func brokenTable(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return newProblem(http.StatusRequestEntityTooLarge, codeTooLarge, "A table may have 64 MB; this one has more. Nothing of it was taken.", "Split it by session.")
	}
	return newProblem(http.StatusRequestTimeout, codeSlow, "The table did not arrive whole. Nothing of it was taken.", "Send it again.")
}

// exportInput says which ends to write.
type exportInput struct {
	Bow     string  `query:"bow" doc:"Only of this bow." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	SetUp   string  `query:"setup" doc:"Only on this set-up." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Session string  `query:"session" doc:"Only of this session." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Trial   string  `query:"trial" doc:"Only of this trial." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Unit    string  `query:"unit" enum:"mm,cm,m,in" default:"cm" doc:"Unit of the places."`
	Dialect dialect `query:"dialect" enum:"comma,semicolon" default:"comma" doc:"comma: 1.5 and a comma between; semicolon: 1,5 and a semicolon, with a byte order mark, for a spreadsheet that writes numbers so."`
}

func csvAnswer(op *huma.Operation) {
	op.Responses = map[string]*huma.Response{"200": {Description: "A table, one arrow or reading a line; streamed",
		Content: map[string]*huma.MediaType{"text/csv": {Schema: &huma.Schema{Type: "string"}}}}}
}

// exportEnds writes the ends as a table, page by page. Corrected and
// retracted ends are left out.
func (s *server) exportEnds(ctx context.Context, in *exportInput) (*fileOutput, error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	q := notebook.Query{Bow: notebook.ID(in.Bow), SetUp: notebook.ID(in.SetUp), Session: notebook.ID(in.Session), Trial: notebook.ID(in.Trial), Limit: 1000}
	wrong, err := s.correctedEnds(ctx, q.Bow)
	if err != nil {
		return nil, err
	}
	e := endExport{s: s, actor: me.ID, q: q, wrong: wrong, labels: map[notebook.ID]string{}, unit: in.Unit}
	return s.attachment("ends.csv", csvKind, func(ctx context.Context, w http.ResponseWriter) error {
		return e.write(ctx, in.Dialect.of(w), w)
	}), nil
}

// endExport writes one table.
type endExport struct {
	s      *server
	actor  notebook.ID
	q      notebook.Query
	wrong  map[notebook.ID]notebook.ID
	labels map[notebook.ID]string
	unit   string
}

func (e *endExport) write(ctx context.Context, to io.Writer, w http.ResponseWriter) error {
	table, err := workbench.NewEndWriter(to, unit.Unit[unit.Length](e.unit))
	if err != nil {
		return err
	}
	return eachOf(ctx, e.s.Notebook.Ends(), e.actor, e.q, func(end notebook.End) error {
		if _, replaced := e.wrong[end.ID]; replaced {
			return nil
		}
		label, err := e.label(ctx, end.SetUp)
		if err != nil {
			return err
		}
		return table.Write(end, label)
	}, func() error { return sentOn(table.Flush(), w) })
}

// label names a set-up in the table: its day and reason, and the end of its id
// so that two of one day stay two.
func (e *endExport) label(ctx context.Context, id notebook.ID) (string, error) {
	if label, known := e.labels[id]; known {
		return label, nil
	}
	setup, err := e.s.Notebook.SetUps().Get(ctx, e.actor, id)
	if err != nil {
		return "", err
	}
	label := workbench.FactsOf(setup).Label
	text := strings.Join(strings.Fields(label), " ") + " [" + string(id[len(id)-4:]) + "]"
	e.labels[id] = text
	return text, nil
}
