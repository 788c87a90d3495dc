package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"time"

	"tautline/notebook"
)

var _ notebook.Accounts = (*Store)(nil)

// AccountFor finds an account by its login, see notebook.Accounts.
func (s *Store) AccountFor(ctx context.Context, login string) (notebook.Account, error) {
	return one[notebook.Account](ctx, s.read, "SELECT body FROM accounts WHERE login = $1", login)
}

// AccountOf finds an account by its person, see notebook.Accounts.
func (s *Store) AccountOf(ctx context.Context, person notebook.ID) (notebook.Account, error) {
	return one[notebook.Account](ctx, s.read, "SELECT body FROM accounts WHERE person = $1", string(person))
}

// one reads a single body.
func one[T any](ctx context.Context, from asker, query string, args ...any) (r T, err error) {
	var body string
	err = from.QueryRowContext(ctx, query, args...).Scan(&body)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return r, &notebook.Error{Code: notebook.NotFound, Message: "there is no such account or invitation", Hint: "ask for a new one"}
	case err != nil:
		return r, translate(err, "the accounts could not be read")
	}
	return r, json.Unmarshal([]byte(body), &r)
}

// CountAccounts counts the accounts.
func (s *Store) CountAccounts(ctx context.Context) (n int, err error) {
	err = s.read.QueryRowContext(ctx, "SELECT count(*) FROM accounts").Scan(&n)
	return n, translate(err, "the accounts could not be read")
}

// SaveAccount replaces a person's account, see notebook.Accounts.
func (s *Store) SaveAccount(ctx context.Context, a notebook.Account) error {
	return s.change(ctx, func(tx *sql.Tx) error { return saveAccount(ctx, tx, a) })
}

// ChangeAccount changes an account as it stands, see notebook.Accounts: one
// connection writes, so that of two changes the second sees the first.
func (s *Store) ChangeAccount(ctx context.Context, person notebook.ID, change func(*notebook.Account) bool) (a notebook.Account, err error) {
	err = s.change(ctx, func(tx *sql.Tx) error {
		a, err = one[notebook.Account](ctx, tx, "SELECT body FROM accounts WHERE person = $1", string(person))
		if err != nil || !change(&a) {
			return err
		}
		return saveAccount(ctx, tx, a)
	})
	return a, err
}

func saveAccount(ctx context.Context, tx *sql.Tx, a notebook.Account) error {
	var holder string
	err := tx.QueryRowContext(ctx, "SELECT person FROM accounts WHERE login = $1", a.Login).Scan(&holder)
	if err == nil && holder != string(a.Person) {
		return &notebook.Error{Code: notebook.Different, Field: "/login", Message: "this login is taken", Hint: "choose another"}
	}
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	body, err := json.Marshal(a)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO accounts (person, login, body) VALUES ($1, $2, $3) ON CONFLICT (person) DO UPDATE SET login = excluded.login, body = excluded.body",
		string(a.Person), a.Login, string(body))
	return err
}

// Admit lets a person in, see notebook.Accounts.
func (s *Store) Admit(ctx context.Context, a notebook.Admission) error {
	if err := a.Person.Check().OrNil(); err != nil {
		return err
	}
	return s.change(ctx, func(tx *sql.Tx) error {
		used, err := tx.ExecContext(ctx, "DELETE FROM credentials WHERE id = $1 AND kind IN ($2, $3)", string(a.Invitation), string(notebook.InvitationCredential), string(notebook.RecoveryCredential))
		if err != nil {
			return err
		}
		if n, err := used.RowsAffected(); err != nil || n != 1 {
			return errors.Join(err, &notebook.Error{Code: notebook.NotFound, Message: "this invitation was used, or has expired", Hint: "ask for a new one"})
		}
		if a.Used != nil {
			if err := saveCredential(ctx, tx, *a.Used); err != nil {
				return err
			}
		}
		people := typed[notebook.Person]{&s.people, notebook.PersonNoun}
		if outcome, err := people.known(ctx, tx, a.Person); err != nil {
			return err
		} else if outcome != notebook.Already {
			if _, err := s.people.insert(ctx, tx, a.Person, s.now()); err != nil {
				return err
			}
		}
		if a.Recovery != nil {
			if err := saveCredential(ctx, tx, *a.Recovery); err != nil {
				return err
			}
		}
		return saveAccount(ctx, tx, a.Account)
	})
}

