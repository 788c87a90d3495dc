package server

import (
	"bytes"
	"io"
	"regexp"
)

// csvKind is the media type of a table.
const csvKind = "text/csv; charset=utf-8"

// dialect is how a spreadsheet reads a table (bars.md U19).
type dialect string

// semicolons is the dialect of spreadsheets that write 1,5.
const semicolons dialect = "semicolon"

// of gives what a table with commas is written to.
func (d dialect) of(w io.Writer) io.Writer {
	if d == semicolons {
		return &semicolonWriter{to: w}
	}
	return w
}

// semicolonWriter turns a table with commas, as it passes, into one with
// semicolons, decimal commas and the byte order mark without which such
// spreadsheets take UTF-8 for another code.
type semicolonWriter struct {
	to      io.Writer
	begun   bool
	quoting bool
	cell    []byte // not ended yet
	out     []byte
}

var plainDecimal = regexp.MustCompile(`^-?[0-9]+\.[0-9]+$`)

// Write takes any piece of a table.
func (w *semicolonWriter) Write(b []byte) (int, error) {
	w.out = w.out[:0]
	if !w.begun {
		w.out, w.begun = append(w.out, "\uFEFF"...), true
	}
	for _, c := range b {
		if c == '"' {
			w.quoting = !w.quoting
		}
		switch {
		case w.quoting || c != ',' && c != '\n':
			w.cell = append(w.cell, c)
		case c == ',':
			w.endCell(';')
		default:
			w.endCell(c)
		}
	}
	if _, err := w.to.Write(w.out); err != nil {
		return 0, err
	}
	return len(b), nil
}

func (w *semicolonWriter) endCell(end byte) {
	switch {
	case plainDecimal.Match(w.cell):
		w.out = append(w.out, bytes.Replace(w.cell, []byte("."), []byte(","), 1)...)
	case bytes.IndexByte(w.cell, ';') >= 0 && w.cell[0] != '"':
		w.out = append(append(append(w.out, '"'), w.cell...), '"')
	default:
		w.out = append(w.out, w.cell...)
	}
	w.out, w.cell = append(w.out, end), w.cell[:0]
}
