package server

import (
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"tautline/unit"
)

// helpPath is where the address in a problem's type leads.
const helpPath = "/help/errors/"

// Problem is every refusal of this server (RFC 9457, application/problem+json).
type Problem struct {
	Type     string       `json:"type" doc:"Page of this server that explains the code." example:"/help/errors/unreadable"`
	Title    string       `json:"title" doc:"What kind of problem this is." example:"A value cannot be read"`
	Status   int          `json:"status" doc:"HTTP status." example:"422"`
	Detail   string       `json:"detail" doc:"What is wrong, in a sentence." example:"Brace height: cannot read \"twenty\": a number is expected."`
	Instance string       `json:"instance,omitempty" doc:"Path of the request." example:"/api/v1/bows/check"`
	Code     string       `json:"code" doc:"Machine-readable kind." example:"unreadable"`
	Field    string       `json:"field,omitempty" doc:"The field at fault, when there is one: a JSON pointer into the body, or a parameter's name." example:"/settings/brace_height/value"`
	Hint     string       `json:"hint,omitempty" doc:"What to try." example:"write it like 22.5 cm"`
	Errors   []FieldError `json:"errors,omitempty" doc:"Every field at fault."`
	// Stored and Sent stand side by side when two versions disagree (409, 412).
	Stored      any               `json:"stored,omitempty" doc:"What the notebook holds."`
	Sent        any               `json:"sent,omitempty" doc:"What was sent."`
	Differences []FieldDifference `json:"differences,omitempty" doc:"The fields in which the two differ."`
	Tag         string            `json:"stored_tag,omitempty" doc:"The ETag of what is stored: send it in If-Match to change that." example:"\"2-9f51c0de9f51c0de\""`

	after  int    // seconds after which to come again
	offset *int64 // bytes of an upload that are here
	cause  error  // logged, never shown
}

// FieldError is one field at fault.
type FieldError struct {
	Field   string `json:"field" doc:"Path of the field in the body, or the parameter." example:"/settings/brace_height/value"`
	Code    string `json:"code" doc:"Machine-readable kind." example:"unreadable"`
	Message string `json:"message" doc:"What is wrong with it." example:"cannot read \"twenty\": no number found"`
	Hint    string `json:"hint,omitempty" doc:"What to try." example:"write it like 22.5 cm"`
}

// FieldDifference is one field in which two versions of a record differ.
type FieldDifference struct {
	Field  string `json:"field" doc:"Path of the field." example:"/units"`
	Stored any    `json:"stored" doc:"The notebook's value; null when it has none."`
	Sent   any    `json:"sent" doc:"The value sent; null when it has none."`
}

// Error gives the detail.
func (p *Problem) Error() string { return p.Detail }

// Unwrap gives the cause, for the log.
func (p *Problem) Unwrap() error { return p.cause }

// GetStatus gives the HTTP status.
func (p *Problem) GetStatus() int { return p.Status }

// GetHeaders gives the version of what the problem shows as stored, from where
// an upload goes on, and when to come again.
func (p *Problem) GetHeaders() http.Header {
	h := http.Header{}
	if p.Tag != "" {
		h.Set("ETag", p.Tag)
	}
	if p.offset != nil {
		h.Set("Upload-Offset", strconv.FormatInt(*p.offset, 10))
	}
	switch {
	case p.after > 0:
		h.Set("Retry-After", strconv.Itoa(p.after))
	case p.Status == http.StatusServiceUnavailable:
		h.Set("Retry-After", "2")
	}
	return h
}

// ContentType is application/problem+json, whatever the client asked for.
func (p *Problem) ContentType(string) string { return "application/problem+json" }

// newProblem makes a problem with the code's own title.
func newProblem(status int, code, detail, hint string) *Problem {
	return &Problem{
		Type: helpPath + code, Title: helpFor(code).Title, Status: status,
		Code: code, Detail: detail, Hint: hint,
	}
}

// internalProblem is all that is told of a fault of ours.
func internalProblem() *Problem {
	return newProblem(http.StatusInternalServerError, codeInternal,
		"The program failed at this request. What was stored before is untouched.",
		"Try once more; if it stays, look into the program's log and report it.")
}

// writeProblem answers outside of the API library.
func writeProblem(w http.ResponseWriter, r *http.Request, p *Problem) {
	if p.Instance == "" {
		p.Instance = r.URL.Path
	}
	for name, values := range p.GetHeaders() {
		w.Header()[name] = values
	}
	w.Header().Set("Content-Type", p.ContentType(""))
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(p.Status)
	if r.Method == http.MethodHead {
		return
	}
	if err := json.NewEncoder(w).Encode(p); err != nil {
		return // the client has gone; there is nobody to tell
	}
}

