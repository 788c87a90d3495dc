package server

import (
	"context"
	"net/http"
	"time"

	"tautline/internal/report"
	"tautline/notebook"
)

// putRetractionInput takes a record out of sight.
type putRetractionInput struct {
	IDInput
	Body struct {
		Target notebook.ID `json:"target" doc:"The record, or the retraction to undo."`
		Reason string      `json:"reason,omitempty" maxLength:"8000" example:"read from the wrong edge"`
		At     time.Time   `json:"at,omitzero" doc:"When, by the writer's clock; default the id's time."`
	}
}

func (s *server) putRetraction(ctx context.Context, in *putRetractionInput) (*kept[notebook.Retraction], error) {
	me, stamp, err := s.stamped(ctx, in.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	record := notebook.Retraction{Stamp: stamp, Target: in.Body.Target, Reason: in.Body.Reason}
	if err := record.Check().OrNil(); err != nil {
		return nil, err
	}
	if err := s.retractable(ctx, record.Target); err != nil {
		return nil, err
	}
	reading, isOne, err := ifThere(ctx, s, s.Notebook.Readings(), string(record.Target))
	if err != nil {
		return nil, err
	}
	stored, status, err := keep(ctx, s.Notebook.Retractions(), me.ID, record)
	if err != nil {
		return nil, err
	}
	if isOne && status == http.StatusCreated {
		s.refitFor(ctx, reading)
	}
	return &kept[notebook.Retraction]{Status: status, Body: stored}, nil
}

// retractable finds the target among the nouns that can be retracted.
func (s *server) retractable(ctx context.Context, id notebook.ID) error {
	for _, exists := range []func(context.Context, *server, notebook.ID) error{
		among(notebook.Store.Readings), among(notebook.Store.Recordings), among(notebook.Store.Retractions),
		among(notebook.Store.SetUps), among(notebook.Store.Sessions), among(notebook.Store.Trials),
		among(notebook.Store.Events), among(notebook.Store.Verdicts), among(notebook.Store.Bows),
		among(notebook.Store.Ends), among(notebook.Store.Onsets), among(notebook.Store.Fits),
		among(notebook.Store.Forecasts), among(notebook.Store.Rulings), among(notebook.Store.Shares),
	} {
		if err := exists(ctx, s, id); notebook.CodeOf(err) != notebook.NotFound {
			return err
		}
	}
	return &notebook.Error{Code: notebook.Invalid, Field: "/target", Message: "it names a record that is not in the notebook", Hint: "send that record first, or check the id"}
}

// among looks for an id in one noun.
func among[T notebook.Record](records func(notebook.Store) notebook.Records[T]) func(context.Context, *server, notebook.ID) error {
	return func(ctx context.Context, s *server, id notebook.ID) error {
		_, err := fetch(ctx, s, records(s.Notebook), string(id))
		return err
	}
}

// retractionView is something that was taken back and can be brought back.
type retractionView struct {
	Retraction notebook.Retraction `json:"retraction" doc:"Retract it to bring the record back."`
	Name       string              `json:"by_name,omitempty" doc:"Who took it back, if you may see them." example:"Robin"`
	Noun       notebook.Noun       `json:"noun" doc:"What kind of record it is." example:"reading"`
	What       string              `json:"what" doc:"The record in a few words, in this person's units." example:"brace height: 222 mm"`
	At         time.Time           `json:"at" doc:"When the record was written, by its writer's clock."`
	Bow        notebook.ID         `json:"bow,omitempty" doc:"Its bow."`
	Session    notebook.ID         `json:"session,omitempty" doc:"Its session."`
}

// listRetractionsInput narrows what was taken back.
type listRetractionsInput struct {
	Bow     string `query:"bow" doc:"Only what belongs to this bow." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Session string `query:"session" doc:"Only what was noted in this session." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	After   string `query:"after" doc:"Cursor: the next of the page before." example:"200"`
	Limit   int    `query:"limit" minimum:"1" maximum:"500" default:"200"`
}

// listRetractions gives what is out of sight now, taken back last first. What
// was brought back again is not in it, nor a share that was withdrawn: that is
// given anew. A page may be short, or empty, and still have a next.
func (s *server) listRetractions(ctx context.Context, in *listRetractionsInput) (*found[rows[retractionView]], error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	q := notebook.Query{Bow: notebook.ID(in.Bow), Session: notebook.ID(in.Session), After: in.After, Limit: in.Limit, Newest: true}
	page, err := s.Notebook.Retractions().List(ctx, me.ID, q)
	if err != nil {
		return nil, err
	}
	out := found[rows[retractionView]]{Body: rows[retractionView]{Rows: []retractionView{}, Next: page.Next}}
	names := map[notebook.ID]string{}
	for _, r := range page.Rows {
		what, err := report.Maker{Notebook: s.Notebook}.Named(ctx, me.ID, r.Target, systemOf(me))
		if notebook.CodeOf(err) == notebook.NotFound {
			continue
		}
		if err != nil {
			return nil, err
		}
		if _, asked := names[r.By]; !asked {
			if names[r.By], err = s.nameOf(ctx, r.By); err != nil {
				return nil, err
			}
		}
		out.Body.Rows = append(out.Body.Rows, retractionView{r, names[r.By], what.Noun, what.What, what.At, what.Bow, what.Session})
	}
	return &out, nil
}
