package contract

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
)

// described is a small API, in which each test changes one thing.
func described(t *testing.T, change func(doc tree)) *Description {
	t.Helper()
	var doc tree
	err := json.Unmarshal([]byte(`{"openapi": "3.1.0", "paths": {
		"/bows": {"get": {"parameters": [{"in": "query", "name": "limit", "schema": {"type": "integer", "minimum": 1, "maximum": 500, "default": 200}}],
			"responses": {"200": {"content": {"application/json": {"schema": {"type": "array", "items": {"$ref": "#/components/schemas/Bow"}}, "example": [{"name": "Blue 68", "style": "recurve"}]}}}}}},
		"/bows/latest": {"get": {"responses": {"200": {"content": {"text/csv": {"schema": {"type": "string"}, "example": "name\nBlue\n"}}}}}},
		"/bows/{id}": {"put": {"parameters": [{"in": "path", "name": "id", "required": true, "schema": {"type": "string", "examples": ["7"]}}],
			"requestBody": {"required": true, "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Bow"}, "example": {"name": "Blue 68"}}}},
			"responses": {"200": {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Bow"}, "example": {"name": "Blue 68"}}}},
				"409": {"content": {"application/problem+json": {"schema": {"type": "object", "required": ["code"], "properties": {"code": {"type": "string"}}}}}}}}}},
		"components": {"schemas": {"Bow": {"type": "object", "description": "A bow.", "additionalProperties": false, "required": ["name"], "properties": {
			"name": {"type": "string", "minLength": 1, "maxLength": 20}, "style": {"type": "string", "enum": ["recurve", "barebow"]},
			"mass": {"type": ["number", "null"]}, "parent": {"$ref": "#/components/schemas/Bow"},
			"title": {"anyOf": [{"type": "null"}, {"type": "string"}]}, "more": {"type": "object", "additionalProperties": {"type": "string"}}}}}}}`), &doc)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(doc)
	}
	raw, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	d, err := Read(raw)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func bow(doc tree) tree { return at(doc, "components", "schemas", "Bow") }

func TestFind(t *testing.T) {
	d := described(t, nil)
	for _, c := range []struct{ method, path, want string }{
		{"GET", "/bows", "GET /bows"}, {"GET", "/bows/latest", "GET /bows/latest"}, {"PUT", "/bows/latest", "PUT /bows/{id}"},
		{"PUT", "/bows/7", "PUT /bows/{id}"}, {"PUT", "/bows/", ""}, {"PUT", "/bows/7/about", ""}, {"DELETE", "/bows/7", ""},
	} {
		o, ok := d.Find(c.method, c.path)
		if ok != (c.want != "") || ok && o.String() != c.want {
			t.Errorf("%s %s is taken for %q", c.method, c.path, o)
		}
	}
}

// What fits is silent, and each fault is named with its place.
func TestBodies(t *testing.T) {
	d := described(t, nil)
	put, _ := d.Find("PUT", "/bows/7")
	for body, says := range map[string]string{
		`{"name": "Blue", "mass": null, "title": "x", "more": {"a": "b"}, "parent": {"name": "Red"}}`: "",
		`{"name": "Blue", "mass": 2}`:                       "",
		`{}`:                                                "name is missing",
		`{"name": ""}`:                                      "/name: 0 is below 1",
		`{"name": "Blue", "style": "longbow"}`:              "/style: longbow is none of",
		`{"name": "Blue", "mass": "2 kg"}`:                  "/mass: is string",
		`{"name": "Blue", "colour": "blue"}`:                "colour is not described",
		`{"name": "Blue", "title": 7}`:                      "/title: fits none of 2",
		`{"name": "Blue", "more": {"a": 1}}`:                "/more/a: is integer",
		`{"name": "Blue", "parent": {"style": "recurve"}}`:  "/parent: name is missing",
		`{"name": "Blue"`:                                   "is not JSON",
		`{"name": "a name that is longer than all others"}`: "is above 20",
	} {
		found := strings.Join(put.Request("application/json; charset=utf-8", []byte(body)), "\n")
		if (says == "") != (found == "") || !strings.Contains(found, says) {
			t.Errorf("%s: found %q, want %q", body, found, says)
		}
	}
	for _, c := range []struct {
		status           int
		kind, body, says string
	}{
		{200, "application/json", `{"name": "Blue"}`, ""}, {409, "application/problem+json", `{"code": "x"}`, ""},
		{409, "application/problem+json", `{}`, "code is missing"}, {404, "application/problem+json", `{}`, "404 (Not Found) is not declared"},
		{200, "text/html", "<p>", "text/html is not declared"},
	} {
		found := strings.Join(put.Answer(c.status, c.kind, []byte(c.body)), "\n")
		if (c.says == "") != (found == "") || !strings.Contains(found, c.says) {
			t.Errorf("%d %s: found %q, want %q", c.status, c.body, found, c.says)
		}
	}
}

