package cli

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tautline/internal/report"
	"tautline/internal/store"
	"tautline/notebook"
	"tautline/unit"
)

// What a person may write into a free field: long words in three scripts.
const (
	longName = "Красногорская учебная «Щёголь-Мышъяковистая» Ξεσκεπάζω την ψυχοφθόρα Zażółć gęślą jaźń 68/25"
	longText = "Проверено на дальней дистанции Θεσσαλονίκη Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft"
)

// stuff fills every free text of a struct, as far as the notebook takes it.
func stuff(v reflect.Value, fits func() bool) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			stuff(v.Elem(), fits)
		}
	case reflect.Struct:
		if v.Type().PkgPath() == "tautline/unit" {
			return // a quantity
		}
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				stuff(v.Field(i), fits)
			}
		}
	case reflect.String:
		before := v.String()
		if v.SetString(longText); !fits() {
			v.SetString(before)
		}
	}
}

// stuffed is the demo notebook with the names and texts of one bow filled to
// the brim; it gives the set-up before and the one that is stuffed.
func stuffed(t *testing.T) (book *store.Store, me notebook.Person, before, after notebook.SetUp) {
	t.Helper()
	ctx := t.Context()
	book, err := store.Open(ctx, t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := book.Close(); err != nil {
			t.Error(err)
		}
	})
	if err := addDemo(ctx, book, ""); err != nil {
		t.Fatal(err)
	}
	if me, err = owner(ctx, book); err != nil {
		t.Fatal(err)
	}
	last, err := lastOf(ctx, book.Trials())
	if err != nil {
		t.Fatal(err)
	}
	tried, err := book.Trials().Get(ctx, me.ID, last)
	if err != nil {
		t.Fatal(err)
	}
	bow, err := book.Bows().Get(ctx, me.ID, tried.Bow)
	if err != nil {
		t.Fatal(err)
	}
	bow.Name, bow.Notes, bow.Version = longName, longText, bow.Version+1
	if _, _, err := book.Bows().Put(ctx, me.ID, bow); err != nil {
		t.Fatal(err)
	}
	page, err := book.SetUps().List(ctx, me.ID, notebook.Query{Bow: bow.ID, Newest: true})
	if err != nil || len(page.Rows) == 0 {
		t.Fatal(len(page.Rows), err)
	}
	before = page.Rows[0]
	after = before
	after.ID, after.Parent, after.Reason = notebook.NewID(), before.ID, longText
	stuff(reflect.ValueOf(&after.Settings).Elem(), func() bool { return after.Check().OrNil() == nil })
	after.Settings.BraceHeight.Value.Value += 0.004
	after.Settings.BraceHeight.Value.Text = unit.Format(after.Settings.BraceHeight.Value.Value, unit.MM, 1, unit.Point)
	if after, _, err = book.SetUps().Put(ctx, me.ID, after); err != nil {
		t.Fatal(err)
	}
	for m, mark := range map[float64]float64{18: 0.0125, 30: 0.0234, 50: 0.0451} {
		r := notebook.Reading{Stamp: notebook.Stamp{ID: notebook.NewID(), By: me.ID, At: after.At}, Bow: bow.ID, SetUp: after.ID, Kind: notebook.ReadSightMark,
			Value: mark, Text: fmt.Sprintf("%.1f mm", 1000*mark), Note: longText, Distance: notebook.Length{Typed: unit.Said(unit.Length(m), unit.M)}}
		if _, _, err := book.Readings().Put(ctx, me.ID, r); err != nil {
			t.Fatal(err)
		}
	}
	return book, me, before, after
}

