package server

import (
	"context"
	"log/slog"
	"maps"
	"sync"
	"time"

	"github.com/alexedwards/scs/v2"

	"tautline/notebook"
)

// sessionStore keeps sessions among the other credentials, by the hash of
// their token.
type sessionStore struct {
	accounts notebook.Accounts
	codec    scs.Codec
	now      func() time.Time
	log      *slog.Logger

	mu    sync.Mutex
	known recent[string, keptSession] // by hash
}

// keptSession is what a session last held, but for the time of its last use;
// that time; and its end. It is stored, or on a disk that takes nothing its last
// use is newer than the one stored.
type keptSession struct {
	values  map[string]any
	used    int64
	expires time.Time
	ended   bool // nothing is stored of it any more: a request that was under way must not bring it back
}

// keepAgain is how much later a session must have been used, or must last, to
// be stored anew: each look at a page moves both, and is to cost no write of
// its own. An owner is logged out that much early at most.
const keepAgain = 5 * time.Minute

// mostSessions bounds how many are known, some 1 kB each. One that is forgotten
// is read anew.
const mostSessions = 20_000

var _ scs.CtxStore = (*sessionStore)(nil)

// of gives what is known of a session, or nothing.
func (s *sessionStore) of(hash string) (k keptSession, known bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	k = s.known.of(hash, s.now())
	return k, k.ended || k.values != nil
}

func (s *sessionStore) know(hash string, k keptSession) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.known.keep(hash, k, mostSessions, s.now())
}

// lastUsed is when a session was last used: as stored, or later.
func (s *sessionStore) lastUsed(token string, stored int64) int64 {
	k, _ := s.of(hashOf(token))
	return max(k.used, stored)
}

// FindCtx gives a session's data.
func (s *sessionStore) FindCtx(ctx context.Context, token string) ([]byte, bool, error) {
	c, err := s.accounts.CredentialBy(ctx, notebook.SessionCredential, hashOf(token), s.now())
	if notebook.CodeOf(err) == notebook.NotFound {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, err
	}
	if _, known := s.of(c.Hash); !known { // what is stored of it needs no storing
		s.knowStored(c)
	}
	return c.Data, true, nil
}

// knowStored remembers what is stored of a session, unless it is known by now.
func (s *sessionStore) knowStored(c notebook.Credential) {
	_, values, err := s.codec.Decode(c.Data)
	if err != nil { // told by who reads it
		return
	}
	used, _ := values["used"].(int64)
	delete(values, "used")
	s.mu.Lock()
	defer s.mu.Unlock()
	if k := s.known.of(c.Hash, s.now()); !k.ended && k.values == nil {
		s.known.keep(c.Hash, keptSession{values: values, used: used, expires: c.Expires}, mostSessions, s.now())
	}
}

// CommitCtx keeps a session.
func (s *sessionStore) CommitCtx(ctx context.Context, token string, b []byte, expires time.Time) error {
	_, values, err := s.codec.Decode(b)
	if err != nil {
		return err
	}
	person, _ := values["person"].(string)
	since, _ := values["since"].(int64)
	used, _ := values["used"].(int64)
	delete(values, "used")
	id, _ := values["id"].(string)
	hash, onlyUsed := hashOf(token), false
	if old, known := s.of(hash); known {
		onlyUsed = maps.Equal(old.values, values)
		if old.ended || onlyUsed && used-old.used < int64(keepAgain) && expires.Sub(old.expires).Abs() < keepAgain {
			return nil
		}
	}
	err = s.accounts.SaveCredential(ctx, notebook.Credential{
		ID: notebook.ID(id), Kind: notebook.SessionCredential, Hash: hash, Person: notebook.ID(person), Made: time.Unix(0, since).UTC(), Expires: expires, Data: b,
	})
	if err != nil && onlyUsed && notebook.OfStorage(err) { // nobody is kept from reading by it: a disk may be full
		s.log.Warn("when a session was last used could not be kept; it is remembered until the program ends", "error", err)
		err = nil
	}
	if err == nil && !s.knowUnlessEnded(hash, keptSession{values: values, used: used, expires: expires}) {
		err = s.accounts.DropCredential(ctx, hash) // it was ended while it was stored, and that brought it back
	}
	return err
}

// knowUnlessEnded remembers a session that was stored, and reports whether it
// had not ended meanwhile.
func (s *sessionStore) knowUnlessEnded(hash string, k keptSession) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known.of(hash, s.now()).ended {
		return false
	}
	s.known.keep(hash, k, mostSessions, s.now())
	return true
}

// DeleteCtx ends a session.
func (s *sessionStore) DeleteCtx(ctx context.Context, token string) error {
	return s.end(ctx, hashOf(token))
}

// end ends the session whose token has that hash.
func (s *sessionStore) end(ctx context.Context, hash string) error {
	s.know(hash, keptSession{ended: true})
	return s.accounts.DropCredential(ctx, hash)
}

// Find, Commit and Delete are for callers without a context; there are none.
func (s *sessionStore) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.Background(), token)
}

// Commit keeps a session.
func (s *sessionStore) Commit(token string, b []byte, expires time.Time) error {
	return s.CommitCtx(context.Background(), token, b, expires)
}

// Delete ends a session.
func (s *sessionStore) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }
