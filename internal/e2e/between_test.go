package e2e

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
)

// between is what may stand between a phone and the notebook and speak HTTP
// itself: a proxy, a hotel's portal, a notebook of another version. What it
// does not answer itself goes on to the notebook.
type between struct {
	*httptest.Server
	mu     sync.Mutex
	answer func(http.ResponseWriter, *http.Request) bool // says whether it answered
}

func openBetween(t *testing.T, n *notebook) *between {
	t.Helper()
	to := &url.URL{Scheme: "http", Host: n.addr}
	on := &httputil.ReverseProxy{Rewrite: func(r *httputil.ProxyRequest) { r.SetURL(to); r.Out.Host = r.In.Host }}
	w := &between{}
	w.Server = httptest.NewServer(http.HandlerFunc(func(res http.ResponseWriter, req *http.Request) {
		w.mu.Lock()
		answer := w.answer
		w.mu.Unlock()
		if answer == nil || !answer(res, req) {
			on.ServeHTTP(res, req)
		}
	}))
	t.Cleanup(w.Close)
	return w
}

func (w *between) set(answer func(http.ResponseWriter, *http.Request) bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.answer = answer
}

// says answers once with what is given.
func says(res http.ResponseWriter, status int, kind, body string) {
	res.Header().Set("Content-Type", kind)
	res.WriteHeader(status)
	fmt.Fprint(res, body) // whoever reads it has gone, if not
}

// TestAnswersFromElsewhere sends records over a way on which a proxy times
// out, the program fails, a portal answers in the notebook's place: nothing of
// it is a refusal, so everything stays in the count and goes by itself, once.
// A refusal of the notebook's own is put aside with its reason.
func TestAnswersFromElsewhere(t *testing.T) {
	t.Parallel()
	n := openNotebook(t)
	n.putBow()
	w, b := openBetween(t, n), openBrowser(t)
	b.fails = true // the program is made to
	b.open(w.URL + "/icon.svg")
	ask := func(script string, into *int) {
		t.Helper()
		got, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](script, chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(script, ": ", err)
		}
		*into = got
	}
	var unsent, refused int
	w.set(func(res http.ResponseWriter, req *http.Request) bool {
		if req.Method == http.MethodPut {
			says(res, 408, "text/html", "<h1>Request Timeout</h1>")
		}
		return req.Method == http.MethodPut
	})
	ask(`globalThis.acked = () => undefined;`+outboxScript(t)+fmt.Sprintf("; drill.begun.then(() => drill.session(%q, %q, 'elsewhere', 2, 0)).then(() => drill.unsent())", plotBow, plotSetUp2), &unsent)
	const html, ours = "text/html; charset=utf-8", "application/problem+json"
	for _, a := range []struct {
		status     int
		kind, body string
	}{
		{408, html, "<h1>Request Timeout</h1>"},
		{408, ours, `{"status": 408, "code": "not-received"}`},
		{500, ours, `{"status": 500, "code": "internal"}`},
		{404, html, "<h1>Not Found</h1>"},
		{403, html, "<h1>Forbidden</h1>"},
		{403, ours, `{"status": 403, "code": "second-factor"}`},
		{200, html, "<h1>Welcome to our network</h1>"},
		{204, "", ""},
		{511, html, "<h1>Log in to the network</h1>"},
	} {
		w.set(func(res http.ResponseWriter, req *http.Request) bool {
			if req.Method == http.MethodPut {
				says(res, a.status, a.kind, a.body)
			}
			return req.Method == http.MethodPut
		})
		ask("drill.flush().then(() => drill.unsent())", &unsent)
		ask("drill.refused()", &refused)
		if unsent != 3 || refused != 0 {
			t.Errorf("after %d %s: %d of 3 wait, %d are put aside", a.status, a.kind, unsent, refused)
		}
	}
	w.set(func(res http.ResponseWriter, req *http.Request) bool {
		second := req.Method == http.MethodPut && strings.Contains(req.URL.Path, "/ends/")
		if second {
			says(res, 422, ours, `{"status": 422, "code": "invalid", "detail": "Two arrows have the number 1."}`)
			w.set(nil)
		}
		return second
	})
	ask("drill.flush().then(() => drill.unsent())", &unsent)
	ask("drill.refused()", &refused)
	if unsent != 0 || refused != 1 {
		t.Errorf("after a refusal %d wait and %d are put aside", unsent, refused)
	}
	db := n.database()
	if got := len(column(t, db, "SELECT id FROM sessions")) + len(column(t, db, "SELECT id FROM ends")); got != 2 {
		t.Errorf("%d records in the notebook, wanted the session and the second end", got)
	}
}
