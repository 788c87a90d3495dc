package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"tautline/notebook"
)

// belongings is what of a notebook is one person's: who they are, their bows
// with all that was written on them by whomever, what they wrote of no bow, and
// the shares they gave or got.
type belongings struct {
	person notebook.ID
	bows   []notebook.ID
	ids    map[string][]notebook.ID // of the records, by table
	all    map[notebook.ID]bool
	guests []notebook.ID        // sessions of nobody's bow that others began and these readings name
	others map[notebook.ID]bool // who else wrote some of it
	hashes map[string]bool      // of the sound files
}

// Belongings counts what is a person's, by noun, see notebook.Leavers.
func (s *Store) Belongings(ctx context.Context, person notebook.ID) (map[notebook.Noun]int, error) {
	b, err := s.gather(ctx, s.read, person)
	if err != nil {
		return nil, translate(err, "the notebook could not be read")
	}
	out := map[notebook.Noun]int{}
	for _, k := range s.shelves() {
		if n := len(b.ids[k.table()]); n > 0 {
			out[notebook.Noun(k.kind())] = n
		}
	}
	return out, nil
}

// gather looks for everything of a person's.
func (s *Store) gather(ctx context.Context, from asker, person notebook.ID) (*belongings, error) {
	b := newBelongings(person)
	owner := map[notebook.ID]notebook.ID{}
	err := dumpAll(ctx, from, &s.bows, func(r notebook.Bow) { owner[r.ID] = r.Owner }) // the last version counts
	if err != nil {
		return nil, err
	}
	for bow, archer := range owner {
		if archer == person {
			b.bows = append(b.bows, bow)
		}
	}
	if err := s.collect(ctx, from, b); err != nil {
		return nil, err
	}
	delete(b.others, person)
	return b, nil
}

func newBelongings(person notebook.ID) *belongings {
	return &belongings{person: person, ids: map[string][]notebook.ID{}, all: map[notebook.ID]bool{}, others: map[notebook.ID]bool{}, hashes: map[string]bool{}}
}

// collect adds what belongs to the bows, and what the person wrote of no bow.
func (s *Store) collect(ctx context.Context, from asker, b *belongings) error {
	for _, k := range s.shelves() {
		if err := k.gather(ctx, from, b); err != nil {
			return err
		}
	}
	return nil
}

// dumpAll decodes every row of a table in the order of versions.
func dumpAll[T notebook.Record](ctx context.Context, from asker, t *table[T], each func(T)) error {
	return typed[T]{t, ""}.dump(ctx, from, func(raw json.RawMessage) error {
		var r T
		err := json.Unmarshal(raw, &r)
		if err == nil {
			each(r)
		}
		return err
	})
}

// gather adds the records of this table that are the person's.
func (k typed[T]) gather(ctx context.Context, from asker, b *belongings) error {
	where, args := k.t.scopeOf(b)
	return k.dumpWhere(ctx, from, where, args, func(raw json.RawMessage) error {
		var r T
		if err := json.Unmarshal(raw, &r); err != nil {
			return err
		}
		if b.has(r) {
			b.add(k.t.name, r)
		}
		return nil
	})
}

// scopeOf narrows a table to what may be the person's.
func (t *table[T]) scopeOf(b *belongings) (string, []any) {
	if t.name == "people" {
		return "id = $1", []any{string(b.person)}
	}
	var args []any
	where := t.scope(&notebook.Scope{Bows: b.bows, Writer: b.person}, &args)
	switch {
	case where == "":
		return "1 = 1", nil
	case t.name == "sessions":
		own := (&table[notebook.Reading]{name: "readings", keys: []string{"bow"}}).scope(&notebook.Scope{Bows: b.bows, Writer: b.person}, &args)
		where = "(" + where + " OR id IN (SELECT session FROM readings WHERE " + own + " UNION SELECT session FROM ends WHERE " + own + "))"
	}
	return where, args
}

// has decides what the database's scope leaves open.
func (b *belongings) has(r notebook.Record) bool {
	switch r := r.(type) {
	case notebook.Share:
		return r.Archer == b.person || r.With == b.person
	case notebook.Ruling:
		return b.all[r.Target]
	case notebook.Retraction:
		return b.all[r.Target]
	}
	return true
}

func (b *belongings) add(table string, r notebook.Record) {
	st := r.Stamped()
	b.others[st.By] = true
	if session, ok := r.(notebook.Session); ok && session.Bow == "" && st.By != b.person {
		b.guests = append(b.guests, st.ID)
		return
	}
	if sound, ok := r.(notebook.Recording); ok {
		b.hashes[sound.Hash] = true
	}
	if !b.all[st.ID] {
		b.all[st.ID] = true
		b.ids[table] = append(b.ids[table], st.ID)
	}
}

// leaving is how a folder is called in which a person's export is put together.
const leaving = "leaving-"

