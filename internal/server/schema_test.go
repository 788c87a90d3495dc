package server_test

import (
	"errors"
	"io"
	"net/http"
	"os"
	"strings"
	"sync"
	"testing"

	"tautline/internal/contract"
)

var (
	asked   sync.Once
	promise *contract.Description
	refusal error

	toldFaults sync.Map // each is told once
)

// description is what the server says of itself: every server of these tests
// the same.
func description(t testing.TB, url string) *contract.Description {
	t.Helper()
	asked.Do(func() {
		var answer *http.Response
		if answer, refusal = http.Get(url + "/openapi.json"); refusal != nil {
			return
		}
		raw, err := io.ReadAll(answer.Body)
		if refusal = errors.Join(err, answer.Body.Close()); refusal == nil {
			promise, refusal = contract.Read(raw)
		}
	})
	if refusal != nil {
		t.Fatal(refusal)
	}
	return promise
}

// declared holds an answer of any test against the API's own description: the
// status is declared for the operation, the body fits (U6: every status in it,
// all answers validate).
func (r reply) declared(url string, to *http.Request) {
	r.t.Helper()
	if _, timed := r.t.(*testing.B); timed {
		return
	}
	if o, ok := description(r.t, url).Find(to.Method, to.URL.EscapedPath()); ok {
		for _, fault := range o.Answer(r.status, r.header.Get("Content-Type"), r.body) {
			if _, told := toldFaults.LoadOrStore(fault, true); !told {
				r.t.Errorf("%s\nasked %s", fault, to.URL)
			}
		}
	}
}

// Each operation has a usable example that fits its own schema (U6).
func TestExamples(t *testing.T) {
	for _, fault := range description(t, open(t).url).Examples() {
		t.Errorf("%s; write the examples anew with: go test ./internal/server -run Golden -update", fault)
	}
}

// checkRequests: what the story sends is what its operation takes.
func checkRequests(t *testing.T, s *site, told []exchange) {
	d, sent := description(t, s.url), 0
	for _, e := range told {
		method, _, _ := strings.Cut(e.operation, " ")
		bare, _, _ := strings.Cut(e.path, "?")
		o, ok := d.Find(method, bare)
		if !ok || o.String() != e.operation {
			t.Errorf("%s %s is taken for %v", method, e.path, o)
		}
		if raw, isJSON := bodyOf(t, e.body); isJSON {
			sent++
			for _, fault := range o.Request("application/json", raw) {
				t.Error(fault)
			}
		}
	}
	if sent < 40 {
		t.Errorf("only %d requests with a body were checked", sent)
	}
}

// keptPath is what the last version promised to programs.
const keptPath = "testdata/openapi.kept.json"

// TestGoldenDescription: a program written for the last version goes on
// working (U6): the description may grow, and never loses what it promised.
// Under /api/v1 that holds for ever; what must break goes under /api/v2.
func TestGoldenDescription(t *testing.T) {
	now := description(t, open(t).url)
	raw, err := os.ReadFile(keptPath)
	if err != nil {
		t.Fatal(err)
	}
	before, err := contract.Read(raw)
	if err != nil {
		t.Fatal(err)
	}
	for _, broken := range contract.Breaks(before, now) {
		t.Errorf("a program written for the last version breaks: %s", broken)
	}
	if !*update || t.Failed() {
		return
	}
	bare, err := now.Bare()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(keptPath, bare, 0o644); err != nil {
		t.Fatal(err)
	}
}
