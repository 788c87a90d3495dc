package server

import (
	"net/http"
	"strings"
	"sync"
	"time"

	"tautline/notebook"
)

// hurry remembers whose sessions and tokens came through the door lately, and
// which of them were told to wait: who is too fast, or does not wait, is told so
// before anything is done for them (bars.md T22: 50 ms), and takes no seat from
// those who keep the pace. Only the first request of a session finds that out at
// the door.
type hurry struct {
	mu    sync.Mutex
	known map[string]passer // by the hash of what was shown
	swept time.Time
}

// passer is what is known of a session or token.
type passer struct {
	person notebook.ID
	until  time.Time // of the wait they were told
	used   time.Time
}

// passed remembers whose a session or token is.
func (h *hurry) passed(shown string, person notebook.ID, now time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.sweep(now)
	k, there := h.known[shown]
	if !there {
		if h.known == nil {
			h.known = map[string]passer{}
		}
		makeRoom(h.known)
	}
	k.person, k.used = person, now
	h.known[shown] = k
}

// forget forgets a session or token that lets nobody in any more.
func (h *hurry) forget(shown string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.known, shown)
}

// tell remembers that someone who is known is to stay away for a while.
func (h *hurry) tell(shown string, until time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if k, there := h.known[shown]; there {
		k.until = until
		h.known[shown] = k
	}
}

// of gives what is known of a session or token.
func (h *hurry) of(shown string) passer {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.known[shown]
}

// sweep forgets those that have rested, once a minute.
func (h *hurry) sweep(now time.Time) {
	if now.Sub(h.swept) < time.Minute {
		return
	}
	h.swept = now
	for shown, k := range h.known {
		if now.Sub(k.used) > rememberFor {
			delete(h.known, shown)
		}
	}
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

// hurried refuses who is known, and is too fast or does not wait as told.
func (s *server) hurried(w http.ResponseWriter, r *http.Request) bool {
	if s.club == nil {
		return false
	}
	now, shown := s.Now(), shownBy(r)
	known := s.club.hurry.of(shown)
	if known.person == "" {
		return false
	}
	wait := known.until.Sub(now)
	if wait <= 0 {
		wait = s.club.throttle.soon(nameOf(known.person), now)
	}
	if wait > 0 {
		s.tellToWait(w, r, shown, wait, now)
	}
	return wait > 0
}

// tellToWait refuses someone for a while.
func (s *server) tellToWait(w http.ResponseWriter, r *http.Request, shown string, wait time.Duration, now time.Time) {
	p := tooMany(wait)
	if s.club.hurry.of(shown).until.Before(now) {
		s.club.hurry.tell(shown, now.Add(time.Duration(p.after)*time.Second))
	}
	writeProblem(w, r, p)
}
