package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"regexp"
	"strings"
	"time"
	"unicode/utf8"

	"tautline/notebook"
)

// naming knows the names that a person bore.
type naming struct {
	person notebook.ID
	// everywhere are looked for in all that stays; own only in what the person
	// wrote, since one word may mean something else in another's note.
	everywhere, own []string
	inAll, inOwn    *regexp.Regexp // the same as patterns, nil for none
}

// settledName is how long a name must have stood to be looked for in others'
// texts, so that nobody changes those by taking a name on before leaving.
const settledName = 7 * 24 * time.Hour

// namesOf collects the names of a person, the login included.
func (s *Store) namesOf(ctx context.Context, tx *sql.Tx, person notebook.ID) (*naming, error) {
	n := &naming{person: person}
	err := dumpAll(ctx, tx, &s.people, func(p notebook.Person) {
		name := strings.TrimSpace(p.Name)
		switch {
		case p.ID != person || utf8.RuneCountInString(name) < 2 || saysNothing(name):
		case strings.Contains(name, " ") && (p.Version == 1 || s.now().Sub(p.Received) > settledName):
			n.everywhere = append(n.everywhere, name)
		default:
			n.own = append(n.own, name)
		}
	})
	n.own = append(n.own, n.everywhere...)
	n.inAll, n.inOwn = anyOf(n.everywhere), anyOf(n.own)
	return n, err
}

// saysNothing reports that a name's words stand in what is put in names' place:
// in a text they tell of nobody, and are perhaps what an earlier erasing left.
func saysNothing(name string) bool { return anyOf([]string{name}).MatchString(FormerMember) }

// mayHold is the condition that a row may hold one of the names.
func (n *naming) mayHold() (string, []any) {
	var parts []string
	args := []any{string(n.person)}
	if len(n.own) > 0 {
		parts = append(parts, "by_person = $1")
	}
	for _, name := range n.everywhere {
		for _, word := range strings.Fields(name)[:1] { // the rest is looked at afterwards
			args = append(args, "%"+likely(word)+"%")
			parts = append(parts, "lower(body) LIKE lower("+placeholder(len(args))+")")
		}
	}
	return strings.Join(parts, " OR "), args
}

// likely is a word as a pattern of LIKE: what is not a plain letter matches any
// one character, since JSON may write it in another way and SQLite's lower
// leaves it alone.
func likely(word string) string {
	var out strings.Builder
	for _, r := range word {
		switch {
		case r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z':
			out.WriteRune(r)
		case r > 127:
			out.WriteByte('_')
		default:
			out.WriteByte('%')
		}
	}
	return out.String()
}

// freeTexts are the fields in which people write what they like.
var freeTexts = map[string]bool{
	"note": true, "notes": true, "reason": true, "name": true, "place": true, "air": true, "phone": true, "where": true, "started_at_stop": true,
	"instrument": true, "nock_fit": true, "tab": true, "serving": true, "spring": true, "marked_at": true, "text": true, "what": true,
}

// without gives a record's text without the names; ok is false when there was
// none in it.
func (n *naming) without(body string, by notebook.ID) (string, bool) {
	pattern := n.inAll
	if by == n.person {
		pattern = n.inOwn
	}
	if pattern == nil {
		return "", false
	}
	tree, err := decoded(body)
	if err != nil {
		return "", false
	}
	changed := false
	tree = renamed(tree, "", func(text string) string {
		text, here := nameless(pattern, text)
		changed = changed || here
		return text
	})
	if !changed {
		return "", false
	}
	out, err := json.Marshal(tree)
	return string(out), err == nil
}

// nameless puts other words in the place of every name, and reports whether
// there was one. It goes through the text once: the words it puts there are
// never looked at, whatever the names are. What follows a name may stand before
// the next, so the search goes on right behind the name.
func nameless(pattern *regexp.Regexp, text string) (string, bool) {
	var out strings.Builder
	rest := text
	for {
		at := pattern.FindStringSubmatchIndex(rest)
		if at == nil {
			break
		}
		out.WriteString(rest[:at[3]] + FormerMember)
		rest = rest[at[4]:]
	}
	return out.String() + rest, out.Len() > 0
}

// renamed walks through JSON and changes its free texts.
func renamed(v any, key string, change func(string) string) any {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			v[k] = renamed(x, k, change)
		}
	case []any:
		for i, x := range v {
			v[i] = renamed(x, key, change)
		}
	case string:
		if freeTexts[key] {
			return change(v)
		}
	}
	return v
}

// anyOf finds names as whole words, however they are written large or small
// and spaced, with what stands before and behind as its two groups.
func anyOf(names []string) *regexp.Regexp {
	var parts []string
	for _, name := range names {
		words := strings.Fields(name)
		for i := range words {
			words[i] = regexp.QuoteMeta(words[i])
		}
		parts = append(parts, strings.Join(words, `\s+`))
	}
	if len(parts) == 0 {
		return nil
	}
	return regexp.MustCompile(`(?i)(^|[^\pL\pN])(?:` + strings.Join(parts, "|") + `)($|[^\pL\pN])`)
}

// inOthers gives a text of somebody else's without the names, and reports
// whether one was in it.
func (n *naming) inOthers(text string) (string, bool) {
	if n.inAll == nil {
		return text, false
	}
	return nameless(n.inAll, text)
}
