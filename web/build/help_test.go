package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tautline/docs"
)

// helpSaid is what web/src/help/helpcheck.ts reads out of the manual.
type helpSaid struct {
	Anchors, Kinds, Near []string
	Found                []struct {
		Count  int
		First  string
		Around []string
	}
	About [][2]any
}

var (
	helpQueries = []string{"bare shaft", "walkback", "Nocking point", "certificate", "sight marks", "under age", "backups", "photo", "disk full", "outdated", "pencil card", "xylophone", "magnifier opens", "virtual mass", "POST sightmarks", "systemd"}
	helpWords   = []string{"certifcate", "brase", "brace", "xylophone", "strings"}
)

// The pages and the terminal cut the manual at the same places, and find the
// same in it.
func TestHelpIsTheTerminalsManual(t *testing.T) {
	asked, err := json.Marshal(map[string][]string{"queries": helpQueries, "words": helpWords})
	if err != nil {
		t.Fatal(err)
	}
	var said helpSaid
	inNode(t, "help/helpcheck.ts", nil, &said, string(asked))
	var anchors []string
	for _, p := range docs.Pages() {
		for _, s := range p.Sections() {
			anchors = append(anchors, p.Name+"#"+s.Anchor)
		}
	}
	for i := range min(len(anchors), len(said.Anchors)) {
		if anchors[i] != said.Anchors[i] {
			t.Fatalf("heading %d is %q in the terminal and %q on the pages", i, anchors[i], said.Anchors[i])
		}
	}
	if len(anchors) != len(said.Anchors) || len(anchors) < 300 {
		t.Errorf("%d headings in the terminal, %d on the pages", len(anchors), len(said.Anchors))
	}
	for i, q := range helpQueries {
		sameFound(t, q, docs.Search(q), said.Found[i].Count, said.Found[i].First)
	}
	for i, w := range helpWords {
		if want := docs.Nearest(w); said.Near[i] != want {
			t.Errorf("near %q is %q on the pages, %q in the terminal", w, said.Near[i], want)
		}
	}
	if a := said.Found[12].Around; len(a) != 3 || a[1] != "magnifier" {
		t.Errorf("the place of %q is shown as %q", helpQueries[12], a)
	}
	helpDraws(t, said.Kinds)
	helpKnowsThePages(t, said)
}

// sameFound allows a place more or less in a hundred: a word that one of them
// reads out of a table's corner and the other does not.
func sameFound(t *testing.T, query string, terminal []docs.Place, count int, first string) {
	t.Helper()
	want := ""
	if len(terminal) > 0 {
		want = terminal[0].Page.Name + "#" + terminal[0].Anchor
	}
	if first != want || max(count-len(terminal), len(terminal)-count) > 1+count/50 {
		t.Errorf("%q: the pages find %d places and %q first, the terminal %d and %q", query, count, first, len(terminal), want)
	}
}

// helpDraws: a page of the manual holds only what web/src/help/render.tsx
// draws; HTML and pictures would stand there as nothing.
func helpDraws(t *testing.T, kinds []string) {
	t.Helper()
	drawn := []string{"heading", "paragraph", "text", "space", "list", "list_item", "table", "code", "codespan", "strong", "em", "link", "escape", "blockquote", "hr", "br"}
	for _, k := range kinds {
		if !slices.Contains(drawn, k) {
			t.Errorf("the manual holds a piece of kind %q, which the pages do not draw", k)
		}
	}
	if len(kinds) < 8 {
		t.Errorf("only %q were found", kinds)
	}
}

// helpKnowsThePages: every page of the program has its places in the manual,
// and every place that a page names is there.
func helpKnowsThePages(t *testing.T, said helpSaid) {
	t.Helper()
	known := map[string]bool{}
	for _, a := range said.Anchors {
		page, _, _ := strings.Cut(a, "#")
		known[a], known[page] = true, true
	}
	told := map[any]bool{}
	for _, entry := range said.About {
		told[entry[0]] = true
		for _, place := range entry[1].([]any) {
			if !known[place.(string)] {
				t.Errorf("of %s the help names %s, which the manual does not have", entry[0], place)
			}
		}
	}
	table, err := os.ReadFile("../src/main.tsx")
	if err != nil {
		t.Fatal(err)
	}
	for _, found := range regexp.MustCompile(`(?m)^  \["(/[^"]*)", \(`).FindAllSubmatch(table, -1) {
		if p := string(found[1]); !told[p] && !strings.HasPrefix(p, "/help") {
			t.Errorf("web/src/help/about.ts says nothing of %s", p)
		}
	}
	lines := 0
	for path, text := range pageSources(t) {
		for _, found := range regexp.MustCompile(`HelpLine to=(?:"([^"]+)"|\{`+"`"+`([^#]+)#\$\{told)`).FindAllStringSubmatch(text, -1) {
			lines++
			if place := found[1] + found[2]; !known[place] {
				t.Errorf("%s leads to %s, which the manual does not have", path, place)
			}
		}
		for _, found := range regexp.MustCompile(`const told: .*\{ (.*) \};`).FindAllStringSubmatch(text, -1) {
			for _, anchor := range regexp.MustCompile(`: "([^"]+)"`).FindAllStringSubmatch(found[1], -1) {
				if !known["plot-and-compare#"+anchor[1]] {
					t.Errorf("%s leads to %s, which the manual does not have", path, anchor[1])
				}
			}
		}
	}
	if lines < 6 {
		t.Errorf("only %d lines of help were found", lines)
	}
}

func pageSources(t *testing.T) map[string]string {
	t.Helper()
	found := map[string]string{}
	paths, err := filepath.Glob("../src/*/*.tsx")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		found[path] = string(text)
	}
	return found
}
