package server

import (
	"context"
	"net/http"
	"reflect"
	"time"

	"github.com/danielgtaylor/huma/v2"
)

// Addresses that other files of this package refer to.
const (
	apiPath        = "/api/v1"
	openAPIPath    = "/openapi.json"
	recordingsPath = apiPath + "/recordings"
	readTablePath  = apiPath + "/ends/read-csv"
)

// bodyTime is how long the body of an ordinary request may take to arrive:
// 1 MiB at 0.35 Mbit/s.
const bodyTime = 30 * time.Second

// handler is one operation: an input read from the request, an output written
// as the answer.
type handler[I, O any] func(context.Context, *I) (*O, error)

// table registers operations, so that routes.go can be read as a table.
type table struct {
	s   *server
	api huma.API
	tag string // the noun, groups operations in the description
}

// extra changes an operation before it is registered.
type extra func(*huma.Operation)

// statuses adds answers that a route can give beside the usual ones.
func statuses(codes ...int) extra {
	return func(op *huma.Operation) { op.Errors = append(op.Errors, codes...) }
}

// register adds one operation. Whatever error the handler returns leaves as a
// Problem.
func register[I, O any](t table, method, path, id, summary string, h handler[I, O], extras ...extra) {
	op := huma.Operation{
		OperationID: id, Method: method, Path: apiPath + path, Summary: summary, Tags: []string{t.tag},
		MaxBodyBytes: t.s.Limits.JSONBytes, BodyReadTimeout: -1, // takeBody's
		RejectUnknownQueryParameters: true,
		Errors:                       usualErrors(method),
		SkipValidateBody:             checksItself(reflect.TypeFor[I]()),
	}
	for _, change := range extras {
		change(&op)
	}
	huma.Register(t.api, op, func(ctx context.Context, in *I) (*O, error) {
		out, err := h(ctx, in)
		if err != nil {
			return nil, t.s.problem(ctx, err)
		}
		return out, nil
	})
	if made := op.Responses["201"]; made != nil {
		made.Content, made.Headers = op.Responses["200"].Content, op.Responses["200"].Headers
	}
}

// checksItself reports whether a body names its own faults, field by field and
// with what to try, better than the schema's general words would.
func checksItself(input reflect.Type) bool {
	body, ok := input.FieldByName("Body")
	if !ok {
		return false
	}
	_, ok = reflect.New(body.Type).Interface().(interface{ namesItsFaults() })
	return ok
}

// usualErrors are the refusals any route of the method can answer with; 403
// stands for a login that lacks its second factor, too.
func usualErrors(method string) []int {
	codes := []int{http.StatusBadRequest, http.StatusUnauthorized, http.StatusForbidden, http.StatusUnprocessableEntity, http.StatusTooManyRequests, http.StatusMisdirectedRequest, http.StatusServiceUnavailable}
	if changes(method) {
		codes = append(codes, http.StatusRequestTimeout,
			http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	}
	return codes
}

func get[I, O any](t table, path, id, summary string, h handler[I, O], extras ...extra) {
	register(t, http.MethodGet, path, id, summary, h, extras...)
}

func put[I, O any](t table, path, id, summary string, h handler[I, O], extras ...extra) {
	register(t, http.MethodPut, path, id, summary, h, extras...)
}

func patch[I, O any](t table, path, id, summary string, h handler[I, O], extras ...extra) {
	register(t, http.MethodPatch, path, id, summary, h, extras...)
}

func post[I, O any](t table, path, id, summary string, h handler[I, O], extras ...extra) {
	register(t, http.MethodPost, path, id, summary, h, extras...)
}

func del[I, O any](t table, path, id, summary string, h handler[I, O], extras ...extra) {
	register(t, http.MethodDelete, path, id, summary, h, extras...)
}
