package store

import (
	"context"
	"encoding/json"
	"errors"
	"maps"
	"slices"
)

// Facts are what a notebook's files say of themselves, without a name, a note
// or a value in it.
type Facts struct {
	Engine   string           `json:"engine"`  // SQLite or PostgreSQL, with its version
	Version  int64            `json:"version"` // of the schema
	Known    int64            `json:"known"`   // the version that this program writes
	Rows     map[string]int64 `json:"rows"`    // by table
	Schema   []string         `json:"schema"`
	Database int64            `json:"database_bytes"` // of a SQLite file; 0 in PostgreSQL
	Journal  int64            `json:"journal_bytes"`
	Sounds   int64            `json:"recording_bytes"`
	Copies   int64            `json:"copies_bytes"` // in the folder copies
	Free     int64            `json:"free_bytes"`   // of the folder's disk; −1 if unknown
	Disk     int64            `json:"disk_bytes"`   // of that disk in all; 0 if unknown
}

// Facts gathers them.
func (s *Store) Facts(ctx context.Context) (f Facts, err error) {
	f = Facts{Known: newest(), Rows: map[string]int64{}, Free: s.Space().Free, Disk: s.Space().Total}
	query, schema := "SELECT 'SQLite ' || sqlite_version()", "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name"
	if _, ok := s.engine.(postgres); ok {
		query = "SELECT 'PostgreSQL ' || current_setting('server_version')"
		schema = "SELECT table_name || '.' || column_name || ' ' || data_type FROM information_schema.columns WHERE table_schema = current_schema() ORDER BY 1"
	}
	if err := s.read.QueryRowContext(ctx, query).Scan(&f.Engine); err != nil {
		return f, translate(err, "the database cannot be read")
	}
	if f.Schema, err = names(ctx, s.read, schema); err != nil {
		return f, err
	}
	if f.Version, err = schemaVersion(ctx, s.read); err != nil {
		return f, err
	}
	tables, err := s.engine.tables(ctx, s.read)
	for _, t := range tables {
		var n int64
		if err := s.read.QueryRowContext(ctx, "SELECT count(*) FROM "+t).Scan(&n); err != nil {
			return f, translate(err, "the notebook could not be counted")
		}
		f.Rows[t] = n
	}
	f.Database, f.Journal = sizeIn(s.files.own, databaseName), sizeIn(s.files.own, databaseName+"-wal")
	f.Sounds, f.Copies = sizeOf(s.files.sounds), sizeOf(s.files.copies)
	return f, err
}

// Names lists what people, bows and logins are or were called, so that a text
// can be cleared of them.
func (s *Store) Names(ctx context.Context) (list []string, err error) {
	called := map[string]bool{}
	for _, query := range []string{"SELECT DISTINCT body FROM people", "SELECT DISTINCT body FROM bows"} {
		bodies, err := names(ctx, s.read, query)
		if err != nil {
			return nil, err
		}
		for _, body := range bodies {
			var record struct{ Name string }
			if err := json.Unmarshal([]byte(body), &record); err != nil {
				continue // damage is found by who looks for it
			}
			called[record.Name] = true
		}
	}
	logins, err := names(ctx, s.read, "SELECT login FROM accounts")
	for _, login := range logins {
		called[login] = true
	}
	delete(called, "")
	return slices.Sorted(maps.Keys(called)), err
}

// Use is who has a notebook's folder open.
type Use struct {
	Held        bool   // a program has it open now
	Process     string // its number, or that of the one that never closed it; "" for none
	Interrupted bool   // a restore was begun and not finished
	Open        bool   // others than the owner may look into the folder
}

// InUse looks at a folder's lock without taking it for longer than the look.
func InUse(dir string) (u Use) {
	u.Interrupted = unfinishedPlacing(dir)
	root, err := openFolder(dir)
	if err != nil {
		return u
	}
	defer root.Close() // only looked at
	if info, err := root.Stat("."); err == nil {
		u.Open = openToOthers(info.Mode())
	}
	u.Process = holderOf(root)
	f, err := openLocked(root, lockName, false)
	if u.Held = errors.Is(err, errHeld); err == nil {
		_ = f.Close() // lets go of the lock too
	}
	return u
}
