package server_test

import (
	"testing"
)

// The names under which the notebook may be asked (F10, T17: a page on another
// name that resolves here is same-origin to the browser, so only the name
// tells it apart).
func TestHosts(t *testing.T) {
	s := open(t)
	for _, row := range []struct {
		host   string
		status int
	}{
		{"localhost", 200}, {"LOCALHOST:8421", 200}, {"127.0.0.1", 200}, {"127.0.0.1:9", 200}, {"[::1]:8421", 200}, {"[::1]", 200},
		{"evil.example", 421}, {"localhost.evil.example", 421}, {"127.0.0.1.evil.example:8421", 421}, {"127.0.0.2", 421},
		{"localhost:8421:1", 421}, {"0.0.0.0", 421}, {"192.168.1.5:8421", 421},
	} {
		for _, path := range []string{"/api/v1/bows", "/", "/openapi.json", "/help/errors/invalid"} {
			if r := s.do("GET", path, nil, "Host", row.host); r.status != row.status {
				t.Errorf("Host %q, %s: %d, want %d", row.host, path, r.status, row.status)
			}
		}
	}
}

// Who may change things: pages of our own origin, and programs that are no
// browser (F10, T17).
func TestOrigins(t *testing.T) {
	s := open(t)
	own := s.url
	for _, row := range []struct {
		name    string
		headers []string
		status  int
	}{
		{"a program", nil, 201},
		{"our page, new browser", []string{"Sec-Fetch-Site", "same-origin", "Origin", own}, 201},
		{"typed address", []string{"Sec-Fetch-Site", "none"}, 201},
		{"our page, plain http browser", []string{"Origin", own}, 201},
		{"another site", []string{"Sec-Fetch-Site", "cross-site", "Origin", "https://evil.example"}, 403},
		{"another port", []string{"Sec-Fetch-Site", "same-site", "Origin", "http://127.0.0.1:1"}, 403},
		{"another site without fetch metadata", []string{"Origin", "https://evil.example"}, 403},
		{"a sandboxed frame", []string{"Origin", "null"}, 403},
	} {
		r := s.do("PUT", "/api/v1/bows/"+id(), obj{"name": "Blue"}, row.headers...)
		if r.status != row.status {
			t.Errorf("%s: %d, want %d", row.name, r.status, row.status)
		}
		if got := s.do("GET", "/api/v1/bows", nil, row.headers...).status; got != 200 {
			t.Errorf("%s: reading: %d, want 200", row.name, got)
		}
	}
}

// What a form of another site can send without being asked is refused by its
// content type alone.
func TestContentTypes(t *testing.T) {
	s := open(t)
	for _, row := range []struct {
		kind   string
		status int
	}{
		{"application/json", 201}, {"application/json; charset=utf-8", 201}, {"Application/JSON; Charset=UTF-8", 201},
		{"", 415}, {"text/plain", 415}, {"application/x-www-form-urlencoded", 415}, {"multipart/form-data; boundary=x", 415},
		{"application/json; charset=latin1", 415}, {"application/jsonp", 415}, {"application/json, text/plain", 415}, {";", 415},
	} {
		if r := s.do("PUT", "/api/v1/bows/"+id(), obj{"name": "Blue"}, "Content-Type", row.kind); r.status != row.status {
			t.Errorf("%q: %d, want %d", row.kind, r.status, row.status)
		}
	}
}

// An address that exists for other methods says which; one that does not is
// not found; both as problems.
func TestAddresses(t *testing.T) {
	s := open(t)
	for _, row := range []struct {
		method, path string
		status       int
		allow        string
	}{
		{"DELETE", "/api/v1/bows", 405, "GET"},
		{"POST", "/api/v1/me", 405, "GET, PUT"},
		{"DELETE", "/api/v1/me", 405, "GET, PUT"},
		{"GET", "/api/v1/predict", 405, "POST"},
		{"GET", "/api/v1/nothing", 404, ""},
		{"GET", "/api/", 404, ""},
		{"GET", "/api/v2/bows", 404, ""},
		{"POST", "/", 405, "GET"},
		{"PUT", "/bows/1", 405, "GET"},
		{"GET", "/help/errors/nonsense", 404, ""},
		{"GET", "/sheets/setup/x.pdf", 404, ""},
		{"GET", "/sheets/setup/" + id() + ".pdf", 404, ""},
		{"GET", "/missing.js", 404, ""},
		{"GET", "/api/v1/bows/" + id(), 404, ""},
		{"GET", "/api/v1/bows/not-an-id", 404, ""},
		{"GET", "/api/v1/bows?color=blue", 422, ""},
		{"GET", "/api/v1/readings?limit=501", 422, ""},
		{"GET", "/api/v1/readings?after=x", 422, ""},
	} {
		r := s.do(row.method, row.path, nil, "Content-Type", "application/json")
		if r.status != row.status || r.header.Get("Allow") != row.allow {
			t.Errorf("%s %s: %d %q, want %d %q", row.method, row.path, r.status, r.header.Get("Allow"), row.status, row.allow)
		}
	}
}
