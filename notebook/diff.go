package notebook

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// Difference is one entry that two set-ups do not share.
type Difference struct {
	Key    string `json:"key"` // as in Keys
	Before string `json:"before"`
	After  string `json:"after"`
}

// Label names the entry in an archer's words: "brace height".
func (d Difference) Label() string { return Label(d.Key) }

// String says the change in words: "brace height: 22.2 cm → 21.5 cm".
func (d Difference) String() string {
	switch {
	case d.Before == "":
		return d.Label() + ": " + d.After + " (not noted before)"
	case d.After == "":
		return d.Label() + ": no longer noted (was " + d.Before + ")"
	}
	return d.Label() + ": " + d.Before + " → " + d.After
}

// plainLabels are the entries whose key does not read well as words.
var plainLabels = map[string]string{
	"brace_height.value":               "brace height",
	"brace_height.from":                "brace height measured from",
	"brace_height.button_behind_pivot": "button behind pivot",
	"nocking_point.value":              "nocking point",
	"nocking_point.of":                 "nocking point measured to",
	"riser.bolts_upper_turns":          "upper limb bolt, turns",
	"riser.bolts_lower_turns":          "lower limb bolt, turns",
	"limbs.bow_length":                 "bow length",
	"limbs.range_low":                  "limb maker's lowest brace height",
	"limbs.range_high":                 "limb maker's highest brace height",
	"limbs.marked_weight":              "weight marked on the limb",
	"limbs.marked_at":                  "limb marked at",
	"string.nocking_mass":              "mass at the nocking point",
	"string.shots_on_it":               "shots on the string",
	"draw.length":                      "draw length",
	"draw.from":                        "draw length measured from",
	"draw.at_brace_height":             "draw weight read at a brace height of",
	"draw.weight":                      "draw weight",
	"draw.points":                      "draw–force readings",
	"arrow.spine":                      "static spine",
	"arrow.shaft_length":               "shaft length",
	"arrow.point_mass":                 "point mass",
	"arrow.nock_mass":                  "nock mass",
	"arrow.fletching_mass":             "fletching mass",
	"arrow.count":                      "arrows in the set",
	"arrow.minimum_mass":               "maker's least arrow mass",
	"riser.rods":                       "stabilisers",
	"riser.pitch_inertia_kgm2":         "pitch inertia, kg m²",
	"riser.balance_ahead":              "balance point ahead of the pivot",
	"rest.powder_mark":                 "powder check",
	"rest.wire_reach":                  "rest's wire past the shaft's centre",
	"rest.height":                      "rest above the pivot",
	"riser.offset":                     "pivot further back than usual",
	"riser.mass":                       "riser with stabilisers",
	"button.turns":                     "button turns from the mark",
	"hook_below":                       "fingers' pull below the nocking point",
	"pressure_point":                   "hand's pressure point above the pivot",
}

// Label names an entry of the settings in an archer's words.
func Label(key string) string {
	if l, ok := plainLabels[key]; ok {
		return l
	}
	return strings.NewReplacer(".", " ", "_", " ").Replace(key)
}

// listKeys are the entries that are lists; With leaves them to files.
var listKeys = []string{"draw.points", "riser.rods"}

// Diff lists what changed between two settings, in the order of the structure.
// A quantity written another way ("225 mm" for "22.5 cm") has not changed. The
// error is always nil; it stays for callers that check it.
func Diff(before, after Settings) ([]Difference, error) {
	a, b := flat(before), flat(after)
	var out []Difference
	for _, key := range append(Keys(), listKeys...) {
		if !a[key].same(b[key]) {
			out = append(out, Difference{key, a[key].text, b[key].text})
		}
	}
	// what follows from another change stands after it
	slices.SortStableFunc(out, func(p, q Difference) int {
		return cmp.Compare(btoi(p.Key == carriedKey), btoi(q.Key == carriedKey))
	})
	return out, nil
}

// carriedKey is the entry that Carry sets by itself.
const carriedKey = "draw.at_brace_height"

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// entry is one entry of the settings: as text, and its SI value if it has one.
type entry struct {
	text     string
	value    float64
	quantity bool
}

func (e entry) same(o entry) bool {
	if e.quantity && o.quantity {
		return e.value == o.value
	}
	return e.text == o.text
}

// flat gives every entry that is set, under its key.
func flat(s Settings) map[string]entry {
	out := map[string]entry{}
	flatten(reflect.ValueOf(s), "", out)
	return out
}

func flatten(v reflect.Value, key string, out map[string]entry) {
	if isQuantity(v.Type()) {
		if text := v.Interface().(fmt.Stringer).String(); !v.Interface().(interface{ IsZero() bool }).IsZero() {
			out[key] = entry{text, v.FieldByName("Value").Float(), true}
		}
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
			flatten(v.Field(i), strings.TrimPrefix(key+"."+name, "."), out)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			out[key] = entry{text: plain(v.Elem())}
		}
	case reflect.Slice:
		if v.Len() > 0 {
			out[key] = entry{text: listed(v)}
		}
	default:
		if !v.IsZero() {
			out[key] = entry{text: plain(v)}
		}
	}
}

// plain prints a count, a word or a yes.
func plain(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'f', -1, 64)
	case reflect.Bool:
		if v.Bool() {
			return "yes"
		}
		return "no"
	}
	return fmt.Sprint(v.Interface())
}

// listed prints a list of small structures: "50 cm 24 lbf, 60 cm 31 lbf".
func listed(list reflect.Value) string {
	items := make([]string, list.Len())
	for i := range items {
		parts := map[string]entry{}
		flatten(list.Index(i), "", parts)
		var words []string
		for f := range list.Type().Elem().NumField() {
			name, _, _ := strings.Cut(list.Type().Elem().Field(f).Tag.Get("json"), ",")
			words = append(words, parts[name].text)
		}
		items[i] = strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), " ")
	}
	return strings.Join(items, ", ")
}
