package workbench

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"tautline/group"
	"tautline/notebook"
	"tautline/unit"
)

// readingColumns are what a table of readings may hold besides settings.
var readingColumns = []string{"kind", "value", "doubt", "arrows", "distance", "draw_length", "turns", "note"}

// ReadReadings reads a table of readings for a fit: a first line that names
// the columns, then one reading a line. kind and value are needed; doubt (one
// standard deviation), arrows, distance, draw_length and turns belong to the
// reading. Any other column is a setting (brace_height, button, spine, …, see
// notebook.Keys): where it is filled, the reading was taken with that setting,
// else with the bow file's. A value's unit may be left out: m/s, lbf, cm on
// the target, mm on the bow; "5 cm left" is minus 5 cm, "5 cm low" too. Lines that begin with #
// are skipped. Cells stand apart by commas, semicolons or tabs. The error names every line at fault.
func ReadReadings(r io.Reader, s notebook.Settings) ([]Observation, error) {
	c, err := group.OpenTable(r)
	if err != nil {
		return nil, understandGroup(err)
	}
	c.Comment = '#'
	var head []string
	var out []Observation
	var problems notebook.Problems
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, &notebook.Error{Code: notebook.Invalid, Message: "the readings cannot be read: " + err.Error(), Hint: "one reading a line, commas between, a comma inside a value in quotes", Cause: err}
		}
		line, _ := c.FieldPos(0)
		if row = filled(row); len(row) == 0 {
			continue
		}
		if head == nil {
			if head, err = readHead(row, s); err != nil {
				return nil, err
			}
			continue
		}
		o, err := readReading(head, row, s)
		if err != nil {
			problems = append(problems, notebook.Error{Code: notebook.Invalid, Field: fmt.Sprintf("/line %d", line), Message: err.Error(), Cause: err})
			continue
		}
		o.Name = fmt.Sprintf("%s, line %d", o.Quantity, line)
		out = append(out, o)
	}
	if head == nil || len(out)+len(problems) == 0 {
		return nil, &notebook.Error{Code: notebook.Invalid, Message: "there is no reading in the table", Hint: "a line of column names like kind,value,distance, then one reading a line; see examples/readings.csv"}
	}
	return out, problems.OrNil()
}

// readHead checks the names of the columns.
func readHead(row []string, s notebook.Settings) ([]string, error) {
	head := make([]string, len(row))
	for i, name := range row {
		name = strings.TrimSpace(name)
		head[i] = name
		if name == "" || slices.Contains(readingColumns, name) {
			continue // the empty columns of a spreadsheet: a cell in one is refused
		}
		// an empty value takes the entry out, so that only the name is judged
		if _, err := s.With(name, ""); err != nil && notebook.CodeOf(err) == notebook.Invalid {
			return nil, fmt.Errorf("column %d, %q: %w", i+1, name, err)
		}
	}
	for _, need := range []string{"kind", "value"} {
		if !slices.Contains(head, need) {
			return nil, &notebook.Error{Code: notebook.Invalid, Message: "the first line names no column " + need, Hint: "kind,value,distance,brace_height,button,spine,arrow_mass for example"}
		}
	}
	return head, nil
}

// readReading reads one line.
func readReading(head, row []string, s notebook.Settings) (Observation, error) {
	o := Observation{Settings: s}
	cell := map[string]string{}
	for i, text := range row {
		if text = strings.TrimSpace(text); text == "" {
			continue
		}
		if i >= len(head) || head[i] == "" {
			return o, fmt.Errorf("%q stands in a column without a name", text)
		}
		cell[head[i]] = text
	}
	for i, key := range head {
		text, filled := cell[key]
		if !filled || i >= len(row) || slices.Contains(readingColumns, key) {
			continue
		}
		var err error
		if o.Settings, err = o.Settings.With(key, text); err != nil {
			return o, err
		}
	}
	return o, o.read(cell)
}

// read fills the observation from its cells.
func (o *Observation) read(cell map[string]string) (err error) {
	o.Quantity.Kind = cell["kind"]
	if _, known := quantityUnits[o.Quantity.Kind]; !known {
		return fmt.Errorf("%q is no kind of reading; use speed, draw_weight, draw_force, bare_shaft_right, bare_shaft_up, group_centre_right, sight_mark, string_length, or brace_height with turns", cell["kind"])
	}
	if o.Value, err = readValue(o.Quantity.Kind, cell["value"]); err != nil {
		return err
	}
	if text := cell["doubt"]; text != "" {
		if o.Doubt, err = readValue(o.Quantity.Kind, text); err != nil || o.Doubt <= 0 {
			return fmt.Errorf("doubt %q is no standard deviation: %w", text, errors.Join(err, errors.New("like 1.5 cm")))
		}
	}
	if text := cell["arrows"]; text != "" {
		if o.Arrows, err = strconv.Atoi(text); err != nil || o.Arrows < 1 {
			return fmt.Errorf("arrows %q is no count, like 6", text)
		}
	}
	return o.place(cell)
}

// place reads where the reading was taken.
func (o *Observation) place(cell map[string]string) (err error) {
	q := &o.Quantity
	switch q.Kind {
	case QBare, QBareUp, QGroup, QMark:
		if q.Distance, err = unit.ParseIn(cell["distance"], unit.M); err != nil {
			return unit.For("distance", err)
		}
		if !unit.Distance.Holds(q.Distance) {
			return fmt.Errorf("distance: %s", unit.Distance.Doubt(unit.Said(q.Distance, unit.M)))
		}
	case QDrawForce:
		at, err := unit.ParseIn(cell["draw_length"], unit.In)
		if err != nil {
			return unit.For("draw_length", err)
		}
		q.Draw = toPivot(o.Settings, at)
	case QBrace:
		if q.Turns, err = strconv.ParseFloat(strings.Replace(cell["turns"], ",", ".", 1), 64); err != nil {
			return fmt.Errorf("turns %q: a brace height tells something of the string only with the turns added since the bow file's, like 3", cell["turns"])
		}
	}
	return nil
}

// readValue reads a value of a kind into SI.
func readValue(kind, text string) (float64, error) {
	sign := 1.0
	if kind == QBare || kind == QGroup {
		if t, left := strings.CutSuffix(text, "left"); left {
			sign, text = -1, strings.TrimSpace(t)
		}
		text = strings.TrimSpace(strings.TrimSuffix(text, "right"))
	}
	if kind == QBareUp {
		if t, low := strings.CutSuffix(text, "low"); low {
			sign, text = -1, strings.TrimSpace(t)
		}
		text = strings.TrimSpace(strings.TrimSuffix(text, "high"))
	}
	var v float64
	var err error
	switch kind {
	case QSpeed:
		v, err = inSI(text, unit.MPS)
	case QDrawWeight, QDrawForce:
		v, err = inSI(text, unit.Lbf)
	case QBare, QBareUp, QGroup, QString:
		v, err = inSI(text, unit.CM)
	case QStored, QResidual:
		v, err = inSI(text, unit.J)
	case QTime:
		v, err = inSI(text, unit.Ms)
	default:
		v, err = inSI(text, unit.MM)
	}
	if err != nil {
		return 0, unit.For("value", err)
	}
	return sign * v, nil
}

func inSI[T unit.Quantity](text string, bare unit.Unit[T]) (float64, error) {
	v, err := unit.ParseIn(text, bare)
	return float64(v), err
}

// ReadOffset reads where arrows land beside others: "6 cm right", "4 cm left",
// or a bare number of centimetres, right positive.
func ReadOffset(text string) (float64, error) { return readValue(QBare, strings.TrimSpace(text)) }
