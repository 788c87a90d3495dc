package server

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"net/http"
	"reflect"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"tautline/notebook"
)

// VersionInput is a change's precondition.
type VersionInput struct {
	IfMatch string `header:"If-Match" doc:"The ETag, or tag, of the version that is changed." example:"\"2-9f51c0de9f51c0de\""`
}

// tagOf is the ETag of a record that can change: its version and the beginning
// of a digest of all of it, since version numbers come again after an older
// backup was restored (docs/decisions/0082). Other records have none.
func tagOf(record notebook.Record) string {
	version := 0
	switch r := record.(type) {
	case notebook.Bow:
		version = r.Version
	case notebook.Person:
		version = r.Version
	default:
		return ""
	}
	if version == 0 {
		return `"0"` // nothing is stored yet that it could be taken for
	}
	raw, err := json.Marshal(record)
	if err != nil {
		panic(err) // it came out of JSON
	}
	sum := sha256.Sum256(raw)
	return fmt.Sprintf(`"%d-%x"`, version, sum[:8])
}

// demandVersion refuses a change that does not say which version it starts
// from (428), or starts from another than is stored (412, with both and what
// differs).
func demandVersion(ifMatch string, stored, sent notebook.Record) error {
	tag := tagOf(stored)
	switch {
	case ifMatch == "":
		p := newProblem(http.StatusPreconditionRequired, codeNoVersion, "The change does not say which version it starts from.",
			"Send the record's ETag, now "+tag+", in the header If-Match.")
		p.Tag = tag
		return p
	case !matches(ifMatch, tag):
		return outdated(stored, sent)
	}
	return nil
}

// matches reads an If-Match header; "*" is whatever is stored. A version's bare number, which was a tag
// once, matches nothing: it does not tell two notebooks apart.
func matches(ifMatch, tag string) bool {
	for part := range strings.SplitSeq(ifMatch, ",") {
		if part = strings.TrimSpace(part); part == tag || part == "*" {
			return true
		}
	}
	return false
}

// preconditionKey finds the If-Match of a create, which needs none.
type preconditionKey struct{}

func rememberPrecondition(ctx huma.Context, next func(huma.Context)) {
	next(huma.WithValue(ctx, preconditionKey{}, ctx.Header("If-Match")))
}

// preconditionOfCreate refuses a create that demands a record to be there
// already, "*", or a version of it, where there is none (RFC 9110, 13.1.1).
func preconditionOfCreate[T notebook.Record](ctx context.Context, records notebook.Records[T], actor notebook.ID, sent T) error {
	ifMatch, _ := ctx.Value(preconditionKey{}).(string)
	if ifMatch == "" {
		return nil
	}
	stored, err := records.Get(ctx, actor, sent.Stamped().ID)
	switch {
	case notebook.CodeOf(err) == notebook.NotFound:
		return newProblem(http.StatusPreconditionFailed, codeOutdated, "There is no such record to change.", "To create it, send the same without If-Match.")
	case err != nil:
		return err
	case !matches(ifMatch, tagOf(stored)):
		return outdated(stored, sent)
	}
	return nil
}

// outdated shows what is stored beside what was sent.
func outdated(stored, sent notebook.Record) *Problem {
	p := newProblem(http.StatusPreconditionFailed, codeOutdated, "The record is no longer as you read it; yours was not stored.",
		"Look at the differences, then send yours with If-Match: "+tagOf(stored)+".")
	return p.beside(stored, sent)
}

// beside puts what is stored next to what was sent.
func (p *Problem) beside(stored, sent notebook.Record) *Problem {
	p.Stored, p.Sent, p.Differences, p.Tag = stored, sent, differences(stored, sent), tagOf(stored)
	return p
}

// raced explains a Put that lost against another writer.
func raced[T notebook.Record](err error, sent T, again func() (T, error)) error {
	if notebook.CodeOf(err) != notebook.Outdated {
		return err
	}
	stored, err := again()
	if err != nil {
		return err
	}
	return outdated(stored, sent)
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
