package server_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
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
	tried    atomic.Int64
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

func (a failingAccounts) SaveAccount(ctx context.Context, x notebook.Account) error {
	if err := a.f.ask(ctx); err != nil {
		return err
	}
	return a.Accounts.SaveAccount(ctx, x)
}

func (a failingAccounts) Admit(ctx context.Context, x notebook.Admission) error {
	if err := a.f.ask(ctx); err != nil {
		return err
	}
	return a.Accounts.Admit(ctx, x)
}

func (a failingAccounts) AdmitAgain(ctx context.Context, x notebook.Readmission) error {
	if err := a.f.ask(ctx); err != nil {
		return err
	}
	return a.Accounts.AdmitAgain(ctx, x)
}

func (a failingAccounts) DropCredentials(ctx context.Context, kind notebook.CredentialKind, person notebook.ID) error {
	if err := a.f.ask(ctx); err != nil {
		return err
	}
	return a.Accounts.DropCredentials(ctx, kind, person)
}

func (a failingAccounts) Erase(ctx context.Context, person notebook.ID) (x notebook.Erasure, err error) {
	if err := a.f.ask(ctx); err != nil {
		return x, err
	}
	return a.Accounts.Erase(ctx, person)
}

// failingBook is all of it.
type failingBook struct {
	failingStore
	failingAccounts
}

// first sends a request with its first question failing, then its second, until
// none fails; that one's answer counts. What fails is told as a problem with a
// hint, as not our asker's fault, or a file on its way breaks off. A look is noted
// in the log after its answer, and what is made anew may have something foretold
// of it: both are logged where they fail, and asked once only.
func (f *failing) first(t testing.TB, what string, send func() (reply, error)) reply {
	t.Helper()
	for n := 1; n < 200; n++ {
		f.at(n)
		r, err := send()
		if fired := f.happened(); !fired {
			f.at(0)
			if err != nil {
				t.Fatal(err)
			}
			r.again = n > 1
			return r
		}
		f.tried.Add(1)
		var p struct{ Code, Detail, Hint string }
		switch {
		case err != nil, r.status == 200 && strings.Contains(string(r.body), `"failed":true`): // of one bow of a round
		case r.status < 400:
			f.at(n)
			if again, err := send(); err != nil || again.status >= 400 && again.status < 500 || again.status < 400 && f.happened() {
				t.Errorf("%s: question %d failed, and the answer is %d %.200s", what, n, r.status, r.body)
			}
			t.Logf("%s: question %d failed after the answer", what, n)
		case r.status < 500 || json.Unmarshal(r.body, &p) != nil || p.Detail == "" || p.Hint == "" || p.Code == "":
			t.Errorf("%s: question %d failed, and told is %d %.300s", what, n, r.status, r.body)
		}
	}
	t.Fatalf("%s asks the storage without end", what)
	return reply{}
}

// T24 (Yuan, OSDI 2014): on every route each question to the storage is made to
// fail once, when a record is made and when it is sent again.
func TestStorageFailsOnEveryRoute(t *testing.T) {
	f := &failing{}
	c := openClubOn(t, store.Options{}, proxied, func(c *server.Config) {
		book := c.Notebook.(*store.Store)
		c.Notebook = failingBook{failingStore{book, f}, failingAccounts{book, f}}
		c.Now = func() time.Time { return time.Now().Add(time.Duration(f.tried.Load()) * 60 * time.Millisecond) } // at the pace that one may keep
	})
	ann := *c.as["ann"]
	ann.fails = f
	told := story(&ann)
	made := f.tried.Load()
	for _, e := range told {
		method, _, _ := strings.Cut(e.operation, " ")
		ann.do(method, e.path, e.body, append(headersOf(e), e.headers...)...)
	}
	again := f.tried.Load() - made
	t.Logf("%d questions failed the first time, and %d when all was sent again", made, again)
	if made < 900 || again < 500 {
		t.Error("so few: is the storage asked at all?")
	}
}

