package main

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
)

// What may cost a person what they note is said beforehand, the most pressing
// first: no storage as in some private windows, a full device, little room, a
// small offer as private windows make it, a browser that clears pages after a
// week, one that promises nothing (bars.md, U9). A browser that keeps well is
// told nothing of.
func TestDangersSaidBeforehand(t *testing.T) {
	yes, no := true, false
	mb := func(n float64) *float64 { n *= 1e6; return &n }
	type state struct {
		Promised  *bool    `json:"promised,omitempty"`
		Free      *float64 `json:"free,omitempty"`
		Installed bool     `json:"installed"`
		Evicts    bool     `json:"evicts"`
		Trouble   string   `json:"trouble"`
	}
	cases := []struct {
		what string
		of   state
		want []string // a piece of each sentence, in order
	}{
		{"a promise and room", state{Promised: &yes, Free: mb(5000)}, nil},
		{"a browser that tells nothing", state{}, nil},
		{"no promise", state{Promised: &no, Free: mb(5000)}, []string{"may clear what it keeps"}},
		{"a private window without storage", state{Trouble: "none"}, []string{"keeps nothing for pages"}},
		{"a full device", state{Promised: &yes, Free: mb(0), Trouble: "full"}, []string{"no room left", "Only 0 MB of room is left"}},
		{"just under 30 MB", state{Promised: &yes, Free: mb(29.9)}, []string{"Only 30 MB of room is left"}},
		{"30 MB", state{Promised: &yes, Free: mb(30)}, []string{"this may be a private window"}},
		{"the offer of a private window", state{Promised: &yes, Free: mb(280)}, []string{"280 MB of room is offered"}},
		{"400 MB", state{Promised: &yes, Free: mb(400)}, nil},
		{"a phone that evicts", state{Promised: &no, Free: mb(5000), Evicts: true}, []string{"seven days"}},
		{"the same on the home screen", state{Promised: &yes, Free: mb(5000), Evicts: true, Installed: true}, nil},
		{"on the home screen without a promise", state{Promised: &no, Free: mb(5000), Evicts: true, Installed: true}, []string{"may clear what it keeps"}},
		{"everything at once", state{Promised: &no, Free: mb(10), Evicts: true, Trouble: "full"}, []string{"no room left", "10 MB", "seven days"}},
	}
	asked := make([]state, len(cases))
	for i, c := range cases {
		asked[i] = c.of
	}
	text, err := json.Marshal(asked)
	if err != nil {
		t.Fatal(err)
	}
	var said struct {
		Said  [][]string
		Sizes []string
		Told  []*float64
	}
	inNode(t, "lib/dangerscheck.ts", nil, &said, string(text))
	for i, c := range cases {
		got := said.Said[i]
		fits := len(got) == len(c.want)
		for k := 0; fits && k < len(got); k++ {
			fits = strings.Contains(got[k], c.want[k])
		}
		if !fits {
			t.Errorf("%s: said %q, wanted %q", c.what, got, c.want)
		}
	}
	for i, want := range []*float64{nil, nil, nil, mb(4000), mb(-10), mb(0)} {
		if got := said.Told[i]; (got == nil) != (want == nil) || got != nil && *got != *want {
			t.Errorf("room %d is taken for %v, wanted %v", i, got, want)
		}
	}
	if want := []string{"0 MB", "29 MB", "999 MB", "1 GB", "12.3 GB"}; !slices.Equal(said.Sizes, want) {
		t.Errorf("sizes are written %q, wanted %q", said.Sizes, want)
	}
}
