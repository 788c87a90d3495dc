package server_test

import (
	"fmt"
	"testing"
	"time"
)

// looksAt counts what the log has of someone's looks, by route and record.
func (c *clubSite) looksAt(who string) map[string]int {
	c.t.Helper()
	out := map[string]int{}
	for _, row := range c.as["owner"].do("GET", "/api/v1/audit?limit=500", nil).want(200).at("rows").([]any) {
		if e := row.(obj); e["actor"] == c.ids[who] {
			out[fmt.Sprint(e["what"], " ", e["target"])]++
		}
	}
	return out
}

// T13, T27: who saw what of whom stands in the log: one record, a list narrowed
// to another's bow, what goes across bows; once in an hour, and not what is
// one's own, nor what someone may not see.
func TestLogTellsWhoSaw(t *testing.T) {
	var k clock
	c := openClub(t, k.set, proxied)
	ann := c.as["ann"]
	bow, setup, session, reading := id(), id(), id(), id()
	ann.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Heron 70", "style": "recurve"}).want(201)
	ann.do("PUT", "/api/v1/setups/"+setup, obj{"bow": bow, "reason": "new", "settings": settings()}).want(201)
	ann.do("PUT", "/api/v1/sessions/"+session, obj{"bow": bow, "place": "hall"}).want(201)
	ann.do("PUT", "/api/v1/readings/"+reading, obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22.1 cm"}).want(201)
	paths := []string{"/readings?bow=" + bow, "/ends?setup=" + setup, "/readings?limit=5&session=" + session, "/retractions?bow=" + bow, "/readings/" + reading, "/week", "/round", "/readings", "/ends.csv?bow=" + bow}
	look := func(who string, headers ...string) {
		t.Helper()
		for _, path := range paths {
			c.as[who].do("GET", "/api/v1"+path, nil, headers...)
		}
	}
	want := func(who string, looks map[string]int) {
		t.Helper()
		got := c.looksAt(who)
		for what, n := range looks {
			if got["GET /api/v1/"+what] != n {
				t.Errorf("%s: %d times %s in the log, want %d: %v", who, got["GET /api/v1/"+what], what, n, got)
			}
		}
	}
	each := func(n, exports int) map[string]int {
		return map[string]int{"readings " + bow: n, "ends " + setup: n, "readings " + session: n, "retractions " + bow: n, "readings/{id} " + reading: n, "week ": n, "round ": n, "readings ": n, "ends.csv " + bow: exports}
	}
	for range 3 {
		for _, who := range []string{"coach", "ann", "ben"} {
			look(who)
		}
	}
	want("coach", each(1, 3))
	want("ann", map[string]int{"readings " + bow: 0, "ends " + setup: 0, "readings " + session: 0, "readings/{id} " + reading: 1, "week ": 1})
	want("ben", map[string]int{"readings " + bow: 0, "ends " + setup: 0, "readings " + session: 0, "readings/{id} " + reading: 3, "week ": 1}) // three refusals
	look("coach", strange(1)...)
	want("coach", each(2, 4)) // someone who has his session, perhaps
	k.wait(59 * time.Minute)
	look("coach")
	want("coach", each(2, 5))
	c.as["owner"] = c.another("owner")
	k.wait(2 * time.Minute)
	look("coach")
	want("coach", each(3, 6))
}
