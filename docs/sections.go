package docs

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
)

// Section is what stands under one heading of a page, up to the next heading.
type Section struct {
	Page   Page
	Title  string
	Anchor string // its address is /help/PAGE#ANCHOR
	Level  int    // 1 is the page's own title
	Text   string // Markdown, without the heading
}

// Sections are a page's parts, in their order. What stands between fences of
// code is no heading.
func (p Page) Sections() (list []Section) {
	code, seen := false, map[string]int{}
	for line := range strings.Lines(p.Text) {
		if strings.HasPrefix(strings.TrimSpace(line), "```") {
			code = !code
		}
		title := strings.TrimLeft(line, "#")
		level := len(line) - len(title)
		if code || level == 0 || level > 6 || !strings.HasPrefix(title, " ") {
			if len(list) > 0 {
				list[len(list)-1].Text += line
			}
			continue
		}
		words := Words(title)
		list = append(list, Section{Page: p, Title: words, Anchor: anchor(words, seen), Level: level})
	}
	return list
}

var (
	linkWords = regexp.MustCompile(`\[([^\]]*)\]\([^)]*\)`)
	marks     = strings.NewReplacer("**", "", "`", "")
	emphasis  = regexp.MustCompile(`\*([^*\n]+)\*`)
)

// Words are what a reader sees of a line of Markdown.
func Words(line string) string {
	line = linkWords.ReplaceAllString(line, "$1")
	return strings.TrimSpace(emphasis.ReplaceAllString(marks.Replace(line), "$1"))
}

// anchor makes the address of a heading as the usual viewers of Markdown do,
// so that a link works there too: small letters, no punctuation, dashes for
// spaces; a second heading of the same words gets a number.
func anchor(title string, seen map[string]int) string {
	made := strings.Map(func(r rune) rune {
		switch {
		case unicode.IsLetter(r) || unicode.IsNumber(r) || r == '-' || r == '_':
			return unicode.ToLower(r)
		case r == ' ':
			return '-'
		}
		return -1
	}, title)
	n := seen[made]
	seen[made]++
	if n > 0 {
		return fmt.Sprintf("%s-%d", made, n)
	}
	return made
}
