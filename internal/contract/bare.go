package contract

import (
	"encoding/json"
	"maps"
	"strings"
)

// Bare is the description without its prose, examples and refusals: what a
// program relies on, to be kept and held against later ones.
func (d *Description) Bare() ([]byte, error) {
	paths, schemas := bare(at(d.doc, "paths"), true), bare(d.schemas, true)
	raw, err := json.MarshalIndent(tree{"paths": paths, "components": tree{"schemas": schemas}}, "", "")
	return append(raw, '\n'), err
}

// prose are the entries that say something to people alone.
var prose = []string{"description", "summary", "title", "example", "examples", "tags", "operationId"}

// bare leaves the prose out; the entries of a list of names are all kept.
func bare(node any, named bool) any {
	switch n := node.(type) {
	case tree:
		out := tree{}
		for name, x := range n {
			out[name] = bare(x, !named && (name == "properties" || name == "responses" || name == "content"))
		}
		maps.DeleteFunc(at(out, "responses"), func(status string, _ any) bool { return !named && !strings.HasPrefix(status, "2") })
		for _, name := range prose {
			if !named {
				delete(out, name)
			}
		}
		return out
	case []any:
		out := make([]any, len(n))
		for i, x := range n {
			out[i] = bare(x, false)
		}
		return out
	}
	return node
}
