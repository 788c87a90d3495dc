package server

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"tautline/notebook"
	"tautline/unit"
)

// longestText is the most one text may hold, in bytes: ten pages of notes.
const longestText = 20_000

// written is a record as a client writes it: quantities are texts with their
// unit, "22.5 cm". It is kept raw until the person's units are known, because
// a bare number is read in them, and because each field that cannot be read
// must be named, not only the first.
type written[T any] struct{ raw json.RawMessage }

// Schema describes T for the API's description.
func (written[T]) Schema(r huma.Registry) *huma.Schema {
	return r.Schema(reflect.TypeFor[T](), true, "")
}

// namesItsFaults marks a body that is checked by read, not by its schema.
func (written[T]) namesItsFaults() {}

// UnmarshalJSON keeps the text.
func (w *written[T]) UnmarshalJSON(b []byte) error {
	w.raw = bytes.Clone(b)
	return nil
}

// read gives the record, or a problem that names every field at fault.
func (w written[T]) read(system unit.System) (T, error) {
	record, faults, err := w.readable(system)
	if err == nil && len(faults) > 0 {
		err = refuse(faults...)
	}
	return record, err
}

// readable gives what of the record can be read, and every field that cannot:
// the rest of a form is checked although a field in it is not even a number.
func (w written[T]) readable(system unit.System) (record T, faults []FieldError, err error) {
	tree, err := parseTree(w.raw)
	if err != nil {
		return record, nil, refuse(FieldError{"", codeInvalid, "the body is not JSON", "compare it with the example in " + openAPIPath})
	}
	r := reader{system: system}
	tree = r.walk(reflect.TypeFor[T](), tree, "")
	clean, err := json.Marshal(tree)
	if err != nil {
		return record, nil, fmt.Errorf("server: %w", err)
	}
	err = json.Unmarshal(clean, &record)
	switch {
	case err != nil && len(r.errs) == 0:
		return record, nil, refuse(FieldError{"", codeInvalid, "a field is of the wrong kind", "compare it with the example in " + openAPIPath})
	case err != nil:
		var none T
		return none, r.errs, nil // nothing can be said of the rest
	}
	return record, r.errs, nil
}

// parseTree reads one JSON value with its numbers as written.
func parseTree(raw []byte) (any, error) {
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	var tree any
	if err := dec.Decode(&tree); err != nil {
		return nil, err
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fmt.Errorf("server: more than one value")
	}
	return tree, nil
}

// reader checks a tree of JSON against a type and puts units where the person
// left them out.
type reader struct {
	system unit.System
	errs   []FieldError
}

func (r *reader) fail(at, message, hint string) any {
	r.errs = append(r.errs, FieldError{at, codeInvalid, message, hint})
	return nil
}

// walk returns the node as the type's own decoder takes it; nil leaves it out.
func (r *reader) walk(t reflect.Type, node any, at string) any {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if node == nil {
		return nil
	}
	if k, ok := kindFor(t, at); ok {
		return r.quantity(k, node, at)
	}
	if t == reflect.TypeFor[time.Time]() {
		return r.time(node, at)
	}
	switch t.Kind() {
	case reflect.Struct:
		return r.structure(t, node, at)
	case reflect.Slice:
		return r.list(t, node, at)
	case reflect.Map:
		return r.mapping(t, node, at)
	default:
		return r.scalar(t, node, at)
	}
}

// quantity reads a typed text; an empty one counts as not given.
func (r *reader) quantity(k kind, node any, at string) any {
	text, ok := node.(string)
	if !ok {
		return r.fail(at, "is not a text", "write a text with its unit, like "+k.example)
	}
	if strings.TrimSpace(text) == "" {
		return nil
	}
	if len(text) > 200 {
		return r.fail(at, "is too long for a quantity", "write it like "+k.example)
	}
	v, err := k.read(r.system, lastName(at), text)
	if err != nil {
		r.errs = append(r.errs, unreadable(at, err))
		return nil
	}
	return v.Full
}

func (r *reader) time(node any, at string) any {
	text, ok := node.(string)
	if ok && text == "" {
		return nil
	}
	if _, err := time.Parse(time.RFC3339Nano, text); !ok || err != nil {
		return r.fail(at, "is not a time", "a time like 2026-05-04T09:30:00Z")
	}
	return node
}

