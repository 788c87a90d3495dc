package store

import (
	"fmt"
	"strings"

	"tautline/notebook"
)

// ImportOptions says how an export is read in.
type ImportOptions struct {
	// KeepGood imports the good records although others are bad. Otherwise
	// one bad record stops the import and nothing is changed.
	KeepGood bool
	// DryRun only reports.
	DryRun bool
	// As is the person of this notebook who takes over what is the export's own
	// person's: a notebook of one's own comes into a club's, or back. Empty:
	// everyone stays who they are.
	As notebook.ID
}

// ImportReport says what an import did, or would do.
type ImportReport struct {
	Added    map[string]int `json:"added"`   // records by kind
	Already  int            `json:"already"` // were there before, unchanged
	Problems []ImportLine   `json:"problems"`
	// Warnings do not stop an import: a record names another that is neither
	// in the export nor in the notebook.
	Warnings []ImportLine `json:"warnings"`
	Done     bool         `json:"done"` // false: nothing was changed
}

// ImportLine is one bad line of notebook.json.
type ImportLine struct {
	Line    int    `json:"line"` // from 1; 0: the export as a whole
	Message string `json:"message"`
}

// Text is the report in a person's words.
func (r ImportReport) Text() string {
	var b strings.Builder
	done := "would be added"
	if r.Done {
		done = "added"
	}
	for _, kind := range sorted(r.Added) {
		fmt.Fprintf(&b, "  %d × %s %s\n", r.Added[kind], kind, done)
	}
	if r.Already > 0 {
		fmt.Fprintf(&b, "  %d were there already, unchanged\n", r.Already)
	}
	for _, p := range r.Problems {
		fmt.Fprintf(&b, "  %s: %s\n", p.where(), p.Message)
	}
	for _, p := range r.Warnings {
		fmt.Fprintf(&b, "  %s, no reason to stop: %s\n", p.where(), p.Message)
	}
	return b.String()
}

func (l ImportLine) where() string {
	if l.Line == 0 {
		return "the export"
	}
	return fmt.Sprintf("line %d", l.Line)
}
