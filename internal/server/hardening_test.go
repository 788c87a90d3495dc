package server_test

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tautline/internal/server"
)

// T18: every address answers with the browser's safety headers, whatever comes
// of it: every operation of the description with a made-up id, refused ones
// among them, the pages, their parts, help, and what is not there. do and
// hardened look at each answer.
func TestEveryAddressIsHardened(t *testing.T) {
	s := open(t)
	asked := 0
	ask := func(method, path string, body any) {
		t.Helper()
		s.do(method, path, body)
		asked++
	}
	for _, op := range operations(s.do("GET", "/openapi.json", nil).want(200)) {
		method, path, _ := strings.Cut(op, " ")
		path = regexp.MustCompile(`\{\w+\}`).ReplaceAllString(path, id())
		var body any
		if method != "GET" {
			body = "["
		}
		ask(method, path, body)
	}
	for _, path := range []string{"/", "/app.js", "/bows/new", "/help/errors/invalid", "/help/errors/none", "/missing.js", "/sheets/setup/x.pdf", "/api/none", "/metrics", "/trust"} {
		for _, method := range []string{"GET", "HEAD", "POST", "DELETE", "OPTIONS"} {
			ask(method, path, nil)
		}
	}
	if asked < 130 {
		t.Errorf("only %d requests", asked)
	}
}

// ASVS V13.4: what belongs to the source, to the machine or to those who run
// it is not served; folders are not listed, TRACE echoes nothing.
func TestNothingElseIsServed(t *testing.T) {
	s := open(t)
	for _, path := range []string{"/.git/config", "/.env", "/go.mod", "/notebook.db", "/recordings/", "/debug/pprof/", "/debug/vars", "/docs", "/swagger", "/schemas", "/openapi.yaml", "/server-status",
		"/../go.mod", "/%2e%2e/go.mod", "/..%2fgo.mod", "/app.js/", "/app.js%00.html", "/./app.js", "//etc/passwd", "/static/..%5c..%5cgo.mod"} {
		r := s.do("GET", path, nil)
		if r.status == 200 && !strings.Contains(string(r.body), "<title>Tautline</title>") && !strings.Contains(string(r.body), "console.log('pages')") {
			t.Errorf("%s: %.200s", path, r.body)
		}
		for _, word := range []string{"module tautline", "root:", "[core]", "SQLite format", "<pre>", "goroutine"} {
			if strings.Contains(string(r.body), word) {
				t.Errorf("%s gives away %q", path, word)
			}
		}
	}
	if r := s.do("TRACE", "/api/v1/me", nil, "X-Secret", "echo"); r.status < 400 || strings.Contains(string(r.body), "echo") {
		t.Errorf("TRACE: %d %s", r.status, r.body)
	}
	if r := s.do("GET", "/api/v1/me", nil); r.header.Get("Server") != "" || r.header.Get("X-Powered-By") != "" {
		t.Errorf("the answer names its maker: %v", r.header)
	}
}

// ASVS 3.4.1, 14.3.2: browsers are told to come back by HTTPS where the server
// has a name in public and a proxy or itself does HTTPS, and nowhere else; what
// is someone's is not kept in caches.
func TestTransportAndCaches(t *testing.T) {
	public := open(t, func(c *server.Config) {
		c.Proxied = true
		c.Hosts = append(c.Hosts, "localhost", "127.0.0.1", "bows.example.org")
	})
	for _, row := range []struct {
		host string
		want bool
	}{{"bows.example.org", true}, {"localhost:8421", false}, {"127.0.0.1:8421", false}} {
		if got := public.do("GET", "/", nil, "Host", row.host).header.Get("Strict-Transport-Security") != ""; got != row.want {
			t.Errorf("%s: kept to HTTPS: %v", row.host, got)
		}
	}
	if open(t).do("GET", "/", nil).header.Get("Strict-Transport-Security") != "" {
		t.Error("this machine is kept to HTTPS")
	}
	c := openClub(t)
	bow, setup := id(), id()
	c.as["ann"].do("PUT", "/api/v1/bows/"+bow, obj{"name": "Blue"}).want(201)
	c.as["ann"].do("PUT", "/api/v1/setups/"+setup, obj{"bow": bow, "reason": "new", "settings": settings()}).want(201)
	for _, path := range []string{"/api/v1/me", "/api/v1/bows", "/api/v1/account", "/api/v1/ends.csv", "/sheets/setup/" + setup + ".txt", "/sheets/setup/" + setup + ".pdf"} {
		if r := c.as["ann"].do("GET", path, nil).want(200); r.header.Get("Cache-Control") != "no-store" {
			t.Errorf("%s: Cache-Control %q", path, r.header.Get("Cache-Control"))
		}
	}
	if out := c.as["ann"].do("POST", "/api/v1/logout", obj{}).want(200); out.header.Get("Clear-Site-Data") != `"cache"` {
		t.Errorf("after logging out: %q", out.header.Get("Clear-Site-Data"))
	}
}

// ASVS 4.2.1, 15.3.7: a request with two lengths, or a parameter twice, is not
// read in two ways.
func TestRequestsAreReadOneWay(t *testing.T) {
	s := open(t)
	host := strings.TrimPrefix(s.url, "http://")
	for name, head := range map[string]string{
		"two lengths":     "Content-Length: 2\r\nContent-Length: 30\r\n",
		"length and more": "Content-Length: 2, 30\r\n",
		"odd encoding":    "Transfer-Encoding: chunked, identity\r\n",
		"spaced name":     "Content-Length : 2\r\n",
	} {
		c, err := net.Dial("tcp", host)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(c, "PUT /api/v1/bows/%s HTTP/1.1\r\nHost: %s\r\nContent-Type: application/json\r\n%s\r\n{}GET /api/v1/me HTTP/1.1\r\nHost: %s\r\n\r\n", id(), host, head, host)
		r, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if _, err := io.Copy(io.Discard, r.Body); err != nil {
			t.Fatal(err)
		}
		if r.StatusCode != 400 && r.StatusCode != 501 {
			t.Errorf("%s: %d", name, r.StatusCode)
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
	}
	// A parameter twice: its first value or a refusal, the same each time.
	var statuses []int
	for range 3 {
		statuses = append(statuses, s.do("GET", "/api/v1/readings?limit=1&limit=501", nil).status)
	}
	if len(slices.Compact(statuses)) != 1 {
		t.Errorf("a parameter twice: %v", statuses)
	}
	// A field that the server sets is refused from outside (mass assignment).
	for _, field := range []string{"by", "owner", "version", "received", "id"} {
		s.do("PUT", "/api/v1/bows/"+id(), obj{"name": "Blue", field: "x"}).want(422)
	}
}
