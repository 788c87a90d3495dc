package server_test

import (
	"net/url"
	"strings"
	"testing"

	"tautline/internal/store"
)

// No text in PostgreSQL holds a zero byte, and none holds bytes that are no
// UTF-8. Neither in an address, a login or a filter is a fault of the program's,
// and the log goes on.
func TestZeroBytes(t *testing.T) { zeroBytes(t, store.Options{}) }

func TestZeroBytesOnPostgreSQL(t *testing.T) {
	zeroBytes(t, store.Options{Database: postgreSQL(t)})
}

func zeroBytes(t *testing.T, o store.Options) {
	c := openClubOn(t, o, proxied)
	ann := c.as["ann"]
	for _, bad := range []string{"\x00", "\xff", "a\x00", strings.Repeat("\x00", 300)} {
		in := url.QueryEscape(bad)
		if r := ann.do("PUT", "/api/v1/bows/"+in, obj{"name": "Heron 70", "style": "recurve"}); r.status != 422 {
			t.Errorf("a bow %q: %d %s", bad, r.status, r.body)
		}
		for _, list := range []string{"bows?after=", "readings?bow=", "readings?setup=", "readings?session=", "readings?trial=", "readings?after=", "ends?bow=", "sessions?bow=", "trials?bow=", "recordings?trial=", "retractions?bow=", "shares?after=", "readings.csv?bow=", "export.jsonl?bow=", "bows/", "readings/", "trials/", "people/"} {
			if r := ann.do("GET", "/api/v1/"+list+in, nil); r.status != 422 {
				t.Errorf("%s%q: %d %s", list, bad, r.status, r.body)
			}
		}
		if r := c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ann" + bad, "password": goodPassword}); r.status != 401 && (len(bad) < 50 || r.status != 422) {
			t.Errorf("a login with %q: %d %s", bad, r.status, r.body)
		}
		for path, body := range map[string]obj{
			"/join": {"secret": bad, "name": "Yan", "login": "yan", "password": goodPassword}, "/join/look": {"secret": bad}, "/recover": {"login": "ann" + bad, "code": bad, "password": goodPassword},
		} {
			if r := c.as["nobody"].do("POST", "/api/v1"+path, body); r.status < 400 || r.status >= 500 {
				t.Errorf("%s with %q: %d %s", path, bad, r.status, r.body)
			}
		}
		note := ann.do("PUT", "/api/v1/bows/"+id(), obj{"name": "Heron" + bad, "style": "recurve"})
		if note.status >= 500 {
			t.Errorf("a bow's name with %q: %d %s", bad, note.status, note.body)
		}
		if r := c.as["owner"].do("PUT", "/api/v1/invitations/"+id(), obj{"name": "Yan" + bad, "role": "archer"}); r.status >= 500 {
			t.Errorf("an invitation with %q: %d %s", bad, r.status, r.body)
		}
	}
	bow := id()
	ann.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Heron 70", "style": "recurve"}).want(201)
	waitFor(t, func() bool {
		return strings.Contains(string(c.as["owner"].do("GET", "/api/v1/audit?limit=20", nil).want(200).body), bow)
	})
}
