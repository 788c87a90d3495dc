package server

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"time"

	"tautline/notebook"
)

// hurry remembers whose sessions and tokens came through the door lately: who is
// too fast is told so before anything is done for them (bars.md T22: 50 ms), and
// takes no seat from those who keep the pace. The first request of a session or
// token within the hour is counted at the door instead.
type hurry struct {
	mu    sync.Mutex
	known recent[string, notebook.ID] // by the hash of what was shown
}

// passed remembers whose a session or token is.
func (h *hurry) passed(shown string, person notebook.ID, now time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.known.keep(shown, person, mostNames, now)
}

// forget forgets a session or token that lets nobody in any more.
func (h *hurry) forget(shown string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.known.forget(shown)
}

// whose is the person that a session or token is known to be of, or none.
func (h *hurry) whose(shown string, now time.Time) notebook.ID {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.known.of(shown, now)
}

// shownBy is the hash of the token or session that a request shows.
func shownBy(r *http.Request) string {
	if secret, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok {
		return "token " + hashOf(secret)
	}
	if session, err := r.Cookie(sessionName); err == nil {
		return "session " + hashOf(session.Value)
	}
	return ""
}

// pacedKey is under which a request carries whose pace it was counted to.
type pacedKey struct{}

// hurried counts a request of who is known, and refuses it if they are too fast:
// before it waits for a seat, so that the answer does not come late.
func (s *server) hurried(w http.ResponseWriter, r *http.Request) (counted *http.Request, refused bool) {
	if s.club == nil {
		return r, false
	}
	person := s.club.hurry.whose(shownBy(r), s.Now())
	if person == "" {
		return r, false
	}
	if wait := s.tooFast(visitor{person: person}); wait > 0 {
		writeProblem(w, r, tooMany(wait))
		return r, true
	}
	return r.WithContext(context.WithValue(r.Context(), pacedKey{}, person)), false
}
