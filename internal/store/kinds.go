package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"tautline/notebook"
)

// shelf is a table without its type: what archive, verify and backup need.
type shelf interface {
	kind() string
	table() string
	// dump calls each with every version of every record, oldest received
	// first, which is the same order after an import; but for those that from
	// sets apart.
	dump(ctx context.Context, from asker, each func(record json.RawMessage) error) error
	// gather adds what is a person's, along copies it into another notebook,
	// remove deletes it, reword rewrites texts in what stays.
	gather(ctx context.Context, from asker, b *belongings) error
	along(ctx context.Context, from asker, to *sql.Tx, b *belongings) error
	remove(ctx context.Context, tx *sql.Tx, ids []notebook.ID) error
	reword(ctx context.Context, tx *sql.Tx, n *naming) (int, error)
	// read decodes and checks a record.
	read(raw json.RawMessage) (anyRecord, error)
	// known says what storing the record would do.
	known(ctx context.Context, tx *sql.Tx, r anyRecord) (notebook.Outcome, error)
	// insert stores a record as it is, its time of receipt included.
	insert(ctx context.Context, tx *sql.Tx, r anyRecord) error
	// example is a zero record, for the schema.
	example() any
}

// anyRecord is a record of a kind known to its shelf.
type anyRecord = notebook.Record

// shelves lists every kind, each after those it refers to.
func (s *Store) shelves() []shelf {
	return []shelf{
		typed[notebook.Person]{&s.people, notebook.PersonNoun}, typed[notebook.Bow]{&s.bows, notebook.BowNoun},
		typed[notebook.SetUp]{&s.setups, notebook.SetUpNoun}, typed[notebook.Session]{&s.sessions, notebook.SessionNoun},
		typed[notebook.Recording]{&s.recordings, notebook.RecordingNoun}, typed[notebook.Trial]{&s.trials, notebook.TrialNoun},
		typed[notebook.Reading]{&s.readings, notebook.ReadingNoun}, typed[notebook.TrialEvent]{&s.events, notebook.EventNoun},
		typed[notebook.Verdict]{&s.verdicts, notebook.VerdictNoun}, typed[notebook.End]{&s.ends, notebook.EndNoun},
		typed[notebook.Onsets]{&s.onsets, notebook.OnsetsNoun}, typed[notebook.Fit]{&s.fits, notebook.FitNoun},
		typed[notebook.Forecast]{&s.forecasts, notebook.ForecastNoun}, typed[notebook.Ruling]{&s.rulings, notebook.RulingNoun},
		typed[notebook.Share]{&s.shares, notebook.ShareNoun},
		typed[notebook.Retraction]{&s.retractions, notebook.RetractNoun},
	}
}

// typed is a table as a shelf.
type typed[T notebook.Record] struct {
	t    *table[T]
	name notebook.Noun
}

func (k typed[T]) kind() string  { return string(k.name) }
func (k typed[T]) table() string { return k.t.name }

func (k typed[T]) example() any {
	var zero T
	return zero
}

func (k typed[T]) dump(ctx context.Context, from asker, each func(json.RawMessage) error) error {
	return k.dumpWhere(ctx, from, "1 = 1", nil, without(from, each))
}

// dumpWhere is dump for the rows of a condition.
func (k typed[T]) dumpWhere(ctx context.Context, from asker, where string, args []any, each func(json.RawMessage) error) (err error) {
	rows, err := from.QueryContext(ctx, "SELECT body FROM "+k.t.name+" WHERE "+where+" ORDER BY received_utc, id, version", args...)
	if err != nil {
		return translate(err, "the notebook could not be read")
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		var body string
		if err := rows.Scan(&body); err != nil {
			return translate(err, "the notebook could not be read")
		}
		if err := each(json.RawMessage(body)); err != nil {
			return err
		}
	}
	return translate(rows.Err(), "the notebook could not be read")
}

func (k typed[T]) read(raw json.RawMessage) (anyRecord, error) {
	var r T
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields() // else what a newer program wrote would be lost without a word
	err := dec.Decode(&r)
	if _, field, unknown := strings.Cut(fmt.Sprint(err), "unknown field "); unknown {
		return nil, &notebook.Error{Code: notebook.Invalid, Message: fmt.Sprintf("a %s has no entry %s here", k.name, field), Hint: "it may come from a newer program: import it with that one", Cause: err}
	}
	if err != nil {
		return nil, &notebook.Error{Code: notebook.Invalid, Message: fmt.Sprintf("this is no %s: %s", k.name, strings.TrimPrefix(err.Error(), "json: ")), Hint: "compare it with notebook.schema.json", Cause: err}
	}
	return r, r.Check().OrNil()
}

func (k typed[T]) known(ctx context.Context, tx *sql.Tx, r anyRecord) (notebook.Outcome, error) {
	rec := r.(T)
	versions, err := k.versions(ctx, tx, rec.Stamped().ID)
	if err != nil || len(versions) == 0 {
		return notebook.Created, err
	}
	for _, old := range versions {
		if same, err := k.t.same(old, rec); err != nil || same {
			return notebook.Already, err
		}
	}
	return k.t.compare(versions[len(versions)-1], rec)
}

// versions gives every version of a record, oldest first. One that cannot be read
// stops the import that asks: what is compared with it could not be told.
func (k typed[T]) versions(ctx context.Context, tx *sql.Tx, id notebook.ID) (out []T, err error) {
	rows, err := tx.QueryContext(ctx, "SELECT body FROM "+k.t.name+" WHERE id = $1 ORDER BY version", string(id))
	if err != nil {
		return nil, err
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		var body string
		if err := rows.Scan(&body); err != nil {
			return nil, err
		}
		var r T
		if err := json.Unmarshal([]byte(body), &r); err != nil {
			return nil, &notebook.Error{Code: notebook.Damaged, Message: fmt.Sprintf("the %s %s, which is here already, cannot be read", k.name, id), Hint: "run: tautline verify", Cause: err}
		}
		out = append(out, r)
	}
	return out, rows.Err()
}

func (k typed[T]) insert(ctx context.Context, tx *sql.Tx, r anyRecord) error {
	received := r.Stamped().Received
	if received.IsZero() {
		received = k.t.store.now()
	}
	_, err := k.t.insert(ctx, tx, r.(T), received)
	return err
}

// joined keeps the first error and the second beside it.
func joined(first, second error) error {
	if first == nil {
		return second
	}
	return first
}

// stampTime is how a time is stored, and compared as text.
func stampTime(t time.Time) string { return t.UTC().Format(timeFormat) }
