package notebook

import (
	"errors"
	"strings"
)

// Code says what kind of refusal an Error is.
type Code string

// The codes. Each has its place in docs/manual/errors.md.
const (
	Invalid     Code = "invalid"     // a field cannot stand as it is
	NotFound    Code = "not-found"   // no such record
	Different   Code = "different"   // the id is taken by other content
	Outdated    Code = "outdated"    // the version edited is no longer the latest
	Busy        Code = "busy"        // another program holds the notebook
	ReadOnly    Code = "read-only"   // a write failed; nothing more is written until it is opened anew
	DiskFull    Code = "disk-full"   // no room
	TooNew      Code = "too-new"     // the notebook was written by a newer program
	TooLarge    Code = "too-large"   // a recording beyond the limit
	Damaged     Code = "damaged"     // the stored data fail a check
	NotAllowed  Code = "not-allowed" // the actor may not do this
	Unavailable Code = "unavailable" // the storage does not answer
)

// Error is a refusal that a person can act on: what is wrong, where, and what
// to try. Cause is for the log and never shown.
type Error struct {
	Code    Code   `json:"code"`
	Field   string `json:"field,omitempty"` // JSON pointer into the record, "" for the whole
	Message string `json:"message"`
	Hint    string `json:"hint,omitempty"`
	Cause   error  `json:"-"`
}

// Error gives field, message and hint in one line.
func (e *Error) Error() string {
	var b strings.Builder
	if e.Field != "" {
		b.WriteString(strings.TrimPrefix(e.Field, "/"))
		b.WriteString(": ")
	}
	b.WriteString(e.Message)
	if e.Hint != "" {
		b.WriteString("; ")
		b.WriteString(e.Hint)
	}
	return b.String()
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

// Problems is every refusal of one record at once, so that a form can show
// each beside its field.
type Problems []Error

// Error joins them, one a line.
func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i := range p {
		lines[i] = p[i].Error()
	}
	return strings.Join(lines, "\n")
}

// OrNil is p as an error, nil when there is none.
func (p Problems) OrNil() error {
	if len(p) == 0 {
		return nil
	}
	return p
}

// CodeOf gives the code of an error made here, "" for any other.
func CodeOf(err error) Code {
	var one *Error
	var many Problems
	switch {
	case errors.As(err, &one):
		return one.Code
	case errors.As(err, &many):
		return Invalid
	}
	return ""
}

// OfStorage tells an error that says something of the storage, not of what was
// asked for or given to it.
func OfStorage(err error) bool {
	switch CodeOf(err) {
	case DiskFull, ReadOnly, Unavailable, Busy, Damaged:
		return true
	}
	return false
}

// refuse turns one check's error into a list.
func refuse(err error) []Error {
	var one *Error
	if errors.As(err, &one) {
		return []Error{*one}
	}
	return nil
}