// The same of the routes by which people come in, and of what their owner and
// they themselves look after; what ends a session on its way is left out.
func TestStorageFailsAtTheDoor(t *testing.T) {
	f := &failing{}
	c := openClubOn(t, store.Options{}, proxied, func(c *server.Config) {
		book := c.Notebook.(*store.Store)
		c.Notebook = failingBook{failingStore{book, f}, failingAccounts{book, f}}
		c.Now = func() time.Time { return time.Now().Add(time.Duration(f.tried.Load()) * 60 * time.Millisecond) }
	})
	as := map[string]*site{}
	for _, who := range []string{"nobody", "ann", "owner", "coach", "viewer"} {
		one := *c.as[who]
		one.fails = f
		as[who] = &one
	}
	api, token, link, share := "/api/v1", id(), id(), id()
	as["nobody"].do("POST", api+"/login", obj{"login": "ann", "password": goodPassword}).want(200)
	asked := int(f.tried.Load())
	as["ann"].do("GET", api+"/account", nil).want(200)
	as["ann"].do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	as["ann"].do("PUT", api+"/tokens/"+token, obj{"name": "club spreadsheet", "may": "read", "days": 90}).want(200)
	as["ann"].do("GET", api+"/tokens", nil).want(200)
	as["ann"].do("DELETE", api+"/tokens/"+token, nil).want(200)
	as["ann"].do("PUT", api+"/shares/"+share, obj{"with": c.ids["viewer"], "may": "read"}).want(201)
	as["ann"].do("GET", api+"/shares", nil).want(200)
	as["ann"].do("GET", api+"/people/"+c.ids["ann"]+"/belongings", nil).want(200)
	as["ann"].do("GET", api+"/account/export", nil).want(200)
	as["owner"].do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	secret := as["owner"].do("PUT", api+"/invitations/"+link, obj{"name": "Yan", "role": "archer"}).want(200).at("path")
	as["owner"].do("GET", api+"/invitations", nil).want(200)
	as["owner"].do("GET", api+"/people", nil).want(200)
	as["owner"].do("GET", api+"/audit", nil).want(200)
	as["nobody"].do("POST", api+"/join/look", obj{"secret": strings.SplitN(fmt.Sprint(secret), "#", 2)[1]}).want(200)
	as["coach"].do("GET", api+"/week", nil).want(200)
	as["coach"].do("GET", api+"/round", nil).want(200)
	as["viewer"].do("GET", api+"/bows", nil).want(200)
	f.at(0)
	for n := 1; n <= asked; n++ {
		f.at(n)
		c.as["nobody"].do("POST", api+"/login", obj{"login": "ann", "password": goodPassword}).want(503)
	}
	f.at(0)
	for range 10 { // none of ten free failures was spent by those
		c.as["nobody"].do("POST", api+"/login", obj{"login": "ann", "password": "three lanterns over a quilt"}).want(401)
	}
	if n := f.tried.Load(); n < 70 || asked < 4 {
		t.Errorf("only %d questions failed, %d of them of a login: is anybody asked?", n, asked)
	}
}

// fullBook is a club's storage on a disk that may be full: no session is kept.
type fullBook struct {
	*store.Store
	full *atomic.Bool
}

func (b fullBook) SaveCredential(ctx context.Context, c notebook.Credential) error {
	if b.full.Load() {
		return &notebook.Error{Code: notebook.DiskFull, Message: "the disk is full", Hint: "free some space"}
	}
	return b.Store.SaveCredential(ctx, c)
}

// T5: on a full disk who is logged in goes on reading, although when they last
// did cannot be kept; who comes in is told, in one answer.
func TestSessionsOnAFullDisk(t *testing.T) {
	var full atomic.Bool
	var ahead atomic.Int64
	c := openClub(t, proxied, func(c *server.Config) {
		c.Notebook = fullBook{c.Notebook.(*store.Store), &full}
		c.Now = func() time.Time { return time.Now().Add(time.Duration(ahead.Load())) }
	})
	bow, setup := c.as["ann"].bowWithSetUp()
	c.as["ann"].reading(bow, setup, obj{"kind": "brace_height", "text": "22.1 cm"})
	full.Store(true)
	for range 3 {
		ahead.Add(int64(10 * time.Minute))
		c.as["ann"].do("GET", "/api/v1/bows", nil).want(200)
		if table := c.as["ann"].do("GET", "/api/v1/readings.csv?bow="+bow, nil).want(200).body; strings.Count(string(table), "\n") != 2 || strings.Contains(string(table), "problem") {
			t.Errorf("the table is %s", table)
		}
	}
	if told := c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ann", "password": goodPassword}); told.status != 503 && told.status != 507 || told.at("code") == nil {
		t.Errorf("who comes in is told %d %s", told.status, told.body)
	}
	full.Store(false)
	c.as["ann"].do("GET", "/api/v1/bows", nil).want(200)
	c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ann", "password": goodPassword}).want(200)
}
