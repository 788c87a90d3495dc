package server

import (
	"net/http"
	"strings"
	"sync"
	"time"
)

// hurry remembers who was told to wait and for how long, by the session or
// token that was shown: who does not wait is told so again before anything is
// done for them (bars.md T22: 50 ms), and takes no seat from those who keep the
// pace. The first refusal is the door's, which knows the person.
type hurry struct {
	mu    sync.Mutex
	until map[string]time.Time // by the hash of what was shown
	swept time.Time
}

// tell remembers that someone is to stay away for a while.
func (h *hurry) tell(shown string, wait time.Duration, now time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.until == nil {
		h.until = map[string]time.Time{}
	}
	if now.Sub(h.swept) >= time.Minute {
		h.swept = now
		for old, until := range h.until {
			if !now.Before(until) {
				delete(h.until, old)
			}
		}
	}
	makeRoom(h.until)
	h.until[shown] = now.Add(wait)
}

// waits is how long what is shown must still stay away.
func (h *hurry) waits(r *http.Request, now time.Time) time.Duration {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.until) == 0 {
		return 0
	}
	return h.until[shownBy(r)].Sub(now)
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

// hurried refuses who was told to wait and does not.
func (s *server) hurried(w http.ResponseWriter, r *http.Request) bool {
	if s.club == nil {
		return false
	}
	wait := s.club.hurry.waits(r, s.Now())
	if wait > 0 {
		writeProblem(w, r, tooMany(wait))
	}
	return wait > 0
}
