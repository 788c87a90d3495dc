package server

import (
	"net/http"
	"strings"
	"sync"
	"time"

	"tautline/notebook"
)

// hurry remembers whose sessions and tokens came through the door lately: who is
// too fast is told so before anything is done for them (bars.md T22: 50 ms), and
// takes no seat from those who keep the pace. Only the first request of a
// session finds that out at the door.
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
func (h *hurry) whose(shown string) notebook.ID {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.known.of(shown)
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

// hurried refuses who is known and too fast.
func (s *server) hurried(w http.ResponseWriter, r *http.Request) bool {
	if s.club == nil {
		return false
	}
	person := s.club.hurry.whose(shownBy(r))
	if person == "" {
		return false
	}
	wait := s.club.throttle.soon(nameOf(person), s.Now())
	if wait > 0 {
		writeProblem(w, r, tooMany(wait))
	}
	return wait > 0
}
