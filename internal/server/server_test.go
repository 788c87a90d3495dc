package server_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/fstest"

	"tautline/internal/report"
	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
)

// site is a running server on a fresh notebook.
type site struct {
	t     testing.TB
	url   string
	store *store.Store
}

// open starts a server on a fresh SQLite notebook.
func open(t testing.TB, change ...func(*server.Config)) *site {
	t.Helper()
	st, err := store.Open(context.Background(), t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c := server.Config{Notebook: st, Version: "test", Sheets: report.Maker{Notebook: st}, App: fstest.MapFS{
		"index.html": {Data: []byte("<!doctype html><title>Tautline</title>")},
		"app.js":     {Data: []byte(strings.Repeat("console.log('pages');\n", 200))},
	}}
	for _, f := range change {
		f(&c)
	}
	h, err := server.New(c)
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(h)
	t.Cleanup(func() {
		srv.Close()
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	return &site{t, srv.URL, st}
}

// reply is an answer read to its end.
type reply struct {
	t      testing.TB
	status int
	header http.Header
	body   []byte
}

// do sends a request; body may be nil, raw bytes, or a value for JSON.
func (s *site) do(method, path string, body any, headers ...string) reply {
	s.t.Helper()
	var raw io.Reader
	switch b := body.(type) {
	case nil:
	case []byte:
		raw = bytes.NewReader(b)
	case string:
		raw = strings.NewReader(b)
	default:
		text, err := json.Marshal(b)
		if err != nil {
			s.t.Fatal(err)
		}
		raw = bytes.NewReader(text)
	}
	r, err := http.NewRequest(method, s.url+path, raw)
	if err != nil {
		s.t.Fatal(err)
	}
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		if headers[i] == "Host" {
			r.Host = headers[i+1]
			continue
		}
		r.Header.Set(headers[i], headers[i+1])
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return reply{s.t, answer.StatusCode, answer.Header, text}
}

// want demands a status and gives the answer back.
func (r reply) want(status int) reply {
	r.t.Helper()
	if r.status != status {
		r.t.Fatalf("status %d, want %d: %s", r.status, status, r.body)
	}
	return r
}

// tree reads the JSON.
func (r reply) tree() map[string]any {
	r.t.Helper()
	var out map[string]any
	if err := json.Unmarshal(r.body, &out); err != nil {
		r.t.Fatalf("not JSON: %v: %s", err, r.body)
	}
	return out
}

// at reads one value by a path like "bow/name" or "rows/0/id".
func (r reply) at(path string) any {
	r.t.Helper()
	var node any = r.tree()
	for part := range strings.SplitSeq(path, "/") {
		switch n := node.(type) {
		case map[string]any:
			node = n[part]
		case []any:
			i := 0
			for _, c := range part {
				i = i*10 + int(c-'0')
			}
			if i >= len(n) {
				r.t.Fatalf("%s: no %q in %s", path, part, r.body)
			}
			node = n[i]
		default:
			r.t.Fatalf("%s: no %q in %s", path, part, r.body)
		}
	}
	return node
}

func id() string { return string(notebook.NewID()) }

type obj = map[string]any

// settings of an invented 68 in target bow.
func settings() obj {
	return obj{
		"riser":         obj{"length": "25 in", "offset": "4 mm"},
		"limbs":         obj{"bow_length": "68 in", "marked_weight": "36 lbf", "range_low": "21 cm", "range_high": "23.5 cm"},
		"string":        obj{"material": "hmpe", "strands": 18, "twists": 22, "length": "166 cm"},
		"draw":          obj{"length": "28.5 in", "weight": "38 lbf"},
		"brace_height":  obj{"value": "22 cm"},
		"nocking_point": obj{"value": "10 mm"},
		"arrow":         obj{"mass": "330 gr", "spine": "600"},
	}
}

// bowWithSetUp stores a bow with its first set-up.
func (s *site) bowWithSetUp() (bow, setup string) {
	s.t.Helper()
	bow, setup = id(), id()
	s.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Blue 68"}).want(201)
	s.do("PUT", "/api/v1/setups/"+setup, obj{"bow": bow, "reason": "as bought", "settings": settings()}).want(201)
	return bow, setup
}
