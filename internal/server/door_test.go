package server_test

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"sync"
	"testing"
	"time"

	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
)

// proxied is a server that is told where requests come from.
func proxied(c *server.Config) { c.Proxied = true }

// strange is an address that nobody came from before.
func strange(i int) []string {
	return []string{"X-Forwarded-For", fmt.Sprintf("198.51.%d.%d", i/250, i%250+1)}
}

// guess sends wrong logins at once, each from an address of its own, and again
// what the server is too busy for.
func (c *clubSite) guess(login string, n, from int) {
	c.t.Helper()
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() {
			body := obj{"login": login, "password": fmt.Sprint("guess number ", i)}
			r := c.as["nobody"].do("POST", "/api/v1/login", body, strange(from+i)...)
			for ; r.status == http.StatusServiceUnavailable; r = c.as["nobody"].do("POST", "/api/v1/login", body, strange(from+i)...) {
				time.Sleep(50 * time.Millisecond)
			}
			if r.status != http.StatusUnauthorized {
				c.t.Errorf("guess %d: %d %s", i, r.status, r.body)
			}
		})
	}
	all.Wait()
}

// marked is the device that a reply let in: its mark, without the session.
func marked(t *testing.T, r reply) string {
	t.Helper()
	for _, k := range (&http.Response{Header: r.header}).Cookies() {
		if k.Name == "__Host-tautline-known" {
			return k.Name + "=" + k.Value
		}
	}
	t.Fatalf("the device got no mark: %v", r.header)
	return ""
}

