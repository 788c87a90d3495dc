package report

import (
	"bytes"
	"compress/zlib"
	"errors"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// card is a marks card of invented marks, the last one extrapolated.
func card(t *testing.T, system unit.System, upward bool) (Sheet, []float64) {
	t.Helper()
	table := workbench.SightTable{Speed: 58, SpeedDoubt: 1, Upward: upward}
	at := []float64{0.0125, 0.0171, 0.0234, 0.0451, 0.0689}
	for i, v := range at {
		table.Lines = append(table.Lines, workbench.SightLine{
			Distance: float64(18 + 12*i), Reading: v, Interval: workbench.Span{v - 0.001, v + 0.001}, Beyond: i == 4,
		})
	}
	sheet, err := MarksCard(table, CardHead{Bow: "Heron 70"}, system)
	if err != nil {
		t.Fatal(err)
	}
	return sheet, at
}

// stroke is a straight line of a page, mm from its left and lower edge.
type stroke struct{ x1, y1, x2, y2 float64 }

var lineOperator = regexp.MustCompile(`([-\d.]+) ([-\d.]+) m ([-\d.]+) ([-\d.]+) l S`)

// strokes reads a PDF's own drawing operators: lengths are in points of 1/72
// in (ISO 32000-1, 8.3.2.3, recalled).
func strokes(t *testing.T, pdf []byte) (out []stroke) {
	t.Helper()
	for _, part := range bytes.Split(pdf, []byte("stream\n"))[1:] {
		r, err := zlib.NewReader(bytes.NewReader(part))
		if err != nil {
			continue // not deflated: "endstream", fonts' maps
		}
		page, _ := io.ReadAll(r) // what was read before the end is enough
		for _, m := range lineOperator.FindAllSubmatch(page, -1) {
			var v [4]float64
			for i := range v {
				points, err := strconv.ParseFloat(string(m[i+1]), 64)
				if err != nil {
					t.Fatal(err)
				}
				v[i] = points * 25.4 / 72
			}
			out = append(out, stroke{v[0], v[1], v[2], v[3]})
		}
	}
	return out
}

// TestCardIsTrueToSize measures the PDF's own operators: the line to measure,
// every tick of the ruler and every mark to 0.1 mm, on both papers, in
// millimetres and inches, numbers growing down or up.
func TestCardIsTrueToSize(t *testing.T) {
	inches := unit.Metric()
	inches.Setting = unit.In
	for _, c := range []struct {
		paper  string
		system unit.System
		upward bool
		tick   float64 // mm
	}{{A4, unit.Metric(), false, 1}, {Letter, unit.Metric(), true, 1}, {A4, inches, true, 25.4 / 16}, {Letter, inches, false, 25.4 / 16}} {
		sheet, at := card(t, c.system, c.upward)
		var pdf bytes.Buffer
		if err := sheet.WritePDF(&pdf, c.paper); err != nil {
			t.Fatal(err)
		}
		all := strokes(t, pdf.Bytes())
		r := sheet.Blocks[1].Ruler
		long := 1e3 * (r.To - r.From)
		var spine *stroke
		check := false
		for i, s := range all {
			if s.x1 == s.x2 && math.Abs(math.Abs(s.y1-s.y2)-long) < 0.1 {
				spine = &all[i]
			}
			check = check || s.y1 == s.y2 && math.Abs(s.x2-s.x1-100) < 0.1
		}
		if spine == nil || !check {
			t.Fatalf("%s: no ruler of %.1f mm, or no line of 100 mm (%v)", c.paper, long, check)
		}
		// Where the scale reads zero on the page, and which way it runs.
		top, down := max(spine.y1, spine.y2), 1.0
		zero := top + 1e3*r.From
		if c.upward {
			down, zero = -1, top-1e3*r.To
		}
		reads := func(y float64) float64 { return down * (zero - y) }
		var ticks, marks []float64
		for _, s := range all {
			switch {
			case s.y1 != s.y2:
			case math.Abs(s.x2-spine.x1) < 0.01 && s.x1 < s.x2:
				ticks = append(ticks, reads(s.y1))
			case math.Abs(s.x1-spine.x1) < 0.01 && math.Abs(s.x2-s.x1-markLong) < 0.01:
				marks = append(marks, reads(s.y1))
			}
		}
		slices.Sort(ticks)
		slices.Sort(marks)
		if want := int(math.Round(long/c.tick)) + 1; len(ticks) != want {
			t.Errorf("%s: %d ticks, want %d", c.paper, len(ticks), want)
		}
		for i, v := range ticks {
			if want := 1e3*r.From + float64(i)*c.tick; math.Abs(v-want) > 0.1 {
				t.Errorf("%s: tick %d at %.3f mm, want %.3f", c.paper, i, v, want)
			}
		}
		if len(marks) != len(at) {
			t.Fatalf("%s: %d marks, want %d", c.paper, len(marks), len(at))
		}
		for i, v := range marks {
			if math.Abs(v-1e3*at[i]) > 0.1 {
				t.Errorf("%s: mark at %.3f mm, want %.3f", c.paper, v, 1e3*at[i])
			}
		}
	}
}

// The same with another eye: poppler's picture at 600 dots an inch. The line
// of 100 mm is 2362.2 dots; a dot more or less at either end is 0.1 mm.
func TestCardIsTrueToSizeOnPaper(t *testing.T) {
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm (poppler-utils) is not installed")
	}
	sheet, _ := card(t, unit.Metric(), false)
	dir := t.TempDir()
	var pdf bytes.Buffer
	if err := sheet.WritePDF(&pdf, A4); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "card.pdf")
	if err := os.WriteFile(file, pdf.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(tool, "-r", "600", "-H", "1500", "-png", "-gray", file, filepath.Join(dir, "card")).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	pages, err := filepath.Glob(filepath.Join(dir, "card*.png"))
	if err != nil || len(pages) != 1 {
		t.Fatalf("%d pages, want one: %v", len(pages), err)
	}
	raw, err := os.ReadFile(pages[0])
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	runs := map[int]bool{}
	for y := b.Min.Y; y < b.Max.Y; y++ {
		run := 0
		for x := b.Min.X; x < b.Max.X; x++ {
			if v, _, _, _ := img.At(x, y).RGBA(); v < 0x8000 {
				run++
				continue
			}
			if run > 1000 {
				runs[run] = true
			}
			run = 0
		}
	}
	found := false
	for run := range runs {
		// The ticks at its ends add half their width of 0.2 mm each.
		found = found || math.Abs(float64(run)*25.4/600-100.2) < 0.1
	}
	if !found {
		t.Errorf("no line of 100 mm among those of %v dots", runs)
	}
}

// Extrapolated marks are marked on every face, with their caution; a scale
// longer than the page is refused; crowded labels keep their order and room.
func TestCardWords(t *testing.T) {
	sheet, _ := card(t, unit.Metric(), false)
	var text bytes.Buffer
	if err := sheet.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	if got := text.String(); !strings.Contains(got, "66 m *") || strings.Count(got, "extrapolated") != 2 || !strings.Contains(got, "± holds 90 %") {
		t.Errorf("%s", got)
	}
	table := workbench.SightTable{Lines: []workbench.SightLine{{Distance: 10, Reading: 0}, {Distance: 90, Reading: 0.25}}}
	var refused *notebook.Error
	if _, err := MarksCard(table, CardHead{}, unit.Metric()); !errors.As(err, &refused) || refused.Hint == "" {
		t.Errorf("a scale of 250 mm gives %v", err)
	}
	got := apart([]float64{10, 10.5, 11, 30, 99}, 4, 8, 100)
	for i := range got {
		if got[i] < 8 || got[i] > 100 || i > 0 && got[i]-got[i-1] < 4-1e-9 {
			t.Errorf("labels at %v", got)
		}
	}
}
