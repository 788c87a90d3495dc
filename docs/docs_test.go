package docs_test

import (
	"io/fs"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tautline/docs"
)

// Every page of the folder is in the contents once, with a title, and by a
// name of its own that is no file's name.
func TestEveryPageIsInTheContents(t *testing.T) {
	names, titles := map[string]bool{}, map[string]bool{}
	pages := docs.Pages()
	for _, p := range pages {
		if names[p.Name] || titles[p.Title] || p.Title == "" || strings.ContainsAny(p.Name, "./ _") || !strings.HasPrefix(p.Text, "# ") {
			t.Errorf("%+v", p.Name)
		}
		names[p.Name], titles[p.Title] = true, true
	}
	found := 0
	err := fs.WalkDir(os.DirFS("."), ".", func(path string, d fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(path, ".md") {
			raw, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			found++
			title, _, _ := strings.Cut(strings.TrimPrefix(string(raw), "# "), "\n")
			if !titles[docs.Words(title)] {
				t.Errorf("%s is not in the contents", path)
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if found < 50 || found > len(pages) {
		t.Errorf("%d files, %d pages", found, len(pages))
	}
}

// Every link of the manual leads to a place of the manual that is there, to an
// address of the program, or to the internet by https. There is no picture.
func TestNoDeadLinks(t *testing.T) {
	places := map[string]bool{"/help#files": true}
	for _, p := range docs.Pages() {
		places["/help/"+p.Name] = true
		for _, s := range p.Sections() {
			places["/help/"+p.Name+"#"+s.Anchor] = true
		}
	}
	links := 0
	for _, p := range docs.Pages() {
		if strings.Contains(p.Text, "![") {
			t.Errorf("%s has a picture: the help shows none", p.Name)
		}
		for _, found := range regexp.MustCompile(`\]\(([^)]*)\)`).FindAllStringSubmatch(p.Text, -1) {
			links++
			to, err := url.Parse(found[1])
			if err != nil || to.Scheme != "https" && !places[found[1]] {
				t.Errorf("%s leads to %q (%v)", p.Name, found[1], err)
			}
		}
	}
	if links < 80 {
		t.Errorf("only %d links were found", links)
	}
}

// What people look for is found first where it is told.
func TestSearch(t *testing.T) {
	for query, want := range map[string]string{
		"Bare shaft":           "plot-and-compare#bare-shaft",
		"bare shaft high":      "at-the-target#a-bare-shaft-lands-high-or-low",
		"walkback":             "plot-and-compare#walk-back",
		"certificate":          "on-the-phone#why-a-certificate",
		"sight marks":          "at-the-target#sight-marks-for-the-days-air",
		"under age":            "club#archers-under-age",
		"lost passwords":       "club#lost-passwords",
		"backup":               "club#backups-and-getting-them-back",
		"photo":                "plot-and-compare#from-a-photo-of-the-face",
		"bare-shaft":           "plot-and-compare#bare-shaft",
		"walk-back":            "plot-and-compare#walk-back",
		"systemd":              "club#under-systemd",
		"outdated":             "errors#outdated-changed-meanwhile",
		"pencil":               "how-to#-work-with-pencil-and-paper",
		"POST sightmarks":      "api#post-apiv1sightmarks",
		"   ":                  "",
		"brace height trial":   "first-evening#a-first-evening-choose-a-brace-height-knowingly",
		"xylophone brace":      "",
		"virtual mass recurve": "why-shot-fidelity#b3-virtual-mass-of-a-recurve",
	} {
		found := docs.Search(query)
		got := ""
		if len(found) > 0 {
			got = found[0].Page.Name + "#" + found[0].Anchor
		}
		if got != want {
			t.Errorf("%q finds %q first of %d, wanted %q", query, got, len(found), want)
		}
	}
	i := slices.IndexFunc(docs.Search("magnifier"), func(p docs.Place) bool { return strings.Contains(p.Around, "magnifier") })
	if i != 0 {
		t.Errorf("the place shows the word with what stands around it: %+v", docs.Search("magnifier")[:1])
	}
}

// Who mistypes a word is told the one that is meant.
func TestNearest(t *testing.T) {
	for word, want := range map[string]string{"certifcate": "certificate", "brase": "brace", "brace": "", "xylophone": "", "strings": ""} {
		if got := docs.Nearest(word); got != want {
			t.Errorf("near %q is %q, wanted %q", word, got, want)
		}
	}
}

// Headings get the addresses that the usual viewers of Markdown give them, and
// what stands in code is none.
func TestSections(t *testing.T) {
	p := docs.Page{Name: "x", Text: "# A `page`\n\nOne.\n\n## Two *things*, so that\n```\n# no heading\n```\n## Same\n### Same\n"}
	var got []string
	for _, s := range p.Sections() {
		got = append(got, s.Anchor)
	}
	if want := []string{"a-page", "two-things-so-that", "same", "same-1"}; !slices.Equal(got, want) {
		t.Errorf("%q, wanted %q", got, want)
	}
}
