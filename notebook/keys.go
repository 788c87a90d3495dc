package notebook

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strings"

	"tautline/unit"
)

// shortKeys are the names people use for the entries they change most.
var shortKeys = map[string]string{
	"brace_height":  "brace_height.value",
	"nocking_point": "nocking_point.value",
	"draw_length":   "draw.length",
	"draw_weight":   "draw.weight",
	"string_length": "string.length",
	"twists":        "string.twists",
	"strands":       "string.strands",
	"arrow_mass":    "arrow.mass",
	"point_mass":    "arrow.point_mass",
	"spine":         "arrow.spine",
	"button":        "button.turns",
	"offset":        "riser.offset",
	"bow_length":    "limbs.bow_length",
}

// Keys lists every entry that Set accepts, in the order of the structure.
func Keys() []string { return keysOf(reflect.TypeFor[Settings](), "") }

// keysOf walks the structure's JSON names; lists are left to files.
func keysOf(t reflect.Type, prefix string) (keys []string) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Type.Kind() == reflect.Slice:
		case f.Type.Kind() == reflect.Struct && !isQuantity(f.Type):
			keys = append(keys, keysOf(f.Type, prefix+name+".")...)
		default:
			keys = append(keys, prefix+name)
		}
	}
	return keys
}

func isQuantity(t reflect.Type) bool {
	_, ok := reflect.New(t).Interface().(interface{ UnmarshalText([]byte) error })
	return ok
}

// With returns the settings with one entry changed: With("brace_height",
// "21.5 cm"). Keys are those of Keys, or the short names people use; an empty
// text takes the entry out. The receiver is not changed.
func (s Settings) With(key, text string) (Settings, error) {
	path := key
	if long, ok := shortKeys[key]; ok {
		path = long
	}
	if !slices.Contains(Keys(), path) {
		return s, noSetting(key, nil)
	}
	tree, err := s.tree()
	if err != nil {
		return s, err
	}
	value, err := literal(path, text)
	if err != nil {
		return s, unit.For(key, err)
	}
	put(tree, strings.Split(path, "."), value)
	raw, err := json.Marshal(tree)
	if err != nil {
		return s, fmt.Errorf("notebook: %w", err)
	}
	out, err := ReadSettings(raw)
	if err != nil {
		return out, unit.For(key, err)
	}
	if path != "draw.at_brace_height" {
		out = Carry(s, out)
	}
	return out, nil
}

// literal turns a text into what JSON holds at the path.
func literal(path, text string) (any, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return nil, nil
	}
	switch kindAt(path) {
	case reflect.Int:
		n, err := unit.ParseNumber(text)
		if err == nil && (n != math.Trunc(n) || math.Abs(n) > 1e9) {
			err = &unit.ParseError{Quantity: "count", Text: text, Reason: "a whole number is expected", Example: "12"}
		}
		return n, err
	case reflect.Float64:
		return unit.ParseNumber(text)
	case reflect.Bool:
		return yesOrNo(text)
	}
	return text, nil
}

func yesOrNo(text string) (any, error) {
	switch strings.ToLower(text) {
	case "yes", "true":
		return true, nil
	case "no", "false":
		return false, nil
	}
	return nil, &unit.ParseError{Quantity: "answer", Text: text, Reason: "yes or no is expected", Example: "yes"}
}

// kindAt gives the kind of the entry at a path, pointers followed.
func kindAt(path string) reflect.Kind {
	t := reflect.TypeFor[Settings]()
	for part := range strings.SplitSeq(path, ".") {
		for i := range t.NumField() {
			f := t.Field(i)
			if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name == part {
				t = f.Type
				break
			}
		}
		if t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
	}
	return t.Kind()
}

func (s Settings) tree() (map[string]any, error) {
	raw, err := json.Marshal(s)
	if err != nil {
		return nil, fmt.Errorf("notebook: %w", err)
	}
	tree := map[string]any{}
	return tree, json.Unmarshal(raw, &tree)
}

