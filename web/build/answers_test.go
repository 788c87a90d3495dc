package main

import (
	"encoding/json"
	"testing"
)

// What becomes of a record by the answer to it: only what the notebook itself
// refuses as it stands is put aside and waits for a hand; all else is sent
// again by itself (bars.md, U9: 0 lost, "n not yet sent" always in view).
func TestWhatAnAnswerMeans(t *testing.T) {
	const ours, html = "application/problem+json", "text/html; charset=utf-8"
	cases := []struct {
		why          string
		status       int
		kind, code   string
		final, later bool // put aside; a page may ask again by itself
	}{
		{"no answer", 0, "", "", false, true},
		{"a field that cannot stand", 422, ours, "invalid", true, false},
		{"a quantity that cannot be read", 422, ours, "unreadable", true, false},
		{"other content under the id", 409, ours, "different", true, false},
		{"changed meanwhile", 412, ours, "outdated", true, false},
		{"too large", 413, ours, "too-large", true, false},
		{"a request that cannot be read", 400, ours, "invalid", true, false},
		{"no version said", 428, ours, "version-missing", true, false},
		{"another's bow", 403, ours, "not-allowed", true, false},
		{"a trial that is not there", 404, ours, "not-found", true, false},
		{"a body that did not arrive", 400, ours, "not-received", false, false},
		{"a broken upload", 408, ours, "not-received", false, false},
		{"not logged in", 401, ours, "not-logged-in", false, true},
		{"a second factor to set up", 403, ours, "second-factor", false, false},
		{"a page of another site", 403, ours, "foreign-origin", false, false},
		{"a name the program does not know", 421, ours, "unknown-host", false, false},
		{"too fast", 429, ours, "too-many", false, true},
		{"the program failed", 500, ours, "internal", false, false},
		{"not offered", 501, ours, "not-offered", false, false},
		{"starting", 503, ours, "starting", false, true},
		{"nothing more is written", 503, ours, "read-only", false, true},
		{"a full disk", 507, ours, "disk-full", false, true},
		{"a proxy whose server is away", 502, html, "", false, true},
		{"a proxy that knows no such page", 404, html, "", false, true},
		{"a proxy that forbids", 403, html, "", false, true},
		{"a proxy with a small limit", 413, html, "", false, true},
		{"a proxy that gave up", 408, html, "", false, true},
		{"a portal that wants a login", 511, html, "", false, true},
		{"a portal's page", 200, html, "", false, true},
		{"a portal without a word", 404, "", "", false, true},
		{"a gateway that speaks JSON", 404, "application/json", "", false, true},
	}
	asked := make([][3]any, len(cases))
	for i, c := range cases {
		asked[i] = [3]any{c.status, c.kind, c.code}
	}
	text, err := json.Marshal(asked)
	if err != nil {
		t.Fatal(err)
	}
	var said []struct{ Final, Later bool }
	inNode(t, "lib/answerscheck.ts", nil, &said, string(text))
	if len(said) != len(cases) {
		t.Fatalf("%d answers for %d cases", len(said), len(cases))
	}
	for i, c := range cases {
		if said[i].Final != c.final || said[i].Later != c.later {
			t.Errorf("%s (%d %s %s): put aside %t, asked again by itself %t; wanted %t, %t", c.why, c.status, c.kind, c.code, said[i].Final, said[i].Later, c.final, c.later)
		}
	}
}
