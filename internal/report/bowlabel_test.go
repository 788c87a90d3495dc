package report

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
)

func labelSheet(n int) Sheet {
	s := Sheet{Title: "Bow labels"}
	var labels []BowLabel
	for i := range n {
		labels = append(labels, BowLabel{Name: fmt.Sprintf("Κόρη %d, long name of a club's bow", i), Address: fmt.Sprintf("https://192.168.1.20:8443/bows/0198c2f4-7b1e-7c3a-9d52-3f6a1b2c%04d/round", i)})
	}
	s.Blocks = []Block{{Text: "Scan a label."}, {Labels: labels}}
	return s
}

// Ten labels fit on a page of either paper, and a club's thirty on three; no
// label is lost where a page ends.
func TestLabelsFillPages(t *testing.T) {
	for _, paper := range []string{A4, Letter} {
		for n, pages := range map[int]int{1: 1, 10: 1, 30: 3} {
			var pdf bytes.Buffer
			if err := labelSheet(n).WritePDF(&pdf, paper); err != nil {
				t.Fatal(err)
			}
			if got := bytes.Count(pdf.Bytes(), []byte("/Type /Page\n")); got != pages {
				t.Errorf("%s: %d labels take %d pages, want %d", paper, n, got, pages)
			}
			text := pdfText(t, pdf.Bytes())
			for i := range n {
				if !strings.Contains(text, fmt.Sprintf("Κόρη %d,", i)) {
					t.Errorf("%s: label %d of %d is not on paper", paper, i, n)
				}
			}
		}
	}
	var text, csv bytes.Buffer
	if err := labelSheet(2).WriteText(&text); err != nil {
		t.Fatal(err)
	}
	if err := labelSheet(2).WriteCSV(&csv); err != nil {
		t.Fatal(err)
	}
	for _, face := range []string{text.String(), csv.String()} {
		if !strings.Contains(face, "3f6a1b2c0001/round") {
			t.Errorf("a face lacks the address:\n%s", face)
		}
	}
}

func TestLabelsTooLongForACode(t *testing.T) {
	s := labelSheet(1)
	s.Blocks[1].Labels[0].Address = strings.Repeat("x", 5000)
	if err := s.WritePDF(&bytes.Buffer{}, A4); err == nil || !strings.Contains(err.Error(), "code") {
		t.Errorf("%v", err)
	}
}
