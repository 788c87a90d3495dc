package server_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
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

// answered gives what is asked of the storage, or the failure.
func answered[T any](ctx context.Context, f *failing, ask func() (T, error)) (x T, err error) {
	if err = f.ask(ctx); err == nil {
		x, err = ask()
	}
	return x, err
}

// done is answered, of what only is to be done.
func done(ctx context.Context, f *failing, do func() error) error {
	if err := f.ask(ctx); err != nil {
		return err
	}
	return do()
}

func (r failingRecords[T]) Put(ctx context.Context, actor notebook.ID, x T) (T, notebook.Outcome, error) {
	if err := r.f.ask(ctx); err != nil {
		return x, "", err
	}
	return r.Records.Put(ctx, actor, x)
}

func (r failingRecords[T]) Get(ctx context.Context, actor, id notebook.ID) (T, error) {
	return answered(ctx, r.f, func() (T, error) { return r.Records.Get(ctx, actor, id) })
}

func (r failingRecords[T]) List(ctx context.Context, actor notebook.ID, q notebook.Query) (notebook.Page[T], error) {
	return answered(ctx, r.f, func() (notebook.Page[T], error) { return r.Records.List(ctx, actor, q) })
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

func (s failingStore) Blobs() notebook.Blobs { return failingBlobs{s.Store.Blobs(), s.f} }

// failingBlobs are files of which a question fails.
type failingBlobs struct {
	notebook.Blobs
	f *failing
}

func (b failingBlobs) Add(ctx context.Context, r io.Reader, limit int64) (hash string, size int64, err error) {
	if err := b.f.ask(ctx); err != nil {
		return "", 0, err
	}
	return b.Blobs.Add(ctx, r, limit)
}

func (b failingBlobs) Open(ctx context.Context, hash string) (io.ReadSeekCloser, error) {
	return answered(ctx, b.f, func() (io.ReadSeekCloser, error) { return b.Blobs.Open(ctx, hash) })
}

func (b failingBlobs) Held(ctx context.Context, u notebook.Upload) (notebook.Held, error) {
	return answered(ctx, b.f, func() (notebook.Held, error) { return b.Blobs.Held(ctx, u) })
}

func (b failingBlobs) Append(ctx context.Context, u notebook.Upload, at int64, r io.Reader, limit int64) (int64, error) {
	return answered(ctx, b.f, func() (int64, error) { return b.Blobs.Append(ctx, u, at, r, limit) })
}

func (b failingBlobs) Finish(ctx context.Context, u notebook.Upload, want string) (hash string, size int64, err error) {
	if err := b.f.ask(ctx); err != nil {
		return "", 0, err
	}
	return b.Blobs.Finish(ctx, u, want)
}

func (b failingBlobs) Drop(ctx context.Context, u notebook.Upload) error {
	return done(ctx, b.f, func() error { return b.Blobs.Drop(ctx, u) })
}

// failingAccounts are accounts of which a question fails.
type failingAccounts struct {
	notebook.Accounts
	f *failing
}

func (a failingAccounts) AccountFor(ctx context.Context, login string) (notebook.Account, error) {
	return answered(ctx, a.f, func() (notebook.Account, error) { return a.Accounts.AccountFor(ctx, login) })
}

func (a failingAccounts) AccountOf(ctx context.Context, person notebook.ID) (notebook.Account, error) {
	return answered(ctx, a.f, func() (notebook.Account, error) { return a.Accounts.AccountOf(ctx, person) })
}

func (a failingAccounts) CountAccounts(ctx context.Context) (int, error) {
	return answered(ctx, a.f, func() (int, error) { return a.Accounts.CountAccounts(ctx) })
}

func (a failingAccounts) ChangeAccount(ctx context.Context, person notebook.ID, change func(*notebook.Account) bool) (notebook.Account, error) {
	return answered(ctx, a.f, func() (notebook.Account, error) { return a.Accounts.ChangeAccount(ctx, person, change) })
}

func (a failingAccounts) SaveAccount(ctx context.Context, x notebook.Account) error {
	return done(ctx, a.f, func() error { return a.Accounts.SaveAccount(ctx, x) })
}

func (a failingAccounts) SaveCredential(ctx context.Context, c notebook.Credential) error {
	return done(ctx, a.f, func() error { return a.Accounts.SaveCredential(ctx, c) })
}

func (a failingAccounts) CredentialBy(ctx context.Context, kind notebook.CredentialKind, hash string, now time.Time) (notebook.Credential, error) {
	return answered(ctx, a.f, func() (notebook.Credential, error) { return a.Accounts.CredentialBy(ctx, kind, hash, now) })
}

func (a failingAccounts) Credentials(ctx context.Context, kind notebook.CredentialKind, person notebook.ID, now time.Time) ([]notebook.Credential, error) {
	return answered(ctx, a.f, func() ([]notebook.Credential, error) { return a.Accounts.Credentials(ctx, kind, person, now) })
}

func (a failingAccounts) DropCredential(ctx context.Context, hash string) error {
	return done(ctx, a.f, func() error { return a.Accounts.DropCredential(ctx, hash) })
}

func (a failingAccounts) DropCredentials(ctx context.Context, kind notebook.CredentialKind, person notebook.ID) error {
	return done(ctx, a.f, func() error { return a.Accounts.DropCredentials(ctx, kind, person) })
}

func (a failingAccounts) Log(ctx context.Context, before int64, limit int) ([]notebook.AuditEntry, error) {
	return answered(ctx, a.f, func() ([]notebook.AuditEntry, error) { return a.Accounts.Log(ctx, before, limit) })
}

func (a failingAccounts) Belongings(ctx context.Context, person notebook.ID) (map[notebook.Noun]int, error) {
	return answered(ctx, a.f, func() (map[notebook.Noun]int, error) { return a.Accounts.Belongings(ctx, person) })
}

func (a failingAccounts) ExportPerson(ctx context.Context, person notebook.ID, w io.Writer) error {
	return done(ctx, a.f, func() error { return a.Accounts.ExportPerson(ctx, person, w) })
}

func (a failingAccounts) Admit(ctx context.Context, x notebook.Admission) error {
	return done(ctx, a.f, func() error { return a.Accounts.Admit(ctx, x) })
}

func (a failingAccounts) AdmitAgain(ctx context.Context, x notebook.Readmission) error {
	return done(ctx, a.f, func() error { return a.Accounts.AdmitAgain(ctx, x) })
}

func (a failingAccounts) Erase(ctx context.Context, person notebook.ID) (notebook.Erasure, error) {
	return answered(ctx, a.f, func() (notebook.Erasure, error) { return a.Accounts.Erase(ctx, person) })
}

// failingBook is all of it.
type failingBook struct {
	failingStore
	failingAccounts
}

// afterwards are requests after whose answer something is asked: whose list was
// looked at, and what a set-up foretells.
var afterwards = regexp.MustCompile(`^GET /api/v1/(trials|sessions|retractions|recordings|readings|ends)\?|^GET /api/v1/sound/|^PUT /api/v1/(setups|fits)/|^PUT /api/v1/trials/[^/]*/choices/`)

// first sends a request with its first question failing, then its second, until
// none fails; that one's answer counts. What fails is told as a problem with a
// hint, as not our asker's fault, or a file on its way breaks off. A look is noted
// in the log after its answer, and what is made anew may have something foretold
// of it (afterwards): both are logged where they fail, and asked once only.
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
			if !afterwards.MatchString(what) {
				t.Errorf("%s: question %d failed, and it is answered as if it had not: %d %.200s", what, n, r.status, r.body)
			}
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
	link = strings.SplitN(fmt.Sprint(secret), "#", 2)[1]
	as["nobody"].do("POST", api+"/join/look", obj{"secret": link}).want(200)
	yan := obj{"secret": link, "name": "Yan", "login": "yan", "password": goodPassword}
	as["nobody"].do("POST", api+"/join", yan).want(200)
	code := as["nobody"].do("POST", api+"/join", yan).want(200).at("recovery_code") // whose answer was lost
	as["nobody"].do("POST", api+"/recover", obj{"login": "yan", "code": code, "password": goodPassword}).want(200)
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

// fullBook is a club's storage that keeps no session while it has a reason.
type fullBook struct {
	*store.Store
	why *atomic.Pointer[error]
}

func (b fullBook) SaveCredential(ctx context.Context, c notebook.Credential) error {
	if why := b.why.Load(); why != nil {
		return *why
	}
	return b.Store.SaveCredential(ctx, c)
}

// T5: on a full disk who is logged in goes on reading, although when they last
// did cannot be kept, an owner too, who else is logged out after an hour; who
// comes in is told, in one answer, and so is the log. Nothing of it is kept: the
// next program knows of the last use that was.
func TestSessionsOnAFullDisk(t *testing.T) {
	var why atomic.Pointer[error]
	var full error = &notebook.Error{Code: notebook.DiskFull, Message: "the disk is full", Hint: "free some space"}
	var ahead atomic.Int64
	now := func() time.Time { return time.Now().Add(time.Duration(ahead.Load())) }
	c := openClub(t, proxied, func(c *server.Config) {
		c.Notebook, c.Now = fullBook{c.Notebook.(*store.Store), &why}, now
	})
	bow, setup := c.as["ann"].bowWithSetUp()
	c.as["ann"].reading(bow, setup, obj{"kind": "brace_height", "text": "22.1 cm"})
	table := func() {
		t.Helper()
		if table := c.as["ann"].do("GET", "/api/v1/readings.csv?bow="+bow, nil).want(200).body; strings.Count(string(table), "\n") != 2 || strings.Contains(string(table), "problem") {
			t.Errorf("the table is %s", table)
		}
	}
	why.Store(&full)
	for range 9 { // an hour and a half
		ahead.Add(int64(10 * time.Minute))
		c.as["owner"].do("GET", "/api/v1/bows", nil).want(200)
		c.as["ann"].do("GET", "/api/v1/bows", nil).want(200)
		table()
	}
	if told := c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ann", "password": goodPassword}).want(507); told.at("code") != "disk-full" {
		t.Errorf("who comes in is told %s", told.body)
	}
	if log := c.as["owner"].do("GET", "/api/v1/audit?limit=100", nil).want(200); !strings.Contains(string(log.body), `"status":507`) {
		t.Errorf("the log says of it: %.600s", log.body)
	}
	bug := errors.New("none of the storage's")
	why.Store(&bug)
	ahead.Add(int64(10 * time.Minute))
	table() // on its way already: it is right, and ends whole
	c.as["ann"].do("GET", "/api/v1/bows", nil).want(503)
	why.Store(nil)
	again, err := server.New(server.Config{Notebook: c.store, Accounts: c.store, Version: "test", Now: now, Proxied: true})
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	next := httptest.NewServer(again)
	defer next.Close()
	for who, status := range map[string]int{"owner": 401, "ann": 200} {
		one := *c.as[who]
		one.url = next.URL
		one.do("GET", "/api/v1/bows", nil).want(status)
	}
	c.as["ann"].do("GET", "/api/v1/bows", nil).want(200)
	c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ann", "password": goodPassword}).want(200)
}