// U23: every kind of sheet, of a bow whose names and texts are as long as they
// may be, on both papers: nothing outside the page or lost, no type below 10
// pt, every font in the file; the set-up, the card and the plan on one page
// each (a set-up of which every field holds two lines takes two). What is computed for long is there with TAUTLINE_LONG only.
func TestStuffedSheets(t *testing.T) {
	for _, tool := range []string{"pdftotext", "pdffonts", "pdftohtml"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(tool + " is not installed; make test installs poppler-utils")
		}
	}
	book, me, before, after := stuffed(t)
	ctx, m, system := t.Context(), report.Maker{Notebook: book}, me.System()
	plan, err := lastOf(ctx, book.Trials())
	if err != nil {
		t.Fatal(err)
	}
	session, err := lastOf(ctx, book.Sessions())
	if err != nil {
		t.Fatal(err)
	}
	kinds := []struct {
		kind string
		one  bool // on one page
		make func() (report.Sheet, error)
	}{
		{"setup as the demo has it", true, func() (report.Sheet, error) { return m.Sheet(ctx, me.ID, "setup", before.ID, system) }},
		{"setup", false, func() (report.Sheet, error) { return m.Sheet(ctx, me.ID, "setup", after.ID, system) }},
		{"putback", false, func() (report.Sheet, error) { return m.Sheet(ctx, me.ID, "putback", before.ID, system) }},
		{"plan", true, func() (report.Sheet, error) { return m.Sheet(ctx, me.ID, "plan", plan, system) }},
		{"session", false, func() (report.Sheet, error) { return m.Sheet(ctx, me.ID, "session", session, system) }},
		{"marks", true, func() (report.Sheet, error) { return m.Sheet(ctx, me.ID, "marks", after.ID, system) }},
		{"compare", false, func() (report.Sheet, error) { return m.Comparison(ctx, me.ID, before.ID, after.ID, system) }},
		{"label", false, func() (report.Sheet, error) {
			return m.Labels(ctx, me.ID, []notebook.ID{after.Bow}, "https://bows.example.org/", true)
		}},
	}
	if os.Getenv("TAUTLINE_LONG") != "" {
		for _, kind := range []string{"trial", "explain"} {
			id := map[string]notebook.ID{"trial": plan, "explain": after.ID}[kind]
			kinds = append(kinds, struct {
				kind string
				one  bool
				make func() (report.Sheet, error)
			}{kind, kind == "explain", func() (report.Sheet, error) { return m.Sheet(ctx, me.ID, kind, id, system) }})
		}
	}
	for _, k := range kinds {
		sheet, err := k.make()
		if err != nil {
			t.Errorf("%s: %v", k.kind, err)
			continue
		}
		for _, paper := range []string{report.A4, report.Letter} {
			var pdf bytes.Buffer
			if err := sheet.WritePDF(&pdf, paper); err != nil {
				t.Errorf("%s on %s: %v", k.kind, paper, err)
				continue
			}
			onPaper{t, k.kind + " on " + paper, paper, k.one, pdf.Bytes()}.check(sheet)
		}
	}
}

// onPaper is a sheet on paper, read back with poppler.
type onPaper struct {
	t     *testing.T
	what  string
	paper string
	one   bool
	pdf   []byte
}

func (p onPaper) run(tool string, args ...string) string {
	p.t.Helper()
	file := filepath.Join(p.t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, p.pdf, 0o600); err != nil {
		p.t.Fatal(err)
	}
	for i, a := range args {
		if a == "FILE" {
			args[i] = file
		}
	}
	out, err := exec.Command(tool, args...).Output()
	if err != nil {
		p.t.Fatalf("%s: %s %v: %v", p.what, tool, args, err)
	}
	return string(out)
}

func (p onPaper) check(sheet report.Sheet) {
	p.t.Helper()
	p.inside()
	p.fonts()
	p.whole(sheet)
	if n := bytes.Count(p.pdf, []byte("/Type /Page\n")); p.one && n != 1 {
		p.t.Errorf("%s: %d pages", p.what, n)
	}
}

