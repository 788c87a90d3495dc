package cli

import (
	"fmt"
	"io"
	"regexp"
	"strings"

	"tautline/docs"
)

// manualCmd shows the manual that the pages show under /help.
type manualCmd struct {
	Words []string `arg:"" optional:"" help:"A page's name, a place like club#sizing, or words to look for."`
	JSON  bool     `name:"json" help:"Print the result for a program."`
}

// Help shows examples.
func (manualCmd) Help() string {
	return `Example:
  tautline manual
  tautline manual tutorial
  tautline manual club#when-something-is-wrong
  tautline manual nocking point
  tautline manual file-heron-70 > heron-70.json

Without a word: what to read in which order, and every page. The same stands in
the browser under /help.`
}

// Run shows a page or a place, or lists the places that have the words.
func (c manualCmd) Run(t *terminal) error {
	if len(c.Words) == 0 {
		return c.contents(t)
	}
	if len(c.Words) == 1 {
		name, place, _ := strings.Cut(c.Words[0], "#")
		if p, ok := docs.Find(name); ok {
			return c.page(t, p, place)
		}
	}
	return c.search(t, strings.Join(c.Words, " "))
}

func (c manualCmd) contents(t *terminal) error {
	if c.JSON {
		return t.printJSON(map[string]any{"pages": docs.Pages()})
	}
	start, _ := docs.Find(docs.Start)
	var b strings.Builder
	b.WriteString(readable(start.Text))
	group := ""
	for _, p := range docs.Pages() {
		if p.Group != group {
			group = p.Group
			b.WriteString("\n## " + group + "\n")
		}
		fmt.Fprintf(&b, "  %-46s %s\n", p.Name, p.Title)
	}
	_, err := io.WriteString(t.out, b.String())
	return err
}

// page prints a page, or the part of it under one heading with what stands
// below that. A file is printed as it is, so that it can be kept.
func (c manualCmd) page(t *terminal, p docs.Page, place string) error {
	text := readable(p.Text)
	if body, ok := p.File(); ok {
		text = body
	}
	if place != "" {
		var found bool
		if text, found = under(p, place); !found {
			return fmt.Errorf("the page %s has no place %q; it has: %s", p.Name, place, strings.Join(places(p), ", "))
		}
	}
	if c.JSON {
		return t.printJSON(map[string]any{"name": p.Name, "title": p.Title, "text": text})
	}
	_, err := io.WriteString(t.out, text)
	return err
}

func under(p docs.Page, place string) (text string, found bool) {
	level := 0
	for _, s := range p.Sections() {
		if found && s.Level <= level {
			break
		}
		if s.Anchor == place {
			found, level = true, s.Level
		}
		if found {
			text += strings.Repeat("#", s.Level) + " " + s.Title + "\n" + readable(s.Text)
		}
	}
	return text, found
}

func places(p docs.Page) (list []string) {
	for _, s := range p.Sections() {
		list = append(list, s.Anchor)
	}
	return list
}

// mostPlaces are listed; more say only how many there are.
const mostPlaces = 12

func (c manualCmd) search(t *terminal, query string) error {
	found := docs.Search(query)
	if c.JSON {
		return t.printJSON(map[string]any{"places": listed(found)})
	}
	if len(found) == 0 {
		return nothing(query)
	}
	for _, p := range listed(found[:min(len(found), mostPlaces)]) {
		if _, err := fmt.Fprintf(t.out, "%s\n  %s\n  %s\n\n", p.Title, p.Around, "tautline manual "+p.At); err != nil {
			return err
		}
	}
	if more := len(found) - mostPlaces; more > 0 {
		t.warnf("%d places more; another word narrows it down.", more)
	}
	return nil
}

// manualPlace is a place that was found, for a program too.
type manualPlace struct {
	At     string `json:"at"` // page#anchor
	Title  string `json:"title"`
	Page   string `json:"page"`
	Around string `json:"around"`
}

func listed(found []docs.Place) []manualPlace {
	list := []manualPlace{}
	for _, p := range found {
		list = append(list, manualPlace{p.Page.Name + "#" + p.Anchor, p.Title, p.Page.Title, p.Around})
	}
	return list
}

// nothing says what to try: the word that may be meant, or one word alone.
func nothing(query string) error {
	var try []string
	for _, word := range strings.Fields(query) {
		if near := docs.Nearest(strings.ToLower(word)); near != "" {
			word = near
		}
		if len(docs.Search(word)) > 0 {
			try = append(try, word)
		}
	}
	if len(try) == 0 {
		return fmt.Errorf("the manual has nothing of %q; try a shorter word, or tautline manual for its pages", query)
	}
	return fmt.Errorf("the manual has nothing of %q; try %s", query, strings.Join(try, ", or "))
}

var helpLink = regexp.MustCompile(`\[([^\]]+)\]\(/help/([^)]+)\)`)

// readable writes the links of a page as the words that show what they lead to.
func readable(text string) string {
	return helpLink.ReplaceAllString(text, "$1 [$2]")
}
