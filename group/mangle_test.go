package group

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"tautline/unit"
)

// goodSheet is a table as ReadCSV should take it: places in any unit or rings,
// with the names that people give to arrows and set-ups.
func goodSheet(t *testing.T, dice *rand.Rand) ([]Shot, [][]string) {
	t.Helper()
	u := []unit.Unit[unit.Length]{unit.MM, unit.CM, unit.M, unit.In}[dice.IntN(4)]
	arrows := []string{"1", "2", "7a", "007", "1-2", "3/4", "1E5", "2.50", "MAR1", "123456789012", "=3", "Ä", "-", "10", "5 may", "x,y"}
	setups := []string{"", "button 3, as bought", "=low brace", "Ωmega", `a "b"; c`, "2026-05-03", "1.5", "4:30"}
	placed, digits := dice.IntN(4) > 0, dice.IntN(4)
	var shots []Shot
	for i := range 3 + dice.IntN(12) {
		s := Shot{End: 1 + i/3, Kind: Fletched, Arrow: arrows[dice.IntN(len(arrows))]}
		if placed {
			size, err := sizeOf(u)
			if err != nil {
				t.Fatal(err)
			}
			at := func() unit.Length {
				step := math.Pow(10, float64(digits))
				return unit.Length(math.Round(0.5*dice.NormFloat64()/float64(size)*step) / step * float64(size))
			}
			s.Right, s.Up, s.Placed = at(), at(), true
		} else {
			s.Ring = []string{"X", "10", "9", "1", "M"}[dice.IntN(5)]
		}
		if dice.IntN(3) == 0 {
			s.Kind = Bare
		}
		s.Setup = setups[dice.IntN(len(setups))]
		if dice.IntN(2) == 0 {
			s.Time = time.Date(2026, 5, 3, 10, i, 0, 0, time.UTC)
		}
		shots = append(shots, s)
	}
	var out bytes.Buffer
	if err := WriteCSV(&out, shots, u); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return shots, rows
}

// written is a table with its cells apart by a sign, quoted where it must be.
func written(rows [][]string, sep rune) []byte {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.Comma = sep
	_ = w.WriteAll(rows) // a buffer takes all
	return out.Bytes()
}

// cells changes every cell below the first line.
func cells(rows [][]string, change func(column, text string) string) [][]string {
	out := make([][]string, len(rows))
	for i, row := range rows {
		for k, text := range row {
			if i > 0 {
				text = change(rows[0][k], text)
			}
			out[i] = append(out[i], text)
		}
	}
	return out
}

func isPlace(column string) bool { return column[0] == 'x' || column[0] == 'y' }

func commas(column, text string) string {
	if isPlace(column) {
		return strings.Replace(text, ".", ",", 1)
	}
	return text
}

var dayAndMonth = regexp.MustCompile(`^(\d{1,2})[-/.](\d{1,2})$`)

// asSpreadsheet is what a spreadsheet makes of a cell that it takes for a number
// or a date: leading zeros lost, long numbers in powers of ten, days and months
// (Ziemann 2016: one gene list in five damaged so).
func asSpreadsheet(_, text string) string {
	if n, err := strconv.ParseFloat(text, 64); err == nil {
		if math.Abs(n) >= 1e11 {
			return strconv.FormatFloat(n, 'E', 5, 64)
		}
		return strconv.FormatFloat(n, 'f', -1, 64)
	}
	if d := dayAndMonth.FindStringSubmatch(text); d != nil {
		return d[1] + "-Feb"
	}
	if strings.EqualFold(text, "MAR1") || strings.EqualFold(text, "5 may") {
		return "01-Mar"
	}
	if when, err := time.Parse(time.RFC3339, text); err == nil {
		return when.Format("02/01/2006 15:04:05")
	}
	if when, err := time.Parse("2006-01-02", text); err == nil {
		return when.Format("02.01.2006")
	}
	return text
}

