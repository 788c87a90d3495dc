// Package report turns results into a page that leaves the house: one Sheet,
// with faces for the terminal, paper and a spreadsheet.
package report

import (
	"strings"
	"time"

	"tautline/internal/figure"
	"tautline/notebook"
)

// Sheet is one printed page, or a few, described without a format.
type Sheet struct {
	Title    string      // what it is: "Brace-height trial"
	Subtitle string      // whose and of what: the bow's name
	Made     time.Time   // printed at the foot, in UTC
	Source   string      // the record it was made from, such as a set-up's id
	Bow      notebook.ID `json:",omitempty"` // whose page leads on from it
	Link     string      `json:",omitempty"` // where the notebook shows it again; printed as a code to scan
	Blocks   []Block
	Cautions []string // printed last, always
}

// Block is one part of a sheet: exactly one of its fields beside Heading is
// set, but for a Ruler and a Face, which have their Table beside them; a Face
// has Facts and a Text too. Paper leaves the table behind a Face out: its
// numbers are the Facts.
type Block struct {
	Heading string
	Text    string         // a paragraph
	Facts   []Fact         // label and value, one a line
	Table   *Table         // columns and rows
	Figure  *figure.Figure // a picture
	Face    *figure.Face   `json:",omitempty"` // places on a target face
	Ruler   *Ruler         `json:",omitempty"` // a scale at true size; only paper draws it
	Labels  []BowLabel     `json:",omitempty"` // labels to cut out; only paper draws their codes
	Lines   int            // empty lines to write on with a pencil
}

// Fact is a value with its name and its doubt. Doubt "" prints nothing: use
// it only for what has none, such as a name.
type Fact struct {
	Label, Value, Doubt string
}

// Table has a unit in each header. A cell "" under a header that ends in "…"
// is a field for the pencil.
type Table struct {
	Header []string
	Rows   [][]string
	// Wide gives columns more room, by index; the default is an equal share.
	Wide map[int]float64
}

// fact joins value and doubt the same way on every face.
func (f Fact) text() string {
	if f.Doubt == "" {
		return f.Value
	}
	return f.Value + "  " + f.Doubt
}

// forPencil tells whether any column is to be filled in by hand.
func (t Table) forPencil() bool {
	for _, h := range t.Header {
		if strings.HasSuffix(h, "…") {
			return true
		}
	}
	return false
}

// share gives each column's part of the width, together 1.
func (t Table) share() []float64 {
	parts := make([]float64, len(t.Header))
	sum := 0.0
	for i := range parts {
		parts[i] = 1
		if w := t.Wide[i]; w > 0 {
			parts[i] = w
		}
		sum += parts[i]
	}
	for i := range parts {
		parts[i] /= sum
	}
	return parts
}

// foot is the line at the end of every page.
func (s Sheet) foot() string {
	parts := []string{"Tautline"}
	if !s.Made.IsZero() {
		parts = append(parts, s.Made.UTC().Format("2006-01-02 15:04 UTC"))
	}
	if s.Source != "" {
		parts = append(parts, s.Source)
	}
	return strings.Join(parts, " · ")
}
