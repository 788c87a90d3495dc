package notebook

import (
	"time"

	"github.com/google/uuid"
)

// ID names a record: a UUIDv7 in its usual text form, made by whoever makes
// the record, so that sending it twice stores it once. The time inside it is
// never trusted for order; Stamp.Received is.
type ID string

// NewID makes an ID.
func NewID() ID { return ID(uuid.Must(uuid.NewV7()).String()) }

// Check reports an ID that is not a UUIDv7 in lower case.
func (id ID) Check(field string) error {
	u, err := uuid.Parse(string(id))
	if err != nil || u.Version() != 7 || u.String() != string(id) {
		return &Error{Code: Invalid, Field: field, Message: "this is not a record's id", Hint: "an id is a UUIDv7 like 0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"}
	}
	return nil
}

// Stamp is what every record carries: its name, who wrote it, when by the
// writer's clock, and when the store took it in. Times are UTC.
type Stamp struct {
	ID       ID        `json:"id"`
	By       ID        `json:"by"`
	At       time.Time `json:"at"`
	Received time.Time `json:"received,omitzero"`
}

// Stamped gives every record its Stamp.
func (s Stamp) Stamped() Stamp { return s }

// check reports what in a stamp cannot stand.
func (s Stamp) check() []Error {
	var out []Error
	out = append(out, refuse(s.ID.Check("/id"))...)
	out = append(out, refuse(s.By.Check("/by"))...)
	if s.At.IsZero() || s.At.Year() < 1990 || s.At.Year() > 2200 {
		out = append(out, Error{Code: Invalid, Field: "/at", Message: "the time of the record is missing or impossible", Hint: "a time like 2026-05-04T09:30:00Z"})
	}
	return out
}
