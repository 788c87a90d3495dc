package demo

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"

	"tautline/internal/report"
	"tautline/internal/store"
	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
)

// The demo plants one settled spot; the verdict must find it where it was
// planted, and the sheet must say so.
func TestDemoTrialFindsItsSpot(t *testing.T) {
	ctx := context.Background()
	book, err := store.Open(ctx, t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	if err := Fill(ctx, book, nil); err != nil {
		t.Fatal(err)
	}
	if err := Fill(ctx, book, nil); err == nil {
		t.Error("a second filling was not refused")
	}
	trials, err := book.Trials().List(ctx, "", notebook.Query{})
	if err != nil || len(trials.Rows) != 1 {
		t.Fatal(len(trials.Rows), err)
	}
	maker := report.Maker{Notebook: book}
	v, _, _, err := maker.Judge(ctx, "", trials.Rows[0].ID, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(v.Text)
	var settled *trial.Candidate
	for i, c := range v.Candidates {
		if c.Kind == trial.Settled {
			settled = &v.Candidates[i]
		}
	}
	if settled == nil || settled.Brace.Value < spotHeight-0.003 || settled.Brace.Value > spotHeight+0.003 {
		t.Fatalf("the settled spot planted at %v was judged: %s", spotHeight, v.Text)
	}
	for _, kind := range []string{"trial", "plan"} {
		sheet, err := maker.Sheet(ctx, "", kind, trials.Rows[0].ID, unit.Mixed())
		if err != nil {
			t.Fatal(kind, err)
		}
		var pdf, text bytes.Buffer
		if err := sheet.WritePDF(&pdf, report.A4); err != nil {
			t.Fatal(kind, err)
		}
		if n := bytes.Count(pdf.Bytes(), []byte("/Type /Page\n")); n != 1 {
			t.Errorf("the %s sheet has %d pages", kind, n)
		}
		if err := sheet.WriteText(&text); err != nil || !strings.Contains(text.String(), "Heron 70") {
			t.Errorf("%s sheet: %v\n%s", kind, err, text.String())
		}
		if dir := os.Getenv("TAUTLINE_KEEP_SHEETS"); dir != "" {
			if err := os.WriteFile(dir+"/"+kind+".pdf", pdf.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
}
