package server_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/fstest"

	"tautline/internal/report"
	"tautline/internal/server"
	"tautline/notebook"
	"tautline/unit"
)

// A program built without the pages says so and how to build them; the API
// works all the same.
func TestUnbuiltPages(t *testing.T) {
	for name, pages := range map[string]fstest.MapFS{"none": nil, "only the keeper of the folder": {".gitkeep": {}}} {
		s := open(t, func(c *server.Config) {
			if pages == nil {
				c.App = nil
			} else {
				c.App = pages
			}
		})
		r := s.do("GET", "/", nil).want(200)
		if !strings.Contains(string(r.body), "make build") || !strings.HasPrefix(r.header.Get("Content-Type"), "text/html") {
			t.Errorf("%s: %s", name, r.body)
		}
		s.do("GET", "/api/v1/bows", nil).want(200)
	}
}

// The app's own addresses all get its one page; files are compressed where
// that pays, and revalidated by ETag.
func TestPages(t *testing.T) {
	s := open(t)
	for _, path := range []string{"/", "/bows/1/trial", "/settings", "/index.html"} {
		r := s.do("GET", path, nil).want(200)
		if !strings.Contains(string(r.body), "<title>Tautline") {
			t.Errorf("%s: %s", path, r.body)
		}
	}
	s.do("GET", "/.gitkeep", nil).want(404)
	s.do("GET", "/heic.js", nil) // has a policy of its own: see reply.hardened
	plain := s.do("GET", "/app.js", nil, "Accept-Encoding", "identity").want(200)
	packed := s.do("GET", "/app.js", nil, "Accept-Encoding", "gzip").want(200)
	if packed.header.Get("Content-Encoding") != "gzip" || len(packed.body)*2 > len(plain.body) {
		t.Errorf("%d bytes packed, %d plain: %v", len(packed.body), len(plain.body), packed.header)
	}
	if unpack(t, packed.body) != string(plain.body) {
		t.Error("the packed file is another")
	}
	if plain.header.Get("Content-Type") != "text/javascript; charset=utf-8" {
		t.Errorf("%v", plain.header)
	}
	s.do("GET", "/app.js", nil, "Accept-Encoding", "gzip", "If-None-Match", packed.header.Get("ETag")).want(304)
	s.do("GET", "/app.js", nil, "If-None-Match", `"another"`).want(200)
	if r := s.do("HEAD", "/app.js", nil).want(200); len(r.body) != 0 {
		t.Error("HEAD has a body")
	}
}

// Large answers of the API are compressed for who takes it.
func TestAnswersAreCompressed(t *testing.T) {
	s := open(t)
	plain := s.do("GET", "/openapi.json", nil, "Accept-Encoding", "gzip;q=0")
	packed := s.do("GET", "/openapi.json", nil, "Accept-Encoding", "br, gzip")
	if plain.header.Get("Content-Encoding") != "" || packed.header.Get("Content-Encoding") != "gzip" || unpack(t, packed.body) != string(plain.body) {
		t.Errorf("plain %v, packed %v", plain.header, packed.header)
	}
}

