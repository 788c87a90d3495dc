package store

import (
	"encoding"
	"encoding/json"
	"io"
	"reflect"
	"strings"
	"time"
)

// schemaID names the export's format; the number at its end goes up when a
// reader of the older one would misunderstand.
const schemaID = "tautline-notebook-1"

// writeSchema writes the JSON Schema (2020-12) of notebook.json, made from the
// records' own types so that the two cannot drift apart.
func (s *Store) writeSchema(w io.Writer) error {
	var kinds []any
	for _, k := range s.shelves() {
		kinds = append(kinds, map[string]any{
			"type":       "object",
			"required":   []string{"kind", "record"},
			"properties": map[string]any{"kind": map[string]any{"const": k.kind()}, "record": schemaOf(reflect.TypeOf(k.example()))},
		})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(map[string]any{
		"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": schemaID,
		"title": "Every record of a Tautline notebook, one a line; quantities are texts with their unit",
		"type":  "array", "items": map[string]any{"oneOf": kinds},
	})
}

// schemaOf describes a Go type as encoding/json writes it.
func schemaOf(t reflect.Type) map[string]any {
	switch {
	case t == reflect.TypeFor[time.Time]():
		return map[string]any{"type": "string", "format": "date-time"}
	case t == reflect.TypeFor[json.RawMessage]():
		return map[string]any{}
	case t.Implements(reflect.TypeFor[encoding.TextMarshaler]()):
		return map[string]any{"type": "string", "description": "a quantity with its unit, as typed"}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return schemaOf(t.Elem())
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Slice:
		return map[string]any{"type": "array", "items": schemaOf(t.Elem())}
	case reflect.Struct:
		return objectOf(t)
	case reflect.Float32, reflect.Float64:
		return map[string]any{"type": "number"}
	}
	return map[string]any{"type": "integer"}
}

// objectOf describes a struct; embedded ones are flattened, as in JSON.
func objectOf(t reflect.Type) map[string]any {
	properties := map[string]any{}
	required := []string{}
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			inner := objectOf(f.Type)
			for k, v := range inner["properties"].(map[string]any) {
				properties[k] = v
			}
			required = append(required, inner["required"].([]string)...)
			continue
		}
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		properties[name] = schemaOf(f.Type)
		if !strings.Contains(options, "omit") {
			required = append(required, name)
		}
	}
	return map[string]any{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
}
