package contract

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Examples says what is wrong with the examples of a description: an operation
// without one for its body, its success or a parameter that does not explain
// itself; one that does not fit its own schema.
func (d *Description) Examples() (faults []string) {
	for _, o := range d.Operations() {
		faults = append(faults, o.exampleOf(at(o.said, "requestBody"), "request")...)
		shown := false
		answers := at(o.said, "responses")
		for _, status := range slices.Sorted(maps.Keys(answers)) {
			answer, _ := answers[status].(tree)
			if !strings.HasPrefix(status, "2") {
				continue
			}
			shown = true
			faults = append(faults, o.exampleOf(answer, status)...)
		}
		if !shown {
			faults = append(faults, fmt.Sprintf("%s: no success is declared", o))
		}
		faults = append(faults, o.parameterExamples()...)
	}
	return faults
}

// binary are the types of content that no example in JSON can show.
func binary(kind string) bool {
	return strings.HasPrefix(kind, "audio/") || kind == "application/octet-stream" || kind == "application/zip" || kind == "application/partial-upload"
}

func (o Operation) exampleOf(of tree, what string) (faults []string) {
	for kind, media := range at(of, "content") {
		example, ok := media.(tree)["example"]
		switch {
		case binary(kind):
		case !ok:
			faults = append(faults, fmt.Sprintf("%s: %s has no example", o, what))
		case strings.HasSuffix(kind, "json"):
			raw, err := json.Marshal(example)
			if err != nil {
				faults = append(faults, err.Error())
			}
			faults = append(faults, o.content(of, kind, raw, "example of "+what)...)
		}
	}
	return faults
}

// parameterExamples: every parameter has an example that fits, or explains
// itself: one of a few words, a number with a default, yes or no.
func (o Operation) parameterExamples() (faults []string) {
	all := o.Parameters()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		p, schema := all[name], at(all[name], "schema")
		example, ok := p["example"]
		if !ok {
			if list, _ := schema["examples"].([]any); len(list) > 0 {
				example, ok = list[0], true
			}
		}
		_, choice := schema["enum"]
		_, usual := schema["default"]
		switch {
		case ok:
			faults = append(faults, o.fits(schema, example, name)...)
		case !choice && !usual && schema["type"] != "boolean":
			faults = append(faults, fmt.Sprintf("%s: %s has no example", o, name))
		}
	}
	return faults
}
