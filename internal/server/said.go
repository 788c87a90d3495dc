package server

import (
	"fmt"
	"regexp"
	"strconv"

	"tautline/unit"
)

// What the workbench's sentences hold: decimal points, and lengths in metric.
var (
	pointed = regexp.MustCompile(`(\d)\.(\d)`)
	metric  = regexp.MustCompile(`(\d+(?:\.\d+)?)(?: to (\d+(?:\.\d+)?))? (cm|mm)\b`)
)

// said gives a sentence of the workbench in this person's units and with their
// decimal mark. Distances stay as the round is called: 70 m.
func said(text string, system unit.System) string {
	if system.Setting == unit.In {
		text = metric.ReplaceAllStringFunc(text, inInches)
	}
	if system.Decimal == unit.Comma {
		text = pointed.ReplaceAllString(text, "$1,$2")
	}
	return text
}

// saidAll is said of a list, empty where there is none.
func saidAll(list []string, system unit.System) []string {
	out := make([]string, len(list))
	for i, text := range list {
		out[i] = said(text, system)
	}
	return out
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
