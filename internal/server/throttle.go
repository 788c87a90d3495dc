package server

import (
	"net"
	"net/http"
	"net/netip"
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
	rememberFor               = time.Hour
	mostNames                 = 100_000 // that are remembered at a time, some 20 MB
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
		makeRoom(t.limiters)
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

// soon is how long a name that was seen would have to stay away now; it takes
// nothing.
func (t *throttle) soon(name string, now time.Time) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	l := t.limiters[name]
	if l == nil {
		return 0
	}
	lacks := 1 - l.TokensAt(now)
	return time.Duration(max(0, lacks) / float64(l.Limit()) * float64(time.Second))
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

// makeRoom forgets any name when there are as many as are remembered: whoever
// has a hundred thousand networks is not held back by what one of them did,
// and how often an account is guessed at is bounded elsewhere.
func makeRoom[V any](names map[string]V) {
	for name := range names {
		if len(names) < mostNames {
			return
		}
		delete(names, name)
	}
}

// failed counts a wrong password of an account from an address.
func (t *throttle) failed(name string, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.failures == nil {
		t.failures = map[string]failure{}
	}
	if _, there := t.failures[name]; !there {
		makeRoom(t.failures)
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

// networkOf is what an address counts for: itself, or of IPv6 the network of
// 64 bits that one household or server is given, since it has as many
// addresses there as it likes.
func networkOf(address string) string {
	ip, err := netip.ParseAddr(address)
	if err != nil {
		return address
	}
	if ip = ip.Unmap().WithZone(""); ip.Is4() {
		return ip.String()
	}
	network, err := ip.Prefix(64)
	if err != nil {
		return address
	}
	return network.String()
}

func lastOf(list string) string {
	for i := len(list) - 1; i >= 0; i-- {
		if list[i] == ',' || list[i] == ' ' {
			return list[i+1:]
		}
	}
	return list
}