// ExportPerson writes what is a person's as an export like any other, see
// notebook.Leavers. It is put together in a notebook of its own beside this
// one, so that it is whole by construction, and is one state of this one.
func (s *Store) ExportPerson(ctx context.Context, person notebook.ID, w io.Writer) (err error) {
	if s.files.own == nil {
		return noFolder(fs.ErrNotExist)
	}
	name := leaving + string(notebook.NewID())
	defer func() { err = joined(err, s.files.own.RemoveAll(name)) }()
	to, err := Open(ctx, pathIn(s.files.own, name), Options{Now: s.now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	if err := s.takeAlong(ctx, person, to); err != nil {
		return translate(err, "the export could not be put together")
	}
	return to.Export(ctx, w)
}

// takeAlong copies what is a person's into another notebook.
func (s *Store) takeAlong(ctx context.Context, person notebook.ID, to *Store) (err error) {
	from, err := s.read.BeginTx(ctx, s.engine.snapshot())
	if err != nil {
		return err
	}
	defer func() { err = joined(err, ignoreDone(from.Rollback())) }()
	b, err := s.gather(ctx, from, person)
	if err != nil {
		return err
	}
	tx, err := to.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, ignoreDone(tx.Rollback())) }()
	if err := s.peopleAlong(ctx, from, tx, b, to); err != nil {
		return err
	}
	for _, k := range s.shelves() {
		if k.table() == s.people.name {
			continue
		}
		if err := k.along(ctx, from, tx, b); err != nil {
			return err
		}
	}
	for hash := range b.hashes {
		if err := s.linkOrCopy(hash, to); err != nil {
			return fileError(err)
		}
	}
	return tx.Commit()
}

// peopleAlong takes the person along, and of others who wrote some of it what
// they are, not who: their names are theirs. Roles stay behind, since they
// belong to this notebook.
func (s *Store) peopleAlong(ctx context.Context, from asker, tx *sql.Tx, b *belongings, to *Store) error {
	var own, rest []notebook.Person
	err := dumpAll(ctx, from, &s.people, func(p notebook.Person) {
		if p.ID == b.person {
			p.Role, p.Disabled = "", false
			own = append(own, p)
		} else if b.others[p.ID] {
			name := map[notebook.Role]string{notebook.CoachRole: "a coach", notebook.OwnerRole: "the club"}[p.Role]
			if name == "" {
				name = "another archer"
			}
			b.others[p.ID] = false // once is enough
			rest = append(rest, notebook.Person{Stamp: notebook.Stamp{ID: p.ID, By: p.ID, At: p.At, Received: s.now()}, Name: name, Hand: notebook.RightHanded, Version: 1})
		}
	})
	if err != nil {
		return err
	}
	for _, p := range append(own, rest...) { // whose notebook it is comes first
		if _, err := to.people.insert(ctx, tx, p, p.Received); err != nil {
			return err
		}
	}
	return nil
}

// along copies the records of this table that are a person's, all versions.
func (k typed[T]) along(ctx context.Context, from asker, to *sql.Tx, b *belongings) error {
	ids := b.ids[k.t.name]
	if k.name == notebook.SessionNoun {
		ids = append(ids, b.guests...)
	}
	return k.each(ctx, from, ids, func(r T) error {
		switch x := any(r).(type) {
		case notebook.Share:
			if x.Archer != b.person {
				return nil // what others gave is theirs to tell
			}
		case notebook.Session:
			if x.Bow == "" && x.By != b.person {
				x.Note = "" // may be about others' bows
				return k.insert(ctx, to, x)
			}
		}
		return k.insert(ctx, to, r)
	})
}

// each goes through the records of some ids, a piece at a time.
func (k typed[T]) each(ctx context.Context, from asker, ids []notebook.ID, do func(T) error) error {
	for piece := range slices.Chunk(ids, pieceSize) {
		where, args := oneOf("id", piece)
		err := k.dumpWhere(ctx, from, where, args, func(raw json.RawMessage) error {
			var r T
			if err := json.Unmarshal(raw, &r); err != nil {
				return err
			}
			return do(r)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// linkOrCopy gives a sound file a second name in a notebook below this one, or
// copies it where the disk has none.
func (s *Store) linkOrCopy(hash string, to *Store) (err error) {
	if !isHash(hash) {
		return fs.ErrNotExist
	}
	if s.files.own.Link(path.Join(recordingsDir, hash), path.Join(filepath.Base(to.dir), recordingsDir, hash)) == nil {
		return nil
	}
	f, err := to.files.sounds.OpenFile(hash, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = joined(err, f.Close()) }()
	return copyTo(f, s.files.sounds, hash)
}

// sweepLeaving takes away what a program that was killed left behind while it
// put an export together.
func (s *Store) sweepLeaving() error {
	left, err := fs.Glob(s.files.own.FS(), leaving+"*")
	for _, name := range left {
		err = errors.Join(err, s.files.own.RemoveAll(name))
	}
	return err
}

// pieceSize is how many ids one statement names.
const pieceSize = 500

// oneOf is the condition that a column holds one of some ids.
func oneOf(column string, ids []notebook.ID) (string, []any) {
	args := make([]any, len(ids))
	marks := make([]string, len(ids))
	for i, id := range ids {
		args[i], marks[i] = string(id), placeholder(i+1)
	}
	return column + " IN (" + strings.Join(marks, ", ") + ")", args
}
