package group

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"tautline/unit"
)

func TestReadCSV(t *testing.T) {
	want := []Shot{
		{End: 1, Arrow: "3", Kind: Fletched, Point: Point{0.032, -0.015}, Placed: true},
		{End: 2, Arrow: "4", Kind: Fletched, Point: Point{-0.01, 0.5}, Placed: true},
	}
	for name, text := range map[string]string{
		"plain":                   "end,arrow,x_cm,y_cm\n1,3,3.2,-1.5\n2,4,-1,50\n",
		"millimetres, swapped":    "y_mm,x_mm,arrow,end\n-15,32,3,1\n500,-10,4,2\n",
		"Windows, byte-order":     "\xef\xbb\xbfend,arrow,x_cm,y_cm\r\n1,3,3.2,-1.5\r\n2,4,-1,50",
		"old line ends":           "end,arrow,x_cm,y_cm\r1,3,3.2,-1.5\r2,4,-1,50\r",
		"mixed line ends, blanks": "End , Arrow, X_cm ,Y_cm\r\n\n1, 3, 3.2, -1.5\r\r\n2,4,-1,50\n,,,\n",
		"decimal commas":          "end;arrow;x_cm;y_cm\n1;3;3,2;-1,5\n2;4;-1;50\n",
		"tabs":                    "end\tarrow\tx_cm\ty_cm\n1\t3\t3,2\t-1.5\n2\t4\t-1\t50\n",
		"quoted decimal commas":   "end,arrow,x_cm,y_cm\n1,3,\"3,2\",\"-1,5\"\n2,4,-1,50\n",
		"a real minus sign":       "end,arrow,x_cm,y_cm\n1,3,3.2,−1.5\n2,4,−1,50\n",
	} {
		got, err := ReadCSV(iotest.OneByteReader(strings.NewReader(text)))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for i := range got.Shots {
			if s, w := got.Shots[i], want[i]; s.End != w.End || s.Arrow != w.Arrow || !near(float64(s.Right), float64(w.Right), 1e-12) || !near(float64(s.Up), float64(w.Up), 1e-12) || !s.Placed {
				t.Errorf("%s, shot %d: %+v, want %+v", name, i, s, w)
			}
		}
		if len(got.Shots) != 2 {
			t.Errorf("%s: %d shots", name, len(got.Shots))
		}
	}
}

func TestReadRingsAndKinds(t *testing.T) {
	got, err := ReadCSV(strings.NewReader("end,arrow,ring,kind,setup,time\n1,1,x,,A,2026-05-03T10:15:00Z\n1,2,0,bare,A,2026-05-03 10:16\n1,2,10,,A,\n"))
	if err != nil {
		t.Fatal(err)
	}
	if got.Shots[0].Ring != "X" || got.Shots[1].Ring != "M" || got.Shots[1].Kind != Bare || got.Shots[2].Ring != "10" || got.Shots[0].Placed {
		t.Errorf("%+v", got.Shots)
	}
	if !got.Shots[0].Time.Equal(time.Date(2026, 5, 3, 10, 15, 0, 0, time.UTC)) {
		t.Errorf("time %v", got.Shots[0].Time)
	}
}

