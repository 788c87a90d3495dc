// Package figure holds one plain description of a picture. The screen draws
// it from JSON, paper from SVG or PNG; both also get the table behind it, so
// that nobody has to read a number off a line.
package figure

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
)

// Figure is a picture of quantities against one other quantity.
type Figure struct {
	// Title names what is shown; Finding says in one sentence what to see.
	Title   string `json:"title"`
	Finding string `json:"finding"`
	X       Axis   `json:"x"`
	Y       Axis   `json:"y"`
	Series  []Line `json:"series"`
	// Spans are stretches of the x axis with a meaning, such as the limb
	// maker's range.
	Spans []Span `json:"spans,omitempty"`
	// Marks are single places on the x axis, such as the set-up in use.
	Marks []Mark `json:"marks,omitempty"`
	// Headroom is the share of the height left free above the curves for the
	// legend on paper, where they would run through it.
	Headroom float64 `json:"-"`
	// Note says what the doubt means, for example "bands hold 90 % of …".
	Note string `json:"note,omitempty"`
}

// Axis names a quantity and the unit its numbers are in.
type Axis struct {
	Label string `json:"label"`
	Unit  string `json:"unit"`
	// Digits after the decimal mark when a value is read out, 0 to 6.
	Digits int `json:"digits"`
	// Log spaces the axis by ratios; its values are above 0.
	Log bool `json:"log,omitempty"`
}

// Title is the label with its unit: "speed (m/s)".
func (a Axis) Title() string {
	if a.Unit == "" {
		return a.Label
	}
	return a.Label + " (" + a.Unit + ")"
}

// Kind says how a series is drawn. Kinds differ by shape, not only by colour.
type Kind string

const (
	// Curve is a model's line, with its doubt as a band.
	Curve Kind = "curve"
	// Points are readings, with their doubt as bars.
	Points Kind = "points"
)

// Line is one series. Low and High, where given, are the ends of the doubt
// and as long as X; NaN is written as null and leaves a gap.
type Line struct {
	Name string   `json:"name"`
	Kind Kind     `json:"kind"`
	X    []Number `json:"x"`
	Y    []Number `json:"y"`
	Low  []Number `json:"low,omitempty"`
	High []Number `json:"high,omitempty"`
	// Dashed asks for a broken line: of what was not measured, or was after.
	Dashed bool `json:"dashed,omitempty"`
	// Dash and Shape tell the series from the others without colour; left out,
	// it is given what is free (Dressed).
	Dash  Dash  `json:"dash,omitempty"`
	Shape Shape `json:"shape,omitempty"`
}

// Span is a labelled stretch of the x axis.
type Span struct {
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Label string  `json:"label"`
}

// Mark is a labelled place on the x axis.
type Mark struct {
	At    float64 `json:"at"`
	Label string  `json:"label"`
}

// Number is a float64 that JSON can hold: what is not finite becomes null.
type Number float64

// MarshalJSON writes a finite number, else null.
func (n Number) MarshalJSON() ([]byte, error) {
	f := float64(n)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, f, 'g', -1, 64), nil
}

// UnmarshalJSON reads a number; null becomes NaN.
func (n *Number) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = Number(math.NaN())
		return nil
	}
	f, err := strconv.ParseFloat(string(b), 64)
	if err != nil {
		return fmt.Errorf("figure: %q is not a number", b)
	}
	*n = Number(f)
	return nil
}

// Maybe is a number that may be missing.
func Maybe(v *float64) Number {
	if v == nil {
		return Number(math.NaN())
	}
	return Number(*v)
}

// Numbers converts a slice.
func Numbers(values []float64) []Number {
	out := make([]Number, len(values))
	for i, v := range values {
		out[i] = Number(v)
	}
	return out
}

// Validate says what is missing or inconsistent in the description.
func (f Figure) Validate() error {
	switch {
	case f.Title == "":
		return errors.New("figure: a title is missing")
	case f.Finding == "":
		return fmt.Errorf("figure %q: the one-sentence finding is missing", f.Title)
	case f.X.Label == "" || f.Y.Label == "":
		return fmt.Errorf("figure %q: an axis has no label", f.Title)
	}
	for _, s := range f.Series {
		if err := s.validate(); err != nil {
			return fmt.Errorf("figure %q: %w", f.Title, err)
		}
	}
	if err := alike(f.Series); err != nil {
		return fmt.Errorf("figure %q: %w", f.Title, err)
	}
	return nil
}

func (s Line) validate() error {
	n := len(s.X)
	switch {
	case s.Name == "":
		return errors.New("a series has no name")
	case s.Kind != Curve && s.Kind != Points:
		return fmt.Errorf("series %q: unknown kind %q", s.Name, s.Kind)
	case len(s.Y) != n:
		return fmt.Errorf("series %q: %d x for %d y", s.Name, n, len(s.Y))
	case (s.Low == nil) != (s.High == nil) || s.Low != nil && (len(s.Low) != n || len(s.High) != n):
		return fmt.Errorf("series %q: the doubt needs a low and a high for each point", s.Name)
	}
	return nil
}

// WriteCSV writes the table behind the picture: one row a point, units in the
// header (RFC 4180).
func (f Figure) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	rows := [][]string{{"series", f.X.Title(), f.Y.Title(), "low", "high"}}
	for _, s := range f.Series {
		for i := range s.X {
			row := []string{s.Name, f.X.text(s.X[i]), f.Y.text(s.Y[i]), "", ""}
			if s.Low != nil {
				row[3], row[4] = f.Y.text(s.Low[i]), f.Y.text(s.High[i])
			}
			rows = append(rows, row)
		}
	}
	return out.WriteAll(rows)
}

func (a Axis) text(n Number) string {
	if math.IsNaN(float64(n)) {
		return ""
	}
	return strconv.FormatFloat(float64(n), 'f', a.Digits, 64)
}
