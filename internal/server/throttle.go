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
	mostNames                 = 100_000 // that are remembered at a time, some 20 MB
)

// throttle holds a limiter for each name and forgets those that rest. When there
// are as many as are remembered it forgets any: whoever has a hundred thousand
// networks is not held back by what one of them did, and how often an account is
// guessed at is bounded elsewhere.
type throttle struct {
	mu       sync.Mutex
	limiters recent[string, *rate.Limiter]
	failures recent[string, failure]
}

type failure struct {
	n    int
	last time.Time
}

// allow takes one request of a name; wait is how long to stay away if not.
func (t *throttle) allow(name string, perSecond rate.Limit, burst int, now time.Time) (wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	l := t.limiters.of(name, now)
	if l == nil {
		l = rate.NewLimiter(perSecond, burst)
	}
	t.limiters.keep(name, l, mostNames, now)
	r := l.ReserveN(now, 1)
	if wait = r.DelayFrom(now); wait > 0 {
		r.CancelAt(now)
	}
	return wait
}

// failed counts a wrong password of an account from an address.
func (t *throttle) failed(name string, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.failures.keep(name, failure{t.failures.of(name, now).n + 1, now}, mostNames, now)
}

// forgive forgets them after the right one.
func (t *throttle) forgive(name string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.failures.forget(name)
}

// waits is how long a name must still wait after its failures: it doubles with
// each beyond the free ones. It holds for the account from this address only,
// so that nobody can lock another out.
func (t *throttle) waits(name string, now time.Time) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	f := t.failures.of(name, now)
	if f.n < freeFailures {
		return 0
	}
	wait := min(time.Second<<min(f.n-freeFailures, 20), longestWait)
	return f.last.Add(wait).Sub(now)
}

// addressOf is the network address that a request came from: the proxy's last
// word when a proxy on this machine is trusted, else the connection's. Some
// proxies add a line of the header behind those that the client sent.
func addressOf(r *http.Request, proxied bool) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	if said := r.Header.Values("X-Forwarded-For"); proxied && len(said) > 0 {
		if last := lastOf(said[len(said)-1]); net.ParseIP(last) != nil {
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
