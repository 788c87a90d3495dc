package group

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tautline/unit"
)

// column is one understood header: what it holds and its size in metres.
type column struct {
	name string // as written
	kind string // "end", "arrow", "x", "y", "ring", "kind", "setup", "time"
	size unit.Length
}

var lengthSuffix = map[string]unit.Length{"_m": unit.Metre, "_cm": unit.Centimetre, "_mm": unit.Millimetre, "_in": unit.Inch}

const headerExample = "a header looks like end,arrow,x_cm,y_cm or end,arrow,ring"

// parseHeader reads the names of the columns.
func parseHeader(header []string) ([]column, error) {
	var columns []column
	have := map[string]bool{}
	for i, cell := range header {
		if strings.TrimSpace(cell) == "" && i > 0 {
			columns = append(columns, column{kind: "empty"}) // a column of a spreadsheet that holds nothing
			continue
		}
		c, hint := headerCell(strings.ToLower(strings.TrimSpace(cell)))
		if c.kind == "" {
			return nil, oneMistake(1, strings.TrimSpace(cell), "this column is not understood", hint)
		}
		if have[c.kind] {
			return nil, oneMistake(1, c.name, "this column stands there twice", headerExample)
		}
		have[c.kind] = true
		columns = append(columns, c)
	}
	switch {
	case have["x"] != have["y"]:
		return nil, oneMistake(1, "", "a place needs both x and y", headerExample)
	case !have["x"] && !have["ring"]:
		return nil, oneMistake(1, "", "there is neither a place nor a ring", headerExample)
	}
	return columns, nil
}

func headerCell(name string) (column, string) {
	switch name {
	case "end", "arrow", "ring", "kind", "setup", "time":
		return column{name: name, kind: name}, ""
	case "x", "y":
		return column{}, fmt.Sprintf("say the unit in the name: %s_cm, %s_mm, %s_m or %s_in", name, name, name, name)
	}
	if size, ok := lengthSuffix[strings.TrimPrefix(strings.TrimPrefix(name, "x"), "y")]; ok && len(name) > 1 && (name[0] == 'x' || name[0] == 'y') {
		return column{name: name, kind: name[:1], size: size}, ""
	}
	if looksLikeNumber(name) {
		return column{}, "the first line must name the columns; " + headerExample
	}
	return column{}, "the columns are end, arrow, x_cm, y_cm (or _mm, _m, _in), ring, kind, setup, time"
}

func looksLikeNumber(s string) bool {
	_, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	return err == nil
}

// cell takes one cell into the shot.
func (in *reader) cell(line int, c column, text string, s *Shot, have *[2]bool) {
	if strings.HasPrefix(text, "=") || strings.HasPrefix(text, "@") {
		in.mistake(line, c.name, "paste values instead", "a formula: %q", clip(text))
		return
	}
	if !utf8.ValidString(text) {
		in.mistake(line, c.name, "save the table as CSV in UTF-8, or type this cell anew", "%q holds letters that cannot be read", clip(strings.ToValidUTF8(text, "?")))
		return
	}
	if strings.ContainsFunc(text, unicode.IsControl) {
		in.mistake(line, c.name, "type this cell anew", "%q holds a character that cannot be shown", clip(text))
		return
	}
	text = strings.TrimPrefix(text, "'") // written before a text that looks like a formula
	switch c.kind {
	case "empty":
		if text != "" {
			in.mistake(line, "", "name the column in the first line, or take the cell out", "%q stands in a column without a name", clip(text))
		}
	case "end":
		s.End = in.whole(line, c, text)
	case "arrow":
		s.Arrow = text
	case "x", "y":
		in.place(line, c, text, s, have)
	case "ring":
		s.Ring = in.ring(line, c, text)
	case "kind":
		in.kind(line, c, text, s)
	case "setup":
		s.Setup = text
	case "time":
		if t, ok := parseTime(text); ok {
			s.Time = t
		} else if text != "" {
			in.mistake(line, c.name, "write 2026-05-03T10:15:00Z", "cannot read the time %q", clip(text))
		}
	}
}

func (in *reader) whole(line int, c column, text string) int {
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 1_000_000 {
		in.mistake(line, c.name, "count ends 1, 2, 3 …", "%q is not the number of an end", clip(text))
		return 0
	}
	return n
}

// offTarget is beyond any target, in metres.
const offTarget = 3

func (in *reader) place(line int, c column, text string, s *Shot, have *[2]bool) {
	if text == "" {
		return
	}
	v, ok := in.number(text)
	if ok {
		in.marks.see(line, c.name, text, math.Abs(1000*v*float64(c.size)) <= offTarget)
	} else {
		hint := "write a plain number such as 3.2"
		if strings.Contains(text, ",") {
			hint += "; with decimal commas separate the columns by semicolons"
		} else if strings.Trim(text, "0123456789.,+-") != "" && looksLikeNumber(text[:1]) {
			hint += "; the unit belongs in the header, as in " + c.name
		}
		in.mistake(line, c.name, hint, "cannot read %q", clip(text))
		return
	}
	l := unit.Length(v) * c.size
	if math.Abs(float64(l)) > offTarget {
		in.mistake(line, c.name, "is the unit in the header right?", "%s is off any target", text)
		return
	}
	if c.kind == "x" {
		s.Right, have[0] = l, true
	} else {
		s.Up, have[1] = l, true
	}
}

// number reads a finite decimal; a comma is a decimal mark where columns are
// not separated by commas, or where the cell was quoted.
func (in *reader) number(text string) (float64, bool) {
	text = strings.Replace(text, "−", "-", 1)
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	for _, r := range text {
		if !strings.ContainsRune("0123456789.+-eE", r) {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil && !math.IsInf(v, 0) && !math.IsNaN(v)
}

func (in *reader) ring(line int, c column, text string) string {
	up := strings.ToUpper(text)
	switch up {
	case "", "X", "M", "10", "9", "8", "7", "6", "5", "4", "3", "2", "1":
		return up
	case "0":
		return "M"
	}
	in.mistake(line, c.name, "write X, 10 … 1, or M for a miss", "%q is not a ring", clip(text))
	return ""
}

func (in *reader) kind(line int, c column, text string, s *Shot) {
	switch Kind(strings.ToLower(text)) {
	case "", Fletched:
		s.Kind = Fletched
	case Bare:
		s.Kind = Bare
	default:
		in.mistake(line, c.name, "write fletched or bare", "%q is not a kind of arrow", clip(text))
	}
}

func clip(s string) string {
	if r := []rune(s); len(r) > 30 {
		return string(r[:30]) + "…"
	}
	return s
}
