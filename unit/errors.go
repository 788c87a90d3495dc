package unit

import (
	"errors"
	"fmt"
	"unicode/utf8"
)

// ParseError says what could not be read, where, why, and what would be.
type ParseError struct {
	Field    string // what was asked for: "brace height"; the quantity's name by default
	Quantity string // "length"
	Text     string // what was typed, unchanged
	Reason   string // why it cannot be read, as a clause
	Example  string // text that would be accepted
}

// Error gives the whole story in one sentence and an example.
func (e *ParseError) Error() string {
	return fmt.Sprintf("%s: %s; %s", e.Field, e.Message(), e.Hint())
}

// Message is the error without its field and its example, for a form that
// shows them in their own places.
func (e *ParseError) Message() string {
	if e.Text == "" {
		return e.Reason
	}
	return fmt.Sprintf("cannot read %q: %s", shorten(e.Text), e.Reason)
}

// Hint says what to write instead.
func (e *ParseError) Hint() string { return "write it like " + e.Example }

// For returns the error with the name of the field it belongs to.
func (e *ParseError) For(field string) *ParseError {
	named := *e
	named.Field = field
	return &named
}

// For names the field in err if it is or wraps a ParseError, else returns err
// unchanged (nil stays nil): return unit.For("brace height", err).
func For(field string, err error) error {
	var pe *ParseError
	if errors.As(err, &pe) {
		return pe.For(field)
	}
	return err
}

// shorten keeps a pasted page out of an error message.
func shorten(s string) string {
	const limit = 40
	if utf8.RuneCountInString(s) <= limit {
		return s
	}
	return string([]rune(s)[:limit]) + "…"
}
