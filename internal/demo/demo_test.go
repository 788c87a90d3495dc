package demo

import (
	"bytes"
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"tautline/examples"
	"tautline/internal/report"
	"tautline/internal/store"
	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
	"tautline/workbench"
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
	if err != nil || len(trials.Rows) != 3 {
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

// The evening at the bale has one odd shot, of number 4: the signature finds
// it, and blames no other arrow.
func TestOddShotAtTheBale(t *testing.T) {
	ctx := context.Background()
	book, err := store.Open(ctx, t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	w := &writer{ctx: ctx, book: book, rng: rand.New(rand.NewPCG(1, 1)), at: start}
	w.me = w.id()
	if err := w.bale(w.id(), w.id()); err != nil {
		t.Fatal(err)
	}
	recordings, err := book.Recordings().List(ctx, "", notebook.Query{})
	if err != nil {
		t.Fatal(err)
	}
	r := recordings.Rows[len(recordings.Rows)-1]
	onsets, err := book.Onsets().List(ctx, "", notebook.Query{Recording: r.ID})
	if err != nil || len(onsets.Rows) != 1 {
		t.Fatal(len(onsets.Rows), err)
	}
	file, err := book.Blobs().Open(ctx, r.Hash)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	hearing, err := workbench.Listen(ctx, file, workbench.ListenAsk{ToBale: r.ToBale.Value, SkipModes: true})
	if err != nil {
		t.Fatal(err)
	}
	groups := workbench.Voices([]workbench.Heard{{Recording: r, Hearing: hearing, Onsets: &onsets.Rows[0]}}, nil, nil)
	if len(groups) != 1 || len(groups[0].Shots) != baleShots || groups[0].Flags != 1 {
		t.Fatalf("%d groups; the first has %d shots, %d flags; wanted 1, %d, 1", len(groups), len(groups[0].Shots), groups[0].Flags, baleShots)
	}
	if odd := groups[0].Shots[baleOdd]; !odd.Flag || odd.Arrow != "4" || groups[0].Arrows[0].Arrow != "4" {
		t.Errorf("shot %d: %+v", baleOdd+1, odd)
	}
}

// The evenings at the field hold what was planted: number 5 flies out on both
// set-ups, and bare shafts stand apart.
func TestEvenings(t *testing.T) {
	ctx := context.Background()
	book, err := store.Open(ctx, t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	w := &writer{ctx: ctx, book: book, rng: rand.New(rand.NewPCG(1, 1)), at: start}
	w.me = w.id()
	raw, err := examples.Bows.ReadFile("heron-70.json")
	if err != nil {
		t.Fatal(err)
	}
	settings, err := notebook.ReadSettings(raw)
	if err != nil {
		t.Fatal(err)
	}
	bow := notebook.Bow{Stamp: w.stamp(), Owner: w.me, Name: "Heron 70", Style: notebook.Recurve, Version: 1}
	first := notebook.SetUp{Stamp: w.stamp(), Bow: bow.ID, Reason: "first", Settings: settings}
	second := notebook.SetUp{Stamp: w.stamp(), Bow: bow.ID, Parent: first.ID, Reason: "second", Settings: settings}
	person := notebook.Person{Stamp: notebook.Stamp{ID: w.me, By: w.me, At: w.at}, Name: "Ida Falk", Hand: notebook.RightHanded, Units: "mixed", Version: 1}
	if err := errors.Join(put(w, book.People(), person), put(w, book.Bows(), bow), put(w, book.SetUps(), first), put(w, book.SetUps(), second)); err != nil {
		t.Fatal(err)
	}
	if err := w.evenings(bow.ID, first.ID, second.ID); err != nil {
		t.Fatal(err)
	}
	ends, err := book.Ends().List(ctx, "", notebook.Query{})
	if err != nil || len(ends.Rows) != 28 {
		t.Fatal(len(ends.Rows), err)
	}
	volleys, err := workbench.Volleys(ends.Rows, nil)
	if err != nil || len(volleys) != 4 {
		t.Fatal(len(volleys), err)
	}
	for _, v := range volleys {
		g, err := workbench.DescribeVolley(v, unit.Metric().ImpactStyle())
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range g.Offsets {
			if want := o.Arrow == "5"; o.Flag != want && v.Kind == "fletched" {
				t.Errorf("%s at %v: arrow %s flies out: %v, planted: %v", v.SetUp, v.Distance, o.Arrow, o.Flag, want)
			}
		}
	}
}
