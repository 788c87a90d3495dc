package server

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"sync"
	"time"

	"tautline/notebook"
)

// quota bounds the bytes that each person uploads in a day: what was used up
// comes back evenly over a day. It is in memory: a start gives everyone all of
// theirs again, and the disk's reserve holds all the same.
type quota struct {
	mu   sync.Mutex
	used map[notebook.ID]*spent
}

type spent struct {
	bytes float64
	at    time.Time
}

// take uses bytes up, or says how long to wait for so many.
func (q *quota) take(person notebook.ID, bytes, perDay int64, now time.Time) (wait time.Duration) {
	q.mu.Lock()
	defer q.mu.Unlock()
	u := q.used[person]
	if u == nil {
		if q.used == nil {
			q.used = map[notebook.ID]*spent{}
		}
		u = &spent{at: now}
		q.used[person] = u
	}
	rate := float64(perDay) / (24 * time.Hour).Seconds()
	u.bytes = max(0, u.bytes-rate*max(0, now.Sub(u.at).Seconds()))
	u.at = now
	if over := u.bytes + float64(bytes) - float64(perDay); over > 0 {
		return time.Duration(over / rate * float64(time.Second))
	}
	u.bytes += float64(bytes)
	return 0
}

// giveBack returns what an upload used of which nothing was kept.
func (q *quota) giveBack(person notebook.ID, bytes int64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if u := q.used[person]; u != nil {
		u.bytes = max(0, u.bytes-float64(bytes))
	}
}

// rationed is a body that counts for a person.
type rationed struct {
	in     io.Reader
	s      *server
	person notebook.ID
	taken  int64
}

// Read reads what has come, if the person may send so much more today.
func (b *rationed) Read(p []byte) (int, error) {
	n, err := b.in.Read(p)
	if n == 0 {
		return n, err
	}
	if wait := b.s.quota.take(b.person, int64(n), b.s.Limits.PersonPerDay, b.s.Now()); wait > 0 {
		return 0, b.s.spentToday(wait)
	}
	b.taken += int64(n)
	return n, err
}

func (s *server) spentToday(wait time.Duration) *Problem {
	p := newProblem(http.StatusTooManyRequests, codeTooMany,
		fmt.Sprintf("You may upload %d MB of recordings a day here, and this would be more.", s.Limits.PersonPerDay/1_000_000),
		"It waits on your device; send it later, or ask who runs the notebook for more (serve --uploads-per-day).")
	p.after = int(wait.Seconds()) + 1
	return p
}

// mayUpload refuses, before any of it is read, a file from who can write
// nothing, one that is more than a person may send today, and one for which
// the disk has no room.
func (s *server) mayUpload(ctx context.Context, bytes int64) (notebook.ID, error) {
	me, err := s.me(ctx)
	if err != nil {
		return "", err
	}
	if s.club != nil && me.Role == notebook.ViewerRole {
		return "", &notebook.Error{Code: notebook.NotAllowed, Message: "a viewer only looks", Hint: "ask the owner of the notebook to become an archer or coach"}
	}
	if err := s.room(bytes); err != nil {
		return "", err
	}
	if s.club == nil || bytes <= 0 {
		return me.ID, nil
	}
	if wait := s.quota.take(me.ID, bytes, s.Limits.PersonPerDay, s.Now()); wait > 0 {
		return "", s.spentToday(wait)
	}
	s.quota.giveBack(me.ID, bytes) // taken as it arrives
	return me.ID, nil
}

// What of a disk is kept free of recordings, so that readings, which are small,
// can be noted for long after: 500 MB, or a twentieth of a small disk.
const (
	keptFree   = 500_000_000
	keptFreeOf = 20
)

// room refuses a file that would leave less of the disk free than is kept.
func (s *server) room(bytes int64) error {
	if s.Space == nil {
		return nil
	}
	disk := s.Space()
	if kept := min(keptFree, disk.Total/keptFreeOf); disk.Free >= 0 && disk.Free-max(bytes, 0) < kept {
		return &notebook.Error{Code: notebook.DiskFull, Message: fmt.Sprintf("the disk is nearly full: %d MB are kept free for readings, and this recording was not begun", kept/1_000_000),
			Hint: "free some space, then send it again; it waits on your device"}
	}
	return nil
}
