package server_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
)

// checkSchemas holds every answer of the story against the API's own
// description (U6: all answers validate against it).
func checkSchemas(t *testing.T, s *site, told []exchange) {
	doc := s.do("GET", "/openapi.json", nil).want(200).tree()
	v := validator{defs: doc["components"].(obj)["schemas"].(obj)}
	checked := 0
	for _, e := range told {
		method, path, _ := strings.Cut(e.operation, " ")
		answers := doc["paths"].(obj)[path].(obj)[strings.ToLower(method)].(obj)["responses"].(obj)
		status := fmt.Sprint(e.reply.status)
		if status == "201" {
			status = "200" // the same record, told apart by the status alone
		}
		answer, ok := answers[status].(obj)
		if !ok {
			t.Errorf("%s: %s is not described", e.operation, status)
			continue
		}
		kind, _, _ := strings.Cut(e.reply.header.Get("Content-Type"), ";")
		media, ok := answer["content"].(obj)[kind].(obj)
		if !ok {
			if strings.HasSuffix(kind, "json") {
				t.Errorf("%s: %s is not described for %s", e.operation, kind, status)
			}
			continue
		}
		if !strings.HasSuffix(kind, "json") {
			continue // a table or a sound
		}
		var tree any
		if err := json.Unmarshal(e.reply.body, &tree); err != nil {
			t.Fatal(err)
		}
		v.found = nil
		v.check(media["schema"].(obj), tree, "")
		for _, fault := range v.found {
			t.Errorf("%s: %s", e.operation, fault)
		}
		checked++
	}
	if checked < 15 {
		t.Errorf("only %d answers were checked", checked)
	}
}

// validator knows the part of JSON Schema that the description uses.
type validator struct {
	defs  obj
	found []string
}

func (v *validator) fault(at, format string, args ...any) {
	if len(v.found) < 5 {
		v.found = append(v.found, at+": "+fmt.Sprintf(format, args...))
	}
}

func (v *validator) check(schema obj, node any, at string) {
	if ref, ok := schema["$ref"].(string); ok {
		v.check(v.defs[ref[strings.LastIndex(ref, "/")+1:]].(obj), node, at)
		return
	}
	if either, ok := schema["anyOf"].([]any); ok {
		for _, one := range either {
			try := validator{defs: v.defs}
			if try.check(one.(obj), node, at); len(try.found) == 0 {
				return
			}
		}
		v.fault(at, "fits none of %d descriptions", len(either))
		return
	}
	if kinds := kindsOf(schema); len(kinds) > 0 && !slices.Contains(kinds, kindOf(node)) && !(kindOf(node) == "integer" && slices.Contains(kinds, "number")) {
		v.fault(at, "is %s, described as %v", kindOf(node), kinds)
		return
	}
	if choices, ok := schema["enum"].([]any); ok && node != nil && !slices.Contains(choices, node) {
		v.fault(at, "%v is none of %v", node, choices)
	}
	switch n := node.(type) {
	case map[string]any:
		v.object(schema, n, at)
	case []any:
		if items, ok := schema["items"].(obj); ok {
			for i, x := range n {
				v.check(items, x, fmt.Sprintf("%s/%d", at, i))
			}
		}
	}
}

func (v *validator) object(schema obj, node map[string]any, at string) {
	props, _ := schema["properties"].(obj)
	if required, ok := schema["required"].([]any); ok {
		for _, name := range required {
			if _, there := node[name.(string)]; !there {
				v.fault(at, "%s is missing", name)
			}
		}
	}
	for name, x := range node {
		switch {
		case props[name] != nil:
			v.check(props[name].(obj), x, at+"/"+name)
		case schema["additionalProperties"] == false:
			v.fault(at, "%s is not described", name)
		default:
			if rest, ok := schema["additionalProperties"].(obj); ok {
				v.check(rest, x, at+"/"+name)
			}
		}
	}
}

func kindsOf(schema obj) (kinds []string) {
	switch t := schema["type"].(type) {
	case string:
		return []string{t}
	case []any:
		for _, k := range t {
			kinds = append(kinds, k.(string))
		}
	}
	return kinds
}

func kindOf(node any) string {
	switch n := node.(type) {
	case nil:
		return "null"
	case bool:
		return "boolean"
	case string:
		return "string"
	case float64:
		if n == float64(int64(n)) {
			return "integer"
		}
		return "number"
	case []any:
		return "array"
	}
	return "object"
}
