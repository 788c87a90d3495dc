package workbench

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tautline/notebook"
)

// tables of readings and marks as spreadsheets of other countries write them.
var dialects = []struct {
	name string
	do   func(rows [][]string) string
	may  bool // may be refused; else it is a good table
}{
	{"as it is", func(rows [][]string) string { return joined(rows, ",", quoted) }, false},
	{"byte-order mark, Windows lines", func(rows [][]string) string {
		return "\ufeff" + strings.ReplaceAll(joined(rows, ",", quoted), "\n", "\r\n")
	}, false},
	{"old lines", func(rows [][]string) string { return strings.ReplaceAll(joined(rows, ",", quoted), "\n", "\r") }, false},
	{"semicolons, decimal commas", func(rows [][]string) string { return joined(rows, ";", comma) }, true},
	{"tabs, decimal commas", func(rows [][]string) string { return joined(rows, "\t", comma) }, true},
	{"tabs", func(rows [][]string) string { return joined(rows, "\t", plain) }, false},
	{"quoted decimal commas", func(rows [][]string) string {
		return joined(rows, ",", func(s string) string { return quoted(comma(s)) })
	}, true},
	{"decimal commas unquoted", func(rows [][]string) string { return joined(rows, ",", comma) }, true},
	{"empty columns and lines", func(rows [][]string) string {
		return strings.ReplaceAll(joined(rows, ",", quoted), "\n", ",,\n,,\n")
	}, false},
	{"dates for numbers", func(rows [][]string) string {
		return joined(rows, ",", func(s string) string { return strings.ReplaceAll(s, ".", "-Feb-") })
	}, true},
}

func joined(rows [][]string, sep string, as func(string) string) string {
	var b strings.Builder
	for _, row := range rows {
		for i, text := range row {
			b.WriteString(strings.Repeat(sep, min(i, 1)) + as(text))
		}
		b.WriteString("\n")
	}
	return b.String()
}

func plain(s string) string { return s }
func comma(s string) string { return strings.ReplaceAll(s, ".", ",") }
func quoted(s string) string {
	if strings.ContainsAny(s, ",;") {
		return `"` + s + `"`
	}
	return s
}

// U19, U20: fifty tables of sight marks and of readings through every dialect:
// read as written, or refused with the line; never another number in silence.
func TestMangledMarksAndReadings(t *testing.T) {
	s := notebook.Settings{}
	refused := map[string]int{}
	for sheet := range 50 {
		dice := rand.New(rand.NewPCG(uint64(sheet), 19))
		digits := dice.IntN(4)
		marks := [][]string{{"distance_m", "mark_mm"}}
		readings := [][]string{{"kind", "value", "arrows", "note"}}
		for i := range 3 + dice.IntN(6) {
			marks = append(marks, []string{fmt.Sprint(10 + 10*i), fmt.Sprintf("%.*f", digits, 5+90*dice.Float64())})
			readings = append(readings, []string{"speed", fmt.Sprintf("%.*f m/s", digits, 50+20*dice.Float64()), "6", "six turns, out"})
		}
		if dice.IntN(3) == 0 {
			for _, row := range marks {
				row[0], row[1] = strings.Replace(row[0], "_m", " (yd)", 1), strings.Replace(row[1], "_mm", " in", 1)
			}
		}
		wantMarks, err := ReadMarks(strings.NewReader(joined(marks, ",", quoted)))
		if err != nil {
			t.Fatal(err)
		}
		wantReadings, err := ReadReadings(strings.NewReader(joined(readings, ",", quoted)), s)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range dialects {
			gotMarks, err := ReadMarks(strings.NewReader(d.do(marks)))
			what := fmt.Sprintf("sheet %d, marks, %s", sheet, d.name)
			if readOr(t, what, err, d.may, len(gotMarks), len(wantMarks), refused) {
				for i, m := range gotMarks {
					if m != wantMarks[i] {
						t.Errorf("%s, %d: %v, written %v\n%s", what, i, m, wantMarks[i], d.do(marks))
					}
				}
			}
			got, err := ReadReadings(strings.NewReader(d.do(readings)), s)
			what = fmt.Sprintf("sheet %d, readings, %s", sheet, d.name)
			if readOr(t, what, err, d.may, len(got), len(wantReadings), refused) {
				for i, o := range got {
					if math.Abs(o.Value-wantReadings[i].Value) > 1e-12 || o.Arrows != 6 {
						t.Errorf("%s, %d: %v, written %v", what, i, o.Value, wantReadings[i].Value)
					}
				}
			}
		}
	}
	t.Logf("refused: %v", refused)
}

// readOr says whether a table was read, and demands a line of a refusal.
func readOr(t *testing.T, what string, err error, may bool, n, want int, refused map[string]int) bool {
	t.Helper()
	switch {
	case err == nil && n == want:
		return true
	case err == nil:
		t.Errorf("%s: %d lines of %d", what, n, want)
	case !may:
		t.Errorf("%s: a good table is refused: %v", what, err)
	case !strings.Contains(err.Error(), "line "):
		t.Errorf("%s: refused without a line: %v", what, err)
	default:
		refused[strings.SplitN(what, ", ", 2)[1]]++
	}
	return false
}

// What the first line says of units holds: yards and inches are no metres and
// millimetres.
func TestMarksInTheHeadersUnits(t *testing.T) {
	for head, want := range map[string][2]float64{
		"distance, mark\n": {20, 0.003}, "distance_yd;mark_in\n": {18.288, 0.0762}, "Distance (yd)\tmark in mm\n": {18.288, 0.003}, "": {20, 0.003},
	} {
		sep := ","
		for _, s := range []string{";", "\t"} {
			if strings.Contains(head, s) {
				sep = s
			}
		}
		marks, err := ReadMarks(strings.NewReader(head + "20" + sep + "3\n30" + sep + "4\n"))
		if err != nil || len(marks) != 2 || math.Abs(float64(marks[0].Distance)-want[0]) > 1e-9 || math.Abs(float64(marks[0].Reading)-want[1]) > 1e-9 {
			t.Errorf("%q: %v, %v", head, marks, err)
		}
	}
}
