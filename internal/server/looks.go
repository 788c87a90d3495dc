package server

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"time"

	"tautline/notebook"
)

// mostLooks bounds how many are remembered, some 5 MB.
const mostLooks = 20_000

// looks remembers which were noted within the hour. The same look is not noted
// again: the same person from the same address, at the same address of ours, on
// the same record. Pages ask again while something is computed, and the log is to
// say who saw what, not how often.
type looks struct {
	mu    sync.Mutex
	noted recent[look, bool]
}

type look struct {
	person       notebook.ID
	from         string
	what, target string
}

// lately reports whether a look was noted within the hour.
func (l *looks) lately(x look, now time.Time) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.noted.of(x, now)
}

// note remembers one.
func (l *looks) note(x look, now time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.noted.keep(x, true, mostLooks, now) // one that is forgotten is noted once more, at worst
}

// lists are looks at many records at once, across bows unless they are narrowed.
var lists = map[string]bool{
	"GET /api/v1/bows": true, "GET /api/v1/week": true, "GET /api/v1/round": true, "GET /api/v1/sessions": true, "GET /api/v1/readings": true, "GET /api/v1/ends": true,
	"GET /api/v1/recordings": true, "GET /api/v1/trials": true, "GET /api/v1/retractions": true, "GET /api/v1/sound/comparison": true, "GET /api/v1/sound/pair": true,
}

// noLooks show no record, although an id is in the address.
var noLooks = map[string]bool{"GET /api/v1/work/{id}": true}

// narrowing are the parameters by which a list is narrowed to the records of
// one; the first that is there is what was looked at.
var narrowing = []string{"bow", "setup", "session", "trial", "a"}

// narrowedTo is the parameter that narrows a list, and the record it names.
func narrowedTo(r *http.Request) (by, target string) {
	asked := r.URL.Query()
	for _, by := range narrowing {
		if one, _, _ := strings.Cut(asked.Get(by), ","); notebook.ID(one).Check("") == nil {
			return by, one
		}
	}
	return "", ""
}

// looked notes that someone saw one record, or a list: as such, or narrowed to
// what is another's. What is one's own is nobody's concern, and of what is not
// there for someone they saw nothing.
func (s *server) looked(r *http.Request, pattern string, who visitor, status int) {
	target, by := targetOf(r), ""
	switch {
	case status >= http.StatusBadRequest || r.Method != http.MethodGet && r.Method != http.MethodHead, who.person == "":
		return
	case exports[pattern] || noLooks[pattern] || target == "" && !lists[pattern]:
		return
	}
	if target == "" {
		by, target = narrowedTo(r)
	}
	x, now := look{who.person, who.from, pattern, target}, s.Now()
	if s.club.looks.lately(x, now) {
		return
	}
	owner := notebook.ID("")
	if by != "" {
		var err error
		if owner, err = s.ownerOf(r.Context(), who.person, by, notebook.ID(target)); notebook.CodeOf(err) == notebook.NotFound {
			return
		}
	}
	s.club.looks.note(x, now)
	if owner == "" || owner != who.person {
		s.club.audit.note(notebook.AuditEntry{Actor: who.person, What: oneLine(pattern), Target: target, From: who.from, Status: status})
	}
}

// ownerOf is whose bow a record belongs to, as the actor may know it; of what
// belongs to no bow, who wrote it.
func (s *server) ownerOf(ctx context.Context, actor notebook.ID, by string, id notebook.ID) (notebook.ID, error) {
	stamp, bow := notebook.Stamp{}, id
	var err error
	switch by {
	case "setup":
		var x notebook.SetUp
		x, err = s.Notebook.SetUps().Get(ctx, actor, id)
		stamp, bow = x.Stamp, x.Bow
	case "session":
		var x notebook.Session
		x, err = s.Notebook.Sessions().Get(ctx, actor, id)
		stamp, bow = x.Stamp, x.Bow
	case "trial":
		var x notebook.Trial
		x, err = s.Notebook.Trials().Get(ctx, actor, id)
		stamp, bow = x.Stamp, x.Bow
	case "a":
		var x notebook.Recording
		x, err = s.Notebook.Recordings().Get(ctx, actor, id)
		stamp, bow = x.Stamp, x.Bow
	}
	if err != nil || bow == "" {
		return stamp.By, err
	}
	b, err := s.Notebook.Bows().Get(ctx, actor, bow)
	return b.Owner, err
}
