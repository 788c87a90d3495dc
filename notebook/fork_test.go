package notebook_test

import (
	"slices"
	"testing"

	"tautline/notebook"
)

// line builds set-ups from "id parent settles…" in the order of their receipt.
func line(rows ...[]notebook.ID) (out []notebook.SetUp) {
	for _, r := range rows {
		s := notebook.SetUp{}
		s.ID, s.Parent = r[0], r[1]
		s.Settles = r[2:]
		out = append(out, s)
	}
	return out
}

type ids = []notebook.ID

func TestForks(t *testing.T) {
	for name, c := range map[string]struct {
		setups []notebook.SetUp
		hidden map[notebook.ID]bool
		heads  ids
		base   notebook.ID
	}{
		"one":                                  {line(ids{"a", ""}), nil, ids{"a"}, ""},
		"a line":                               {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "b"}), nil, ids{"c"}, ""},
		"two sides":                            {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "a"}), nil, ids{"b", "c"}, "a"},
		"a side went on":                       {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "a"}, ids{"d", "b"}), nil, ids{"c", "d"}, "a"},
		"settled":                              {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "a"}, ids{"d", "c", "b"}), nil, ids{"d"}, ""},
		"a late one after it was settled":      {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "a"}, ids{"d", "c", "b"}, ids{"e", "b"}), nil, ids{"d", "e"}, "b"},
		"two first ones":                       {line(ids{"a", ""}, ids{"b", ""}), nil, ids{"a", "b"}, ""},
		"three sides":                          {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "a"}, ids{"d", "a"}), nil, ids{"b", "c", "d"}, "a"},
		"a side taken out of sight":            {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "a"}), map[notebook.ID]bool{"b": true}, ids{"c"}, ""},
		"the latest taken out of sight":        {line(ids{"a", ""}, ids{"b", "a"}), map[notebook.ID]bool{"b": true}, ids{"a"}, ""},
		"a link taken out of sight":            {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "b"}), map[notebook.ID]bool{"b": true}, ids{"c"}, ""},
		"what settled it taken out of sight":   {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "a"}, ids{"d", "c", "b"}), map[notebook.ID]bool{"d": true}, ids{"b", "c"}, "a"},
		"sides met before, then went apart":    {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "a"}, ids{"d", "c", "b"}, ids{"e", "d"}, ids{"f", "d"}), nil, ids{"e", "f"}, "d"},
		"both settled it, each their own way":  {line(ids{"a", ""}, ids{"b", "a"}, ids{"c", "a"}, ids{"d", "c", "b"}, ids{"e", "b", "c"}), nil, ids{"d", "e"}, "c"},
		"a parent that is not in the notebook": {line(ids{"b", "gone"}, ids{"c", "b"}), nil, ids{"c"}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			var heads ids
			for _, h := range notebook.Heads(c.setups, c.hidden) {
				heads = append(heads, h.ID)
			}
			if !slices.Equal(heads, c.heads) {
				t.Fatalf("open are %v, want %v", heads, c.heads)
			}
			fork, ok := notebook.FindFork(c.setups, c.hidden)
			if ok != (len(c.heads) > 1) || fork.Base != c.base {
				t.Errorf("fork %v from %q, want from %q", ok, fork.Base, c.base)
			}
		})
	}
}

// edits are changes of one entry each, two values apiece, so that every pair of
// them can be made on two devices at once (bars.md U10: property over all pairs
// of edits, false conflicts counted).
var edits = [][2]string{
	{"brace_height", "21.5 cm / 22.5 cm"}, {"nocking_point", "9 mm / 11 mm"}, {"tiller", "2 mm / 4 mm"}, {"centre_shot", "1 mm / 3 mm"},
	{"button.turns", "3 / 5"}, {"string.strands", "16 / 20"}, {"string.twists", "20 / 25"}, {"arrow.mass", "320 gr / 345 gr"},
	{"arrow.spine", "550 / 650"}, {"draw.weight", "37 lbf / 39 lbf"}, {"nock_fit", "firm / loose"}, {"string_walking", "true / "}, {"notes", "one / two"},
}

func split(e [2]string) (key string, values [2]string) {
	for i := range e[1] {
		if i+2 < len(e[1]) && e[1][i:i+3] == " / " {
			return e[0], [2]string{e[1][:i], e[1][i+3:]}
		}
	}
	return e[0], [2]string{e[1], e[1]}
}

func change(t *testing.T, of notebook.Settings, key, text string) notebook.Settings {
	t.Helper()
	out, err := of.With(key, text)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Changes of different entries merge whichever came last, the same change made
// twice is no clash, and different values of one entry are one.
func TestMergeOverAllPairs(t *testing.T) {
	base, err := notebook.ReadSettings([]byte(`{"draw":{"length":"28.5 in","weight":"38 lbf"},"brace_height":{"value":"22 cm"},"nocking_point":{"value":"10 mm"},"arrow":{"mass":"330 gr"}}`))
	if err != nil {
		t.Fatal(err)
	}
	pairs := 0
	for i, a := range edits {
		for j, b := range edits {
			for values := range 4 {
				keyA, va := split(a)
				keyB, vb := split(b)
				one, two := change(t, base, keyA, va[values&1]), change(t, base, keyB, vb[values>>1])
				got, clashes, err := notebook.Merge(base, []notebook.Settings{one, two})
				if err != nil {
					t.Fatal(err)
				}
				changedA, _ := notebook.Diff(base, one)
				changedB, _ := notebook.Diff(base, two)
				wantClash := i == j && values&1 != values>>1 && len(changedA) > 0 && len(changedB) > 0
				if (len(clashes) > 0) != wantClash {
					t.Errorf("%s %q and %s %q: clashes %v", keyA, va[values&1], keyB, vb[values>>1], clashes)
				}
				want := two
				if i != j {
					want = change(t, two, keyA, va[values&1])
				} else if len(changedB) == 0 {
					want = one
				}
				if rest, _ := notebook.Diff(want, got); len(rest) > 0 {
					t.Errorf("%s %q and %s %q: merged differs: %v", keyA, va[values&1], keyB, vb[values>>1], rest)
				}
				pairs++
			}
		}
	}
	if pairs < 600 {
		t.Errorf("only %d pairs", pairs)
	}
}