func unpack(t *testing.T, b []byte) string {
	t.Helper()
	z, err := gzip.NewReader(strings.NewReader(string(b)))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// badSheets panics, fails with something internal, or never ends.
type badSheets struct{ how string }

func (b badSheets) Sheet(ctx context.Context, _ notebook.ID, _ string, _ notebook.ID, _ unit.System) (report.Sheet, error) {
	switch b.how {
	case "panic":
		panic("SELECT secret FROM /root/x.go:1")
	case "leak":
		return report.Sheet{}, errors.New("sqlite: SELECT * FROM bows at /root/notebook.db: json: strconv.Atoi")
	}
	<-ctx.Done()
	return report.Sheet{}, ctx.Err()
}

// A panic or an internal error costs one answer, is counted, and tells nothing
// of the inside (do looks for leaks).
func TestFaultsStayInside(t *testing.T) {
	for _, how := range []string{"panic", "leak"} {
		s := open(t, func(c *server.Config) { c.Sheets = badSheets{how} })
		for _, path := range []string{"/api/v1/sheets/setup/" + id(), "/sheets/setup/" + id() + ".pdf"} {
			if r := s.do("GET", path, nil).want(500); r.at("code") != "internal" {
				t.Errorf("%s", r.body)
			}
		}
		health := s.do("GET", "/api/v1/health", nil).want(200)
		want := map[string]float64{"panic": 2, "leak": 0}[how]
		if health.at("panics") != want || health.at("failures") != 2.0 {
			t.Errorf("%s: counted %s", how, health.body)
		}
	}
}

// Every code has its page, and every problem's type leads to one.
func TestHelpPages(t *testing.T) {
	s := open(t)
	r := s.do("GET", "/api/v1/bows/"+id(), nil).want(404)
	page := s.do("GET", fmt.Sprint(r.at("type")), nil).want(200)
	if !strings.Contains(string(page.body), "What to try") || !strings.HasPrefix(page.header.Get("Content-Type"), "text/html") {
		t.Errorf("%s", page.body)
	}
	for _, code := range []notebook.Code{notebook.Invalid, notebook.NotFound, notebook.Different, notebook.Outdated, notebook.Busy, notebook.ReadOnly,
		notebook.DiskFull, notebook.TooNew, notebook.TooLarge, notebook.Damaged, notebook.NotAllowed, notebook.Unavailable} {
		s.do("GET", "/help/errors/"+string(code), nil).want(200)
	}
}

// The description is OpenAPI 3.1, and each operation has its refusals in it.
func TestDescription(t *testing.T) {
	s := open(t)
	r := s.do("GET", "/openapi.json", nil).want(200)
	if v := fmt.Sprint(r.at("openapi")); !strings.HasPrefix(v, "3.1") {
		t.Errorf("version %s", v)
	}
	for path, methods := range r.tree()["paths"].(obj) {
		for method, op := range methods.(obj) {
			answers := op.(obj)["responses"].(obj)
			for _, status := range []string{"400", "421", "500", "503"} {
				if _, ok := answers[status].(obj)["content"].(obj)["application/problem+json"]; !ok {
					t.Errorf("%s %s: %s is not described as a problem", method, path, status)
				}
			}
			_, tells := answers["200"]
			if _, done := answers["204"]; !tells && !(done && method == "delete") {
				t.Errorf("%s %s: 200 is not described", method, path)
			}
		}
	}
}

// A large script is in the program compressed, and goes out as it is.
func TestPackedScript(t *testing.T) {
	script := strings.Repeat("console.log('the manual');\n", 5000)
	var small bytes.Buffer
	z := gzip.NewWriter(&small)
	_, err := z.Write([]byte(script))
	if err := errors.Join(err, z.Close()); err != nil {
		t.Fatal(err)
	}
	s := open(t, func(c *server.Config) {
		c.App = fstest.MapFS{"index.html": {Data: []byte("<!doctype html><title>Tautline</title>")}, "part-A.js.gz": {Data: small.Bytes()}, "part-B.gz": {Data: []byte("as it is")}}
	})
	if r := s.do("GET", "/part-A.js", nil).want(200); string(r.body) != script || !strings.HasPrefix(r.header.Get("Content-Type"), "text/javascript") {
		t.Errorf("%s, %d bytes of %d", r.header.Get("Content-Type"), len(r.body), len(script))
	}
	s.do("GET", "/part-A.js.gz", nil).want(404)
	if r := s.do("GET", "/part-B.gz", nil).want(200); string(r.body) != "as it is" {
		t.Errorf("a file that is no script: %q", r.body)
	}
	if _, err := server.New(server.Config{Notebook: s.store, Version: "test", App: fstest.MapFS{"part-A.js.gz": {Data: []byte("no gzip")}}}); err == nil {
		t.Error("a damaged one is not told")
	}
}
