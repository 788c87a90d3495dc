package server_test

import (
	"net/http"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/notebook"
)

// stuckClub is a club's storage whose sessions cannot be read.
type stuckClub struct {
	*store.Store
	stuck *stuck
}

func (b stuckClub) Sessions() notebook.Records[notebook.Session] {
	return stuckSessions{b.Store.Sessions(), b.stuck}
}

// T22: who is too fast, and asks again at once, is refused without waiting for a
// seat, by session or by token; so is another session of the same person that
// came in before, the first time too; one that never did waits like anyone; when
// they may ask again they are served.
func TestWhoIsTooFastIsToldAtOnce(t *testing.T) {
	book, began, ahead := &stuck{hold: make(chan struct{})}, time.Now(), atomic.Int64{}
	c := openClub(t, proxied, func(c *server.Config) {
		c.Now = func() time.Time { return began.Add(time.Duration(ahead.Load())) }
		c.Cores = 1
		c.Notebook = stuckClub{c.Notebook.(*store.Store), book}
	})
	release := sync.OnceFunc(func() { close(book.hold) })
	defer release() // also when it fails
	viewer, again, seen := c.as["viewer"], c.another("viewer"), c.another("viewer")
	seen.do("GET", "/api/v1/me", nil).want(200)
	program := *c.site
	program.token, _ = c.as["ben"].do("PUT", "/api/v1/tokens/"+id(), obj{"name": "sheet", "may": "read", "days": 9}).want(200).at("secret").(string)
	for _, who := range []*site{viewer, &program} {
		for range 220 {
			if who.do("GET", "/api/v1/me", nil).status == http.StatusTooManyRequests {
				break
			}
		}
	}
	var group sync.WaitGroup
	for range 8 { // all seats of those who read
		group.Go(func() { c.as["coach"].do("GET", "/api/v1/sessions", nil).want(200) })
	}
	waitFor(t, func() bool { return book.holding.Load() == 8 })
	for _, who := range []*site{viewer, &program, seen} {
		if r := who.do("GET", "/api/v1/me", nil).want(429); r.header.Get("Retry-After") != "1" {
			t.Errorf("to come again after %q", r.header.Get("Retry-After"))
		}
	}
	again.do("GET", "/api/v1/me", nil).want(503) // waits for a seat like anyone
	ahead.Add(int64(49 * time.Millisecond))      // they may ask twenty times a second
	viewer.do("GET", "/api/v1/me", nil).want(429)
	ahead.Add(int64(time.Millisecond))
	viewer.do("GET", "/api/v1/me", nil).want(503) // no longer: there is no seat
	viewer.do("GET", "/api/v1/me", nil).want(429) // and that one was counted although it got none
	release()
	group.Wait()
	ahead.Add(int64(time.Second))
	for _, who := range []*site{viewer, &program, again} {
		who.do("GET", "/api/v1/me", nil).want(200)
	}
}