func (r *reader) structure(t reflect.Type, node any, at string) any {
	object, ok := node.(map[string]any)
	if !ok {
		return r.fail(at, "is not an object", "compare it with the example in "+openAPIPath)
	}
	fields := jsonFields(t)
	out := map[string]any{}
	for name, value := range object {
		field, ok := fields[name]
		if !ok {
			r.fail(at+"/"+escaped(name), "there is no such field", "did you mean "+nearestName(name, fields)+"?")
			continue
		}
		if v := r.walk(field, value, at+"/"+name); v != nil {
			out[name] = v
		}
	}
	return out
}

func (r *reader) list(t reflect.Type, node any, at string) any {
	items, ok := node.([]any)
	if !ok {
		return r.fail(at, "is not a list", "compare it with the example in "+openAPIPath)
	}
	out := make([]any, len(items))
	for i, item := range items {
		here := at + "/" + strconv.Itoa(i)
		if item == nil {
			r.fail(here, "is empty", "leave the entry out")
		}
		out[i] = r.walk(t.Elem(), item, here)
	}
	return out
}

func (r *reader) mapping(t reflect.Type, node any, at string) any {
	object, ok := node.(map[string]any)
	if !ok {
		return r.fail(at, "is not an object", "compare it with the example in "+openAPIPath)
	}
	out := map[string]any{}
	for name, value := range object {
		if v := r.walk(t.Elem(), value, at+"/"+escaped(name)); v != nil {
			out[name] = v
		}
	}
	return out
}

func (r *reader) scalar(t reflect.Type, node any, at string) any {
	switch t.Kind() {
	case reflect.String:
		text, ok := node.(string)
		switch {
		case !ok:
			return r.fail(at, "is not a text", "put it in quotation marks")
		case len(text) > longestText:
			return r.fail(at, "is too long", fmt.Sprintf("at most %d bytes", longestText))
		}
	case reflect.Bool:
		if _, ok := node.(bool); !ok {
			return r.fail(at, "is neither true nor false", "write true or false")
		}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return r.whole(t, node, at)
	case reflect.Float32, reflect.Float64:
		return r.number(node, at)
	}
	return node
}

func (r *reader) whole(t reflect.Type, node any, at string) any {
	number, ok := node.(json.Number)
	if !ok {
		return r.fail(at, "is not a number", "write a whole number without quotation marks, like 3")
	}
	f, err := number.Float64()
	if err != nil || f != math.Trunc(f) || math.Abs(f) > 1<<31-1 {
		return r.fail(at, "is not a whole number of a sensible size", "a number like 3")
	}
	return json.Number(strconv.FormatInt(int64(f), 10))
}

func (r *reader) number(node any, at string) any {
	number, ok := node.(json.Number)
	if !ok {
		return r.fail(at, "is not a number", "write a number without quotation marks, like 2.5")
	}
	if f, err := number.Float64(); err != nil || math.IsInf(f, 0) {
		return r.fail(at, "is not a number of a sensible size", "a number like 2.5")
	}
	return node
}

// jsonFields lists the fields of a structure by their JSON names.
func jsonFields(t reflect.Type) map[string]reflect.Type {
	out := map[string]reflect.Type{}
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case name == "-":
		case f.Anonymous && name == "":
			for n, inner := range jsonFields(deref(f.Type)) {
				out[n] = inner
			}
		case f.IsExported() && name == "":
			out[f.Name] = f.Type
		case f.IsExported():
			out[name] = f.Type
		}
	}
	return out
}

func deref(t reflect.Type) reflect.Type {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t
}

// escaped writes a name as a part of a JSON pointer (RFC 6901), shortened to
// what a message can hold.
func escaped(name string) string {
	if r := []rune(name); len(r) > 60 {
		name = string(r[:60])
	}
	return strings.NewReplacer("~", "~0", "/", "~1").Replace(name)
}

// lastName is the field's own name in words: "/brace_height/value" is "brace
// height", because "value" says nothing.
func lastName(at string) string {
	parts := strings.Split(strings.TrimSuffix(at, "/value"), "/")
	last := parts[len(parts)-1]
	if strings.Contains(last, ".") {
		return notebook.Label(last) // a settings key, as a change names it
	}
	if n, err := strconv.Atoi(last); err == nil && len(parts) > 1 {
		return itemName(parts[len(parts)-2], n)
	}
	return strings.ReplaceAll(last, "_", " ")
}

// itemName names one of a list, counted from 1 as people count: "arrow 3".
func itemName(list string, n int) string {
	words := map[string]string{"impacts": "arrow", "points": "point", "rods": "rod", "readings": "reading", "taps": "tap", "levels": "level", "distances": "distance", "ends": "end", "settings": "setting"}
	name := words[list]
	if name == "" {
		name = strings.ReplaceAll(list, "_", " ") + ", number"
	}
	return fmt.Sprintf("%s %d", name, n+1)
}
