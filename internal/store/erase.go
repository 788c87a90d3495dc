package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"slices"
	"strconv"
	"time"

	"tautline/notebook"
)

// FormerMember is the name under which what a person wrote on others' bows
// stays, after they were erased.
const FormerMember = "a former member"

// Erase takes a person out of the notebook, see notebook.Leavers: it happens
// whole or not at all. Then the bytes are overwritten: what the database frees
// (secure_delete, VACUUM, the emptied journal), and the sound files that nobody
// else names are removed, and so are the copies from before updates; after a stop
// in between the next start goes on with it. Backups from before are removed
// after 90 days (forget).
func (s *Store) Erase(ctx context.Context, person notebook.ID) (notebook.Erasure, error) {
	s.parting.Lock()
	defer s.parting.Unlock()
	var out notebook.Erasure
	var hashes map[string]bool
	err := s.deleting(func() error {
		return s.change(ctx, func(tx *sql.Tx) (err error) {
			if out, hashes, err = s.erase(ctx, tx, person); err != nil {
				return err
			}
			return s.beginErasing(person, hashes)
		})
	})
	if err != nil {
		return out, err
	}
	out.Until = s.now().UTC().Add(forgetTime).Truncate(time.Second)
	// The records are gone, and who asked may be too: the rest is done all the
	// same, and whatever fails of it keeps nothing else of it from being done.
	ctx = context.WithoutCancel(ctx)
	out.Copies, err = s.finishErasing(ctx, []notebook.ID{person})
	return out, err
}

func (s *Store) erase(ctx context.Context, tx *sql.Tx, person notebook.ID) (out notebook.Erasure, hashes map[string]bool, err error) {
	b, err := s.gather(ctx, tx, person)
	if err != nil {
		return out, nil, err
	}
	names, err := s.namesOf(ctx, tx, person)
	if err != nil {
		return out, nil, err
	}
	if err := s.keepNamed(ctx, tx, b); err != nil {
		return out, nil, err
	}
	out.Removed = map[notebook.Noun]int{}
	for _, k := range slices.Backward(s.shelves()) { // each before those it refers to
		ids := b.ids[k.table()]
		if k.table() == s.people.name || len(ids) == 0 {
			continue
		}
		if err := k.remove(ctx, tx, ids); err != nil {
			return out, nil, err
		}
		out.Removed[notebook.Noun(k.kind())] = len(ids)
	}
	if err := s.eraseAccount(ctx, tx, person, names); err != nil {
		return out, nil, err
	}
	for _, k := range s.shelves() {
		n, err := k.reword(ctx, tx, names)
		if err != nil {
			return out, nil, err
		}
		out.Reworded += n
	}
	return out, b.hashes, s.becomeFormer(ctx, tx, person)
}

// keepNamed leaves the sessions of no bow that others' readings name.
func (s *Store) keepNamed(ctx context.Context, tx *sql.Tx, b *belongings) (err error) {
	own := map[notebook.ID]bool{}
	for _, bow := range b.bows {
		own[bow] = true
	}
	kept := map[notebook.ID]bool{}
	rows, err := tx.QueryContext(ctx, "SELECT session, bow FROM readings WHERE session IN (SELECT id FROM sessions WHERE bow = '' AND by_person = $1) "+
		"UNION SELECT session, bow FROM ends WHERE session IN (SELECT id FROM sessions WHERE bow = '' AND by_person = $1)", string(b.person))
	if err != nil {
		return err
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		var session, bow notebook.ID
		if err := rows.Scan(&session, &bow); err != nil {
			return err
		}
		kept[session] = kept[session] || !own[bow]
	}
	b.ids["sessions"] = slices.DeleteFunc(b.ids["sessions"], func(id notebook.ID) bool { return kept[id] })
	return rows.Err()
}

func (k typed[T]) remove(ctx context.Context, tx *sql.Tx, ids []notebook.ID) error {
	for piece := range slices.Chunk(ids, pieceSize) {
		where, args := oneOf("id", piece)
		if _, err := tx.ExecContext(ctx, "DELETE FROM "+k.t.name+" WHERE "+where, args...); err != nil {
			return err
		}
	}
	return nil
}

