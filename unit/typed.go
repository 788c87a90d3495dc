package unit

import (
	"encoding/json"
	"fmt"
)

// Typed is a quantity with what the person typed, for a notebook that must
// show a reading as it was written down.
type Typed[T Quantity] struct {
	Value T       `json:"value"` // SI
	Text  string  `json:"text"`  // exactly as typed
	Unit  Unit[T] `json:"unit"`  // the unit it was typed in, as its symbol
	// Step is the size of the last digit or fraction typed, SI: 1 mm for
	// 22.5 cm, a quarter inch for 8 3/4 in. It bounds the reading's resolution
	// from below; the instrument's own may be coarser. 0 means unknown.
	Step T `json:"step,omitempty"`
}

// Said makes a Typed from a value the program has, as if it had been typed in
// unit u with the digits needed to give the value back exactly.
func Said[T Quantity](value T, u Unit[T]) Typed[T] {
	if !u.Known() {
		u = Units[T]()[0]
	}
	return Typed[T]{Value: value, Text: Exact(value, u, Point), Unit: u}
}

// String gives the text as typed, or the value in its default unit.
func (t Typed[T]) String() string {
	if t.Text != "" {
		return t.Text
	}
	return Exact(t.Value, t.Unit, Point)
}

// IsZero reports whether nothing was typed, for json's omitzero.
func (t Typed[T]) IsZero() bool { return t.Text == "" && t.Value == 0 }

// Text is a quantity in a file or on a command line written by people: it
// reads "22.5 cm" and writes back what was typed. Quantities themselves stay
// SI numbers in JSON. An optional field is marked omitzero, because an empty
// text is refused when it is read.
type Text[T Quantity] struct{ Typed[T] }

// UnmarshalText reads a quantity with its unit.
func (t *Text[T]) UnmarshalText(b []byte) error {
	typed, err := Read(string(b), Reading[T]{})
	if err != nil {
		return err
	}
	t.Typed = typed
	return nil
}

// MarshalText writes what was typed, or the value exactly.
func (t Text[T]) MarshalText() ([]byte, error) {
	if t.IsZero() && t.Unit == "" {
		return nil, nil
	}
	return []byte(t.String()), nil
}

// UnmarshalJSON reads a string as UnmarshalText does. A bare JSON number has
// no unit and is refused with a good example; the spine alone is a bare
// number in the trade too. null leaves the value as it is.
func (t *Text[T]) UnmarshalJSON(b []byte) error {
	var s string
	switch {
	case string(b) == "null":
		return nil
	case len(b) > 0 && b[0] == '"':
		if err := json.Unmarshal(b, &s); err != nil {
			return fmt.Errorf("unit: %w", err)
		}
	default:
		s = string(b)
	}
	return t.UnmarshalText([]byte(s))
}
