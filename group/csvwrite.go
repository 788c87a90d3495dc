package group

import (
	"encoding/csv"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"

	"tautline/unit"
)

// WriteCSV writes shots as ReadCSV reads them, lengths in the given unit (MM,
// CM, M or In) with as many digits as it takes to read the same value back to
// a nanometre. Columns that hold nothing are left out.
func WriteCSV(w io.Writer, shots []Shot, u unit.Unit[unit.Length]) error {
	size, err := sizeOf(u)
	if err != nil {
		return err
	}
	out := CSVWriter{csv.NewWriter(w), usedColumns(shots, u), size}
	if err := out.header(); err != nil {
		return err
	}
	for _, s := range shots {
		if err := out.Write(s); err != nil {
			return err
		}
	}
	return out.Flush()
}

// CSVWriter writes shots one by one, with every column.
type CSVWriter struct {
	table   *csv.Writer
	columns []writtenColumn
	size    unit.Length
}

// NewCSVWriter begins a table for ReadCSV with its header; the unit is as in
// WriteCSV.
func NewCSVWriter(w io.Writer, u unit.Unit[unit.Length]) (*CSVWriter, error) {
	size, err := sizeOf(u)
	if err != nil {
		return nil, err
	}
	out := &CSVWriter{csv.NewWriter(w), allColumns(u), size}
	return out, out.header()
}

func sizeOf(u unit.Unit[unit.Length]) (unit.Length, error) {
	size, ok := lengthSuffix["_"+string(u)]
	if !ok {
		return 0, bad("unit", "choose mm, cm, m or in", "a table of places cannot be written in %s", u)
	}
	return size, nil
}

func (w *CSVWriter) header() error {
	var names []string
	for _, c := range w.columns {
		names = append(names, c.name)
	}
	return w.row(names)
}

// Write adds one shot.
func (w *CSVWriter) Write(s Shot) error {
	var row []string
	for _, c := range w.columns {
		row = append(row, c.text(s, w.size))
	}
	return w.row(row)
}

func (w *CSVWriter) row(cells []string) error {
	if err := w.table.Write(cells); err != nil {
		return fmt.Errorf("writing the table: %w", err)
	}
	return nil
}

// Flush sends what is held.
func (w *CSVWriter) Flush() error {
	w.table.Flush()
	if err := w.table.Error(); err != nil {
		return fmt.Errorf("writing the table: %w", err)
	}
	return nil
}

type writtenColumn struct {
	name string
	used func(Shot) bool
	text func(Shot, unit.Length) string
}

// allColumns lists the columns in their order.
func allColumns(u unit.Unit[unit.Length]) []writtenColumn {
	isPlaced, suffix := func(s Shot) bool { return s.Placed }, "_"+string(u)
	return []writtenColumn{
		{"end", func(Shot) bool { return true }, func(s Shot, _ unit.Length) string { return strconv.Itoa(s.End) }},
		{"arrow", func(s Shot) bool { return s.Arrow != "" }, func(s Shot, _ unit.Length) string { return Harmless(s.Arrow) }},
		{"x" + suffix, isPlaced, func(s Shot, size unit.Length) string { return coordinate(s.Placed, s.Right, size) }},
		{"y" + suffix, isPlaced, func(s Shot, size unit.Length) string { return coordinate(s.Placed, s.Up, size) }},
		{"ring", func(s Shot) bool { return s.Ring != "" }, func(s Shot, _ unit.Length) string { return s.Ring }},
		{"kind", func(s Shot) bool { return s.Kind == Bare }, func(s Shot, _ unit.Length) string { return string(s.Kind) }},
		{"setup", func(s Shot) bool { return s.Setup != "" }, func(s Shot, _ unit.Length) string { return Harmless(s.Setup) }},
		{"time", func(s Shot) bool { return !s.Time.IsZero() }, func(s Shot, _ unit.Length) string {
			if s.Time.IsZero() {
				return ""
			}
			return s.Time.Format(time.RFC3339)
		}},
	}
}

func usedColumns(shots []Shot, u unit.Unit[unit.Length]) []writtenColumn {
	var out []writtenColumn
	for _, c := range allColumns(u) {
		for _, s := range shots {
			if c.used(s) {
				out = append(out, c)
				break
			}
		}
	}
	return out
}

func coordinate(placed bool, l, size unit.Length) string {
	if !placed {
		return ""
	}
	text := strconv.FormatFloat(float64(l/size), 'f', 9, 64)
	return strings.TrimRight(strings.TrimRight(text, "0"), ".")
}

// Harmless keeps a spreadsheet from taking a text for a formula, and from
// changing what looks like a number or a date to it: 007, 1E5, 1-2, 3/4, 2.50.
// ReadCSV takes the sign away again.
func Harmless(s string) string {
	if strings.IndexAny(s, "=+-@'\t\r\n＝＋－＠") == 0 || changedBySpreadsheets(s) {
		return "'" + s
	}
	return s
}

// monthNames are the months as spreadsheets know them in some languages.
const monthNames = `(jan|feb|mar|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-z]*`

var datelike = regexp.MustCompile(`(?i)^\s*(\d{1,4}\s*[-/.:, ]\s*\d{1,2}\b[-\d\s:./,T]*([ap]m)?|(\d{1,2}[-/. ]*)?` + monthNames + `[-/. ]*\d{1,4}|\d{1,2}[-/. ]*` + monthNames + `)\s*$`)

// changedBySpreadsheets tells a text that is not shown as it stands.
func changedBySpreadsheets(s string) bool {
	if n, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(s), ",", ".", 1), 64); err == nil {
		return strconv.FormatFloat(n, 'f', -1, 64) != s || len(s) > 11 // shown as 1.2E+11
	}
	return datelike.MatchString(s)
}
