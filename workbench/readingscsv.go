package workbench

import (
	"encoding/csv"
	"io"
	"strconv"
	"time"

	"tautline/group"
	"tautline/notebook"
)

// ReadingWriter writes readings as a table for a spreadsheet (RFC 4180), one
// after the other, so that any number of them can be written without being
// held.
type ReadingWriter struct{ table *csv.Writer }

// readingsTable stand in this order; new ones come at the end. The unit of a
// value has a column of its own, since it differs by kind.
var readingsTable = []string{
	"id", "at_utc", "kind", "value_si", "unit_si", "as_typed", "doubt_si", "edge", "repeat", "arrows", "distance_m", "distance_as_typed",
	"draw_length_m", "draw_length_as_typed", "instrument", "note", "bow", "setup", "session", "trial", "stop", "corrects", "by",
}

// NewReadingWriter begins a table with its header.
func NewReadingWriter(w io.Writer) (*ReadingWriter, error) {
	out := &ReadingWriter{csv.NewWriter(w)}
	return out, out.table.Write(readingsTable)
}

// Write adds a reading. A reading in words has no value.
func (w *ReadingWriter) Write(r notebook.Reading) error {
	info, _ := r.Kind.Info()
	value, stop := number(r.Value), ""
	if info.WordsOnly {
		value = ""
	}
	if r.Stop != nil {
		stop = strconv.Itoa(*r.Stop)
	}
	distance, draw := lengthCells(r.Distance), lengthCells(r.DrawLength)
	return w.table.Write([]string{
		string(r.ID), r.At.UTC().Format(time.RFC3339Nano), string(r.Kind), value, info.SI, group.Harmless(r.Text), countless(r.Doubt), string(r.Edge), count(r.Repeat), count(r.Arrows),
		distance[0], distance[1], draw[0], draw[1], group.Harmless(r.Instrument), group.Harmless(r.Note),
		string(r.Bow), string(r.SetUp), string(r.Session), string(r.Trial), stop, string(r.Corrects), string(r.By),
	})
}

// Flush sends what is held.
func (w *ReadingWriter) Flush() error {
	w.table.Flush()
	return w.table.Error()
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// countless leaves what was not given empty.
func countless(v float64) string {
	if v == 0 {
		return ""
	}
	return number(v)
}

func count(n int) string { return countless(float64(n)) }

func lengthCells(l notebook.Length) (out [2]string) {
	text, err := l.MarshalText()
	if err == nil && len(text) > 0 {
		out = [2]string{number(float64(l.Value)), group.Harmless(string(text))}
	}
	return out
}
