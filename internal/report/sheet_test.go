package report

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tautline/internal/figure"
)

func sample() Sheet {
	return Sheet{
		Title: "Brace-height trial", Subtitle: "Κόρη Łukasza, лук № 2", Source: "set-up 0198",
		Made: time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC),
		Blocks: []Block{
			{Heading: "Now", Facts: []Fact{{"brace height", "22.5 cm (8 7/8 in)", "± 1 mm"}, {"note", "=2+2\x1b[31m", ""}}},
			{Heading: "Stops", Table: &Table{Header: []string{"stop", "turns", "brace height (cm)"}, Rows: [][]string{{"1", "+3", "21.0"}, {"2", "-3", "21.2"}}, Wide: map[int]float64{2: 2}}},
			{Heading: "Picture", Figure: &figure.Figure{
				Title: "Speed", Finding: "It falls.", X: figure.Axis{Label: "brace height", Unit: "cm"}, Y: figure.Axis{Label: "speed", Unit: "m/s"},
				Series: []figure.Line{{Name: "model", Kind: figure.Curve, X: figure.Numbers([]float64{1, 2}), Y: figure.Numbers([]float64{2, 1})}},
			}},
			{Heading: "By hand", Lines: 2},
		},
		Cautions: []string{"Never loose a string without an arrow on it."},
	}
}

func TestEveryFaceCarriesValueDoubtAndCaution(t *testing.T) {
	var text, pdf, csv bytes.Buffer
	s := sample()
	for _, err := range []error{s.WriteText(&text), s.WritePDF(&pdf, A4), s.WriteCSV(&csv)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	faces := map[string]string{"text": text.String(), "pdf": pdfText(t, pdf.Bytes())}
	for name, face := range faces {
		for _, want := range []string{"Κόρη Łukasza, лук № 2", "22.5 cm (8 7/8 in)", "± 1 mm", "Never loose a string", "set-up 0198", "2026-05-04"} {
			if !strings.Contains(face, want) {
				t.Errorf("%s lacks %q:\n%s", name, want, face)
			}
		}
		if strings.ContainsRune(face, '\x1b') {
			t.Errorf("%s carries an escape sequence", name)
		}
	}
	if got := csv.String(); !strings.Contains(got, "note,'=2+2") || !strings.Contains(got, "2,-3,21.2\r\n") {
		t.Errorf("CSV must make formulas harmless and leave numbers alone:\n%s", got)
	}
}

func TestPDFIsOnePageAndTheSameBytesTwice(t *testing.T) {
	var a, b bytes.Buffer
	if err := sample().WritePDF(&a, A4); err != nil {
		t.Fatal(err)
	}
	if err := sample().WritePDF(&b, A4); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("equal sheets gave different bytes")
	}
	if n := bytes.Count(a.Bytes(), []byte("/Type /Page\n")); n != 1 {
		t.Errorf("%d pages", n)
	}
	if err := sample().WritePDF(&a, "A5"); err == nil || !strings.Contains(err.Error(), "A4 or Letter") {
		t.Errorf("unknown paper: %v", err)
	}
}

// pdfText reads the page back with poppler's pdftotext.
func pdfText(t *testing.T, pdf []byte) string {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext is not installed; make test installs poppler-utils")
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}
