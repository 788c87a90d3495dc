package server

import (
	"context"
	"net/http"

	"tautline/notebook"
)

// Refusals that never come to a route: a name that is not ours, a page of
// another site, a made-up token, too many requests. Of one address as many are
// noted as an owner would read: a flood of them shall not fill the log.
const refusalsRate, refusalsBurst = 1, 100

type reachedKey struct{}

// outer notes what was refused before a visitor was known.
func (s *server) outer(next http.Handler) http.Handler {
	if s.club == nil {
		return next
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		reached := false
		seen := &statusSeen{ResponseWriter: w, status: http.StatusOK}
		next.ServeHTTP(seen, r.WithContext(context.WithValue(r.Context(), reachedKey{}, &reached)))
		switch seen.status {
		case http.StatusUnauthorized, http.StatusForbidden, http.StatusMisdirectedRequest, http.StatusTooManyRequests:
		default:
			return
		}
		from := addressOf(r, s.club.proxied)
		if reached || s.club.throttle.allow("refused "+networkOf(from), refusalsRate, refusalsBurst, s.Now()) > 0 {
			return
		}
		_, pattern := s.mux.Handler(r)
		s.club.audit.note(notebook.AuditEntry{What: oneLine(pattern), Target: lastID(r.URL.Path), From: from, Status: seen.status})
	})
}

// noted says that the log of who did what has taken a request in.
func noted(r *http.Request) {
	if reached, ok := r.Context().Value(reachedKey{}).(*bool); ok {
		*reached = true
	}
}
