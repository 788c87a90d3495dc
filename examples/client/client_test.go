package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
)

// site is a real server on a fresh notebook of several people. Every third
// request is done and its answer then lost.
type site struct {
	*testing.T
	url, token string
	lost       int
}

func openSite(t *testing.T) *site {
	t.Helper()
	book, err := store.Open(t.Context(), t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h, err := server.New(server.Config{Notebook: notebook.Guarded(book), Accounts: book})
	if err != nil {
		t.Fatal(err)
	}
	s, n := &site{T: t}, 0
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if n++; n%3 == 0 && r.Header.Get("Authorization") != "" {
			s.lost++
			h.ServeHTTP(httptest.NewRecorder(), r)
			panic(http.ErrAbortHandler)
		}
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(func() {
		srv.Close()
		if err := book.Close(); err != nil {
			t.Error(err)
		}
	})
	s.url = srv.URL
	s.comesIn(book)
	return s
}

// comesIn makes an owner with a token in a file.
func (s *site) comesIn(book *store.Store) {
	s.Helper()
	link, err := server.OwnerLink(s.Context(), book, book.People(), time.Now(), false)
	if err != nil {
		s.Fatal(err)
	}
	_, secret, _ := strings.Cut(link, "#")
	in := s.sends(http.MethodPost, "/join", map[string]any{"secret": secret, "name": "Ida Falk", "login": "ida", "password": "quilt harbour sixteen lanterns"}, nil, nil)
	var made struct{ Secret string }
	s.sends(http.MethodPut, "/tokens/"+string(notebook.NewID()), map[string]any{"name": "example client", "may": "work", "days": 1}, in.Cookies(), &made)
	s.token = filepath.Join(s.TempDir(), "token")
	if err := os.WriteFile(s.token, []byte(made.Secret+"\n"), 0o600); err != nil {
		s.Fatal(err)
	}
}

// sends is a browser's part of the story.
func (s *site) sends(method, path string, body any, cookies []*http.Cookie, out any) *http.Response {
	s.Helper()
	c := newClient(s.url, "")
	c.http = &http.Client{Transport: carries{cookies}}
	answer, err := c.send(s.Context(), method, path, body, "")
	if err != nil {
		s.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode >= 400 {
		s.Fatal(refusal(answer))
	}
	if out != nil {
		decode(s.T, answer, out)
	}
	return answer
}

type carries struct{ cookies []*http.Cookie }

func (c carries) RoundTrip(r *http.Request) (*http.Response, error) {
	for _, k := range c.cookies {
		r.Header.Add("Cookie", k.Name+"="+k.Value)
	}
	return http.DefaultTransport.RoundTrip(r)
}

// does runs one command line of the client.
func (s *site) does(args ...string) (string, error) {
	var out bytes.Buffer
	time.Sleep(300 * time.Millisecond) // 20 requests a second are served
	err := run(s.Context(), append(args, "-server", s.url, "-token", s.token), &out)
	return out.String(), err
}

func (s *site) must(args ...string) string {
	s.Helper()
	out, err := s.does(args...)
	if err != nil {
		s.Fatalf("%v: %v", args, err)
	}
	return out
}

// The client's whole story against a real server that loses every third
// answer: each reading is stored once, the list is read over several pages, the
// table comes whole, and a stale version is refused with what differs.
func TestClient(t *testing.T) {
	s := openSite(t)
	c := newClient(s.url, readSecret(t, s.token))
	c.paused = func(d time.Duration) { time.Sleep(d / 100) }
	c.tries = 60
	bow, setup := string(notebook.NewID()), string(notebook.NewID())
	puts(t, c, "/bows/"+bow, map[string]any{"name": "Heron 70", "style": "recurve"})
	puts(t, c, "/setups/"+setup, map[string]any{"bow": bow, "reason": "new", "settings": map[string]any{"limbs": map[string]any{"bow_length": "70 in"},
		"draw": map[string]any{"length": "28 in", "weight": "36 lbf"}, "brace_height": map[string]any{"value": "22 cm"}}})
	if out := s.must("bows"); !strings.Contains(out, bow+"  Heron 70") {
		t.Errorf("the bench: %s", out)
	}
	const many = 24
	for i := range many {
		if err := addReading(t.Context(), c, &bytes.Buffer{}, reading{Bow: bow, Kind: "brace_height", Text: fmt.Sprintf("%d mm", 200+i%30)}); err != nil {
			t.Fatal(err)
		}
	}
	id := string(notebook.NewID())
	first := s.must("add", "-bow", bow, "-text", "22.1 cm", "-id", id)
	again := s.must("add", "-bow", bow, "-text", "22.1 cm", "-id", id)
	if !strings.Contains(first, "stored") || !strings.Contains(again, "was stored before") {
		t.Errorf("%s%s", first, again)
	}
	c.page = 10
	var list bytes.Buffer
	if err := printReadings(t.Context(), c, &list, bow); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(list.String(), "\n"); n != many+1 || !strings.Contains(list.String(), id) {
		t.Errorf("%d readings are listed, %d were sent", n, many+1)
	}
	puts(t, c, "/ends/"+string(notebook.NewID()), map[string]any{"bow": bow, "setup": setup, "number": 1, "distance": "70 m", "face": "122",
		"impacts": []any{map[string]any{"x_m": 0.03, "y_m": -0.05}, map[string]any{"x_m": 0.01, "y_m": 0.02}}})
	if table := s.must("export", "-bow", bow); strings.Count(table, "\n") != 3 || !strings.HasPrefix(table, "end,") {
		t.Errorf("the table:\n%s", table)
	}
	if s.lost < 10 {
		t.Errorf("only %d answers were lost", s.lost)
	}
	s.changesOnce(c, bow)
}

// changesOnce renames, then tries to change an old version.
func (s *site) changesOnce(c *client, bow string) {
	s.Helper()
	var out bytes.Buffer
	err := rename(s.Context(), c, &out, bow, "Heron 70, indoor")
	var p *problem
	if errors.As(err, &p) && p.Status == http.StatusPreconditionFailed {
		err = nil // its answer was lost, and sent again it is outdated: by itself
	}
	if err != nil {
		s.Fatal(err)
	}
	_, _, err = c.ask(s.Context(), http.MethodPut, "/bows/"+bow+"/about", about{Name: "Heron, old", Style: "recurve"}, `"1"`, &about{})
	if !errors.As(err, &p) || p.Status != http.StatusPreconditionFailed || !strings.Contains(p.Error(), "/name: stored Heron 70, indoor, sent Heron, old") {
		s.Errorf("a change of an old version: %v", err)
	}
	if _, err := s.does("rename", "-bow", string(notebook.NewID()), "-name", "x"); !errors.As(err, &p) || p.Code != "not-found" {
		s.Errorf("a bow that is not there: %v", err)
	}
	if _, err := s.does("dance"); err == nil {
		s.Error("an unknown command is done")
	}
}

func puts(t *testing.T, c *client, path string, body any) {
	t.Helper()
	if _, _, err := c.ask(context.Background(), http.MethodPut, path, body, "", &struct{}{}); err != nil {
		t.Fatal(err)
	}
}

func decode(t *testing.T, answer *http.Response, out any) {
	t.Helper()
	if err := json.NewDecoder(answer.Body).Decode(out); err != nil {
		t.Fatal(err)
	}
}

func readSecret(t *testing.T, file string) string {
	t.Helper()
	secret, err := readToken(file)
	if err != nil {
		t.Fatal(err)
	}
	return secret
}
