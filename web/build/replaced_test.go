package main

import (
	"encoding/json"
	"testing"
)

// Of ends that were put right more than once the pages show the one that the
// notebook counts (notebook.TestARecordStandsOnce has the same rows).
func TestPagesKnowWhichEndStands(t *testing.T) {
	type row struct {
		Held  string `json:"held"`
		Taken string `json:"taken"`
		stand string
	}
	rows := []row{
		{"a b", "", "a b"}, {"a b>a", "", "b"}, {"a b>a c>b", "", "c"}, {"a b>a c>a", "", "c"}, {"a z>a c>a", "", "c"}, {"a b>a c>a d>b", "", "d"}, {"a b>a d>b c>a", "", "c"},
		{"a b>a c>b", "b", "c"}, {"a b>a c>b d>c", "b c", "d"}, {"a b>a c>a", "c", "b"}, {"a b>a c>a", "b c", "a"}, {"a b>a", "a", "b"}, {"b>gone c>gone", "", "c"}, {"a b>a x y>x", "", "b y"},
	}
	asked, err := json.Marshal(rows)
	if err != nil {
		t.Fatal(err)
	}
	var stand []string
	inNode(t, "group/replacedcheck.ts", nil, &stand, string(asked))
	for i, r := range rows {
		if i >= len(stand) || stand[i] != r.stand {
			t.Errorf("of %q without %q stand %q, want %q", r.Held, r.Taken, stand, r.stand)
		}
	}
}
