package server

import (
	"net/http"
	"sync/atomic"
)

// Gate stands at an address while the notebook is being opened, which takes a
// while when it is brought up to date: the program is alive, and not ready.
type Gate struct{ behind atomic.Pointer[http.Handler] }

// Open lets everyone through to a handler from now on.
func (g *Gate) Open(h http.Handler) { g.behind.Store(&h) }

// ServeHTTP answers.
func (g *Gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if h := g.behind.Load(); h != nil {
		(*h).ServeHTTP(w, r)
		return
	}
	(&server{}).hardened(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == apiPath+"/health" {
			w.Header().Set("Content-Type", "application/json")
			_, _ = w.Write([]byte(`{"status":"starting"}` + "\n")) // or the client has gone
			return
		}
		p := newProblem(http.StatusServiceUnavailable, codeStarting, "The notebook is being opened; after an update of the program this can take a minute.", "Try again in a moment.")
		p.after = 2
		writeProblem(w, r, p)
	})).ServeHTTP(w, r)
}