// Every mistake names its line and says what to try; nothing is half-imported.
func TestCSVMistakes(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		line int
		want string
	}{
		"empty":                {"", 1, "header"},
		"no header":            {"1,3,3.2,-1.5\n", 1, "first line must name the columns"},
		"no unit":              {"end,arrow,x,y\n1,1,2,3\n", 1, "x_cm"},
		"unknown column":       {"end,arrow,x_cm,y_cm,wind\n", 1, "wind"},
		"column twice":         {"end,x_cm,x_mm,y_cm\n", 1, "twice"},
		"only x":               {"end,x_cm\n1,2\n", 1, "both x and y"},
		"neither":              {"end,arrow\n1,2\n", 1, "neither a place nor a ring"},
		"header only":          {"end,arrow,x_cm,y_cm\n", 2, "no shot"},
		"decimal comma":        {"end,arrow,x_cm,y_cm\n1,1,2,3\n1,2,3,2,-1,5\n", 3, "semicolons"},
		"short row":            {"end,arrow,x_cm,y_cm\n1,1,2\n", 2, "4 columns"},
		"a word":               {"end,arrow,x_cm,y_cm\n1,1,2,3\n\n1,2,left,3\n", 4, "left"},
		"a unit in the cell":   {"end,arrow,x_cm,y_cm\n1,1,2 cm,3\n", 2, "unit belongs in the header"},
		"Windows lines":        {"end,x_cm,y_cm\r\n1,1,1\r\n1,a,1\r\n", 3, "x_cm"},
		"old lines":            {"end,x_cm,y_cm\r1,1,1\r1,a,1", 3, "x_cm"},
		"a formula":            {"end,arrow,x_cm,y_cm\n1,1,=A1+2,3\n", 2, "formula"},
		"not a number":         {"end,arrow,x_cm,y_cm\n1,1,NaN,3\n", 2, "NaN"},
		"infinite":             {"end,arrow,x_cm,y_cm\n1,1,1e999,3\n", 2, "1e999"},
		"hexadecimal":          {"end,arrow,x_cm,y_cm\n1,1,0x10,3\n", 2, "0x10"},
		"half a place":         {"end,arrow,x_cm,y_cm\n1,1,,3\n", 2, "one coordinate"},
		"off the target":       {"end,arrow,x_m,y_m\n1,1,32,3\n", 2, "unit"},
		"ring eleven":          {"end,arrow,ring\n1,1,11\n", 2, "ring"},
		"an end with a letter": {"end,arrow,ring\nA,1,10\n", 2, "end"},
		"a kind":               {"end,arrow,ring,kind\n1,1,10,feathered\n", 2, "fletched or bare"},
		"a time":               {"end,arrow,ring,time\n1,1,10,noon\n", 2, "2026"},
		"an open quote":        {"end,arrow,ring\n1,1,\"10\n1,2,9\n", 3, "quote"},
		"a NUL":                {"end,arrow,ring\n1,\x00,10\n", 2, "cannot be shown"},
		"a line without end":   {"end,arrow,ring\n1,1," + strings.Repeat("9", 2<<20), 2, "million"},
		"a header without end": {strings.Repeat("x_cm,", 1<<20), 1, "million"},
		"a quote without end":  {"end,arrow,ring\n1,1,\"" + strings.Repeat("9\n", 1<<20), 2, "million"},
		"a long word":          {"end,arrow,ring\n1,1," + strings.Repeat("9", 70_000) + "\n", 2, "ring"},
		"nothing shot":         {"end,arrow,ring\n1,1,\n", 2, "place or a ring"},
	} {
		got, err := ReadCSV(strings.NewReader(c.text))
		var e *CSVError
		if !errors.As(err, &e) {
			t.Errorf("%s: %v is no CSVError", name, err)
			continue
		}
		if got.Shots != nil {
			t.Errorf("%s: half imported", name)
		}
		if e.Lines[0].Line != c.line || !strings.Contains(e.Error(), c.want) || e.Lines[0].Hint == "" {
			t.Errorf("%s: %q at line %d, want line %d with %q", name, e.Error(), e.Lines[0].Line, c.line, c.want)
		}
	}
}

func TestManyMistakesAreCounted(t *testing.T) {
	got, err := ReadCSV(strings.NewReader("end,x_cm,y_cm\n" + strings.Repeat("1,a,b\n", 50)))
	var e *CSVError
	if !errors.As(err, &e) || len(e.Lines) != 20 || e.More != 80 || got.Shots != nil {
		t.Errorf("%v", err)
	}
}

