package workbench

import (
	"fmt"
	"io"

	"tautline/group"
	"tautline/notebook"
	"tautline/unit"
)

// ReadEnds reads a table of arrows into ends without an identity. It stores
// nothing; a mistake anywhere means that nothing is taken, and the error, a
// notebook.Problems, lists the mistakes with their lines.
func ReadEnds(r io.Reader, most int) (ends []notebook.End, warnings []string, err error) {
	in, err := group.ReadCSV(r)
	if err != nil {
		return nil, nil, understandGroup(err)
	}
	if len(in.Shots) > most {
		return nil, nil, &notebook.Error{Code: notebook.Invalid, Message: fmt.Sprintf("the file holds %d arrows; %d can be taken at once", len(in.Shots), most),
			Hint: "split it by session; to look at the whole of it use the command: tautline group"}
	}
	return EndsFromShots(in.Shots), in.Warnings, nil
}

// EndWriter writes ends as a table that ReadEnds understands, one after the
// other, so that any number of them can be written without being held.
type EndWriter struct {
	table *group.CSVWriter
	ends  int
}

// NewEndWriter begins a table with places in the given unit (MM, CM, M or In).
func NewEndWriter(w io.Writer, u unit.Unit[unit.Length]) (*EndWriter, error) {
	table, err := group.NewCSVWriter(w, u)
	return &EndWriter{table: table}, understandGroup(err)
}

// Write adds an end. Ends are counted through from 1, because the numbers
// begin anew in every session and an end's number is what tells that arrows
// share a centre.
func (w *EndWriter) Write(e notebook.End, setup string) error {
	w.ends++
	for _, p := range e.Impacts {
		s := group.Shot{End: w.ends, Arrow: p.Arrow, Kind: group.Fletched, Ring: p.Ring, Setup: setup, Time: p.At}
		if p.Bare {
			s.Kind = group.Bare
		}
		if s.Time.IsZero() {
			s.Time = e.At
		}
		if p.Placed() {
			s.Placed, s.Point = true, group.Point{Right: unit.Length(*p.X), Up: unit.Length(*p.Y)}
		}
		if err := w.table.Write(s); err != nil {
			return err
		}
	}
	return nil
}

// Flush sends what is held.
func (w *EndWriter) Flush() error { return w.table.Flush() }
