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
	"time"

	"tautline/internal/report"
	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
)

// site is a running server on a fresh notebook.
type site struct {
	handler http.Handler // without a wire before it
	t       testing.TB
	url     string
	store   *store.Store
	started time.Time
	cookie  string   // of a session, in a club
	token   string   // of a program, in a club
	fails   *failing // its questions fail first, one by one
}

// open starts a server on a fresh SQLite notebook.
func open(t testing.TB, change ...func(*server.Config)) *site {
	t.Helper()
	return openIn(t, store.Options{}, change...)
}

// openIn starts a server on a fresh notebook of either engine.
func openIn(t testing.TB, in store.Options, change ...func(*server.Config)) *site {
	t.Helper()
	st, err := store.Open(context.Background(), t.TempDir(), in)
	if err != nil {
		t.Fatal(err)
	}
	c := server.Config{Notebook: st, Version: "test", RefitAfter: -1, Sheets: report.Maker{Notebook: st}, Support: supportText, App: fstest.MapFS{
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
		h.Close()
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	return &site{t: t, url: srv.URL, handler: h, store: st, started: time.Now().UTC()}
}

// supportText stands for the command line's, which is tested there.
func supportText(context.Context) (string, error) {
	return "Tautline support file, made 2026-05-05T18:00:00Z.\nNo name, note, reading or address is in it. Read it before you send it.\n\nFindings\nfine   the newest of 9 backups was made 5 hours ago\n", nil
}

// reply is an answer read to its end.
type reply struct {
	t      testing.TB
	status int
	header http.Header
	body   []byte
	again  bool // it may have been made before, by one that was told to have failed
}

// do sends a request; body may be nil, raw bytes, or a value for JSON.
func (s *site) do(method, path string, body any, headers ...string) reply {
	s.t.Helper()
	send := func() (reply, error) { return s.asks(method, path, body, headers...) }
	if s.fails != nil {
		return s.fails.first(s.t, method+" "+path, func() (reply, error) {
			r, err := send()
			if at := r.header.Get("Upload-Offset"); err == nil && r.status == http.StatusConflict && at != "" { // of a part that came all the same
				return s.asks(method, path, []byte{}, append(headers, "Upload-Offset", at)...)
			}
			return r, err
		})
	}
	r, err := send()
	if err != nil {
		s.t.Fatal(err)
	}
	return r
}

// asks is do that gives what broke off.
func (s *site) asks(method, path string, body any, headers ...string) (reply, error) {
	s.t.Helper()
	var raw io.Reader
	switch b := body.(type) {
	case nil:
	case []byte:
		raw = bytes.NewReader(b)
	case string:
		raw = strings.NewReader(b)
	case io.Reader: // of a length that nobody says
		raw = b
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
	if s.cookie != "" {
		r.Header.Set("Cookie", s.cookie)
	}
	if s.token != "" {
		r.Header.Set("Authorization", "Bearer "+s.token)
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
		return reply{}, err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		return reply{}, err
	}
	out := reply{t: s.t, status: answer.StatusCode, header: answer.Header, body: text}
	out.hardened(path)
	if out.status >= 400 {
		out.problem(path)
	}
	out.declared(s.url, answer.Request)
	return out, nil
}

// hardened demands the browser's safety headers, on every answer of every
// test (T18: CSP default-src 'none', self only, no framing, nosniff,
// no-referrer).
func (r reply) hardened(path string) {
	r.t.Helper()
	policy := r.header.Get("Content-Security-Policy")
	sandboxed := policy == "sandbox; default-src 'none'"
	ours := strings.Contains(policy, "default-src 'none'; script-src 'self'; style-src 'self'") &&
		strings.Contains(policy, "frame-ancestors 'none'") && strings.Contains(policy, "base-uri 'none'") && !strings.Contains(policy, "unsafe")
	if path == "/heic.js" {
		ours = policy == "default-src 'none'; script-src 'wasm-unsafe-eval'; base-uri 'none'; frame-ancestors 'none'"
	}
	if !sandboxed && !ours {
		r.t.Errorf("%s: Content-Security-Policy %q", path, policy)
	}
	if r.header.Get("X-Content-Type-Options") != "nosniff" || r.header.Get("Referrer-Policy") != "no-referrer" {
		r.t.Errorf("%s: nosniff or no-referrer is missing: %v", path, r.header)
	}
	if r.header.Get("Access-Control-Allow-Origin") != "" {
		r.t.Errorf("%s: other sites are let in", path)
	}
}

// leaks are words of the inside that no answer may hold (U5: no SQL, path or
// stack ever).
var leaks = []string{"SELECT ", "INSERT ", "sqlite", "SQLITE", ".go:", "goroutine", "/tmp/", "/root/", "database/sql", "runtime error", "json: ", "strconv.", "(MISSING)", "%!"}

// problem demands a whole problem (RFC 9457) with our code, in words of ours
// (U5).
func (r reply) problem(path string) {
	r.t.Helper()
	if kind := r.header.Get("Content-Type"); kind != "application/problem+json" {
		r.t.Fatalf("%s: %d as %q, not a problem: %.300s", path, r.status, kind, r.body)
	}
	if len(r.body) == 0 {
		return // the answer to HEAD
	}
	p := r.tree()
	code, _ := p["code"].(string)
	switch {
	case p["status"] != float64(r.status):
		r.t.Errorf("%s: status %v inside %d", path, p["status"], r.status)
	case code == "" || p["type"] != "/help/errors/"+code || p["title"] == "" || p["title"] == "Problem":
		r.t.Errorf("%s: code %q is not explained: %s", path, code, r.body)
	case p["detail"] == "" || p["detail"] == nil:
		r.t.Errorf("%s: no detail: %s", path, r.body)
	}
	for _, word := range leaks {
		if strings.Contains(string(r.body), word) {
			r.t.Errorf("%s: the answer leaks %q: %s", path, word, r.body)
		}
	}
}

// want demands a status and gives the answer back.
func (r reply) want(status int) reply {
	r.t.Helper()
	if r.status != status && !(r.again && status == http.StatusCreated && r.status == http.StatusOK) {
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