func TestReaderThatFails(t *testing.T) {
	broken := io.MultiReader(strings.NewReader("end,x_cm,y_cm\n1,2,3\n"), iotest.ErrReader(errors.New("cable pulled")))
	if got, err := ReadCSV(broken); err == nil || got.Shots != nil || !strings.Contains(err.Error(), "cable pulled") {
		t.Errorf("%v %v", got, err)
	}
}

func TestRepeatedArrowsAreKept(t *testing.T) {
	got, err := ReadCSV(strings.NewReader("end,arrow,x_cm,y_cm\n1,1,0,0\n1,1,1,1\n2,1,1,1\n"))
	if err != nil || len(got.Shots) != 3 || len(got.Warnings) != 1 {
		t.Errorf("%v %+v", err, got)
	}
}

// Write then read is the identity to a nanometre, in every unit.
func TestCSVRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	var shots []Shot
	for i := range 200 {
		s := At(1+i/6, unit.Length(0.3*rng.NormFloat64()), unit.Length(0.3*rng.NormFloat64()))
		s.Arrow, s.Setup = fmt.Sprint(1+i%6), []string{"", "=low brace", "-3 turns", "'quoted", `a "b", c`}[i%5]
		if i%7 == 0 {
			s.Kind = Bare
		}
		if i%11 == 0 {
			s = Shot{End: s.End, Arrow: s.Arrow, Kind: s.Kind, Ring: "9", Time: time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC)}
		}
		shots = append(shots, s)
	}
	for _, u := range []unit.Unit[unit.Length]{unit.MM, unit.CM, unit.M, unit.In} {
		var b bytes.Buffer
		if err := WriteCSV(&b, shots, u); err != nil {
			t.Fatal(err)
		}
		got, err := ReadCSV(&b)
		if err != nil {
			t.Fatalf("%s: %v", u, err)
		}
		for i := range shots {
			w, g := shots[i], got.Shots[i]
			if (Point{w.Right - g.Right, w.Up - g.Up}).Radius() > 1.5e-9 {
				t.Errorf("%s, shot %d: %v, want %v", u, i, g.Point, w.Point)
			}
			g.Point, w.Point = Point{}, Point{}
			if !reflect.DeepEqual(g, w) {
				t.Errorf("%s, shot %d: %+v, want %+v", u, i, g, w)
			}
		}
	}
	if err := WriteCSV(io.Discard, shots, unit.M+"x"); err == nil {
		t.Error("an unknown unit was written")
	}
}

func TestMillionLines(t *testing.T) {
	if testing.Short() {
		t.Skip("a million lines take a second")
	}
	var b bytes.Buffer
	b.WriteString("end,arrow,x_cm,y_cm\n")
	for i := range 1_000_000 {
		fmt.Fprintf(&b, "%d,%d,%d.5,-3\n", 1+i/6, 1+i%6, i%50)
	}
	got, err := ReadCSV(&b)
	if err != nil || len(got.Shots) != 1_000_000 {
		t.Fatalf("%v, %d shots", err, len(got.Shots))
	}
}

func FuzzReadCSV(f *testing.F) {
	f.Add("end,arrow,x_cm,y_cm\n1,3,3.2,-1.5\n")
	f.Add("end;ring\r1;X\r\n2;\"M\"")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := ReadCSV(strings.NewReader(text))
		if err != nil {
			if got.Shots != nil {
				t.Fatal("half imported")
			}
			return
		}
		for _, s := range got.Shots {
			if s.Placed && (math.IsNaN(float64(s.Radius())) || s.Radius() > 5) || !s.Placed && s.Ring == "" {
				t.Fatalf("%+v", s)
			}
		}
	})
}

func BenchmarkReadCSV(b *testing.B) {
	text := "end,arrow,x_cm,y_cm\n" + strings.Repeat("12,3,-14.25,7.5\n", 10000)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := ReadCSV(strings.NewReader(text)); err != nil {
			b.Fatal(err)
		}
	}
}