// T15, NIST SP 800-63B-4, 3.2.2: 200 wrong logins at once from 200 addresses
// are all counted; then the right password opens nothing to strangers, who
// cannot tell it from a wrong one, and its owner comes in all the same, on a
// device that was let in before. That sets the count back.
func TestNobodyIsKeptOutByGuessing(t *testing.T) {
	c := openClub(t, proxied)
	body := obj{"login": "ben", "password": goodPassword}
	device := marked(t, c.as["nobody"].do("POST", "/api/v1/login", body).want(200))
	c.guess("ben", 200, 0)
	stranger := c.as["nobody"].do("POST", "/api/v1/login", body, strange(300)...).want(401)
	wrong := c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ben", "password": "not this one at all"}, strange(301)...).want(401)
	if stranger.at("detail") != wrong.at("detail") || stranger.at("code") != wrong.at("code") {
		t.Errorf("strangers are told the right password: %s", stranger.body)
	}
	waitFor(t, func() bool { return c.account("ben").Strangers == 201 }) // the right password is not a wrong one
	other := marked(t, c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ann", "password": goodPassword}).want(200))
	c.as["nobody"].do("POST", "/api/v1/login", body, append(strange(302), "Cookie", other)...).want(401) // another's mark
	c.as["nobody"].do("POST", "/api/v1/login", body, append(strange(303), "Cookie", device)...).want(200)
	if n := c.account("ben").Strangers; n != 0 {
		t.Errorf("%d wrong ones are counted after a right one", n)
	}
	c.as["nobody"].do("POST", "/api/v1/login", body, strange(304)...).want(200)
}

// A known device has twenty wrong ones, then it is as good as a stranger's; and
// others behind the same address do not make it wait.
func TestKnownDevices(t *testing.T) {
	var k clock
	c := openClub(t, proxied, k.set)
	body := obj{"login": "ben", "password": goodPassword}
	device := marked(t, c.as["nobody"].do("POST", "/api/v1/login", body).want(200))
	for range 18 { // then the wait is four minutes, and this test shorter
		c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ben", "password": "not this one at all"}, strange(1)...).want(401)
		k.wait(16 * time.Minute)
	}
	k.wait(-16 * time.Minute)
	c.as["nobody"].do("POST", "/api/v1/login", body, strange(1)...).want(429)
	c.as["nobody"].do("POST", "/api/v1/login", body, append(strange(1), "Cookie", device)...).want(200)
	for _, changed := range []string{device[:len(device)-5], device + "AAAA", "__Host-tautline-known=.", "__Host-tautline-known=" + device[len(device)-43:]} {
		c.as["nobody"].do("POST", "/api/v1/login", body, append(strange(1), "Cookie", changed)...).want(429)
	}
	fresh := c.session(c.as["nobody"].do("POST", "/api/v1/login", body, strange(2)...).want(200))
	fresh.do("POST", "/api/v1/account/password", obj{"old": goodPassword, "password": goodPassword + " nine"}, strange(2)...).want(200)
	body["password"] = goodPassword + " nine"
	c.as["nobody"].do("POST", "/api/v1/login", body, append(strange(1), "Cookie", device)...).want(429) // a new password forgets devices
}

// With a second factor strangers who know neither are held out, and the person
// comes in from anywhere by both at once; codes are bounded too, and a printed
// one always will do.
func TestSecondFactorOpensAClosedAccount(t *testing.T) {
	var k clock
	c := openClub(t, proxied, k.set)
	c.as["ann"].do("POST", "/api/v1/account/confirm", obj{"password": goodPassword}).want(200)
	secret, printed := c.secondFactor("ann")
	login := func(i int, code string) reply {
		return c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ann", "password": goodPassword, "code": code}, strange(i)...)
	}
	c.guess("ann", 81, 0)
	if r := login(100, "").want(401); r.at("code") != "not-logged-in" {
		t.Errorf("strangers are told the right password: %s", r.body)
	}
	k.wait(time.Hour)
	login(101, appCode(t, secret, k.now())).want(200)
	if r := login(102, "").want(401); r.at("code") != "second-factor" {
		t.Errorf("open again: %s", r.body)
	}
	for i := range 20 {
		login(110+i, "12 34")
	}
	k.wait(time.Hour)
	login(140, appCode(t, secret, k.now())).want(401)
	login(141, printed[0]).want(200)
	k.wait(time.Hour)
	login(142, appCode(t, secret, k.now())).want(200)
}

// Whoever is in has twenty tries at the password, then comes in anew.
func TestSayingThePasswordIsBounded(t *testing.T) {
	var k clock
	c := openClub(t, k.set)
	for range 20 {
		c.as["ann"].do("POST", "/api/v1/account/confirm", obj{"password": "not this one at all"}).want(422)
		k.wait(20 * time.Minute)
	}
	c.as["ann"].do("POST", "/api/v1/account/confirm", obj{"password": goodPassword}).want(403)
	k.wait(20 * time.Minute)
	c.as["ann"].do("POST", "/api/v1/account/password", obj{"old": goodPassword, "password": goodPassword + " nine"}).want(403)
	c.as["ann"] = c.session(c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ann", "password": goodPassword}).want(200))
	c.as["ann"].do("POST", "/api/v1/account/confirm", obj{"password": goodPassword}).want(200)
}

// slowBooks notes what is asked of the accounts, and holds every change of one.
type slowBooks struct {
	*store.Store
	mu    sync.Mutex
	asked []string
	held  chan struct{}
}

func (b *slowBooks) note(what string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.asked = append(b.asked, what)
}

func (b *slowBooks) AccountFor(ctx context.Context, login string) (notebook.Account, error) {
	b.note("for")
	return b.Store.AccountFor(ctx, login)
}

func (b *slowBooks) AccountOf(ctx context.Context, person notebook.ID) (notebook.Account, error) {
	b.note("of")
	return b.Store.AccountOf(ctx, person)
}

func (b *slowBooks) SaveAccount(ctx context.Context, a notebook.Account) error {
	b.note("save")
	return b.Store.SaveAccount(ctx, a)
}

func (b *slowBooks) CredentialBy(ctx context.Context, kind notebook.CredentialKind, hash string, now time.Time) (notebook.Credential, error) {
	b.note("credential")
	return b.Store.CredentialBy(ctx, kind, hash, now)
}

func (b *slowBooks) ChangeAccount(ctx context.Context, person notebook.ID, change func(*notebook.Account) bool) (notebook.Account, error) {
	<-b.held
	return b.Store.ChangeAccount(ctx, person, change)
}

// T15: a login that nobody has is answered after the same steps as a wrong
// password; what is written of the latter is written behind the answer.
func TestUnknownLoginsTakeTheSameWay(t *testing.T) {
	var books *slowBooks
	c := openClub(t, func(c *server.Config) {
		books = &slowBooks{Store: c.Notebook.(*store.Store), held: make(chan struct{})}
		c.Notebook = books
	})
	way := map[string][]string{}
	for _, login := range []string{"ann", "nobody-at-all"} {
		books.asked = nil
		c.as["nobody"].do("POST", "/api/v1/login", obj{"login": login, "password": "whatever it may be"}).want(401)
		way[login] = slices.Clone(books.asked)
	}
	if !slices.Equal(way["ann"], way["nobody-at-all"]) || len(way["ann"]) == 0 {
		t.Errorf("a wrong password asks %v, an unknown login %v", way["ann"], way["nobody-at-all"])
	}
	close(books.held)
	waitFor(t, func() bool { return c.account("ann").Strangers == 1 })
}

// account is what is stored of a login.
func (c *clubSite) account(login string) notebook.Account {
	c.t.Helper()
	a, err := c.store.AccountFor(c.t.Context(), login)
	if err != nil {
		c.t.Fatal(err)
	}
	return a
}

// waitFor waits for what is written behind an answer.
func waitFor(t *testing.T, done func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !done(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("it was not written within a minute")
		}
	}
}

// BenchmarkWrongLogin tells how much longer a wrong password takes than a login
// that nobody has, in microseconds: the difference of the two medians (T15:
// below 5 ms over 1,000; -benchtime=1000x).
func BenchmarkWrongLogin(b *testing.B) {
	c := openClub(b, proxied)
	took := map[string][]time.Duration{}
	from := 0
	b.ResetTimer()
	for range b.N {
		for _, login := range []string{"ann", "nobody-at-all"} {
			from++
			began := time.Now()
			c.as["nobody"].do("POST", "/api/v1/login", obj{"login": login, "password": "whatever it may be"}, strange(from)...).want(401)
			took[login] = append(took[login], time.Since(began))
		}
	}
	median := func(of []time.Duration) float64 {
		slices.SortFunc(of, cmp.Compare[time.Duration])
		return float64(of[len(of)/2].Microseconds())
	}
	b.ReportMetric(median(took["ann"])-median(took["nobody-at-all"]), "µs-apart")
}
