package group

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"tautline/unit"
)

// WriteCSV writes shots as ReadCSV reads them, lengths in the given unit (MM,
// CM, M or In) with as many digits as it takes to read the same value back to
// a nanometre. Columns that hold nothing are left out.
func WriteCSV(w io.Writer, shots []Shot, u unit.Unit[unit.Length]) error {
	suffix, size := "_"+string(u), unit.Length(0)
	if s, ok := lengthSuffix[suffix]; ok {
		size = s
	} else {
		return bad("unit", "choose mm, cm, m or in", "a table of places cannot be written in %s", u)
	}
	columns := usedColumns(shots, suffix)
	table := csv.NewWriter(w)
	var names []string
	for _, c := range columns {
		names = append(names, c.name)
	}
	if err := table.Write(names); err != nil {
		return fmt.Errorf("writing the table: %w", err)
	}
	for _, s := range shots {
		var row []string
		for _, c := range columns {
			row = append(row, c.text(s, size))
		}
		if err := table.Write(row); err != nil {
			return fmt.Errorf("writing the table: %w", err)
		}
	}
	table.Flush()
	if err := table.Error(); err != nil {
		return fmt.Errorf("writing the table: %w", err)
	}
	return nil
}

type writtenColumn struct {
	name string
	used func(Shot) bool
	text func(Shot, unit.Length) string
}

func usedColumns(shots []Shot, suffix string) []writtenColumn {
	isPlaced := func(s Shot) bool { return s.Placed }
	all := []writtenColumn{
		{"end", func(Shot) bool { return true }, func(s Shot, _ unit.Length) string { return strconv.Itoa(s.End) }},
		{"arrow", func(s Shot) bool { return s.Arrow != "" }, func(s Shot, _ unit.Length) string { return harmless(s.Arrow) }},
		{"x" + suffix, isPlaced, func(s Shot, size unit.Length) string { return coordinate(s.Placed, s.Right, size) }},
		{"y" + suffix, isPlaced, func(s Shot, size unit.Length) string { return coordinate(s.Placed, s.Up, size) }},
		{"ring", func(s Shot) bool { return s.Ring != "" }, func(s Shot, _ unit.Length) string { return s.Ring }},
		{"kind", func(s Shot) bool { return s.Kind == Bare }, func(s Shot, _ unit.Length) string { return string(s.Kind) }},
		{"setup", func(s Shot) bool { return s.Setup != "" }, func(s Shot, _ unit.Length) string { return harmless(s.Setup) }},
		{"time", func(s Shot) bool { return !s.Time.IsZero() }, func(s Shot, _ unit.Length) string {
			if s.Time.IsZero() {
				return ""
			}
			return s.Time.Format(time.RFC3339)
		}},
	}
	var out []writtenColumn
	for _, c := range all {
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

// harmless keeps a spreadsheet from taking a text for a formula.
func harmless(s string) string {
	if s != "" && strings.ContainsRune("=+-@'\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
