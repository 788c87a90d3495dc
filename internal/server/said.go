package server

import (
	"tautline/internal/report"
	"tautline/unit"
)

// said gives a sentence of the workbench in this person's units and with their
// decimal mark.
func said(text string, system unit.System) string { return report.Said(text, system) }

// saidAll is said of a list, empty where there is none.
func saidAll(list []string, system unit.System) []string {
	out := make([]string, len(list))
	for i, text := range list {
		out[i] = said(text, system)
	}
	return out
}
