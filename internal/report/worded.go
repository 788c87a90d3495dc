package report

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"

	"tautline/unit"
)

// What the workbench's sentences hold: decimal points, and lengths in metric.
var (
	pointed = regexp.MustCompile(`(\d)\.(\d)`)
	metric  = regexp.MustCompile(`(\d+(?:\.\d+)?)(?: to (\d+(?:\.\d+)?))? (cm|mm)\b`)
)

// Said gives a sentence of the workbench in this person's units and with their
// decimal mark. Distances stay as the round is called: 70 m.
func Said(text string, system unit.System) string {
	if system.Setting == unit.In {
		text = metric.ReplaceAllStringFunc(text, inInches)
	}
	return Marked(text, system)
}

// Marked gives a sentence that is in the person's units already their decimal
// mark.
func Marked(text string, system unit.System) string {
	if system.Decimal == unit.Comma {
		text = pointed.ReplaceAllString(text, "$1,$2")
	}
	return text
}

// inInches rewrites "20.4 to 23.4 cm" as "8.03 to 9.21 in".
func inInches(text string) string {
	parts := metric.FindStringSubmatch(text)
	scale, digits := unit.Centimetre, 2
	if parts[3] == "mm" {
		scale, digits = unit.Millimetre, 3
	}
	inches := func(text string) string {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return text // not reached: the pattern holds digits only
		}
		return strconv.FormatFloat((unit.Length(v) * scale).Inches(), 'f', digits, 64)
	}
	if parts[2] == "" {
		return inches(parts[1]) + " in"
	}
	return fmt.Sprintf("%s to %s in", inches(parts[1]), inches(parts[2]))
}

// AllMarked is Marked of every sentence of a result, which is copied. What is
// sent back as it came, or names a thing, stays: settings, questions, keys.
func AllMarked[T any](v T, system unit.System) T {
	if system.Decimal != unit.Comma {
		return v
	}
	raw, err := json.Marshal(v)
	if err != nil {
		return v // what cannot be sent is told when it is sent
	}
	var tree any
	var out T
	if json.Unmarshal(raw, &tree) != nil {
		return v
	}
	if raw, err = json.Marshal(marked(tree, system)); err != nil || json.Unmarshal(raw, &out) != nil {
		return v
	}
	return out
}

// asIs are the entries of a result that no sentence stands in.
var asIs = []string{"ask", "settings", "setup", "set", "id", "key", "name", "label", "inputs", "unit", "face", "x", "y", "low", "high"}

func marked(tree any, system unit.System) any {
	switch t := tree.(type) {
	case string:
		return Marked(t, system)
	case []any:
		for i := range t {
			t[i] = marked(t[i], system)
		}
	case map[string]any:
		for key, v := range t {
			if !slices.Contains(asIs, key) {
				t[key] = marked(v, system)
			}
		}
	}
	return tree
}