// AdmitAgain lets a person in once more, see notebook.Accounts.
func (s *Store) AdmitAgain(ctx context.Context, r notebook.Readmission) error {
	was, err := json.Marshal(r.Was)
	if err != nil {
		return err
	}
	now, err := json.Marshal(r.Now)
	if err != nil {
		return err
	}
	return s.change(ctx, func(tx *sql.Tx) error {
		a, err := one[notebook.Account](ctx, tx, "SELECT body FROM accounts WHERE person = $1", string(r.Account.Person))
		if err != nil {
			return err
		}
		moved, err := tx.ExecContext(ctx, "UPDATE credentials SET body = $1 WHERE hash = $2 AND kind = $3 AND body = $4", string(now), r.Was.Hash, string(r.Was.Kind), string(was))
		if err != nil {
			return err
		}
		if n, err := moved.RowsAffected(); err != nil || n != 1 || a.Hash != r.Account.Hash || !a.Since.Equal(r.Account.Since) {
			return errors.Join(err, &notebook.Error{Code: notebook.NotFound, Message: "this was sent again already, or the account changed", Hint: "send it once more"})
		}
		return saveCredential(ctx, tx, r.Recovery)
	})
}

// change runs one transaction that writes.
func (s *Store) change(ctx context.Context, do func(*sql.Tx) error) (err error) {
	if err := s.Writable(); err != nil {
		return err
	}
	defer func() {
		err = translate(err, "it could not be stored")
		s.noteFailure(err)
	}()
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := do(tx); err != nil {
		return joined(err, ignoreDone(tx.Rollback()))
	}
	return tx.Commit()
}

// SaveCredential adds or replaces one, see notebook.Accounts.
func (s *Store) SaveCredential(ctx context.Context, c notebook.Credential) error {
	return s.change(ctx, func(tx *sql.Tx) error { return saveCredential(ctx, tx, c) })
}

func saveCredential(ctx context.Context, tx *sql.Tx, c notebook.Credential) error {
	body, err := json.Marshal(c)
	if err != nil {
		return err
	}
	if err := ownID(ctx, tx, c); err != nil {
		return err
	}
	if err := dropBefore(ctx, tx, c); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO credentials (id, hash, kind, person, expires_utc, body) VALUES ($1, $2, $3, $4, $5, $6) "+
		"ON CONFLICT (hash) DO UPDATE SET person = excluded.person, expires_utc = excluded.expires_utc, body = excluded.body",
		string(c.ID), c.Hash, string(c.Kind), string(c.Person), stampTime(c.Expires), string(body))
	return err
}

// dropBefore removes what a credential takes the place of: of an invitation or
// token that is made again after a lost answer nobody knows the first secret.
// With what was used, all that was used too long ago goes too.
func dropBefore(ctx context.Context, tx *sql.Tx, c notebook.Credential) (err error) {
	switch c.Kind {
	case notebook.RecoveryCredential:
		_, err = tx.ExecContext(ctx, "DELETE FROM credentials WHERE kind = $1 AND person = $2", string(c.Kind), string(c.Person))
	case notebook.InvitationCredential, notebook.TokenCredential:
		_, err = tx.ExecContext(ctx, "DELETE FROM credentials WHERE kind = $1 AND id = $2", string(c.Kind), string(c.ID))
	case notebook.UsedCredential:
		_, err = tx.ExecContext(ctx, "DELETE FROM credentials WHERE kind = $1 AND expires_utc < $2", string(c.Kind), stampTime(c.Made))
	}
	return err
}

