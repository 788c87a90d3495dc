//go:build unix

package drill

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"tautline/notebook"
)

// lastWriterWins is a program that takes every change of a bow, whatever
// version it was made from.
type lastWriterWins struct{ http.RoundTripper }

func (b lastWriterWins) RoundTrip(r *http.Request) (*http.Response, error) {
	path, ok := strings.CutSuffix(r.URL.Path, "/about")
	if !ok {
		return b.RoundTripper.RoundTrip(r)
	}
	look := r.Clone(r.Context())
	look.Method, look.URL.Path, look.Body, look.ContentLength = "GET", path, nil, 0
	if now, err := b.RoundTripper.RoundTrip(look); err == nil {
		drain(now)
		r.Header.Set("If-Match", now.Header.Get("ETag"))
	}
	return b.RoundTripper.RoundTrip(r)
}

// noKey is a program that stores a record anew each time it is sent.
type noKey struct {
	http.RoundTripper
	mu   *sync.Mutex
	seen map[string]bool
}

func (b noKey) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.Method != "PUT" || !strings.Contains(r.URL.Path, "/sessions/") {
		return b.RoundTripper.RoundTrip(r)
	}
	path := r.URL.Path
	b.mu.Lock()
	again := b.seen[path]
	b.mu.Unlock()
	if again {
		r.URL.Path = "/api/v1/sessions/" + string(notebook.NewID())
	}
	answer, err := b.RoundTripper.RoundTrip(r)
	b.mu.Lock()
	defer b.mu.Unlock()
	b.seen[path] = b.seen[path] || err == nil && answer.StatusCode == http.StatusCreated
	return answer, err
}

// ackFirst is a program that acknowledges readings before they are stored; a
// crash takes those that wait.
type ackFirst struct {
	http.RoundTripper
	mu      *sync.Mutex
	crashes *int
	waiting *sync.WaitGroup
}

func (b ackFirst) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.Method != "PUT" || !strings.Contains(r.URL.Path, "/readings/") {
		return b.RoundTripper.RoundTrip(r)
	}
	body, err := taken(r)
	if err != nil {
		return nil, err
	}
	b.mu.Lock()
	before := *b.crashes
	b.mu.Unlock()
	later := with(r.WithContext(context.WithoutCancel(r.Context())), body)
	b.waiting.Go(func() {
		time.Sleep(40 * time.Millisecond)
		b.mu.Lock()
		gone := *b.crashes != before
		b.mu.Unlock()
		if gone {
			return
		}
		if answer, err := b.RoundTripper.RoundTrip(later); err == nil {
			drain(answer)
		}
	})
	return &http.Response{StatusCode: 201, Header: http.Header{}, Body: io.NopCloser(strings.NewReader("{}")), Request: r}, nil
}

func (b ackFirst) forget() {
	b.mu.Lock()
	defer b.mu.Unlock()
	*b.crashes++
}

func (b ackFirst) wait() { b.waiting.Wait() }

// The drill finds each of three planted bugs within ten seeds (D7).
func TestManyClientsFindsPlantedBugs(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the real binary; not in -short")
	}
	for name, plant := range map[string]between{
		"last writer wins": func(under http.RoundTripper) http.RoundTripper { return lastWriterWins{under} },
		"no key": func() between {
			b := noKey{mu: &sync.Mutex{}, seen: map[string]bool{}}
			return func(under http.RoundTripper) http.RoundTripper { c := b; c.RoundTripper = under; return c }
		}(),
		"ack before commit": func() between {
			b := ackFirst{mu: &sync.Mutex{}, crashes: new(int), waiting: &sync.WaitGroup{}}
			return func(under http.RoundTripper) http.RoundTripper { c := b; c.RoundTripper = under; return c }
		}(),
	} {
		t.Run(name, func(t *testing.T) {
			for seed := uint64(1); seed <= 10; seed++ {
				var found []string
				d := Drill{Name: "D7", Run: func(ctx context.Context, r *Run) (err error) {
					found, _, err = manyRound(ctx, r, false, 150, plant)
					r.Counted()
					return err
				}}
				var log bytes.Buffer
				if res, err := Do(t.Context(), d, bin, seed, 1, &log); err != nil || res.Failures > 0 {
					t.Fatal(err, log.String())
				}
				if len(found) > 0 {
					t.Logf("found with seed %d: %s", seed, found[0])
					return
				}
			}
			t.Error("not found in ten seeds")
		})
	}
}

