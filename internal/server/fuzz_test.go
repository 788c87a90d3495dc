package server_test

import (
	"net/http"
	"net/url"
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
			r := &http.Request{Method: "GET", URL: &url.URL{Scheme: "http", Host: host, Path: path, RawQuery: query}, Header: http.Header{}}
			answer, err := http.DefaultClient.Do(r)
			if err != nil {
				continue // not to be written on a line of HTTP
			}
			got, err := read(t, answer)
			if err != nil {
				t.Fatal(err)
			}
			switch {
			case got.status >= 500:
				t.Fatalf("%s?%q: %d %s", path, query, got.status, got.body)
			case got.status >= 400 && !strings.HasPrefix(string(got.body), "400 Bad Request"):
				got.problem(path)
			}
		}
	})
}