// ownID demands that no other person's link or token has an id: one's own is
// made again, with a new secret, since the answer with the first was lost.
func ownID(ctx context.Context, tx *sql.Tx, c notebook.Credential) error {
	if c.Kind != notebook.InvitationCredential && c.Kind != notebook.TokenCredential {
		return nil
	}
	there, err := one[notebook.Credential](ctx, tx, "SELECT body FROM credentials WHERE kind = $1 AND id = $2", string(c.Kind), string(c.ID))
	switch {
	case notebook.CodeOf(err) == notebook.NotFound:
		return nil
	case err != nil:
		return err
	case there.By == c.By:
		return nil
	}
	return &notebook.Error{Code: notebook.NotFound, Message: "there is nothing of yours under this id", Hint: "make a new one"} // as of any other's record
}

// CredentialBy finds one by its hash, see notebook.Accounts.
func (s *Store) CredentialBy(ctx context.Context, kind notebook.CredentialKind, hash string, now time.Time) (notebook.Credential, error) {
	return one[notebook.Credential](ctx, s.read, "SELECT body FROM credentials WHERE hash = $1 AND kind = $2 AND expires_utc > $3", hash, string(kind), stampTime(now))
}

// Credentials lists those that have not expired, see notebook.Accounts.
func (s *Store) Credentials(ctx context.Context, kind notebook.CredentialKind, person notebook.ID, now time.Time) (out []notebook.Credential, err error) {
	query, args := "SELECT body FROM credentials WHERE kind = $1 AND expires_utc > $2", []any{string(kind), stampTime(now)}
	if person != "" {
		query, args = query+" AND person = $3", append(args, string(person))
	}
	rows, err := s.read.QueryContext(ctx, query+" ORDER BY id", args...)
	if err != nil {
		return nil, translate(err, "the accounts could not be read")
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		var body string
		var c notebook.Credential
		if err := rows.Scan(&body); err != nil {
			return nil, translate(err, "the accounts could not be read")
		}
		if err := json.Unmarshal([]byte(body), &c); err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, translate(rows.Err(), "the accounts could not be read")
}

// DropCredential forgets one by its hash.
func (s *Store) DropCredential(ctx context.Context, hash string) error {
	return s.exec(ctx, "DELETE FROM credentials WHERE hash = $1", hash)
}

// DropCredentials forgets all of one kind of a person's.
func (s *Store) DropCredentials(ctx context.Context, kind notebook.CredentialKind, person notebook.ID) error {
	return s.exec(ctx, "DELETE FROM credentials WHERE kind = $1 AND person = $2", string(kind), string(person))
}

func (s *Store) exec(ctx context.Context, query string, args ...any) error {
	return s.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, query, args...)
		return err
	})
}

// Note adds to the log of who did what.
func (s *Store) Note(ctx context.Context, entries ...notebook.AuditEntry) error {
	return s.change(ctx, func(tx *sql.Tx) error {
		for _, e := range entries {
			if err := note(ctx, tx, e); err != nil {
				return err
			}
		}
		return nil
	})
}

func note(ctx context.Context, in execs, e notebook.AuditEntry) error {
	_, err := in.ExecContext(ctx, "INSERT INTO audit (at_utc, actor, what, target, from_address, status) VALUES ($1, $2, $3, $4, $5, $6)",
		stampTime(e.At), string(e.Actor), e.What, e.Target, e.From, e.Status)
	return err
}

// Log reads the log backwards, see notebook.Accounts.
func (s *Store) Log(ctx context.Context, before int64, limit int) (out []notebook.AuditEntry, err error) {
	if before <= 0 {
		before = 1 << 62
	}
	rows, err := s.read.QueryContext(ctx, "SELECT seq, at_utc, actor, what, target, from_address, status FROM audit WHERE seq < $1 ORDER BY seq DESC LIMIT $2", before, limit)
	if err != nil {
		return nil, translate(err, "the log could not be read")
	}
	defer func() { err = joined(err, rows.Close()) }()
	for rows.Next() {
		var e notebook.AuditEntry
		var at string
		if err := rows.Scan(&e.Seq, &at, &e.Actor, &e.What, &e.Target, &e.From, &e.Status); err != nil {
			return nil, translate(err, "the log could not be read")
		}
		if e.At, err = time.Parse(timeFormat, at); err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	return out, translate(rows.Err(), "the log could not be read")
}
