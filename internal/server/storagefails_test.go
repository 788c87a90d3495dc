package server_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
)

// failing lets the nth question to the storage fail that is asked for a request;
// what the server asks by itself is answered.
type failing struct {
	mu       sync.Mutex
	n, asked int
	fired    bool
}

func (f *failing) at(n int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.n, f.asked, f.fired = n, 0, false
}

func (f *failing) happened() bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.fired
}

func (f *failing) ask(ctx context.Context) error {
	if ctx.Value(http.ServerContextKey) == nil {
		return nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.asked++
	if f.asked != f.n {
		return nil
	}
	f.fired = true
	return &notebook.Error{Code: notebook.Unavailable, Message: "the storage was made to fail", Hint: "try again"}
}

// failingStore is a notebook's storage of which a question fails.
type failingStore struct {
	notebook.Store
	f *failing
}

type failingRecords[T notebook.Record] struct {
	notebook.Records[T]
	f *failing
}

func (r failingRecords[T]) Put(ctx context.Context, actor notebook.ID, x T) (T, notebook.Outcome, error) {
	if err := r.f.ask(ctx); err != nil {
		return x, "", err
	}
	return r.Records.Put(ctx, actor, x)
}

func (r failingRecords[T]) Get(ctx context.Context, actor, id notebook.ID) (x T, err error) {
	if err := r.f.ask(ctx); err != nil {
		return x, err
	}
	return r.Records.Get(ctx, actor, id)
}

func (r failingRecords[T]) List(ctx context.Context, actor notebook.ID, q notebook.Query) (notebook.Page[T], error) {
	if err := r.f.ask(ctx); err != nil {
		return notebook.Page[T]{}, err
	}
	return r.Records.List(ctx, actor, q)
}

func (s failingStore) People() notebook.Records[notebook.Person] {
	return failingRecords[notebook.Person]{s.Store.People(), s.f}
}

func (s failingStore) Bows() notebook.Records[notebook.Bow] {
	return failingRecords[notebook.Bow]{s.Store.Bows(), s.f}
}

func (s failingStore) SetUps() notebook.Records[notebook.SetUp] {
	return failingRecords[notebook.SetUp]{s.Store.SetUps(), s.f}
}

func (s failingStore) Sessions() notebook.Records[notebook.Session] {
	return failingRecords[notebook.Session]{s.Store.Sessions(), s.f}
}

func (s failingStore) Recordings() notebook.Records[notebook.Recording] {
	return failingRecords[notebook.Recording]{s.Store.Recordings(), s.f}
}

func (s failingStore) Readings() notebook.Records[notebook.Reading] {
	return failingRecords[notebook.Reading]{s.Store.Readings(), s.f}
}

func (s failingStore) Trials() notebook.Records[notebook.Trial] {
	return failingRecords[notebook.Trial]{s.Store.Trials(), s.f}
}

func (s failingStore) Events() notebook.Records[notebook.TrialEvent] {
	return failingRecords[notebook.TrialEvent]{s.Store.Events(), s.f}
}

func (s failingStore) Verdicts() notebook.Records[notebook.Verdict] {
	return failingRecords[notebook.Verdict]{s.Store.Verdicts(), s.f}
}

func (s failingStore) Ends() notebook.Records[notebook.End] {
	return failingRecords[notebook.End]{s.Store.Ends(), s.f}
}

func (s failingStore) Onsets() notebook.Records[notebook.Onsets] {
	return failingRecords[notebook.Onsets]{s.Store.Onsets(), s.f}
}

func (s failingStore) Fits() notebook.Records[notebook.Fit] {
	return failingRecords[notebook.Fit]{s.Store.Fits(), s.f}
}

func (s failingStore) Forecasts() notebook.Records[notebook.Forecast] {
	return failingRecords[notebook.Forecast]{s.Store.Forecasts(), s.f}
}

func (s failingStore) Rulings() notebook.Records[notebook.Ruling] {
	return failingRecords[notebook.Ruling]{s.Store.Rulings(), s.f}
}

func (s failingStore) Shares() notebook.Records[notebook.Share] {
	return failingRecords[notebook.Share]{s.Store.Shares(), s.f}
}

func (s failingStore) Retractions() notebook.Records[notebook.Retraction] {
	return failingRecords[notebook.Retraction]{s.Store.Retractions(), s.f}
}

// failingAccounts are accounts of which a question fails.
type failingAccounts struct {
	notebook.Accounts
	f *failing
}

func (a failingAccounts) AccountFor(ctx context.Context, login string) (x notebook.Account, err error) {
	if err := a.f.ask(ctx); err != nil {
		return x, err
	}
	return a.Accounts.AccountFor(ctx, login)
}

func (a failingAccounts) AccountOf(ctx context.Context, person notebook.ID) (x notebook.Account, err error) {
	if err := a.f.ask(ctx); err != nil {
		return x, err
	}
	return a.Accounts.AccountOf(ctx, person)
}

func (a failingAccounts) CountAccounts(ctx context.Context) (int, error) {
	if err := a.f.ask(ctx); err != nil {
		return 0, err
	}
	return a.Accounts.CountAccounts(ctx)
}

func (a failingAccounts) ChangeAccount(ctx context.Context, person notebook.ID, change func(*notebook.Account) bool) (x notebook.Account, err error) {
	if err := a.f.ask(ctx); err != nil {
		return x, err
	}
	return a.Accounts.ChangeAccount(ctx, person, change)
}

func (a failingAccounts) SaveCredential(ctx context.Context, c notebook.Credential) error {
	if err := a.f.ask(ctx); err != nil {
		return err
	}
	return a.Accounts.SaveCredential(ctx, c)
}

func (a failingAccounts) CredentialBy(ctx context.Context, kind notebook.CredentialKind, hash string, now time.Time) (x notebook.Credential, err error) {
	if err := a.f.ask(ctx); err != nil {
		return x, err
	}
	return a.Accounts.CredentialBy(ctx, kind, hash, now)
}

func (a failingAccounts) Credentials(ctx context.Context, kind notebook.CredentialKind, person notebook.ID, now time.Time) ([]notebook.Credential, error) {
	if err := a.f.ask(ctx); err != nil {
		return nil, err
	}
	return a.Accounts.Credentials(ctx, kind, person, now)
}

func (a failingAccounts) DropCredential(ctx context.Context, hash string) error {
	if err := a.f.ask(ctx); err != nil {
		return err
	}
	return a.Accounts.DropCredential(ctx, hash)
}

func (a failingAccounts) Log(ctx context.Context, before int64, limit int) ([]notebook.AuditEntry, error) {
	if err := a.f.ask(ctx); err != nil {
		return nil, err
	}
	return a.Accounts.Log(ctx, before, limit)
}

func (a failingAccounts) Belongings(ctx context.Context, person notebook.ID) (map[notebook.Noun]int, error) {
	if err := a.f.ask(ctx); err != nil {
		return nil, err
	}
	return a.Accounts.Belongings(ctx, person)
}

func (a failingAccounts) ExportPerson(ctx context.Context, person notebook.ID, w io.Writer) error {
	if err := a.f.ask(ctx); err != nil {
		return err
	}
	return a.Accounts.ExportPerson(ctx, person, w)
}

// failingBook is all of it.
type failingBook struct {
	failingStore
	failingAccounts
}

// T24 (Yuan, OSDI 2014): on every route each question to the storage is made to
// fail once. It is told as a problem with a hint, as not our asker's fault; no
// answer is given as if nothing had happened.
func TestStorageFailsOnEveryRoute(t *testing.T) {
	f := &failing{}
	c := openClubOn(t, store.Options{}, proxied, func(c *server.Config) {
		book := c.Notebook.(*store.Store)
		c.Notebook = failingBook{failingStore{book, f}, failingAccounts{book, f}}
	})
	ann := story(c.as["ann"])
	routes, tried := map[string]bool{}, 0
	for _, e := range ann {
		method, _, _ := strings.Cut(e.operation, " ")
		_, _, _, _ = c.sends("ann", method, e) // so that it is not the first look, which is noted after the answer
		for n := 1; n <= 60; n++ {
			f.at(n)
			status, kind, body, err := c.sends("ann", method, e)
			happened := f.happened()
			f.at(0)
			if !happened {
				break
			}
			routes[e.operation] = true
			tried++
			var p struct{ Code, Detail, Hint string }
			switch {
			case err != nil: // broken off: a file on its way
			case status < 400:
				t.Errorf("%s: question %d failed, and the answer is %d %.200s", e.operation, n, status, body)
			case status < 500 || !strings.HasPrefix(kind, "application/problem+json") || json.Unmarshal(body, &p) != nil || p.Detail == "" || p.Hint == "" || p.Code == "":
				t.Errorf("%s: question %d failed, and told is %d %.300s", e.operation, n, status, body)
			}
			if slices.Contains(computing, e.operation) && n > 5 {
				break
			}
		}
	}
	t.Logf("%d questions of %d routes were made to fail", tried, len(routes))
}

// sends sends a request of the story again.
func (c *clubSite) sends(who, method string, e exchange) (status int, kind string, body []byte, err error) {
	var raw []byte
	switch b := e.body.(type) {
	case nil:
	case []byte:
		raw = b
	case string:
		raw = []byte(b)
	default:
		if raw, err = json.Marshal(b); err != nil {
			c.t.Fatal(err)
		}
	}
	r, err := http.NewRequest(method, c.url+e.path, bytes.NewReader(raw))
	if err != nil {
		c.t.Fatal(err)
	}
	if len(raw) > 0 {
		r.Header.Set("Content-Type", "application/json")
	}
	r.Header.Set("Cookie", c.as[who].cookie)
	headers := slices.Concat(strange(9_999), headersOf(e), e.headers)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return 0, "", nil, err
	}
	defer answer.Body.Close()
	body, err = io.ReadAll(answer.Body)
	if err != nil {
		err = fmt.Errorf("broken off after %d bytes: %w", len(body), err)
	}
	return answer.StatusCode, answer.Header.Get("Content-Type"), body, err
}
