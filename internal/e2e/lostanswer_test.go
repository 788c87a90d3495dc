package e2e

import (
	"errors"
	"net/http"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
)

// TestComeInAgain loses the answer of coming in and of a new password: the page
// says that it may have worked, the same button goes on, with what was typed
// still there, and the code that is shown then is the one that is good.
func TestComeInAgain(t *testing.T) {
	t.Parallel()
	n := openNotebook(t, "--accounts")
	w, b := openBetween(t, n), openBrowser(t)
	b.fails = true // answers are lost on purpose
	b.size(390, 844)
	lost := loses(t, w, n, "/api/v1/join")
	b.open(w.URL + "/" + strings.TrimPrefix(joining.FindString(n.said.String()), "/"))
	b.see("Choose how you log in")
	fields(b, "Ida Falk", "ida", clubPassword)
	b.tap("Come in")
	b.see("It may have worked all the same")
	b.accessible("coming in, with the answer lost")
	b.fits("coming in, with the answer lost")
	b.tap("Come in")
	b.see("Write this code down")
	code := text(b, ".code")
	if lost.Load() != 1 || len(code) < 24 {
		t.Fatalf("%d answers were lost; the code is %q", lost.Load(), code)
	}
	b.tap("I have it")
	b.see("Enter")
	b.open(w.URL + "/account")
	b.see("You are logged in as")
	b.tap("Log out")
	b.see("This notebook belongs to several people")

	lost = loses(t, w, n, "/api/v1/recover")
	b.open(w.URL + "/recover")
	b.see("Lost password")
	fields(b, "ida", code, "nine umbrellas under marble")
	b.tap("Set the new password")
	b.see("It may have worked all the same")
	b.tap("Set the new password")
	b.see("Write this code down")
	if fresh := text(b, ".code"); lost.Load() != 1 || fresh == code || len(fresh) < 24 {
		t.Errorf("%d answers were lost; the new code is %q, the old was %q", lost.Load(), fresh, code)
	}
	b.tap("I have it")
	b.see("Enter")
	if people := column(t, n.database(), "SELECT DISTINCT id FROM people"); len(people) != 1 {
		t.Errorf("%d people came in", len(people))
	}
}

// loses has the notebook do what is posted to an address once, and breaks the
// line instead of answering.
func loses(t *testing.T, w *between, n *notebook, path string) *atomic.Int32 {
	var lost atomic.Int32
	w.set(func(res http.ResponseWriter, req *http.Request) bool {
		if req.Method != http.MethodPost || req.URL.Path != path || !lost.CompareAndSwap(0, 1) {
			return false
		}
		on := req.Clone(req.Context())
		on.URL, on.RequestURI = &url.URL{Scheme: "http", Host: n.addr, Path: path}, ""
		answer, err := http.DefaultClient.Do(on)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			return false
		}
		answer.Body.Close()
		if answer.StatusCode != http.StatusOK {
			t.Errorf("%s is answered %d", path, answer.StatusCode)
		}
		// A browser sends again by itself where nothing of an answer came over a
		// connection that was used before; so the beginning of it does come.
		res.Header().Set("Content-Type", "application/json")
		res.Header().Set("Content-Length", "1000")
		_, err = res.Write([]byte("{"))
		if err = errors.Join(err, http.NewResponseController(res).Flush()); err != nil {
			t.Errorf("%s: %v", path, err)
		}
		panic(http.ErrAbortHandler) // breaks the connection
	})
	return &lost
}
