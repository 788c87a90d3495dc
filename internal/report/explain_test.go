package report_test

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"tautline/internal/report"
	"tautline/internal/store"
	"tautline/notebook"
	"tautline/unit"
)

// The explanation is one page on either paper, in every style of units.
func TestExplanationIsOnePage(t *testing.T) {
	ctx := context.Background()
	book, err := store.Open(ctx, t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	raw, err := os.ReadFile("../../examples/heron-70.json")
	if err != nil {
		t.Fatal(err)
	}
	settings, err := notebook.ReadSettings(raw)
	if err != nil {
		t.Fatal(err)
	}
	stamp := func() notebook.Stamp { return notebook.Stamp{ID: notebook.NewID(), At: time.Now().UTC()} }
	me := notebook.Person{Stamp: stamp(), Name: "Robin", Hand: notebook.RightHanded, Version: 1}
	me.By = me.ID
	bow := notebook.Bow{Stamp: stamp(), Owner: me.ID, Name: "Heron 70", Style: notebook.Recurve, Version: 1}
	setup := notebook.SetUp{Stamp: stamp(), Bow: bow.ID, Reason: "first", Settings: settings}
	bow.By, setup.By = me.ID, me.ID
	if _, _, err := book.People().Put(ctx, me.ID, me); err != nil {
		t.Fatal(err)
	}
	if _, _, err := book.Bows().Put(ctx, me.ID, bow); err != nil {
		t.Fatal(err)
	}
	if _, _, err := book.SetUps().Put(ctx, me.ID, setup); err != nil {
		t.Fatal(err)
	}
	sheet, err := report.Maker{Notebook: book}.Sheet(ctx, me.ID, "explain", setup.ID, unit.Mixed())
	if err != nil {
		t.Fatal(err)
	}
	for _, paper := range []string{report.A4, report.Letter} {
		var pdf bytes.Buffer
		if err := sheet.WritePDF(&pdf, paper); err != nil {
			t.Fatal(err)
		}
		if n := bytes.Count(pdf.Bytes(), []byte("/Type /Page\n")); n != 1 {
			t.Errorf("%d pages on %s", n, paper)
		}
	}
	var text bytes.Buffer
	if err := sheet.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	for _, said := range []string{"For one centimetre more brace height", "it was not fitted to readings", "What it forgives"} {
		if !strings.Contains(strings.Join(strings.Fields(text.String()), " "), said) {
			t.Errorf("the sheet does not say %q:\n%s", said, text.String())
		}
	}
}