// manglers are what spreadsheets, editors and people do to a table.
var manglers = []struct {
	name string
	do   func(dice *rand.Rand, rows [][]string) []byte
}{
	{"as it is", func(_ *rand.Rand, rows [][]string) []byte { return written(rows, ',') }},
	{"byte-order mark", func(_ *rand.Rand, rows [][]string) []byte {
		return append([]byte("\xef\xbb\xbf"), written(rows, ',')...)
	}},
	{"Windows lines", func(_ *rand.Rand, rows [][]string) []byte {
		return bytes.ReplaceAll(written(rows, ','), []byte("\n"), []byte("\r\n"))
	}},
	{"old lines", func(_ *rand.Rand, rows [][]string) []byte {
		return bytes.ReplaceAll(written(rows, ','), []byte("\n"), []byte("\r"))
	}},
	{"semicolons and decimal commas", func(_ *rand.Rand, rows [][]string) []byte {
		return append([]byte("\xef\xbb\xbf"), written(cells(rows, commas), ';')...)
	}},
	{"semicolons and decimal points", func(_ *rand.Rand, rows [][]string) []byte { return written(rows, ';') }},
	{"tabs", func(_ *rand.Rand, rows [][]string) []byte { return written(rows, '\t') }},
	{"tabs and decimal commas", func(_ *rand.Rand, rows [][]string) []byte { return written(cells(rows, commas), '\t') }},
	{"quoted decimal commas", func(_ *rand.Rand, rows [][]string) []byte { return written(cells(rows, commas), ',') }},
	{"decimal commas unquoted", func(_ *rand.Rand, rows [][]string) []byte {
		return bytes.ReplaceAll(bytes.ReplaceAll(written(cells(rows, commas), '\x01'), []byte{1}, []byte(",")), []byte(`"x,y"`), []byte("x,y"))
	}},
	{"one other decimal mark", func(dice *rand.Rand, rows [][]string) []byte {
		line := 1 + dice.IntN(len(rows)-1)
		out := cells(rows, func(_, text string) string { return text })
		for k, text := range out[line] {
			out[line][k] = commas(rows[0][k], text)
		}
		return written(out, ';')
	}},
	{"thousands grouped", func(_ *rand.Rand, rows [][]string) []byte {
		return written(cells(rows, func(column, text string) string {
			whole, part, _ := strings.Cut(text, ".")
			if digits := strings.TrimLeft(whole, "-"); isPlace(column) && len(digits) > 3 {
				whole = whole[:len(whole)-3] + "," + whole[len(whole)-3:]
			}
			return strings.TrimSuffix(whole+"."+part, ".")
		}), ',')
	}},
	{"every cell quoted", func(_ *rand.Rand, rows [][]string) []byte {
		var out strings.Builder
		for _, row := range rows {
			for k, text := range row {
				out.WriteString(strings.Repeat(",", min(k, 1)) + `"` + strings.ReplaceAll(text, `"`, `""`) + `"`)
			}
			out.WriteString("\n")
		}
		return []byte(out.String())
	}},
	{"columns in another order", func(dice *rand.Rand, rows [][]string) []byte {
		order := dice.Perm(len(rows[0]))
		out := make([][]string, len(rows))
		for i, row := range rows {
			for _, k := range order {
				out[i] = append(out[i], row[k])
			}
		}
		return written(out, ',')
	}},
	{"empty columns and lines", func(dice *rand.Rand, rows [][]string) []byte {
		var out [][]string
		at := 1 + dice.IntN(len(rows[0]))
		for i, row := range rows {
			wide := append(append([]string{}, row[:at]...), append([]string{""}, row[at:]...)...)
			out = append(out, append(wide, "", ""))
			if i > 0 && dice.IntN(3) == 0 {
				out = append(out, make([]string, len(wide)+2))
			}
		}
		return written(out, ',')
	}},
	{"other unit in the header", func(_ *rand.Rand, rows [][]string) []byte {
		out := cells(rows, func(column, text string) string {
			if n, err := strconv.ParseFloat(text, 64); err == nil && strings.HasSuffix(column, "_cm") {
				return strconv.FormatFloat(n*10, 'f', 9, 64)
			}
			return text
		})
		for k, name := range out[0] {
			out[0][k] = strings.ToUpper(strings.Replace(name, "_cm", "_mm", 1)) + " "
		}
		return written(out, ',')
	}},
	{"through a spreadsheet", func(_ *rand.Rand, rows [][]string) []byte { return written(cells(rows, asSpreadsheet), ';') }},
	{"powers of ten", func(_ *rand.Rand, rows [][]string) []byte {
		return written(cells(rows, func(column, text string) string {
			if n, err := strconv.ParseFloat(text, 64); err == nil && isPlace(column) {
				return strconv.FormatFloat(n, 'E', -1, 64)
			}
			return text
		}), ',')
	}},
	{"one place as a date", func(dice *rand.Rand, rows [][]string) []byte {
		out := cells(rows, func(_, text string) string { return text })
		line := 1 + dice.IntN(len(rows)-1)
		for k := range out[line] {
			if isPlace(rows[0][k]) || rows[0][k] == "ring" {
				out[line][k] = []string{"03. Feb", "2/3/2026", "46085", "Feb 3", "3-Feb"}[dice.IntN(5)]
				break
			}
		}
		return written(out, ',')
	}},
	{"letters of another code page", func(_ *rand.Rand, rows [][]string) []byte { // Windows-1252
		return []byte(strings.NewReplacer("Ä", "\xc4", "Ω", "\xd9").Replace(string(written(rows, ','))))
	}},
	{"sixteen bits a letter", func(_ *rand.Rand, rows [][]string) []byte {
		out := []byte{0xff, 0xfe}
		for _, r := range string(written(rows, '\t')) {
			out = append(out, byte(r), byte(r>>8))
		}
		return out
	}},
	{"a line of sums", func(_ *rand.Rand, rows [][]string) []byte {
		return append(written(rows, ','), []byte("sum"+strings.Repeat(",12", len(rows[0])-1)+"\n")...)
	}},
	{"a cell lost", func(dice *rand.Rand, rows [][]string) []byte {
		out := cells(rows, func(_, text string) string { return text })
		line := 1 + dice.IntN(len(rows)-1)
		out[line] = out[line][1:]
		return written(out, ',')
	}},
}

