package cli

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tautline/internal/demo"
	"tautline/internal/store"
	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// U2 of the bars: the demo is loaded beside one's own bows, never mixed into an
// export, and taken out in one step with what was written on it meanwhile; not
// a row and not a sound file of it is left, and what is one's own stays.
func TestDemoBesideOnesOwn(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	book, err := store.Open(ctx, dir, store.Options{Apart: demo.Bows()})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	own := owned(t, book)
	before, sounds := everyRow(t, book), soundFiles(t, dir)
	door := demoDoor{book}
	for range 2 { // the second does nothing
		if err := door.Load(ctx, own.Owner); err != nil {
			t.Fatal(err)
		}
	}
	if there, err := door.Loaded(ctx); !there || err != nil {
		t.Fatal(there, err)
	}
	if people, err := book.People().List(ctx, "", notebook.Query{}); err != nil || len(people.Rows) != 1 {
		t.Errorf("the demo brought %d people, %v", len(people.Rows)-1, err)
	}
	bows, err := book.Bows().List(ctx, "", notebook.Query{})
	if err != nil || len(bows.Rows) != 4 {
		t.Fatal(len(bows.Rows), err)
	}
	var invented notebook.Bow
	for _, b := range bows.Rows {
		if demo.Invented(b.ID) != (b.ID != own.ID) {
			t.Errorf("%s is taken for the wrong kind", b.Name)
		}
		if demo.Invented(b.ID) {
			invented = b
		}
	}
	setups, err := book.SetUps().List(ctx, "", notebook.Query{Bow: invented.ID})
	if err != nil || len(setups.Rows) == 0 {
		t.Fatal(len(setups.Rows), err)
	}
	note := notebook.Reading{Stamp: stampOf(own.Owner), Bow: invented.ID, SetUp: setups.Rows[0].ID, Kind: notebook.ReadNote, Text: "tried something on the demo"}
	back := notebook.Retraction{Stamp: stampOf(own.Owner), Target: note.ID}
	again := notebook.Retraction{Stamp: stampOf(own.Owner), Target: back.ID}
	mustPut(t, book.Readings(), note)
	mustPut(t, book.Retractions(), back)
	mustPut(t, book.Retractions(), again)
	if got := exported(t, book); got != before {
		t.Errorf("the export changed with the demo beside:\n%s\nwas\n%s", got, before)
	}
	if err := door.Remove(ctx); err != nil {
		t.Fatal(err)
	}
	if got := everyRow(t, book); got != before {
		t.Errorf("after removal the notebook holds\n%s\nbefore it was\n%s", got, before)
	}
	if got := soundFiles(t, dir); got != sounds {
		t.Errorf("%d sound files are left, %d were there", got, sounds)
	}
	if err := door.Load(ctx, own.Owner); err != nil { // and it can be had again
		t.Fatal(err)
	}
}

func stampOf(by notebook.ID) notebook.Stamp {
	return notebook.Stamp{ID: notebook.NewID(), By: by, At: time.Now().UTC()}
}

func mustPut[T notebook.Record](t *testing.T, into notebook.Records[T], r T) {
	t.Helper()
	if _, _, err := into.Put(context.Background(), "", r); err != nil {
		t.Fatal(err)
	}
}

// owned is somebody's own bow with a reading that was taken back.
func owned(t *testing.T, book *store.Store) notebook.Bow {
	t.Helper()
	raw, err := os.ReadFile("../../examples/heron-70.json")
	if err != nil {
		t.Fatal(err)
	}
	settings, err := notebook.ReadSettings(raw)
	if err != nil {
		t.Fatal(err)
	}
	me := notebook.Person{Stamp: stampOf(""), Name: "Robin", Hand: notebook.LeftHanded, Version: 1}
	me.By = me.ID
	bow := notebook.Bow{Stamp: stampOf(me.ID), Owner: me.ID, Name: "My own", Style: notebook.Recurve, Version: 1}
	setup := notebook.SetUp{Stamp: stampOf(me.ID), Bow: bow.ID, Settings: settings}
	note := notebook.Reading{Stamp: stampOf(me.ID), Bow: bow.ID, SetUp: setup.ID, Kind: notebook.ReadNote, Text: "mine"}
	mustPut(t, book.People(), me)
	mustPut(t, book.Bows(), bow)
	mustPut(t, book.SetUps(), setup)
	mustPut(t, book.Readings(), note)
	mustPut(t, book.Retractions(), notebook.Retraction{Stamp: stampOf(me.ID), Target: note.ID})
	return bow
}

// exported is notebook.json of an export.
func exported(t *testing.T, book *store.Store) string {
	t.Helper()
	records, names := storetest.Archive(t, book)
	for _, name := range names {
		if strings.HasPrefix(name, "recordings/") {
			t.Errorf("the export holds %s", name)
		}
	}
	return string(records)
}

// everyRow is every row of the notebook, the demo's included, by way of an
// export of a copy that sets nothing apart.
func everyRow(t *testing.T, book *store.Store) string {
	t.Helper()
	whole, err := store.Look(context.Background(), book.Dir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer whole.Close()
	return exported(t, whole)
}

func soundFiles(t *testing.T, dir string) int {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "recordings", "*"))
	if err != nil {
		t.Fatal(err)
	}
	return len(files)
}