func TestExamples(t *testing.T) {
	for says, change := range map[string]func(tree){
		"": nil,
		"PUT /bows/{id}: request has no example": func(doc tree) {
			delete(at(doc, "paths", "/bows/{id}", "put", "requestBody", "content", "application/json"), "example")
		},
		"GET /bows/latest: 200 has no example": func(doc tree) {
			delete(at(doc, "paths", "/bows/latest", "get", "responses", "200", "content", "text/csv"), "example")
		},
		"example of 200/0: name is missing": func(doc tree) {
			at(doc, "paths", "/bows", "get", "responses", "200", "content", "application/json")["example"] = []any{tree{}}
		},
		"query limit has no example": func(doc tree) {
			delete(at(doc, "paths", "/bows", "get")["parameters"].([]any)[0].(tree)["schema"].(tree), "default")
		},
		"path id: is string, described as [integer]": func(doc tree) {
			at(doc, "paths", "/bows/{id}", "put")["parameters"].([]any)[0].(tree)["schema"].(tree)["type"] = "integer"
		},
		"no success": func(doc tree) {
			delete(at(doc, "paths", "/bows/latest", "get", "responses"), "200")
		},
	} {
		found := strings.Join(described(t, change).Examples(), "\n")
		if (says == "") != (found == "") || !strings.Contains(found, says) {
			t.Errorf("found %q, want %q", found, says)
		}
	}
}

// Each change that breaks a program is found, and each that only adds is not.
func TestBreaks(t *testing.T) {
	parameter := func(doc tree) tree { return at(doc, "paths", "/bows", "get")["parameters"].([]any)[0].(tree) }
	properties := func(doc tree) tree { return at(bow(doc), "properties") }
	for name, c := range map[string]struct {
		change func(doc tree)
		says   string
	}{
		"nothing":           {nil, ""},
		"another address":   {func(doc tree) { at(doc, "paths")["/more"] = at(doc, "paths")["/bows"] }, ""},
		"an optional field": {func(doc tree) { properties(doc)["notes"] = tree{"type": "string"} }, ""},
		"another choice":    {func(doc tree) { at(properties(doc), "style")["enum"] = []any{"recurve", "barebow", "longbow"} }, ""},
		"wider bounds":      {func(doc tree) { at(properties(doc), "name")["maxLength"] = 40 }, ""},
		"another refusal":   {func(doc tree) { at(doc, "paths", "/bows", "get", "responses")["404"] = tree{} }, ""},
		"an address gone":   {func(doc tree) { delete(at(doc, "paths"), "/bows/latest") }, "GET /bows/latest is gone"},
		"a method gone": {func(doc tree) {
			at(doc, "paths", "/bows")["post"] = at(doc, "paths", "/bows")["get"]
			delete(at(doc, "paths", "/bows"), "get")
		}, "GET /bows is gone"},
		"a field gone": {func(doc tree) { delete(properties(doc), "mass") }, "/mass is gone"},
		"a field deep down gone": {func(doc tree) {
			delete(at(properties(doc), "more"), "additionalProperties")
			properties(doc)["parent"] = tree{"type": "object"}
		}, "/parent"},
		"another kind":          {func(doc tree) { at(properties(doc), "style")["type"] = "integer" }, "style was [string] and is [integer]"},
		"null no longer sent":   {func(doc tree) { at(properties(doc), "mass")["type"] = "number" }, "request/mass was [number null]"},
		"null newly answered":   {func(doc tree) { at(properties(doc), "name")["type"] = []any{"string", "null"} }, "200/…/name was [string]"},
		"a choice gone":         {func(doc tree) { at(properties(doc), "style")["enum"] = []any{"recurve"} }, "no longer takes barebow"},
		"a field demanded":      {func(doc tree) { bow(doc)["required"] = []any{"name", "style"} }, "request/style is newly demanded"},
		"a field not promised":  {func(doc tree) { bow(doc)["required"] = []any{} }, "200/…/name may be missing now"},
		"tighter bounds":        {func(doc tree) { at(properties(doc), "name")["maxLength"] = 10 }, "maxLength became 10"},
		"a parameter gone":      {func(doc tree) { delete(at(doc, "paths", "/bows", "get"), "parameters") }, "query limit is no longer taken"},
		"a parameter demanded":  {func(doc tree) { parameter(doc)["required"] = true }, "query limit is newly demanded"},
		"a parameter of a kind": {func(doc tree) { at(parameter(doc), "schema")["type"] = "boolean" }, "query limit was [integer]"},
		"another type of content": {func(doc tree) {
			at(doc, "paths", "/bows/latest", "get", "responses", "200")["content"] = tree{"application/json": tree{}}
		}, "text/csv is gone"},
		"another success": {func(doc tree) {
			answers := at(doc, "paths", "/bows", "get", "responses")
			answers["204"] = answers["200"]
			delete(answers, "200")
		}, "no longer answers 200"},
	} {
		found := strings.Join(Breaks(described(t, nil), described(t, c.change)), "\n")
		if (c.says == "") != (found == "") || !strings.Contains(found, c.says) {
			t.Errorf("%s: found %q, want %q", name, found, c.says)
		}
	}
}

// The bare description breaks nothing and is broken by the same.
func TestBare(t *testing.T) {
	raw, err := described(t, nil).Bare()
	if err != nil {
		t.Fatal(err)
	}
	bare, err := Read(raw)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(raw), "A bow.") || strings.Contains(string(raw), "example") || !strings.Contains(string(raw), `"title"`) {
		t.Errorf("%s", raw)
	}
	if found := slices.Concat(Breaks(described(t, nil), bare), Breaks(bare, described(t, nil))); len(found) > 0 {
		t.Error(found)
	}
	gone := described(t, func(doc tree) { delete(at(bow(doc), "properties"), "title") })
	if len(Breaks(bare, gone)) == 0 {
		t.Error("a field gone is not seen any more")
	}
}
