package server

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"

	"tautline/notebook"
)

// fewSessions are accounts that keep sessions only, and count how often.
type fewSessions struct {
	notebook.Accounts
	kept   map[string]notebook.Credential
	saved  int
	before func() // done before one is stored
}

func (f *fewSessions) CredentialBy(_ context.Context, _ notebook.CredentialKind, hash string, _ time.Time) (notebook.Credential, error) {
	if c, there := f.kept[hash]; there {
		return c, nil
	}
	return notebook.Credential{}, &notebook.Error{Code: notebook.NotFound}
}

func (f *fewSessions) SaveCredential(_ context.Context, c notebook.Credential) error {
	if f.before != nil {
		f.before()
	}
	f.kept[c.Hash] = c
	f.saved++
	return nil
}

func (f *fewSessions) DropCredential(_ context.Context, hash string) error {
	delete(f.kept, hash)
	return nil
}

// A session that ends is ended for the requests under way too, one that has just
// read it and one that answers; what is remembered of sessions is forgotten after
// an hour's rest, and there is a bound to it.
func TestSessionsUnderWayEnd(t *testing.T) {
	now := time.Unix(1_800_000_000, 0)
	few := &fewSessions{kept: map[string]notebook.Credential{}}
	s := &sessionStore{accounts: few, codec: scs.GobCodec{}, now: func() time.Time { return now }}
	held := func(used time.Time) []byte {
		b, err := s.codec.Encode(now.Add(time.Hour), map[string]any{"person": "ann", "used": used.UnixNano()})
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	keep := func(token string, used time.Time) {
		t.Helper()
		if err := s.CommitCtx(t.Context(), token, held(used), now.Add(time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	keep("a", now)
	keep("a", now.Add(keepAgain-1))
	if few.saved != 1 {
		t.Errorf("stored %d times", few.saved)
	}
	keep("a", now.Add(keepAgain))
	if few.saved != 2 || s.lastUsed("a", 0) != now.Add(keepAgain).UnixNano() {
		t.Errorf("stored %d times, last used %d", few.saved, s.lastUsed("a", 0))
	}
	read := few.kept[hashOf("a")]
	if err := s.DeleteCtx(t.Context(), "a"); err != nil {
		t.Fatal(err)
	}
	s.knowStored(read) // by a request that read it before it ended
	keep("a", now.Add(2*keepAgain))
	if _, there, err := s.FindCtx(t.Context(), "a"); there || err != nil {
		t.Errorf("it is back: %v", err)
	}
	keep("late", now)
	few.before = func() { // it is ended while a request waits for its turn to write
		few.before = nil
		if err := s.DeleteCtx(t.Context(), "late"); err != nil {
			t.Fatal(err)
		}
	}
	keep("late", now.Add(keepAgain))
	keep("late", now.Add(2*keepAgain))
	if _, there, err := s.FindCtx(t.Context(), "late"); there || err != nil {
		t.Errorf("ended while it was stored, it is back: %v", err)
	}
	for i := range mostSessions + 1000 {
		s.know(fmt.Sprint(i), keptSession{ended: true})
	}
	if n := len(s.known.values); n > mostSessions {
		t.Errorf("%d are remembered", n)
	}
	now = now.Add(2 * rememberFor)
	keep("b", now)
	if n := len(s.known.values); n != 1 {
		t.Errorf("after a rest %d are remembered", n)
	}
}
