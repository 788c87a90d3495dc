package server

import (
	"encoding/json"
	"net/http"
	"reflect"
	"slices"

	"tautline/notebook"
)

// demandVersion refuses a change that does not say which version it starts
// from (428), or starts from an old one (412, with both and what differs).
func demandVersion(ifMatch string, version int, stored, sent any) error {
	switch {
	case ifMatch == "":
		p := newProblem(http.StatusPreconditionRequired, codeNoVersion, "The change does not say which version it starts from.",
			"Send the record's ETag, now "+tagOf(version)+", in the header If-Match.")
		p.etag = tagOf(version)
		return p
	case !matches(ifMatch, tagOf(version)):
		return outdated(version, stored, sent)
	}
	return nil
}

// outdated shows what is stored beside what was sent.
func outdated(version int, stored, sent any) *Problem {
	p := newProblem(http.StatusPreconditionFailed, codeOutdated, "The record was changed after you read it; yours was not stored.",
		"Look at the differences, then send yours with If-Match: "+tagOf(version)+".")
	p.Stored, p.Sent, p.Differences, p.etag = stored, sent, differences(stored, sent), tagOf(version)
	return p
}

// raced explains a Put that lost against another writer.
func (s *server) raced(err error, sent any, again func() (any, int, error)) error {
	if notebook.CodeOf(err) != notebook.Outdated {
		return err
	}
	stored, version, err := again()
	if err != nil {
		return err
	}
	return outdated(version, stored, sent)
}

// unimportant are the fields that the notebook itself sets.
var unimportant = []string{"/received", "/version"}

// differences lists the fields in which two records differ, by JSON pointer.
func differences(stored, sent any) []FieldDifference {
	a, b := map[string]any{}, map[string]any{}
	flatten(jsonTree(stored), "", a)
	flatten(jsonTree(sent), "", b)
	var keys []string
	for k := range a {
		keys = append(keys, k)
	}
	for k := range b {
		if _, both := a[k]; !both {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	var out []FieldDifference
	for _, k := range keys {
		if !slices.Contains(unimportant, k) && !reflect.DeepEqual(a[k], b[k]) {
			out = append(out, FieldDifference{k, a[k], b[k]})
		}
	}
	return out
}

func jsonTree(v any) any {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil
	}
	var tree any
	if err := json.Unmarshal(raw, &tree); err != nil {
		return nil
	}
	return tree
}

// flatten gives every leaf under its JSON pointer; lists count as leaves.
func flatten(tree any, at string, out map[string]any) {
	object, ok := tree.(map[string]any)
	if !ok {
		out[at] = tree
		return
	}
	for name, value := range object {
		flatten(value, at+"/"+escaped(name), out)
	}
}