// inside demands every word within the page, 5 mm from its edge, which printers
// reach.
func (p onPaper) inside() {
	p.t.Helper()
	const edge = 5 * 72 / 25.4
	var doc struct {
		Pages []struct {
			Width  float64 `xml:"width,attr"`
			Height float64 `xml:"height,attr"`
			Words  []struct {
				XMin float64 `xml:"xMin,attr"`
				YMin float64 `xml:"yMin,attr"`
				XMax float64 `xml:"xMax,attr"`
				YMax float64 `xml:"yMax,attr"`
				Text string  `xml:",chardata"`
			} `xml:"word"`
		} `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(strings.NewReader(p.run("pdftotext", "-bbox", "FILE", "-")))
	d.Strict = false
	if err := d.Decode(&doc); err != nil && !errors.Is(err, io.EOF) {
		p.t.Fatal(err)
	}
	words := 0
	for _, page := range doc.Pages {
		size := map[string][2]float64{report.A4: {595.28, 841.89}, report.Letter: {612, 792}}[p.paper]
		if math.Abs(page.Width-size[0]) > 0.1 || math.Abs(page.Height-size[1]) > 0.1 {
			p.t.Errorf("%s: a page of %g × %g pt", p.what, page.Width, page.Height)
		}
		for _, w := range page.Words {
			if words++; w.XMin < edge || w.YMin < edge || w.XMax > page.Width-edge || w.YMax > page.Height-edge {
				p.t.Errorf("%s: %q reaches from %.0f, %.0f to %.0f, %.0f pt of %.0f × %.0f", p.what, w.Text, w.XMin, w.YMin, w.XMax, w.YMax, page.Width, page.Height)
			}
		}
	}
	if words < 20 {
		p.t.Errorf("%s: only %d words were found", p.what, words)
	}
}

var fontSize = regexp.MustCompile(`<fontspec [^>]*size="(\d+)"`)

// fonts demands that every font is in the file and nothing is set below 10 pt.
func (p onPaper) fonts() {
	p.t.Helper()
	lines := strings.Split(strings.TrimSpace(p.run("pdffonts", "FILE")), "\n")
	if len(lines) < 3 {
		p.t.Errorf("%s: no fonts in\n%s", p.what, strings.Join(lines, "\n"))
		return
	}
	at := strings.Index(lines[0], "emb")
	for _, line := range lines[2:] {
		if !strings.HasPrefix(line[at:], "yes") {
			p.t.Errorf("%s: a font is not in the file: %s", p.what, line)
		}
	}
	for _, m := range fontSize.FindAllStringSubmatch(p.run("pdftohtml", "-xml", "-stdout", "-i", "-zoom", "3", "FILE"), -1) {
		if size, err := strconv.Atoi(m[1]); err != nil || size < 30 {
			p.t.Errorf("%s: type of %s thirds of a point", p.what, m[1])
		}
	}
}

// whole demands every word of the sheet's texts and facts on paper; words that
// are broken at a line's end are looked for in pieces.
func (p onPaper) whole(sheet report.Sheet) {
	p.t.Helper()
	there := strings.Join(strings.Fields(p.run("pdftotext", "-raw", "FILE", "-")), "")
	texts := []string{sheet.Title, sheet.Subtitle, strings.Join(sheet.Cautions, " ")}
	for _, b := range sheet.Blocks {
		texts = append(texts, b.Heading, b.Text)
		for _, f := range b.Facts {
			texts = append(texts, f.Label, f.Value, f.Doubt)
		}
		if b.Table != nil && b.Ruler == nil && b.Face == nil {
			texts = append(texts, b.Table.Header...)
			for _, row := range b.Table.Rows {
				texts = append(texts, row...)
			}
		}
	}
	lost := map[string]bool{}
	for _, word := range strings.Fields(strings.Join(texts, " ")) {
		for _, piece := range pieces(word) {
			if !strings.Contains(there, piece) {
				lost[word] = true
			}
		}
	}
	if len(lost) > 0 {
		p.t.Errorf("%s: not on paper: %v", p.what, fmt.Sprint(lost))
	}
}

// pieces are the parts of a word that a line's end may leave together.
func pieces(word string) (out []string) {
	runes := []rune(word)
	if len(runes) <= 24 {
		return []string{word}
	}
	return []string{string(runes[:6]), string(runes[len(runes)-2:])}
}
