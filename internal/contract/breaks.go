package contract

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Breaks says what a program written for the description before would miss in
// the one now: an address, a parameter or a field that is gone or of another
// kind, something newly demanded, a choice no longer taken, an answer that
// promises less. What is only more breaks nothing: a new address, an optional
// field of a request, another field of an answer, another word where an answer
// names a state.
func Breaks(before, now *Description) []string {
	c := &comparison{before: validator{schemas: before.schemas}, now: validator{schemas: now.schemas}, seen: map[string]bool{}}
	for _, old := range before.Operations() {
		at := slices.IndexFunc(now.routes, func(r route) bool { return r.String() == old.String() })
		if at < 0 {
			c.add("%s is gone", old)
			continue
		}
		c.operation(old, now.routes[at].Operation)
	}
	return c.found
}

// comparison is one look at two descriptions.
type comparison struct {
	before, now validator
	seen        map[string]bool // pairs of named schemas, each way
	found       []string
}

func (c *comparison) add(format string, args ...any) {
	c.found = append(c.found, fmt.Sprintf(format, args...))
}

// way is who reads what the schema describes.
type way string

const (
	in  way = "request" // the program sends, the server reads
	out way = "answer"  // the server sends, the program reads
)

func (c *comparison) operation(old, now Operation) {
	was, is := old.Parameters(), now.Parameters()
	for name, p := range was {
		if is[name] == nil {
			c.add("%s: %s is no longer taken", old, name)
			continue
		}
		c.schema(in, at(p, "schema"), at(is[name], "schema"), fmt.Sprintf("%s: %s", old, name))
	}
	for name, p := range is {
		if demanded, _ := p["required"].(bool); demanded {
			if before, _ := was[name]["required"].(bool); !before {
				c.add("%s: %s is newly demanded", old, name)
			}
		}
	}
	c.content(in, at(old.said, "requestBody"), at(now.said, "requestBody"), fmt.Sprintf("%s: request", old))
	for status := range at(old.said, "responses") {
		if !strings.HasPrefix(status, "2") {
			continue // refusals are all of one kind, which the successes' way of reading does not touch
		}
		if at(now.said, "responses", status) == nil {
			c.add("%s: it no longer answers %s", old, status)
			continue
		}
		c.content(out, at(old.said, "responses", status), at(now.said, "responses", status), fmt.Sprintf("%s: %s", old, status))
	}
	if demanded, _ := at(now.said, "requestBody")["required"].(bool); demanded && at(old.said, "requestBody") == nil {
		c.add("%s: a body is newly demanded", old)
	}
}

func (c *comparison) content(w way, was, is tree, where string) {
	for kind, media := range at(was, "content") {
		other := at(is, "content", kind)
		if other == nil {
			c.add("%s: %s is gone", where, kind)
			continue
		}
		c.schema(w, at(media.(tree), "schema"), at(other, "schema"), where)
	}
}

// schema compares what two schemas let through, the way it goes.
func (c *comparison) schema(w way, was, is tree, where string) {
	if a, b := was["$ref"], is["$ref"]; a != nil && b != nil {
		pair := fmt.Sprint(w, a, b)
		if c.seen[pair] {
			return
		}
		c.seen[pair] = true
	}
	was, is = c.before.meant(was), c.now.meant(is)
	wasAny, _ := was["anyOf"].([]any)
	isAny, _ := is["anyOf"].([]any)
	if len(wasAny) != len(isAny) {
		c.add("%s is described otherwise", where)
		return
	}
	for i := range wasAny {
		c.schema(w, wasAny[i].(tree), isAny[i].(tree), where)
	}
	c.kinds(w, was, is, where)
	c.choices(w, was, is, where)
	if w == in {
		c.bounds(was, is, where)
	}
	c.properties(w, was, is, where)
	for _, name := range []string{"items", "additionalProperties"} {
		a, isTree := was[name].(tree)
		b, stillTree := is[name].(tree)
		if isTree && stillTree {
			c.schema(w, a, b, where+"/…")
		}
	}
	if w == in && is["additionalProperties"] == false && was["additionalProperties"] != false {
		c.add("%s no longer takes further fields", where)
	}
}

// kinds: what is sent must be of a kind that is read.
func (c *comparison) kinds(w way, was, is tree, where string) {
	sent, read := kindsOf(was), kindsOf(is)
	if w == out {
		sent, read = read, sent
	}
	if len(read) == 0 {
		return // anything is read
	}
	ok := len(sent) > 0
	for _, k := range sent {
		ok = ok && (slices.Contains(read, k) || k == "integer" && slices.Contains(read, "number"))
	}
	if !ok {
		c.add("%s was %v and is %v", where, kindsOf(was), kindsOf(is))
	}
}

// choices: a word that was taken is still taken. Another word in an answer is
// no break, as the manual says.
func (c *comparison) choices(w way, was, is tree, where string) {
	words, limited := is["enum"].([]any)
	if w == out || !limited {
		return
	}
	before, _ := was["enum"].([]any)
	if before == nil {
		c.add("%s takes only %v now", where, words)
	}
	for _, word := range before {
		if !slices.Contains(words, word) {
			c.add("%s no longer takes %v", where, word)
		}
	}
}

// bounds of a request may only grow wider.
func (c *comparison) bounds(was, is tree, where string) {
	for _, name := range []string{"minimum", "minLength", "minItems"} {
		if least, ok := is[name].(float64); ok {
			if before, had := was[name].(float64); !had || before < least {
				c.add("%s: %s became %v", where, name, least)
			}
		}
	}
	for _, name := range []string{"maximum", "maxLength", "maxItems"} {
		if most, ok := is[name].(float64); ok {
			if before, had := was[name].(float64); !had || before > most {
				c.add("%s: %s became %v", where, name, most)
			}
		}
	}
}

func (c *comparison) properties(w way, was, is tree, where string) {
	a, b := at(was, "properties"), at(is, "properties")
	for _, name := range slices.Sorted(maps.Keys(a)) {
		other, ok := b[name].(tree)
		if !ok {
			c.add("%s/%s is gone", where, name)
			continue
		}
		c.schema(w, a[name].(tree), other, where+"/"+name)
	}
	promised, kept := names(was["required"]), names(is["required"])
	if w == in {
		for _, name := range kept {
			if !slices.Contains(promised, name) {
				c.add("%s/%s is newly demanded", where, name)
			}
		}
		return
	}
	for _, name := range promised {
		if _, there := b[name]; there && !slices.Contains(kept, name) {
			c.add("%s/%s may be missing now", where, name)
		}
	}
}
