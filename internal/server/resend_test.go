package server_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"sync"
	"testing"

	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/internal/store/storetest"
)

// forgetful does the work and then loses the answer, half of the time: what a
// phone at the edge of the network sees.
func forgetful(next http.Handler, seed uint64) http.Handler {
	rng := rand.New(rand.NewPCG(seed, 1))
	var mu sync.Mutex
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		lose := rng.IntN(2) == 0
		mu.Unlock()
		if !lose {
			next.ServeHTTP(w, r)
			return
		}
		next.ServeHTTP(httptest.NewRecorder(), r)
		panic(http.ErrAbortHandler)
	})
}

// TestResends: half of all answers are lost and every request is sent until it
// is answered, then three times more; rows = intents (U8; TAUTLINE_LONG for
// many).
func TestResends(t *testing.T) {
	st, err := store.Open(context.Background(), t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h, err := server.New(server.Config{Notebook: st})
	if err != nil {
		t.Fatal(err)
	}
	lossy := httptest.NewServer(forgetful(h, 7))
	defer lossy.Close()
	steady := httptest.NewServer(h)
	defer steady.Close()
	defer func() {
		h.Close()
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	}()
	clear := &site{t: t, url: steady.URL, store: st}
	bow, setup := clear.bowWithSetUp()

	lost, intents := 0, 0
	send := func(path string, body obj) {
		t.Helper()
		intents++
		var first reply
		for try := 0; ; try++ {
			r, err := put(t, lossy.URL+path, body)
			if err == nil {
				first = r
				break
			}
			if lost++; try > 40 {
				t.Fatalf("never answered: %v", err)
			}
		}
		if first.status != 201 && first.status != 200 {
			t.Fatalf("%s: %d %s", path, first.status, first.body)
		}
		for range 3 {
			again := clear.do("PUT", path, body).want(200)
			if string(again.body) != string(first.body) {
				t.Errorf("%s: a resend is answered differently:\n%s\n%s", path, first.body, again.body)
			}
		}
	}
	readings := 60
	if os.Getenv("TAUTLINE_LONG") != "" {
		readings = 3000
	}
	for i := range readings {
		send("/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": fmt.Sprintf("%d mm", 200+i%100)})
	}
	for range 10 {
		send("/api/v1/sessions/"+id(), obj{"bow": bow, "place": "hall"})
		send("/api/v1/bows/"+id(), obj{"name": "another"})
		send("/api/v1/setups/"+id(), obj{"bow": bow, "parent": setup, "reason": "try", "settings": settings()})
	}
	if lost < intents/4 {
		t.Errorf("only %d answers of %d were lost: the test does not test", lost, intents)
	}
	if n := storetest.CountReadings(t, st); n != readings {
		t.Errorf("%d readings stored, %d meant", n, readings)
	}
	if n := clear.do("GET", "/api/v1/bows/"+bow, nil).at("setups"); n != 11.0 {
		t.Errorf("%v set-ups stored, 11 meant", n)
	}
	if n := len(clear.do("GET", "/api/v1/bows", nil).at("bows").([]any)); n != 11 {
		t.Errorf("%d bows stored, 11 meant", n)
	}
}

// put sends one request that may get no answer.
func put(t *testing.T, url string, body obj) (reply, error) {
	t.Helper()
	r, err := http.NewRequest("PUT", url, jsonBody(t, body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	answer, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		return reply{}, err
	}
	return read(t, answer)
}

// Another record under a taken id is refused with both versions; the stored
// one stays.
func TestDifferentContentUnderOneID(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	one := id()
	path := "/api/v1/readings/" + one
	s.do("PUT", path, obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22.1 cm"}).want(201)
	r := s.do("PUT", path, obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22.3 cm"}).want(409)
	if got := r.at("stored/text"); got != "22.1 cm" {
		t.Errorf("stored shows %v", got)
	}
	if got := r.at("sent/text"); got != "22.3 cm" {
		t.Errorf("sent shows %v", got)
	}
	var fields []string
	for _, d := range r.at("differences").([]any) {
		fields = append(fields, d.(obj)["field"].(string))
	}
	if fmt.Sprint(fields) != "[/text /value]" {
		t.Errorf("differences in %v, want /text and /value", fields)
	}
	if got := s.do("GET", path, nil).at("reading/text"); got != "22.1 cm" {
		t.Errorf("the stored reading became %v", got)
	}
}

// The late resend of a create, after the bow was renamed, is still harmless.
func TestResendOfACreateAfterARename(t *testing.T) {
	s := open(t)
	one := id()
	s.do("PUT", "/api/v1/bows/"+one, obj{"name": "Blue"}).want(201)
	s.do("PUT", "/api/v1/bows/"+one+"/about", obj{"name": "Red", "style": "recurve"}, "If-Match", s.version(one)).want(200)
	r := s.do("PUT", "/api/v1/bows/"+one, obj{"name": "Blue"}).want(200)
	if r.at("name") != "Red" {
		t.Errorf("the rename was lost: %s", r.body)
	}
}
