package server

import (
	"net"
	"net/http"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// Limits of how fast one may ask (bars.md T15, T22). A club shares one address
// behind its router, so who is logged in counts by person.
const (
	personRate, personBurst   = 20, 200
	addressRate, addressBurst = 10, 100 // of who is not logged in
	loginRate, loginBurst     = 0.5, 60 // logins of one address: a club's evening begins behind one router
	freeFailures              = 10      // wrong passwords before waiting begins
	longestWait               = 15 * time.Minute
	mostFailures              = 100 // of one account from anywhere (NIST SP 800-63B-4, 3.2.2)
	rememberFor               = time.Hour
)

// throttle holds a limiter for each name and forgets those that rest.
type throttle struct {
	mu       sync.Mutex
	limiters map[string]*limiter
	failures map[string]failure
	swept    time.Time
}

type limiter struct {
	*rate.Limiter
	used time.Time
}

type failure struct {
	n    int
	last time.Time
}

// allow takes one request of a name; wait is how long to stay away if not.
func (t *throttle) allow(name string, perSecond rate.Limit, burst int, now time.Time) (wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.sweep(now)
	l := t.limiters[name]
	if l == nil {
		if t.limiters == nil {
			t.limiters = map[string]*limiter{}
		}
		l = &limiter{Limiter: rate.NewLimiter(perSecond, burst)}
		t.limiters[name] = l
	}
	l.used = now
	r := l.ReserveN(now, 1)
	if wait = r.DelayFrom(now); wait > 0 {
		r.CancelAt(now)
	}
	return wait
}

// sweep forgets names that have rested, once a minute.
func (t *throttle) sweep(now time.Time) {
	if now.Sub(t.swept) < time.Minute {
		return
	}
	t.swept = now
	for name, l := range t.limiters {
		if now.Sub(l.used) > rememberFor {
			delete(t.limiters, name)
		}
	}
	for name, f := range t.failures {
		if now.Sub(f.last) > rememberFor {
			delete(t.failures, name)
		}
	}
}

// failed counts a wrong password of an account from an address.
func (t *throttle) failed(name string, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.failures == nil {
		t.failures = map[string]failure{}
	}
	t.failures[name] = failure{t.failures[name].n + 1, now}
}

// forgive forgets them after the right one.
func (t *throttle) forgive(name string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.failures, name)
}

// waits is how long a name must still wait after its failures: it doubles with
// each beyond the free ones. It holds for the account from this address only,
// so that nobody can lock another out.
func (t *throttle) waits(name string, now time.Time) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	f := t.failures[name]
	if f.n < freeFailures {
		return 0
	}
	wait := min(time.Second<<min(f.n-freeFailures, 20), longestWait)
	return f.last.Add(wait).Sub(now)
}

// addressOf is the network address that a request came from: the proxy's last
// word when a proxy on this machine is trusted, else the connection's.
func addressOf(r *http.Request, proxied bool) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	if said := r.Header.Get("X-Forwarded-For"); proxied && said != "" {
		if last := lastOf(said); net.ParseIP(last) != nil {
			return last
		}
	}
	return host
}

func lastOf(list string) string {
	for i := len(list) - 1; i >= 0; i-- {
		if list[i] == ',' || list[i] == ' ' {
			return list[i+1:]
		}
	}
	return list
}