func init() {
	huma.NewError = func(status int, msg string, errs ...error) huma.StatusError {
		return libraryProblem(status, msg, errs)
	}
	huma.NewErrorWithContext = func(ctx huma.Context, status int, msg string, errs ...error) huma.StatusError {
		p := libraryProblem(status, msg, errs)
		p.Instance = ctx.URL().Path
		return p
	}
}

// libraryProblem turns what the API library found wrong into our words.
func libraryProblem(status int, msg string, errs []error) *Problem {
	switch {
	case status == http.StatusRequestEntityTooLarge:
		return newProblem(status, codeTooLarge, "The body is larger than this route takes.", "Send less in one request.")
	case status == http.StatusRequestTimeout:
		return newProblem(status, codeSlow, "The body did not arrive in time.", "Send it again; a resend does no harm.")
	case msg == "cannot read request body":
		return newProblem(http.StatusBadRequest, codeSlow, "The body did not arrive whole.", "Send it again; a resend does no harm.")
	case status >= 500:
		p := internalProblem()
		p.cause = errors.Join(append([]error{errors.New(msg)}, errs...)...)
		return p
	case status == http.StatusNotAcceptable:
		return newProblem(status, codeContentType, "This route answers JSON only.", "Send Accept: application/json, or no Accept at all.")
	}
	return invalid(status, msg, errs)
}

// invalid lists what the schema found wrong, one entry a field.
func invalid(status int, msg string, errs []error) *Problem {
	p := newProblem(status, codeInvalid, "The request does not fit what this route takes.", "")
	for _, err := range errs {
		p.Errors = append(p.Errors, schemaError(err))
	}
	if len(p.Errors) == 0 {
		p.Detail = "The request cannot be read: " + firstClause(msg) + "."
		p.Hint = "See " + openAPIPath + " for what this route takes."
		return p
	}
	p.lead()
	return p
}

// lead copies the first field's error to the top, for clients that show one.
func (p *Problem) lead() *Problem {
	first := p.Errors[0]
	p.Field, p.Hint = first.Field, first.Hint
	p.Detail = sentence(first.Message)
	if name := lastName(p.Field); name != "" {
		p.Detail = sentence(name + ": " + first.Message)
	}
	return p
}

// pointerOf turns the library's "body.taps[2].stop" into "/taps/2/stop", and
// leaves a parameter its plain name.
func pointerOf(location string) string {
	place, rest, _ := strings.Cut(location, ".")
	if place != "body" {
		return rest
	}
	if rest == "" {
		return ""
	}
	return "/" + strings.NewReplacer(".", "/", "[", "/", "]", "").Replace(rest)
}

// schemaError names a field the way our own checks do, by JSON pointer.
func schemaError(err error) FieldError {
	var p *Problem
	var d huma.ErrorDetailer
	switch {
	case errors.As(err, &p):
		return FieldError{Field: p.Field, Code: p.Code, Message: p.Detail, Hint: p.Hint}
	case errors.As(err, &d):
		detail := d.ErrorDetail()
		return FieldError{Field: pointerOf(detail.Location), Code: codeInvalid, Message: firstClause(detail.Message), Hint: schemaHint(detail)}
	}
	return FieldError{Code: codeInvalid, Message: "cannot be read", Hint: "See " + openAPIPath + " for what this route takes."}
}

// schemaHint says what to do about the commonest refusals of a schema.
func schemaHint(d *huma.ErrorDetail) string {
	switch {
	case d.Message == "unexpected property":
		return "Leave it out, or check its spelling in " + openAPIPath + "."
	case strings.Contains(d.Message, "required"):
		return "Add it; " + openAPIPath + " shows an example."
	}
	return "See " + openAPIPath + " for what this field takes."
}

// firstClause keeps the machine's position reports and Go type names out of
// messages.
func firstClause(s string) string {
	s, _, _ = strings.Cut(s, " (")
	if strings.Contains(s, "Go value") || strings.Contains(s, "Go struct") {
		return "is of the wrong kind"
	}
	return s
}

// unreadable is a field whose text is not a quantity.
func unreadable(field string, err error) FieldError {
	var pe *unit.ParseError
	if errors.As(err, &pe) {
		return FieldError{Field: field, Code: codeUnreadable, Message: pe.Message(), Hint: pe.Hint()}
	}
	return FieldError{Field: field, Code: codeUnreadable, Message: "cannot be read", Hint: "write a number with its unit"}
}
