package docs

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"
)

// Place is a section that has all the words somebody looked for.
type Place struct {
	Section
	Around string // the first of the words in the text, with what stands around it
	score  int
}

// Search finds the sections that have every word, each as a word or as its
// beginning; a word may stand in the page's title too. Words in headings weigh
// more than words in the text, the manual more than its reasons, those more
// than what is for programs. web/src/help/search.ts finds the same on the
// pages, which a test holds to this.
func Search(query string) []Place {
	var found []Place
	asked := words(query) // "walk-back" asks for both, however they are written
	if len(asked) == 0 {
		return nil
	}
	for _, s := range index() {
		if score := s.score(asked); score > 0 {
			found = append(found, Place{Section: s.Section, Around: around(s.plain, asked), score: score})
		}
	}
	slices.SortStableFunc(found, func(a, b Place) int { return cmp.Compare(b.score, a.score) })
	return found
}

// Nearest is a word of the manual that is written almost like one that it does
// not have; "" where it has the word, or none comes near.
func Nearest(word string) string {
	best, least := "", len([]rune(word))/4+1
	for _, s := range index() {
		for _, has := range slices.Concat(s.heading, s.body) {
			if fits(has, word) {
				return ""
			}
			if d := apart(word, has); d < least {
				best, least = has, d
			}
		}
	}
	return best
}

// indexed is a section with its words.
type indexed struct {
	Section
	plain               string
	page, heading, body []string
}

var index = sync.OnceValue(func() (list []indexed) {
	for _, p := range Pages() {
		for _, s := range p.Sections() {
			plain := plainText(s.Text)
			list = append(list, indexed{Section: s, plain: plain, page: tokens(p.Title), heading: tokens(s.Title), body: tokens(plain)})
		}
	}
	return list
})

// What a word weighs by where it stands.
const (
	inHeading = 20
	inTitle   = 6
	inText    = 1
	mostText  = 4 // more often than that counts no more
)

// weight puts what tells how to do something before what is looked up, that
// before the reasons, those before what is for programs.
func (p Page) weight() int {
	switch {
	case p.Group == toLookUp:
		return 5
	case p.Part == PartManual:
		return 8
	case p.Part == PartWhy:
		return 2
	}
	return 1
}

// score is 0 when a word is missing.
func (s indexed) score(asked []string) (sum int) {
	if len(asked) == len(s.heading) && !slices.ContainsFunc(asked, func(w string) bool { return !slices.Contains(s.heading, w) }) {
		sum = inHeading // the heading is just what was typed
	}
	for _, word := range asked {
		found := inHeading*min(1, count(s.heading, word)) + inTitle*min(1, count(s.page, word)) + inText*min(mostText, count(s.body, word))
		if found == 0 {
			return 0
		}
		sum += found
	}
	return sum * s.Page.weight()
}

func count(words []string, asked string) (n int) {
	for _, w := range words {
		if fits(w, asked) {
			n++
		}
	}
	return n
}

// fits: "bare" finds "bareshaft", and "strings" finds "string".
func fits(word, asked string) bool {
	return strings.HasPrefix(word, asked) || len(asked) > 3 && asked == word+"s"
}

var dashed = regexp.MustCompile(`([\p{L}\p{N}]+)-([\p{L}\p{N}]+)`)

// tokens are the words of a text in small letters; one with a dash counts as
// its parts and, after them, as one word: "walk-back" is found by "walkback".
func tokens(text string) []string {
	all := words(text)
	for _, m := range dashed.FindAllStringSubmatch(strings.ToLower(text), -1) {
		all = append(all, m[1]+m[2])
	}
	return all
}

// words are the runs of letters and numbers of a text, in small letters.
func words(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsNumber(r) })
}

var (
	spaces = regexp.MustCompile(`\s+`)
	bars   = strings.NewReplacer("|", " ", "\n", " ")
	rule   = regexp.MustCompile("(?m)^(```.*|[ ]*\\|?[ :|-]+\\|?[ ]*)$") // fences of code, and under a table's head
	signs  = regexp.MustCompile(`(?m)^[ ]*(#+|>|[-*]|\d+\.)[ ]+`)
)

// plainText is what a reader sees of a section, on one line.
func plainText(markdown string) string {
	text := signs.ReplaceAllString(rule.ReplaceAllString(markdown, ""), "")
	return strings.TrimSpace(spaces.ReplaceAllString(Words(bars.Replace(text)), " "))
}

// reach is how much of the text stands around a word that was found.
const reach = 70

// around cuts the piece of a text where the first word that was asked for
// stands; where only headings have the words, its beginning.
func around(plain string, asked []string) string {
	at := -1
	for _, word := range asked {
		m := regexp.MustCompile(`(?i)(?:^|[^\p{L}\p{N}])` + regexp.QuoteMeta(word)).FindStringIndex(plain)
		if m != nil && (at < 0 || m[0] < at) {
			at = m[0]
		}
	}
	runes := []rune(plain)
	middle := reach
	if at >= 0 {
		middle = len([]rune(plain[:at]))
	}
	from, to := max(0, middle-reach), min(len(runes), middle+reach)
	for from > 0 && from < middle && runes[from-1] != ' ' {
		from++
	}
	for to < len(runes) && runes[to] != ' ' {
		to--
	}
	piece := string(runes[from:max(from, to)])
	if from > 0 {
		piece = "… " + piece
	}
	if to < len(runes) {
		piece += " …"
	}
	return piece
}

// apart counts the letters to change, add or leave out between two words
// (Levenshtein's distance, 1966).
func apart(a, b string) int {
	x, y := []rune(a), []rune(b)
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i, r := range x {
		before := row[0]
		row[0] = i + 1
		for j, q := range y {
			cost := before
			if r != q {
				cost++
			}
			before = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(y)]
}