// The checker says what is wrong with a history, and nothing about a whole one.
func TestManyChecker(t *testing.T) {
	at := time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)
	whole := func() (*history, ending) {
		h := newHistory()
		e := ending{contents: &Contents{Rows: map[string]Row{}, Files: map[string]string{}}, lists: map[string][]string{}, setups: map[string][]setUpSeen{}, before: map[string]string{}}
		got := map[string]string{}
		for i, id := range []string{"b", "a"} { // in another order than their ids
			in := &intent{id: id, kind: "readings", mark: "laptop, note " + id2n[id] + ".", at: at, first: at.Add(time.Duration(i) * time.Second), acked: at.Add(time.Duration(i)*time.Second + time.Millisecond)}
			h.mean(in)
			body, err := json.Marshal(obj{"id": id, "at": at, "received": in.first, "note": in.mark})
			if err != nil {
				t.Fatal(err)
			}
			e.contents.Rows[id+"/1"] = Row{"readings", body}
			e.lists["readings"] = append(e.lists["readings"], id)
			got[id] = string(body)
		}
		e.seen = []seen{{"fresh", got}}
		var one, two, three setUpSeen
		one.SetUp.ID, two.SetUp.ID, three.SetUp.ID = "1", "2", "3"
		two.SetUp.Parent, three.SetUp.Parent, three.Beside = "1", "1", []string{"2"}
		e.setups["bow"] = []setUpSeen{three, two, one}
		return h, e
	}
	for name, c := range map[string]struct {
		spoil func(*history, *ending)
		says  string
	}{
		"whole":           {func(*history, *ending) {}, ""},
		"lost":            {func(_ *history, e *ending) { delete(e.contents.Rows, "a/1") }, "is lost"},
		"twice":           {func(_ *history, e *ending) { e.contents.Rows["a/2"] = e.contents.Rows["a/1"] }, "there twice"},
		"never sent":      {func(_ *history, e *ending) { e.contents.Rows["c/1"] = e.contents.Rows["a/1"] }, "never sent"},
		"changed":         {func(_ *history, e *ending) { e.before["a/1"] = "otherwise" }, "is now"},
		"refused":         {func(h *history, _ *ending) { h.refuses(h.intents["a"], "422") }, "was refused"},
		"order by id":     {func(_ *history, e *ending) { e.lists["readings"] = []string{"a", "b"} }, "stands after it"},
		"a fork not told": {func(_ *history, e *ending) { e.setups["bow"][0].Beside = nil }, "nobody is told"},
		"unequal":         {func(_ *history, e *ending) { e.seen = append(e.seen, seen{"phone 1", nil}) }, "phone 1 has 0"},
		"clock":           {func(h *history, _ *ending) { h.intents["a"].at = at.Add(time.Second) }, "by its device's clock"},
		"an edit of an old version": {func(h *history, e *ending) {
			h.edits(&edit{bow: "x", based: 1, mark: "laptop, note 9."})
			h.mean(&intent{id: "x", kind: "bows", acked: at, rolledBack: true})
			e.contents.Rows["x/3"] = Row{"bows", []byte(`{"version":3,"notes":"laptop, note 9."}`)}
		}, "another version"},
	} {
		t.Run(name, func(t *testing.T) {
			h, e := whole()
			c.spoil(h, &e)
			found, _ := check(h, e)
			if said := strings.Join(found, "\n"); (c.says == "") != (said == "") || !strings.Contains(said, c.says) {
				t.Errorf("found %q, want %q", said, c.says)
			}
		})
	}
}

var id2n = map[string]string{"a": "1", "b": "2"}
