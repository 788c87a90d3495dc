package server_test

import (
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"

	"tautline/internal/server"
	"tautline/notebook"
)

// T22: of one person 200 requests at once and 20 each second after, of one
// address that is nobody's 100 and 10. Others are not held up by either. The
// clock stands still but for what the test adds.
func TestPaceOfPeopleAndAddresses(t *testing.T) {
	began, ahead := time.Now(), atomic.Int64{}
	c := openClub(t, proxied, func(c *server.Config) {
		c.Now = func() time.Time { return began.Add(time.Duration(ahead.Load())) }
	})
	for _, row := range []struct {
		who, path     string
		from          []string
		burst, second int
	}{
		{"viewer", "/api/v1/me", strange(1), 200, 20},
		{"nobody", "/api/v1/account", strange(2), 100, 10},
	} {
		for _, most := range []int{row.burst, row.second, row.second} {
			for i := range most {
				if r := c.as[row.who].do("GET", row.path, nil, row.from...); r.status != 200 {
					t.Fatalf("%s: request %d of %d: %d %s", row.who, i+1, most, r.status, r.body)
				}
			}
			r := c.as[row.who].do("GET", row.path, nil, row.from...).want(429)
			if r.header.Get("Retry-After") != "1" || r.at("code") != "too-many" {
				t.Errorf("%s: to come again after %q: %s", row.who, r.header.Get("Retry-After"), r.body)
			}
			c.as["coach"].do("GET", row.path, nil, row.from...).want(200)             // behind the same router
			c.as["nobody"].do("GET", "/api/v1/account", nil, strange(3)...).want(200) // somewhere else
			ahead.Add(int64(time.Second))
		}
	}
}

// T16: who does not use a session for 14 days is logged out; use makes it last
// on, and 90 days after the login it ends all the same. The session library has
// a clock of its own, so those 90 days are looked up, and then made shorter.
func TestSessionsEnd(t *testing.T) {
	var k clock
	c := openClub(t, k.set)
	ann := func() notebook.Credential {
		t.Helper()
		all, err := c.store.Credentials(t.Context(), notebook.SessionCredential, notebook.ID(c.ids["ann"]), time.Now())
		if err != nil || len(all) != 1 {
			t.Fatal(all, err)
		}
		return all[0]
	}
	save := func(session notebook.Credential) {
		t.Helper()
		if err := c.store.SaveCredential(t.Context(), session); err != nil {
			t.Fatal(err)
		}
	}
	ends := func(what string, at time.Time, after time.Duration) {
		t.Helper()
		if off := time.Until(at) - after; off.Abs() > 10*time.Minute {
			t.Errorf("%s is %v from now, not %v", what, time.Until(at), after)
		}
	}
	day := 24 * time.Hour
	session := ann()
	end, values, err := scs.GobCodec{}.Decode(session.Data)
	if err != nil {
		t.Fatal(err)
	}
	ends("the end of an unused session", session.Expires, 14*day)
	ends("the end of a session", end, 90*day)

	session.Expires = time.Now().Add(time.Hour) // nearly two weeks later
	save(session)
	k.wait(30 * time.Minute)
	c.as["ann"].do("GET", "/api/v1/me", nil).want(200)
	ends("the end of a session that was used", ann().Expires, 14*day)

	session.Expires = time.Now().Add(90 * time.Minute)
	if session.Data, err = (scs.GobCodec{}).Encode(time.Now().Add(2*time.Hour), values); err != nil { // nearly 90 days later
		t.Fatal(err)
	}
	save(session)
	k.wait(30 * time.Minute)
	c.as["ann"].do("GET", "/api/v1/me", nil).want(200)
	ends("the end of an old session that was used", ann().Expires, 2*time.Hour)
	k.wait(65 * time.Minute)
	c.as["ann"].do("GET", "/api/v1/me", nil).want(401)

	k.wait(14*day - 3*time.Hour)
	c.as["ben"].do("GET", "/api/v1/account", nil).want(200)
	k.wait(3 * time.Hour)
	c.as["viewer"].do("GET", "/api/v1/me", nil).want(401) // unused for 14 days and some minutes
}

// ASVS 6.4.1: a token lasts the days that it was made for, a link seven.
func TestTokensAndLinksEnd(t *testing.T) {
	var k clock
	c := openClub(t, k.set)
	day := 24 * time.Hour
	link, token := id(), id()
	path := c.as["owner"].do("PUT", "/api/v1/invitations/"+link, obj{"name": "late", "role": "archer"}).want(200).at("path")
	_, secret, _ := strings.Cut(fmt.Sprint(path), "#")
	program := *c.site
	program.token, _ = c.as["ann"].do("PUT", "/api/v1/tokens/"+token, obj{"name": "sheet", "may": "work", "days": 3}).want(200).at("secret").(string)
	look := func(status int) {
		t.Helper()
		c.as["nobody"].do("POST", "/api/v1/join/look", obj{"secret": secret}).want(status)
	}
	k.wait(3*day - time.Minute)
	program.do("GET", "/api/v1/me", nil).want(200)
	k.wait(2 * time.Minute)
	if r := program.do("GET", "/api/v1/me", nil).want(401); r.at("code") != "not-logged-in" {
		t.Errorf("%s", r.body)
	}
	program.do("PUT", "/api/v1/bows/"+id(), obj{"name": "late", "style": "recurve"}).want(401)
	if rows := c.as["ann"].do("GET", "/api/v1/tokens", nil).want(200).at("rows").([]any); len(rows) > 0 {
		t.Errorf("a token that has ended is listed: %v", rows)
	}
	k.wait(4*day - 3*time.Minute)
	look(200)
	k.wait(4 * time.Minute)
	look(404)
	c.as["nobody"].do("POST", "/api/v1/join", obj{"secret": secret, "name": "late", "login": "late", "password": goodPassword}).want(404)
}
