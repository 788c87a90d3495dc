package server

import (
	"bufio"
	"context"
	"encoding/json"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
)

// linesInput says whose records to write.
type linesInput struct {
	Bow string `query:"bow" doc:"Only of this bow; default: everything that you may see." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
}

func linesAnswer(op *huma.Operation) {
	op.Responses = map[string]*huma.Response{"200": {Description: "One record a line, each with its noun; streamed",
		Content: map[string]*huma.MediaType{"application/jsonl": {Schema: &huma.Schema{Type: "string"}}}}}
}

// exportLines writes every record that the visitor may see, one a line, those
// taken out of sight too, with the retractions that say so.
func (s *server) exportLines(ctx context.Context, in *linesInput) (*fileOutput, error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	if in.Bow != "" {
		if _, err := fetch(ctx, s, s.Notebook.Bows(), in.Bow); err != nil {
			return nil, err
		}
	}
	return s.attachment("records.jsonl", "application/jsonl", func(ctx context.Context, w http.ResponseWriter) error {
		out := bufio.NewWriterSize(w, 1<<16)
		l := recordLines{s.Notebook, me.ID, systemOf(me), notebook.ID(in.Bow), w, out, json.NewEncoder(out)}
		l.to.SetEscapeHTML(false)
		return l.write(ctx)
	}), nil
}

// recordLines writes records as they are read.
type recordLines struct {
	book   notebook.Store
	actor  notebook.ID
	system unit.System
	bow    notebook.ID // "" for all
	w      http.ResponseWriter
	out    *bufio.Writer
	to     *json.Encoder
}

// recordLine is one line.
type recordLine struct {
	Noun   notebook.Noun   `json:"noun"`
	Record notebook.Record `json:"record"`
}

// write writes each kind after those it refers to, but for what belongs to one
// trial or recording, which follows it.
func (l recordLines) write(ctx context.Context) error {
	of := notebook.Query{Bow: l.bow}
	for _, kind := range []func() error{
		func() error {
			return linesOf(ctx, l, notebook.BowNoun, l.book.Bows(), notebook.Query{}, func(b notebook.Bow) (bool, error) { return l.bow == "" || b.ID == l.bow, nil }, nil)
		},
		func() error { return linesOf(ctx, l, notebook.SetUpNoun, l.book.SetUps(), of, nil, nil) },
		func() error { return linesOf(ctx, l, notebook.SessionNoun, l.book.Sessions(), of, nil, nil) },
		func() error {
			return linesOf(ctx, l, notebook.RecordingNoun, l.book.Recordings(), of, nil, func(r notebook.Recording) error {
				return linesOf(ctx, l, notebook.OnsetsNoun, l.book.Onsets(), notebook.Query{Recording: r.ID}, nil, nil)
			})
		},
		func() error { return linesOf(ctx, l, notebook.TrialNoun, l.book.Trials(), of, nil, l.ofTrial(ctx)) },
		func() error { return linesOf(ctx, l, notebook.ReadingNoun, l.book.Readings(), of, nil, nil) },
		func() error { return linesOf(ctx, l, notebook.EndNoun, l.book.Ends(), of, nil, nil) },
		func() error { return linesOf(ctx, l, notebook.FitNoun, l.book.Fits(), of, nil, nil) },
		func() error { return linesOf(ctx, l, notebook.ForecastNoun, l.book.Forecasts(), of, nil, nil) },
		func() error { return linesOf(ctx, l, notebook.RulingNoun, l.book.Rulings(), of, l.isOfBow(ctx), nil) },
		func() error {
			return linesOf(ctx, l, notebook.RetractNoun, l.book.Retractions(), of, nil, l.undone(ctx))
		},
	} {
		if err := kind(); err != nil {
			return err
		}
	}
	return sentOn(l.out.Flush(), l.w)
}

// linesOf writes one kind, narrowed by only, each record with what follows it.
func linesOf[T notebook.Record](ctx context.Context, l recordLines, noun notebook.Noun, records notebook.Records[T], q notebook.Query, only func(T) (bool, error), follow func(T) error) error {
	q.Retracted, q.Limit = true, pageRows
	return eachOf(ctx, records, l.actor, q, func(r T) error {
		if only != nil {
			if wanted, err := only(r); err != nil || !wanted {
				return err
			}
		}
		if err := l.to.Encode(recordLine{noun, r}); err != nil || follow == nil {
			return err
		}
		return follow(r)
	}, func() error { return sentOn(l.out.Flush(), l.w) })
}

func (l recordLines) ofTrial(ctx context.Context) func(notebook.Trial) error {
	return func(t notebook.Trial) error {
		of := notebook.Query{Trial: t.ID}
		if err := linesOf(ctx, l, notebook.EventNoun, l.book.Events(), of, nil, nil); err != nil {
			return err
		}
		return linesOf(ctx, l, notebook.VerdictNoun, l.book.Verdicts(), of, nil, nil)
	}
}

// isOfBow looks at the bow of what a ruling is about: no list of rulings is
// narrowed to a bow.
func (l recordLines) isOfBow(ctx context.Context) func(notebook.Ruling) (bool, error) {
	return func(r notebook.Ruling) (bool, error) {
		if l.bow == "" {
			return true, nil
		}
		what, err := report.Maker{Notebook: l.book}.Named(ctx, l.actor, r.Target, l.system)
		if notebook.CodeOf(err) == notebook.NotFound {
			return false, nil
		}
		return what.Bow == l.bow, err
	}
}

// undone writes the retraction that took one back: a bow's list has those of
// its records, not those of retractions.
func (l recordLines) undone(ctx context.Context) func(notebook.Retraction) error {
	return func(r notebook.Retraction) error {
		if l.bow == "" {
			return nil
		}
		return linesOf(ctx, l, notebook.RetractNoun, l.book.Retractions(), notebook.Query{Target: r.ID}, nil, nil)
	}
}
