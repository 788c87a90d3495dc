package server

import (
	"fmt"
	"net/http/httptest"
	"testing"
	"time"
)

// A household or server has a whole IPv6 network of 64 bits, and counts once.
func TestNetworksCountOnce(t *testing.T) {
	for address, want := range map[string]string{
		"192.0.2.7":                 "192.0.2.7",
		"::ffff:192.0.2.7":          "192.0.2.7",
		"2001:db8:1:2::7":           "2001:db8:1:2::/64",
		"2001:db8:1:2:ffff:1:2:3":   "2001:db8:1:2::/64",
		"2001:DB8:1:2:0:0:0:9":      "2001:db8:1:2::/64",
		"2001:db8:1:3::7":           "2001:db8:1:3::/64",
		"fe80::1%eth0":              "fe80::/64",
		"a name that is no address": "a name that is no address",
		"::1":                       "::/64",
	} {
		if got := networkOf(address); got != want {
			t.Errorf("%s counts for %s, want %s", address, got, want)
		}
	}
}

// However many networks ask, so many are remembered; the pace of the rest
// holds.
func TestThrottleIsBounded(t *testing.T) {
	var th throttle
	now := time.Unix(1_800_000_000, 0)
	for i := range mostNames + 1000 {
		name := fmt.Sprint(i)
		th.allow(name, 1, 1, now)
		th.failed(name, now)
	}
	if len(th.limiters.values) > mostNames || len(th.failures.values) > mostNames {
		t.Errorf("%d limiters, %d failures are remembered", len(th.limiters.values), len(th.failures.values))
	}
	last := fmt.Sprint(mostNames + 999)
	if th.allow(last, 1, 1, now) == 0 {
		t.Error("the last name may ask again at once")
	}
	for range freeFailures + 5 {
		th.failed(last, now)
	}
	later := now.Add(rememberFor)
	if th.waits(last, now) <= 0 || th.waits(last, later) > 0 {
		t.Errorf("after %d failures the wait is %v, an hour later %v", freeFailures+5, th.waits(last, now), th.waits(last, later))
	}
	if th.failed(last, later); th.waits(last, later) > 0 {
		t.Error("one failure after an hour's rest counts with those before")
	}
	th.allow("after", 1, 1, now.Add(2*rememberFor))
	th.failed("after", now.Add(2*rememberFor))
	if len(th.limiters.values) != 1 || len(th.failures.values) != 1 {
		t.Errorf("after a rest %d limiters and %d failures are left", len(th.limiters.values), len(th.failures.values))
	}
}

// However many look at however much, so many looks are remembered, for an hour.
func TestLooksAreBounded(t *testing.T) {
	var l looks
	now := time.Unix(1_800_000_000, 0)
	for i := range mostLooks + 1000 {
		l.note(look{target: fmt.Sprint(i)}, now)
	}
	last := look{target: fmt.Sprint(mostLooks + 999)}
	if len(l.noted.values) > mostLooks || !l.lately(last, now.Add(rememberFor-1)) || l.lately(last, now.Add(rememberFor)) {
		t.Errorf("%d looks are remembered; the last is forgotten, or kept too long", len(l.noted.values))
	}
	l.note(look{target: "after"}, now.Add(2*rememberFor))
	if len(l.noted.values) != 1 {
		t.Errorf("after a rest %d looks are remembered", len(l.noted.values))
	}
}

// However many come in, so many are remembered, until they have rested, and
// nobody who did not.
func TestHurryIsBounded(t *testing.T) {
	var h hurry
	now := time.Unix(1_800_000_000, 0)
	for i := range mostNames + 1000 {
		h.passed(fmt.Sprint(i), "ann", now)
	}
	if len(h.known.values) > mostNames {
		t.Errorf("%d are remembered", len(h.known.values))
	}
	if last := fmt.Sprint(mostNames + 999); h.whose(last, now) != "ann" || h.whose("nobody", now) != "" {
		t.Errorf("%s is %q's, and nobody's is %q's", last, h.whose(last, now), h.whose("nobody", now))
	}
	if h.passed(fmt.Sprint(mostNames+999), "ann", now); len(h.known.values) != mostNames {
		t.Errorf("of %d who came again %d are remembered", mostNames, len(h.known.values))
	}
	h.passed("after", "ann", now.Add(rememberFor+time.Second))
	if len(h.known.values) != 1 {
		t.Errorf("after a rest %d are remembered", len(h.known.values))
	}
}

// A proxy's own word is the last of the last line, whatever lines its client sent.
func TestAddressIsTheProxysWord(t *testing.T) {
	for _, c := range []struct {
		lines []string
		want  string
	}{
		{nil, "192.0.2.1"}, {[]string{"203.0.113.9, 198.51.100.7"}, "198.51.100.7"}, {[]string{"203.0.113.9", "198.51.100.7"}, "198.51.100.7"}, {[]string{"203.0.113.9", "unknown"}, "192.0.2.1"},
	} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Header["X-Forwarded-For"] = c.lines
		if got := addressOf(r, true); got != c.want {
			t.Errorf("%q: %s, not %s", c.lines, got, c.want)
		}
		if got := addressOf(r, false); got != "192.0.2.1" {
			t.Errorf("%q is believed without a proxy: %s", c.lines, got)
		}
	}
}
