package server

import (
	"context"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"time"

	"tautline/notebook"
)

// auditor notes who saw and changed what. Entries are written together once a
// second and at the end, so that looking at a page costs no write of its own; a
// kill loses at most that second of it, never a record.
type auditor struct {
	accounts notebook.Accounts
	now      func() time.Time
	log      *slog.Logger
	mu       sync.Mutex
	waiting  []notebook.AuditEntry
	timer    *time.Timer
}

// mostWaiting bounds what waits while the storage does not answer.
const mostWaiting = 10_000

func newAuditor(c Config) *auditor { return &auditor{accounts: c.Accounts, now: c.Now, log: c.Log} }

// request notes every change, every refusal of the door or of a record, and what
// takes a lot out at once. Looks: looked.
func (a *auditor) request(r *http.Request, pattern string, who visitor, status int) {
	target := targetOf(r)
	refused := status == http.StatusUnauthorized || status == http.StatusForbidden || status == http.StatusTooManyRequests || status == http.StatusNotFound && target != ""
	if !refused && !changes(r.Method) && r.Method != http.MethodDelete && !exports[pattern] {
		return
	}
	if target == "" && exports[pattern] {
		_, target = narrowedTo(r)
	}
	a.note(notebook.AuditEntry{Actor: who.person, What: oneLine(pattern), Target: target, From: who.from, Status: status})
}

// targetOf is the record that an address names.
func targetOf(r *http.Request) string {
	if id := r.PathValue("id"); notebook.ID(id).Check("") == nil {
		return id
	}
	return lastID(r.URL.Path)
}

// exports are noted each time.
var exports = map[string]bool{"GET /api/v1/account/export": true, "GET /api/v1/ends.csv": true, "GET /api/v1/readings.csv": true, "GET /api/v1/export.jsonl": true}

// oneLine keeps a pattern that nobody chose from breaking a line.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// lastID is the last part of a path that is a record's id.
func lastID(path string) string {
	parts := strings.Split(path, "/")
	for i := len(parts) - 1; i >= 0; i-- {
		name, _, _ := strings.Cut(parts[i], ".")
		if notebook.ID(name).Check("") == nil {
			return name
		}
	}
	return ""
}

func (a *auditor) note(e notebook.AuditEntry) {
	e.At = a.now().UTC()
	a.mu.Lock()
	defer a.mu.Unlock()
	if len(a.waiting) < mostWaiting {
		a.waiting = append(a.waiting, e)
	}
	if a.timer == nil {
		a.timer = time.AfterFunc(time.Second, a.flush)
	}
}

// flush writes what waits; what could not be written waits on.
func (a *auditor) flush() {
	a.mu.Lock()
	entries := a.waiting
	a.waiting, a.timer = nil, nil
	a.mu.Unlock()
	if len(entries) == 0 {
		return
	}
	ctx, stop := context.WithTimeout(context.Background(), 10*time.Second)
	defer stop()
	if err := a.accounts.Note(ctx, entries...); err != nil {
		a.log.Error("the log of who did what could not be written", "entries", len(entries), "error", err)
		a.mu.Lock()
		a.waiting = append(entries, a.waiting...)
		a.mu.Unlock()
	}
}