// U19, U20: fifty good sheets, each through everything that is done to tables:
// what is read is what was written, or the table is refused with the line; never
// a wrong cell in silence. A good sheet that only looks otherwise is not
// refused. TAUTLINE_LONG for five thousand.
func TestMangledTables(t *testing.T) {
	mustBeRead := []string{"as it is", "byte-order mark", "Windows lines", "old lines", "tabs", "every cell quoted", "columns in another order", "empty columns and lines", "other unit in the header"}
	sheets := 50
	if os.Getenv("TAUTLINE_LONG") != "" {
		sheets = 5000
	}
	read, refused := map[string]int{}, map[string]int{}
	for sheet := range sheets {
		dice := rand.New(rand.NewPCG(uint64(sheet), 20))
		want, rows := goodSheet(t, dice)
		for _, m := range manglers {
			raw := m.do(dice, rows)
			got, err := ReadCSV(bytes.NewReader(raw))
			var wrong *CSVError
			switch {
			case err == nil:
				read[m.name]++
				sameShots(t, fmt.Sprintf("sheet %d, %s", sheet, m.name), got.Shots, want, raw)
			case !errors.As(err, &wrong) || wrong.Lines[0].Line < 1 || wrong.Lines[0].Hint == "":
				t.Errorf("sheet %d, %s: refused without a line: %v", sheet, m.name, err)
			default:
				refused[m.name]++
			}
		}
	}
	for _, name := range mustBeRead {
		if n := refused[name]; n*50 > sheets { // 2 %
			t.Errorf("%s: %d of %d good sheets are refused", name, n, sheets)
		}
	}
	for _, m := range manglers {
		t.Logf("%-32s read %3d, refused %3d", m.name, read[m.name], refused[m.name])
	}
}

// sameShots demands the shots that were written, to a nanometre.
func sameShots(t *testing.T, what string, got, want []Shot, raw []byte) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d shots of %d\n%s", what, len(got), len(want), raw)
		return
	}
	for i := range got {
		a, b := got[i], want[i]
		if !near(float64(a.Right), float64(b.Right), 1e-9) || !near(float64(a.Up), float64(b.Up), 1e-9) {
			t.Errorf("%s, shot %d: at %v %v, written %v %v\n%s", what, i, a.Right, a.Up, b.Right, b.Up, raw)
			return
		}
		a.Point, b.Point = Point{}, Point{}
		if !a.Time.Equal(b.Time) {
			t.Errorf("%s, shot %d: time %v, written %v", what, i, a.Time, b.Time)
		}
		a.Time, b.Time = time.Time{}, time.Time{}
		if !reflect.DeepEqual(a, b) {
			t.Errorf("%s, shot %d: %+v, written %+v\n%s", what, i, a, b, raw)
			return
		}
	}
}

// A set-up's name begins with its day and is no date to a spreadsheet.
func TestHarmlessLeavesWordsAlone(t *testing.T) {
	for text, want := range map[string]string{
		"2026-11-27: as bought [6e13]": "2026-11-27: as bought [6e13]", "2026-11-27": "'2026-11-27", "1-2": "'1-2", "3/4 12:30": "'3/4 12:30", "1:30 pm": "'1:30 pm",
		"7a": "7a", "007": "'007", "12": "12", "3.5": "3.5", "=1": "'=1",
	} {
		if got := Harmless(text); got != want {
			t.Errorf("%q is written %q, want %q", text, got, want)
		}
	}
}
