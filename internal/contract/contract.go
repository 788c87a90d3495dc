// Package contract holds what goes over HTTP against the API's own description
// (OpenAPI 3.1): requests, answers, examples, and one description against the
// next. It knows the part of JSON Schema that our descriptions use.
package contract

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
)

// tree is a JSON object.
type tree = map[string]any

// Description is an API's description, read.
type Description struct {
	doc     tree
	schemas tree
	routes  []route
}

// route is one operation with its address in parts.
type route struct {
	Operation
	parts []string
}

// Operation is one operation of the API, such as GET /api/v1/bows.
type Operation struct {
	Method, Path string
	of           *Description
	said         tree
}

// String is how the operation is called: its method and path.
func (o Operation) String() string { return o.Method + " " + o.Path }

// Read reads a description.
func Read(openapi []byte) (*Description, error) {
	d := &Description{}
	if err := json.Unmarshal(openapi, &d.doc); err != nil {
		return nil, fmt.Errorf("contract: not a description: %w", err)
	}
	d.schemas = at(d.doc, "components", "schemas")
	paths := at(d.doc, "paths")
	if len(paths) == 0 {
		return nil, fmt.Errorf("contract: the description has no paths")
	}
	for _, path := range slices.Sorted(maps.Keys(paths)) {
		methods, _ := paths[path].(tree)
		for _, method := range slices.Sorted(maps.Keys(methods)) {
			said, _ := methods[method].(tree)
			d.routes = append(d.routes, route{Operation{strings.ToUpper(method), path, d, said}, strings.Split(path, "/")})
		}
	}
	return d, nil
}

// Operations are all of them, by path and method.
func (d *Description) Operations() (list []Operation) {
	for _, r := range d.routes {
		list = append(list, r.Operation)
	}
	return list
}

// Find gives the operation that a request is for: of several that fit, the one
// with most parts spelt out. path is the address as sent, without its query.
func (d *Description) Find(method, path string) (found Operation, ok bool) {
	parts, most := strings.Split(path, "/"), -1
	for _, r := range d.routes {
		if n := r.fits(parts); r.Method == method && n > most {
			found, most = r.Operation, n
		}
	}
	return found, most >= 0
}

// fits counts the parts that are equal; -1 says that the address is another.
func (r route) fits(parts []string) (equal int) {
	if len(parts) != len(r.parts) {
		return -1
	}
	for i, p := range r.parts {
		switch {
		case p == parts[i]:
			equal++
		case !strings.HasPrefix(p, "{") || parts[i] == "":
			return -1
		}
	}
	return equal
}

// at walks down a tree; what is not there is empty.
func at(t tree, names ...string) tree {
	for _, name := range names {
		t, _ = t[name].(tree)
	}
	return t
}

// Parameters are what the operation takes beside its body, by place and name,
// such as "query limit".
func (o Operation) Parameters() map[string]tree {
	out := map[string]tree{}
	list, _ := o.said["parameters"].([]any)
	for _, p := range list {
		if one, ok := p.(tree); ok {
			out[fmt.Sprint(one["in"], " ", one["name"])] = one
		}
	}
	return out
}

// Answer says what is wrong with an answer: a status or a type of content that
// is not declared, or JSON that does not fit its schema.
func (o Operation) Answer(status int, contentType string, body []byte) (faults []string) {
	answer := at(o.said, "responses", strconv.Itoa(status))
	if answer == nil {
		return []string{fmt.Sprintf("%s: the answer %d (%s) is not declared", o, status, http.StatusText(status))}
	}
	kind, _, _ := strings.Cut(contentType, ";")
	return o.content(answer, kind, body, strconv.Itoa(status))
}

// Request says what is wrong with a request's body.
func (o Operation) Request(contentType string, body []byte) []string {
	kind, _, _ := strings.Cut(contentType, ";")
	return o.content(at(o.said, "requestBody"), kind, body, "request")
}

// content holds a body against the schema declared for its type; what is not
// JSON has only its type looked at, and bytes of any kind stand for a
// recording's own.
func (o Operation) content(of tree, kind string, body []byte, what string) []string {
	all := at(of, "content")
	media, ok := all[kind].(tree)
	if !ok {
		if _, raw := all["application/octet-stream"]; raw && !strings.HasSuffix(kind, "json") {
			return nil
		}
		if len(body) == 0 {
			return nil
		}
		return []string{fmt.Sprintf("%s: %s is not declared for %s", o, kind, what)}
	}
	if !strings.HasSuffix(kind, "json") || len(body) == 0 {
		return nil
	}
	var node any
	if err := json.Unmarshal(body, &node); err != nil {
		return []string{fmt.Sprintf("%s: %s is not JSON: %v", o, what, err)}
	}
	return o.fits(at(media, "schema"), node, what)
}

func (o Operation) fits(schema tree, node any, what string) (faults []string) {
	v := validator{schemas: o.of.schemas}
	v.check(schema, node, "")
	for _, f := range v.found {
		faults = append(faults, fmt.Sprintf("%s: %s%s", o, what, f))
	}
	return faults
}
