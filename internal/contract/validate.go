package contract

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// validator holds JSON against a schema.
type validator struct {
	schemas tree
	found   []string
}

// mostFound keeps what is said of one body readable.
const mostFound = 5

func (v *validator) fault(at, format string, args ...any) {
	if len(v.found) < mostFound {
		v.found = append(v.found, at+": "+fmt.Sprintf(format, args...))
	}
}

// meant follows references.
func (v *validator) meant(schema tree) tree {
	for {
		ref, ok := schema["$ref"].(string)
		if !ok {
			return schema
		}
		schema, _ = v.schemas[ref[strings.LastIndexByte(ref, '/')+1:]].(tree)
	}
}

func (v *validator) check(schema tree, node any, at string) {
	schema = v.meant(schema)
	if either, ok := schema["anyOf"].([]any); ok {
		v.any(either, node, at)
		return
	}
	kinds, kind := kindsOf(schema), kindOf(node)
	if len(kinds) > 0 && !slices.Contains(kinds, kind) && !(kind == "integer" && slices.Contains(kinds, "number")) {
		v.fault(at, "is %s, described as %v", kind, kinds)
		return
	}
	if choices, ok := schema["enum"].([]any); ok && node != nil && !slices.Contains(choices, node) {
		v.fault(at, "%v is none of %v", node, choices)
	}
	switch n := node.(type) {
	case tree:
		v.object(schema, n, at)
	case []any:
		v.bounds(schema, "Items", float64(len(n)), at)
		if items, ok := schema["items"].(tree); ok {
			for i, x := range n {
				v.check(items, x, fmt.Sprintf("%s/%d", at, i))
			}
		}
	case string:
		v.bounds(schema, "Length", float64(utf8.RuneCountInString(n)), at)
	case float64:
		v.bounds(schema, "imum", n, at)
	}
}

func (v *validator) any(either []any, node any, at string) {
	for _, one := range either {
		try := validator{schemas: v.schemas}
		if try.check(one.(tree), node, at); len(try.found) == 0 {
			return
		}
	}
	v.fault(at, "fits none of %d descriptions", len(either))
}

// bounds holds a size against minItems, maxLength, minimum and the like.
func (v *validator) bounds(schema tree, of string, size float64, at string) {
	if least, ok := schema["min"+of].(float64); ok && size < least {
		v.fault(at, "%v is below %v", size, least)
	}
	if most, ok := schema["max"+of].(float64); ok && size > most {
		v.fault(at, "%v is above %v", size, most)
	}
}

func (v *validator) object(schema, node tree, at string) {
	properties, _ := schema["properties"].(tree)
	for _, name := range names(schema["required"]) {
		if _, there := node[name]; !there {
			v.fault(at, "%s is missing", name)
		}
	}
	for name, x := range node {
		switch rest := schema["additionalProperties"].(type) {
		default:
			if one, ok := properties[name].(tree); ok {
				v.check(one, x, at+"/"+name)
			}
		case tree:
			one, ok := properties[name].(tree)
			if !ok {
				one = rest
			}
			v.check(one, x, at+"/"+name)
		case bool:
			if one, ok := properties[name].(tree); ok {
				v.check(one, x, at+"/"+name)
			} else if !rest {
				v.fault(at, "%s is not described", name)
			}
		}
	}
}

// names are the texts of a list.
func names(list any) (out []string) {
	all, _ := list.([]any)
	for _, x := range all {
		if s, ok := x.(string); ok {
			out = append(out, s)
		}
	}
	return out
}

func kindsOf(schema tree) []string {
	if one, ok := schema["type"].(string); ok {
		return []string{one}
	}
	return names(schema["type"])
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