// eraseAccount removes login, sessions, tokens, codes, the links that the
// person gave and those that were made for somebody of their name. Whatever else
// of others' bears the name is called otherwise, and goes on working.
func (s *Store) eraseAccount(ctx context.Context, tx *sql.Tx, person notebook.ID, names *naming) error {
	if _, err := tx.ExecContext(ctx, "DELETE FROM accounts WHERE person = $1", string(person)); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM credentials WHERE person = $1", string(person)); err != nil {
		return err
	}
	others, err := credentials(ctx, tx)
	if err != nil {
		return err
	}
	for _, c := range others {
		name, named := names.inOthers(c.Name)
		switch {
		case c.By == person, named && c.Kind == notebook.InvitationCredential && c.Person == "":
			_, err = tx.ExecContext(ctx, "DELETE FROM credentials WHERE hash = $1", c.Hash)
		case named:
			c.Name = name
			err = renameCredential(ctx, tx, c)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// credentials reads all of them.
func credentials(ctx context.Context, tx *sql.Tx) (out []notebook.Credential, err error) {
	rows, err := tx.QueryContext(ctx, "SELECT body FROM credentials")
	if err != nil {
		return nil, err
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		var body string
		var c notebook.Credential
		if err := errors.Join(rows.Scan(&body), json.Unmarshal([]byte(body), &c)); err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, rows.Err()
}

func renameCredential(ctx context.Context, tx *sql.Tx, c notebook.Credential) error {
	body, err := json.Marshal(c)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "UPDATE credentials SET body = $1 WHERE hash = $2", string(body), c.Hash)
	return err
}

// becomeFormer puts one nameless version in place of all of a person's: what
// they wrote on others' bows keeps its writer's number, and nobody's name.
func (s *Store) becomeFormer(ctx context.Context, tx *sql.Tx, person notebook.ID) error {
	old, found, err := s.people.latest(ctx, tx, person)
	if err != nil || !found {
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM people WHERE id = $1", string(person)); err != nil {
		return err
	}
	next := notebook.Person{
		Stamp: notebook.Stamp{ID: person, By: person, At: s.now().UTC().Truncate(24 * time.Hour)}, Name: FormerMember, Hand: notebook.RightHanded,
		Role: notebook.ViewerRole, Disabled: true, Version: old.Version + 1,
	}
	_, err = s.people.insert(ctx, tx, next, s.now())
	return err
}

// reword takes names out of the free texts of what stays, and says in how many
// records.
func (k typed[T]) reword(ctx context.Context, tx *sql.Tx, n *naming) (changed int, err error) {
	where, args := n.mayHold()
	if where == "" || k.name == notebook.PersonNoun { // another may bear the same name
		return 0, nil
	}
	rows, err := tx.QueryContext(ctx, "SELECT seq, by_person, body FROM "+k.t.name+" WHERE "+where, args...)
	if err != nil {
		return 0, err
	}
	next := map[int64]string{}
	for rows.Next() {
		var seq int64
		var by notebook.ID
		var body string
		if err := errors.Join(ctx.Err(), rows.Scan(&seq, &by, &body)); err != nil {
			return 0, errors.Join(err, rows.Close())
		}
		if text, ok := n.without(body, by); ok {
			next[seq] = text
		}
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return 0, err
	}
	for seq, body := range next {
		if _, err := tx.ExecContext(ctx, "UPDATE "+k.t.name+" SET body = $1 WHERE seq = $2", body, seq); err != nil {
			return 0, err
		}
	}
	return len(next), nil
}

// decoded reads JSON with its numbers as they are written.
func decoded(body string) (tree any, err error) {
	dec := json.NewDecoder(bytes.NewReader([]byte(body)))
	dec.UseNumber()
	err = dec.Decode(&tree)
	return tree, err
}

func placeholder(i int) string { return "$" + strconv.Itoa(i) }
