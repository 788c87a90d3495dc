package server_test

import (
	"bufio"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// FuzzQuery: whatever stands behind the question mark of a list, the answer is
// a list or a problem in our words (T20, U5).
func FuzzQuery(f *testing.F) {
	for _, q := range []string{"limit=3", "limit=-1&after=x", "bow=%00", "after=1'%20OR%201=1--", "limit=1&limit=2", "%zz", "retracted=perhaps", "a=1;b=2", "after=%ff%fe", "unit=furlong"} {
		f.Add(q)
	}
	s := open(f)
	bow, setup := s.bowWithSetUp()
	s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22.1 cm"}).want(201)
	host := strings.TrimPrefix(s.url, "http://")
	f.Fuzz(func(t *testing.T, query string) {
		for _, path := range []string{"/api/v1/readings", "/api/v1/ends.csv"} {
			line := "GET " + path + "?" + query + " HTTP/1.1\r\nHost: " + host + "\r\n\r\n"
			r, err := http.ReadRequest(bufio.NewReader(strings.NewReader(line)))
			if err != nil || r.URL.Path != path || r.Host != host {
				continue // no request, or another one: HTTP's own reader answers
			}
			w := httptest.NewRecorder()
			s.handler.ServeHTTP(w, r)
			switch {
			case w.Code >= 500:
				t.Fatalf("%s?%q: %d %s", path, query, w.Code, w.Body)
			case w.Code >= 400:
				(reply{t, w.Code, w.Header(), w.Body.Bytes()}).problem(path)
			}
		}
	})
}
