package store

import (
	"context"
	"encoding"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// writeTable writes one kind for a spreadsheet (RFC 4180). Columns stand in a
// fixed order; new ones come at the end.
func (s *Store) writeTable(ctx context.Context, from asker, k shelf, w io.Writer) error {
	switch k.kind() {
	case string(notebook.ReadingNoun):
		return s.writeReadings(ctx, from, w)
	case string(notebook.SetUpNoun):
		return s.writeSetUps(ctx, from, w)
	case string(notebook.EndNoun):
		return s.writeEnds(ctx, from, w)
	}
	out := newSheet(w, header(reflect.TypeOf(k.example()))...)
	err := k.dump(ctx, from, func(raw json.RawMessage) error {
		record := reflect.New(reflect.TypeOf(k.example()))
		if err := json.Unmarshal(raw, record.Interface()); err != nil {
			return err
		}
		return out.row(cells(record.Elem())...)
	})
	return joined(err, out.flush())
}

// inSI names a quantity's unit in a header.
var inSI = map[reflect.Type]string{
	reflect.TypeFor[unit.Text[unit.Length]]():      "_m",
	reflect.TypeFor[unit.Text[unit.Speed]]():       "_mps",
	reflect.TypeFor[unit.Text[unit.Temperature]](): "_degc",
	reflect.TypeFor[unit.Text[unit.Pressure]]():    "_pa",
}

// header gives the columns of a record. A quantity has two: its value in SI
// and what was typed. Lists, plans and verdicts stand in the JSON only.
func header(t reflect.Type) (out []string) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		si, quantity := inSI[f.Type]
		switch {
		case f.Anonymous:
			out = append(out, header(f.Type)...)
		case quantity:
			out = append(out, name+si, name+"_as_typed")
		case f.Type == reflect.TypeFor[time.Time]():
			out = append(out, name+"_utc")
		case f.Type.Kind() != reflect.Slice:
			out = append(out, name)
		}
	}
	return out
}

// cells gives a record's row under its header.
func cells(v reflect.Value) (out []string) {
	for i := range v.NumField() {
		f, field := v.Type().Field(i), v.Field(i)
		_, quantity := inSI[f.Type]
		switch {
		case f.Anonymous:
			out = append(out, cells(field)...)
		case quantity:
			out = append(out, typedCells(field)...)
		case f.Type == reflect.TypeFor[time.Time]():
			out = append(out, utc(field.Interface().(time.Time)))
		case f.Type.Kind() != reflect.Slice:
			out = append(out, cell(field))
		}
	}
	return out
}

func typedCells(q reflect.Value) []string {
	text, err := q.Interface().(encoding.TextMarshaler).MarshalText()
	if err != nil || len(text) == 0 {
		return []string{"", ""}
	}
	return []string{strconv.FormatFloat(q.FieldByName("Value").Float(), 'g', -1, 64), string(text)}
}

func cell(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return ""
		}
		return cell(v.Elem())
	case reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'f', -1, 64)
	}
	return fmt.Sprint(v.Interface())
}

func utc(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }

// writeReadings has the unit of value_si in its own column, since kinds differ.
func (s *Store) writeReadings(ctx context.Context, from asker, w io.Writer) error {
	out := newSheet(w, "id", "kind", "value_si", "unit_si", "as_typed", "bow", "setup", "trial", "stop", "edge", "repeat", "at_utc", "corrects", "note", "session", "instrument", "arrows", "by", "received_utc")
	err := typed[notebook.Reading]{&s.readings, notebook.ReadingNoun}.dump(ctx, from, func(raw json.RawMessage) error {
		var r notebook.Reading
		if err := json.Unmarshal(raw, &r); err != nil {
			return err
		}
		info, _ := r.Kind.Info()
		stop := ""
		if r.Stop != nil {
			stop = strconv.Itoa(*r.Stop)
		}
		return out.row(string(r.ID), string(r.Kind), strconv.FormatFloat(r.Value, 'f', -1, 64), info.SI, r.Text, string(r.Bow), string(r.SetUp),
			string(r.Trial), stop, string(r.Edge), strconv.Itoa(r.Repeat), utc(r.At), string(r.Corrects), r.Note,
			string(r.Session), r.Instrument, strconv.Itoa(r.Arrows), string(r.By), utc(r.Received))
	})
	return joined(err, out.flush())
}

// writeSetUps writes one row an entry: settings are many and mostly empty.
func (s *Store) writeSetUps(ctx context.Context, from asker, w io.Writer) error {
	out := newSheet(w, "setup", "bow", "at_utc", "reason", "setting", "as_typed_with_unit", "parent", "by")
	err := typed[notebook.SetUp]{&s.setups, notebook.SetUpNoun}.dump(ctx, from, func(raw json.RawMessage) error {
		var r notebook.SetUp
		if err := json.Unmarshal(raw, &r); err != nil {
			return err
		}
		entries, err := notebook.Diff(notebook.Settings{}, r.Settings)
		for _, e := range entries {
			err = joined(err, out.row(string(r.ID), string(r.Bow), utc(r.At), r.Reason, e.Key, e.After, string(r.Parent), string(r.By)))
		}
		return err
	})
	return joined(err, out.flush())
}

// writeEnds writes one row an arrow, places in metres, right and up as seen
// from the shooting line.
func (s *Store) writeEnds(ctx context.Context, from asker, w io.Writer) error {
	out := newSheet(w, "id", "end", "arrow", "x_m", "y_m", "ring", "kind", "distance_m", "distance_as_typed", "face", "bow", "setup", "session", "trial", "stop", "at_utc", "corrects", "note", "by", "received_utc")
	err := typed[notebook.End]{&s.ends, notebook.EndNoun}.dump(ctx, from, func(raw json.RawMessage) (err error) {
		var e notebook.End
		if err := json.Unmarshal(raw, &e); err != nil {
			return err
		}
		distance := []string{"", ""}
		if !e.Distance.IsZero() {
			distance = typedCells(reflect.ValueOf(e.Distance))
		}
		for _, i := range e.Impacts {
			kind := "fletched"
			if i.Bare {
				kind = "bare"
			}
			err = joined(err, out.row(string(e.ID), strconv.Itoa(e.Number), i.Arrow, cell(reflect.ValueOf(i.X)), cell(reflect.ValueOf(i.Y)), i.Ring, kind,
				distance[0], distance[1], e.Face, string(e.Bow), string(e.SetUp), string(e.Session), string(e.Trial), cell(reflect.ValueOf(e.Stop)), utc(e.At),
				string(e.Corrects), e.Note, string(e.By), utc(e.Received)))
		}
		return err
	})
	return joined(err, out.flush())
}

// sheet writes CSV that no spreadsheet runs as a formula.
type sheet struct{ w *csv.Writer }

func newSheet(w io.Writer, header ...string) sheet {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	s := sheet{out}
	_ = s.row(header...) // a csv.Writer keeps its first error for flush
	return s
}

func (s sheet) row(cells ...string) error {
	for i, c := range cells {
		_, number := strconv.ParseFloat(c, 64)
		if strings.IndexAny(c, "=+-@\t\r\n＝＋－＠") == 0 && number != nil {
			cells[i] = "'" + c
		}
	}
	return s.w.Write(cells)
}

func (s sheet) flush() error {
	s.w.Flush()
	return s.w.Error()
}
