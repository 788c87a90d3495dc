package store

import (
	"context"
	"time"

	"tautline/notebook"
)

// tables ties each noun to its table: the columns it is searched by and where
// their values come from.
func (s *Store) tables() {
	s.people = table[notebook.Person]{
		store: s, name: "people", values: func(notebook.Person) []any { return nil },
		receive: func(r *notebook.Person, t time.Time) { r.Received = t },
		version: func(r notebook.Person) int { return r.Version },
	}
	s.bows = table[notebook.Bow]{
		store: s, name: "bows", values: func(notebook.Bow) []any { return nil },
		receive: func(r *notebook.Bow, t time.Time) { r.Received = t },
		version: func(r notebook.Bow) int { return r.Version },
	}
	s.setups = table[notebook.SetUp]{
		store: s, name: "setups", keys: []string{"bow"},
		values:  func(r notebook.SetUp) []any { return []any{string(r.Bow)} },
		receive: func(r *notebook.SetUp, t time.Time) { r.Received = t },
	}
	s.sessions = table[notebook.Session]{
		store: s, name: "sessions", keys: []string{"bow"},
		values:  func(r notebook.Session) []any { return []any{string(r.Bow)} },
		receive: func(r *notebook.Session, t time.Time) { r.Received = t },
	}
	s.recordings = table[notebook.Recording]{
		store: s, name: "recordings", keys: []string{"bow", "trial", "sha256", "size_bytes"},
		values: func(r notebook.Recording) []any {
			return []any{string(r.Bow), string(r.Trial), r.Hash, r.Bytes}
		},
		receive: func(r *notebook.Recording, t time.Time) { r.Received = t },
	}
	s.readings = table[notebook.Reading]{
		store: s, name: "readings", keys: []string{"bow", "setup", "session", "trial", "kind", "value_si"},
		values: func(r notebook.Reading) []any {
			return []any{string(r.Bow), string(r.SetUp), string(r.Session), string(r.Trial), string(r.Kind), r.Value}
		},
		receive: func(r *notebook.Reading, t time.Time) { r.Received = t },
	}
	s.trials = table[notebook.Trial]{
		store: s, name: "trials", keys: []string{"bow", "setup"},
		values:  func(r notebook.Trial) []any { return []any{string(r.Bow), string(r.SetUp)} },
		receive: func(r *notebook.Trial, t time.Time) { r.Received = t },
	}
	s.events = table[notebook.TrialEvent]{
		store: s, name: "trial_events", keys: []string{"trial"},
		values:  func(r notebook.TrialEvent) []any { return []any{string(r.Trial)} },
		receive: func(r *notebook.TrialEvent, t time.Time) { r.Received = t },
	}
	s.verdicts = table[notebook.Verdict]{
		store: s, name: "verdicts", keys: []string{"trial"},
		values:  func(r notebook.Verdict) []any { return []any{string(r.Trial)} },
		receive: func(r *notebook.Verdict, t time.Time) { r.Received = t },
	}
	s.ends = table[notebook.End]{
		store: s, name: "ends", keys: []string{"bow", "setup", "session", "trial"},
		values: func(r notebook.End) []any {
			return []any{string(r.Bow), string(r.SetUp), string(r.Session), string(r.Trial)}
		},
		receive: func(r *notebook.End, t time.Time) { r.Received = t },
	}
	s.onsets = table[notebook.Onsets]{
		store: s, name: "onsets", keys: []string{"recording"},
		values:  func(r notebook.Onsets) []any { return []any{string(r.Recording)} },
		receive: func(r *notebook.Onsets, t time.Time) { r.Received = t },
	}
	s.fitted()
	s.shares = table[notebook.Share]{
		store: s, name: "shares", keys: []string{"bow"}, common: true,
		values:  func(r notebook.Share) []any { return []any{string(r.Bow)} },
		receive: func(r *notebook.Share, t time.Time) { r.Received = t },
	}
	s.retractions = table[notebook.Retraction]{
		store: s, name: retractionsTable, keys: []string{"target"},
		values:  func(r notebook.Retraction) []any { return []any{string(r.Target)} },
		receive: func(r *notebook.Retraction, t time.Time) { r.Received = t },
		guard:   notAnUndo, deletes: true,
	}
}

// fitted ties the nouns of fitted models.
func (s *Store) fitted() {
	s.fits = table[notebook.Fit]{
		store: s, name: "fits", keys: []string{"bow", "setup"},
		values:  func(r notebook.Fit) []any { return []any{string(r.Bow), string(r.SetUp)} },
		receive: func(r *notebook.Fit, t time.Time) { r.Received = t },
	}
	s.forecasts = table[notebook.Forecast]{
		store: s, name: "forecasts", keys: []string{"bow", "setup"},
		values:  func(r notebook.Forecast) []any { return []any{string(r.Bow), string(r.SetUp)} },
		receive: func(r *notebook.Forecast, t time.Time) { r.Received = t },
	}
	s.rulings = table[notebook.Ruling]{
		store: s, name: "rulings", keys: []string{"target"},
		values:  func(r notebook.Ruling) []any { return []any{string(r.Target)} },
		receive: func(r *notebook.Ruling, t time.Time) { r.Received = t },
	}
}

// notAnUndo keeps retractions two deep: a record is taken out of sight, and
// that is taken back. Whoever wants it out of sight again retracts it again.
func notAnUndo(ctx context.Context, from asker, r notebook.Retraction) error {
	var undo bool
	err := from.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM retractions WHERE id = $1 AND target IN (SELECT id FROM retractions))", string(r.Target)).Scan(&undo)
	if err != nil {
		return err
	}
	if undo {
		return &notebook.Error{Code: notebook.Invalid, Field: "/target", Message: "this took back a retraction and cannot be retracted itself", Hint: "retract the record again instead"}
	}
	return nil
}
