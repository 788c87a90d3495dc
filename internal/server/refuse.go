package server

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"tautline/notebook"
	"tautline/unit"
)

// statusOf says which HTTP status a refusal of the notebook is.
var statusOf = map[notebook.Code]int{
	notebook.Invalid:     http.StatusUnprocessableEntity,
	notebook.NotFound:    http.StatusNotFound,
	notebook.Different:   http.StatusConflict,
	notebook.Outdated:    http.StatusPreconditionFailed,
	notebook.Busy:        http.StatusServiceUnavailable,
	notebook.ReadOnly:    http.StatusServiceUnavailable,
	notebook.DiskFull:    http.StatusInsufficientStorage,
	notebook.TooNew:      http.StatusServiceUnavailable,
	notebook.TooLarge:    http.StatusRequestEntityTooLarge,
	notebook.Damaged:     http.StatusServiceUnavailable,
	notebook.NotAllowed:  http.StatusForbidden,
	notebook.Unavailable: http.StatusServiceUnavailable,
}

// problem turns any error into what may be told, and logs what may not.
func (s *server) problem(ctx context.Context, err error) *Problem {
	p := s.explain(ctx, err)
	switch {
	case errors.Is(ctx.Err(), context.Canceled): // whoever asked has gone, or asked something else
		s.Log.Debug("request given up", "code", p.Code)
	case p.Code == codeBusy: // said once a request, and counted
	case p.Status == http.StatusNotImplemented: // not offered by this program: no fault of it
		s.Log.Debug("not offered", "error", err)
	case p.Status >= 500:
		s.tally.failed(p.Code)
		s.Log.Error("request failed", "code", p.Code, "error", err)
	}
	return p
}

func (s *server) explain(ctx context.Context, err error) *Problem {
	var known *Problem
	var many notebook.Problems
	var one *notebook.Error
	var parse *unit.ParseError
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &known):
		return known
	case errors.As(err, &many) && len(many) > 0:
		return ofProblems(many)
	case errors.As(err, &one):
		return ofError(one)
	case errors.As(err, &parse):
		return refuse(unreadable(parse.Field, parse))
	case errors.As(err, &tooLarge):
		return newProblem(http.StatusRequestEntityTooLarge, codeTooLarge, "The body is larger than this route takes.", "Send less in one request.")
	case errors.Is(err, context.DeadlineExceeded):
		return newProblem(http.StatusServiceUnavailable, codeTooLong, "The calculation took longer than the server allows.", "Ask for fewer steps or a shorter span.")
	case ctx.Err() != nil:
		return newProblem(http.StatusServiceUnavailable, codeSlow, "The request was given up before it was answered.", "Send it again; a resend does no harm.")
	case errors.Is(err, context.Canceled): // a work that somebody still waits for made room, or the program ends
		return busy()
	}
	return internalProblem()
}

// ofProblems lists every field at fault.
func ofProblems(many notebook.Problems) *Problem {
	p := newProblem(http.StatusUnprocessableEntity, codeInvalid, "", "")
	for _, e := range many {
		p.Errors = append(p.Errors, FieldError{e.Field, string(e.Code), e.Message, e.Hint})
	}
	return p.lead()
}

// ofError tells one refusal.
func ofError(e *notebook.Error) *Problem {
	status, ok := statusOf[e.Code]
	if !ok {
		p := internalProblem()
		p.cause = e
		return p
	}
	p := newProblem(status, string(e.Code), sentence(e.Message), e.Hint)
	p.Field, p.cause = e.Field, e.Cause
	if e.Field != "" {
		p.Errors = []FieldError{{e.Field, string(e.Code), e.Message, e.Hint}}
	}
	return p
}

// sentence starts a message with a capital and ends it with a stop.
func sentence(s string) string {
	if s == "" {
		return s
	}
	s = strings.ToUpper(s[:1]) + s[1:]
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// under moves the fields of a refusal below a prefix.
func under(prefix string, errs []FieldError) []FieldError {
	for i := range errs {
		errs[i].Field = prefix + errs[i].Field
	}
	return errs
}
