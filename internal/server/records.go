package server

import (
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"tautline/notebook"
)

// IDInput names a record in the address.
type IDInput struct {
	ID string `path:"id" doc:"The record's id, a UUIDv7 made by whoever creates it." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
}

// kept answers a create: 201 the first time, 200 to a resend.
type kept[V any] struct {
	Status int
	ETag   string `header:"ETag"`
	Body   V
}

// found answers a read.
type found[V any] struct {
	ETag string `header:"ETag"`
	Body V
}

// rows is one page of a list.
type rows[V any] struct {
	Rows []V    `json:"rows" nullable:"false"`
	Next string `json:"next,omitempty" doc:"Cursor of the following page; absent on the last."`
}

// listInput narrows a list.
type listInput struct {
	Bow       string `query:"bow" doc:"Only of this bow." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	SetUp     string `query:"setup" doc:"Only on this set-up." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Session   string `query:"session" doc:"Only of this session." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Trial     string `query:"trial" doc:"Only of this trial." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Retracted bool   `query:"retracted" doc:"Show retracted records too."`
	After     string `query:"after" doc:"Cursor: the next of the page before." example:"200"`
	Limit     int    `query:"limit" minimum:"1" maximum:"500" default:"200"`
}

func (in listInput) query() notebook.Query {
	return notebook.Query{
		Bow: notebook.ID(in.Bow), SetUp: notebook.ID(in.SetUp), Session: notebook.ID(in.Session), Trial: notebook.ID(in.Trial),
		Retracted: in.Retracted, After: in.After, Limit: in.Limit,
	}
}

// created documents the answers of a create.
func created(op *huma.Operation) {
	op.DefaultStatus = http.StatusOK
	op.Responses = map[string]*huma.Response{"201": {Description: "Created"}} // register gives it the content of 200
	op.Errors = append(op.Errors, http.StatusNotFound, http.StatusConflict, http.StatusPreconditionFailed, http.StatusInsufficientStorage)
	op.Description += "\n\n201 the first time, 200 to a resend of the same; 409 with both versions when the id holds another."
	op.Middlewares = append(op.Middlewares, rememberPrecondition)
}

// versioned documents the answers of a change to a record with versions.
func versioned(op *huma.Operation) {
	op.Errors = append(op.Errors, http.StatusPreconditionRequired, http.StatusPreconditionFailed, http.StatusInsufficientStorage)
	op.Description += "\n\nNeeds If-Match with the ETag that was read: 428 without, 412 with both versions when it is no longer the latest."
}

// made is the stamp of a record that a client created. Without a time of its
// own it takes the one inside the id, so that a resend is the same record.
func made(id string, by notebook.ID, at time.Time) (notebook.Stamp, error) {
	if err := notebook.ID(id).Check("/id"); err != nil {
		return notebook.Stamp{}, err
	}
	if at.IsZero() {
		u, err := uuid.Parse(id)
		if err != nil {
			return notebook.Stamp{}, err
		}
		at = idTime(u)
	}
	return notebook.Stamp{ID: notebook.ID(id), By: by, At: at.UTC()}, nil
}

// stamped gives who writes and the stamp of the record they made.
func (s *server) stamped(ctx context.Context, id string, at time.Time) (notebook.Person, notebook.Stamp, error) {
	me, err := s.actor(ctx)
	if err != nil {
		return me, notebook.Stamp{}, err
	}
	stamp, err := made(id, me.ID, at)
	return me, stamp, err
}

// idTime is the time a UUIDv7 was made: its first 48 bits, in milliseconds
// (RFC 9562, 5.7).
func idTime(u uuid.UUID) time.Time {
	var ms int64
	for _, b := range u[:6] {
		ms = ms<<8 | int64(b)
	}
	return time.UnixMilli(ms)
}

// keep checks and stores a new record. The status is 201, or 200 to a resend;
// other content under the same id is answered with both versions.
func keep[T notebook.Record](ctx context.Context, records notebook.Records[T], actor notebook.ID, record T) (T, int, error) {
	if err := record.Check().OrNil(); err != nil {
		return record, 0, err
	}
	if err := preconditionOfCreate(ctx, records, actor, record); err != nil {
		return record, 0, err
	}
	stored, outcome, err := records.Put(ctx, actor, record)
	switch {
	case notebook.CodeOf(err) == notebook.Different:
		return record, 0, conflict(ctx, records, actor, record, err)
	case err != nil:
		return record, 0, err
	case outcome == notebook.Created:
		return stored, http.StatusCreated, nil
	}
	return stored, http.StatusOK, nil
}

// conflict shows what is stored beside what was sent.
func conflict[T notebook.Record](ctx context.Context, records notebook.Records[T], actor notebook.ID, sent T, cause error) error {
	stored, err := records.Get(ctx, actor, sent.Stamped().ID)
	if err != nil {
		return cause
	}
	p := newProblem(http.StatusConflict, codeDifferent, "This id already holds a different record, which was kept.",
		"Make a new id to keep both; a wrong reading is put right by a new one that names it in corrects.")
	return p.beside(stored, sent)
}

// fetch reads one record.
func fetch[T notebook.Record](ctx context.Context, s *server, records notebook.Records[T], id string) (T, error) {
	var none T
	if notebook.ID(id).Check("") != nil {
		return none, &notebook.Error{Code: notebook.NotFound, Message: "there is no such record", Hint: "go back to the list and open it from there"}
	}
	me, err := s.me(ctx)
	if err != nil {
		return none, err
	}
	return records.Get(ctx, me.ID, notebook.ID(id))
}

// ifThere reads a record that need not be there.
func ifThere[T notebook.Record](ctx context.Context, s *server, records notebook.Records[T], id string) (r T, there bool, err error) {
	r, err = fetch(ctx, s, records, id)
	if notebook.CodeOf(err) == notebook.NotFound {
		return r, false, nil
	}
	return r, err == nil, err
}

// refers demands that a record named by another exists, as a field's error.
func refers[T notebook.Record](ctx context.Context, s *server, records notebook.Records[T], field string, id notebook.ID) (T, error) {
	record, err := fetch(ctx, s, records, string(id))
	if notebook.CodeOf(err) == notebook.NotFound {
		return record, &notebook.Error{Code: notebook.Invalid, Field: field, Message: "it names a record that is not in the notebook", Hint: "send that record first, or check the id"}
	}
	return record, err
}

// all reads every page of a list.
func all[T notebook.Record](ctx context.Context, s *server, records notebook.Records[T], q notebook.Query) ([]T, error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	return notebook.Everything(ctx, records, me.ID, q)
}

// list reads one page and shows each row.
func list[T notebook.Record, V any](ctx context.Context, s *server, records notebook.Records[T], in listInput, show func(T) V) (*found[rows[V]], error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	page, err := records.List(ctx, me.ID, in.query())
	if err != nil {
		return nil, err
	}
	out := found[rows[V]]{Body: rows[V]{Rows: make([]V, 0, len(page.Rows)), Next: page.Next}}
	for _, r := range page.Rows {
		out.Body.Rows = append(out.Body.Rows, show(r))
	}
	return &out, nil
}
