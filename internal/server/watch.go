package server

import (
	"net/http"
	"runtime/debug"
	"sync/atomic"
	"time"
)

// counters are what the server knows about its own health.
type counters struct {
	requests atomic.Int64
	failures atomic.Int64 // answers of 500 and above, but "not now" and "not offered"
	panics   atomic.Int64
	shed     atomic.Int64 // refused because there was too much to do
}

// writeTime is how long an ordinary answer may take to leave, computing
// included; files set their own.
const writeTime = 2 * time.Minute

// drainTime is how long what is left of a body may still come, after it was
// refused.
const drainTime = 5 * time.Second

// watched holds the answer, turns a panic into a problem, and logs one line a
// request: route, status, size and time, never ids, names or addresses.
func (s *server) watched(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := s.Now()
		s.counts.requests.Add(1)
		setWriteDeadline(w, began.Add(writeTime))
		a := &answer{ResponseWriter: w}
		s.shielded(a, r, next)
		if a.status >= 500 && a.status != http.StatusServiceUnavailable && a.status != http.StatusNotImplemented && r.Context().Err() == nil {
			s.counts.failures.Add(1)
		}
		status, size := a.status, a.body.Len()
		if err := a.send(r); err != nil {
			s.Log.Debug("answer not sent", "error", err)
		}
		setReadDeadline(w, time.Now().Add(drainTime))
		took := s.Now().Sub(began)
		s.tally.answered(s.routeOf(r), status, took)
		s.Log.Debug("request", "method", r.Method, "route", s.routeOf(r), "status", status, "bytes", size, "ms", took.Milliseconds())
	})
}

// shielded runs the handler; a panic costs one answer, not the program.
func (s *server) shielded(a *answer, r *http.Request, next http.Handler) {
	defer func() {
		fault := recover()
		if fault == nil {
			return
		}
		if fault == http.ErrAbortHandler {
			panic(fault)
		}
		s.counts.panics.Add(1)
		s.Log.Error("panic", "route", s.routeOf(r), "fault", fault, "stack", string(debug.Stack()))
		if a.discard() {
			writeProblem(a, r, internalProblem())
		} else {
			panic(http.ErrAbortHandler) // part of a file is out: cut it rather than end it as if whole
		}
	}()
	next.ServeHTTP(a, r)
}

// routeOf is the pattern that matched, which holds no ids.
func (s *server) routeOf(r *http.Request) string {
	if r.Pattern != "" {
		return r.Pattern
	}
	if _, pattern := s.mux.Handler(r); pattern != "" { // it stayed with a copy of the request
		return pattern
	}
	return "none"
}

// setWriteDeadline limits the answer; a writer without deadlines (a test's
// recorder) is left alone.
func setWriteDeadline(w http.ResponseWriter, t time.Time) {
	if err := http.NewResponseController(w).SetWriteDeadline(t); err != nil {
		return
	}
}

func setReadDeadline(w http.ResponseWriter, t time.Time) {
	if err := http.NewResponseController(w).SetReadDeadline(t); err != nil {
		return
	}
}