func put(tree map[string]any, path []string, value any) {
	if len(path) == 1 {
		if value == nil {
			delete(tree, path[0])
			return
		}
		tree[path[0]] = value
		return
	}
	next, ok := tree[path[0]].(map[string]any)
	if !ok {
		next = map[string]any{}
		tree[path[0]] = next
	}
	put(next, path[1:], value)
}

// ReadSettings reads settings from JSON, a bow file for example. A name that
// does not exist is refused, with the nearest that does.
func ReadSettings(raw []byte) (Settings, error) {
	var s Settings
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&s); err != nil {
		return Settings{}, locate(raw, readError(err))
	}
	if dec.More() {
		return Settings{}, &Error{Code: Invalid, Message: "something follows after the settings", Hint: "keep one bow in a file"}
	}
	return s, nil
}

// readError puts a decoding error into an archer's words.
func readError(err error) error {
	text := err.Error()
	if _, name, ok := strings.Cut(text, "unknown field "); ok {
		name = strings.Trim(name, `"`)
		return noSetting(name, err)
	}
	var kind *json.UnmarshalTypeError
	var syntax *json.SyntaxError
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		return &Error{Code: Invalid, Message: "the file ends in the middle", Hint: "copy it again, or compare it with the files in examples/", Cause: err}
	case errors.As(err, &kind):
		return &Error{Code: Invalid, Field: kind.Field, Message: "a " + kind.Value + " stands where something else belongs", Hint: `quantities are texts with their unit, like "22.5 cm"; counts are plain numbers`, Cause: err}
	case errors.As(err, &syntax):
		return &Error{Code: Invalid, Message: fmt.Sprintf("this is not JSON at byte %d: %v", syntax.Offset, syntax), Hint: "compare it with the files in examples/", Cause: err}
	}
	return err
}

// locate gives a quantity that cannot be read the key it stands under: the
// decoder does not say where it was.
func locate(raw []byte, err error) error {
	var unread *unit.ParseError
	var tree map[string]any
	exact := json.NewDecoder(bytes.NewReader(raw))
	exact.UseNumber() // a bare number is compared as it was written
	if !errors.As(err, &unread) || exact.Decode(&tree) != nil {
		return err
	}
	for _, key := range Keys() {
		if v := at(tree, key); v != nil && fmt.Sprint(v) == unread.Text {
			return &Error{Code: Invalid, Field: "/" + strings.ReplaceAll(key, ".", "/"), Message: unread.Message(), Hint: unread.Hint(), Cause: err}
		}
	}
	return err
}

// at gives what stands under a key, nil if nothing does.
func at(tree map[string]any, key string) any {
	head, rest, deeper := strings.Cut(key, ".")
	if !deeper {
		return tree[head]
	}
	below, ok := tree[head].(map[string]any)
	if !ok {
		return nil
	}
	return at(below, rest)
}

// noSetting refuses a name that is no setting.
func noSetting(name string, cause error) error {
	hint := "the settings are " + strings.Join(shortNames(), ", ") + " and more; see Help, or tautline manual notebook-format"
	if near := closest(name); near != "" {
		hint = "did you mean " + near + "?"
	}
	return &Error{Code: Invalid, Field: name, Message: "there is no such setting", Hint: hint, Cause: cause}
}

// shortNames lists the short keys in order.
func shortNames() []string {
	names := make([]string, 0, len(shortKeys))
	for short := range shortKeys {
		names = append(names, short)
	}
	slices.Sort(names)
	return names
}

// closest is the known key with the fewest changes to a mistyped one, "" when
// none is near enough to be meant.
func closest(key string) string {
	best, least := "", max(2, len(key)/2)+1
	candidates := append(shortNames(), Keys()...)
	slices.Sort(candidates)
	for _, c := range candidates {
		last := c[strings.LastIndex(c, ".")+1:]
		if d := min(distance(key, c), distance(key, last)); d < least {
			best, least = c, d
		}
	}
	return best
}

// distance is Levenshtein's edit distance.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := corner
			if a[i] != b[j] {
				cost++
			}
			corner = row[j+1]
			row[j+1] = min(cost, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(b)]
}
