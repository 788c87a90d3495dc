package store

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// filled is a notebook with one of most things, a recording among them.
func filled(t *testing.T) (*Store, storetest.Sample) {
	t.Helper()
	s, x := open(t, t.TempDir()), storetest.New()
	storetest.PutAll(t, s, x)
	ctx := context.Background()
	hash, size, err := s.Blobs().Add(ctx, strings.NewReader("a sound"), 100)
	if err != nil {
		t.Fatal(err)
	}
	stamp := func() notebook.Stamp { return notebook.Stamp{ID: notebook.NewID(), By: x.Person.ID, At: storetest.At} }
	rest := storetest.RestOf(x, hash, size)
	next := x.Bow
	next.Name, next.Version = "=HYPERLINK(\"x\")", 2
	note := x.Reading
	note.Stamp, note.Note = stamp(), "=cmd|' /C calc'!A0\nzweite Zeile, \"quoted\""
	for _, put := range []func() error{
		func() error {
			_, _, err := s.Recordings().Put(ctx, x.Person.ID, rest.Recording)
			return err
		},
		func() error { _, _, err := s.Sessions().Put(ctx, x.Person.ID, rest.Session); return err },
		func() error { _, _, err := s.Events().Put(ctx, x.Person.ID, rest.Event); return err },
		func() error { _, _, err := s.Verdicts().Put(ctx, x.Person.ID, rest.Verdict); return err },
		func() error { _, _, err := s.Ends().Put(ctx, x.Person.ID, rest.End); return err },
		func() error { _, _, err := s.Onsets().Put(ctx, x.Person.ID, rest.Onsets); return err },
		func() error { _, _, err := s.Fits().Put(ctx, x.Person.ID, rest.Fit); return err },
		func() error { _, _, err := s.Forecasts().Put(ctx, x.Person.ID, rest.Forecast); return err },
		func() error { _, _, err := s.Rulings().Put(ctx, x.Person.ID, rest.Ruling); return err },
		func() error { _, _, err := s.Bows().Put(ctx, x.Person.ID, next); return err },
		func() error { _, _, err := s.Readings().Put(ctx, x.Person.ID, note); return err },
		func() error {
			_, _, err := s.Retractions().Put(ctx, x.Person.ID, notebook.Retraction{Stamp: stamp(), Target: note.ID})
			return err
		},
	} {
		if err := put(); err != nil {
			t.Fatal(err)
		}
	}
	return s, x
}

func exported(t *testing.T, s *Store) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := s.Export(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// U21: export → import into an empty notebook → export is the same bytes.
func TestRoundTripIsTheSameBytes(t *testing.T) {
	ctx := context.Background()
	a, _ := filled(t)
	first := exported(t, a)
	path := filepath.Join(t.TempDir(), "bows.zip")
	if err := a.ExportFile(ctx, path); err != nil {
		t.Fatal(err)
	}
	if err := a.ExportFile(ctx, path); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("a second export overwrote the first: %v", err)
	}
	b := open(t, t.TempDir())
	r, err := b.ImportPath(ctx, path, ImportOptions{})
	if err != nil || !r.Done || len(r.Problems) > 0 {
		t.Fatalf("%+v, %v", r, err)
	}
	if second := exported(t, b); !bytes.Equal(first, second) {
		t.Errorf("%d bytes became %d", len(first), len(second))
	}
	again, err := b.ImportPath(ctx, path, ImportOptions{})
	if err != nil || len(again.Added) > 0 || again.Already == 0 {
		t.Errorf("a second import added %v, %v", again.Added, err)
	}
	for _, s := range []*Store{a, b} {
		if r, err := s.Verify(ctx); err != nil || len(r.Problems) > 0 {
			t.Errorf("verify: %v, %v", r.Problems, err)
		}
	}
}

// unpack gives an export's files.
func unpack(t *testing.T, raw []byte) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range z.File {
		if out[f.Name], err = fs.ReadFile(z, f.Name); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// folder writes an export's files where an import reads them.
func folder(t *testing.T, files map[string][]byte) string {
	t.Helper()
	dir := t.TempDir()
	for name, b := range files {
		if err := os.MkdirAll(filepath.Join(dir, filepath.Dir(name)), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestBadLinesAreNamedByNumber(t *testing.T) {
	a, x := filled(t)
	files := unpack(t, exported(t, a))
	lines := strings.Split(string(files["notebook.json"]), "\n")
	at := func(kind string) int {
		for i, l := range lines {
			if strings.HasPrefix(l, `{"kind":"`+kind) {
				return i
			}
		}
		t.Fatal("no " + kind)
		return 0
	}
	spoil := map[int]string{
		at("reading"):    strings.Replace(lines[at("reading")], `"value":0.222`, `"value":22.2`, 1),
		at("recording"):  strings.Replace(lines[at("recording")], `"hash":"`, `"hash":"zz`, 1),
		at("retraction"): `{"kind":"retraction","record":`,
		at("trial"):      strings.Replace(lines[at("trial")], `{"kind":"trial"`, `{"kind":"treason"`, 1),
	}
	for i, l := range spoil {
		lines[i] = l
	}
	files["notebook.json"] = []byte(strings.Join(lines, "\n"))
	dir, b, ctx := folder(t, files), open(t, t.TempDir()), context.Background()
	r, err := b.ImportPath(ctx, dir, ImportOptions{})
	if err != nil || r.Done {
		t.Fatalf("bad lines were imported: %+v, %v", r, err)
	}
	named := map[int]bool{}
	for _, p := range r.Problems {
		named[p.Line] = true
	}
	for i := range spoil {
		if !named[i+1] {
			t.Errorf("line %d is not named in %+v", i+1, r.Problems)
		}
	}
	if page, err := b.Bows().List(ctx, "", notebook.Query{}); err != nil || len(page.Rows) > 0 {
		t.Errorf("a refused import left %d bows, %v", len(page.Rows), err)
	}
	r, err = b.ImportPath(ctx, dir, ImportOptions{KeepGood: true})
	if err != nil || !r.Done || r.Added["bow"] != 2 || r.Added["person"] != 1 {
		t.Errorf("with KeepGood: %+v, %v", r, err)
	}
	if _, err := b.SetUps().Get(ctx, "", x.SetUp.ID); err != nil {
		t.Errorf("the good set-up is missing: %v", err)
	}
}

func TestImportNeverOverwrites(t *testing.T) {
	a, x := filled(t)
	files := unpack(t, exported(t, a))
	files["notebook.json"] = bytes.Replace(files["notebook.json"], []byte(`"reason":"first"`), []byte(`"reason":"changed"`), 1)
	r, err := a.ImportPath(context.Background(), folder(t, files), ImportOptions{KeepGood: true})
	if err != nil || len(r.Problems) != 2 || !strings.Contains(r.Problems[0].Message, "different record") || !strings.Contains(r.Problems[1].Message, "not what was exported") {
		t.Fatalf("%+v, %v", r, err)
	}
	if s, err := a.SetUps().Get(context.Background(), "", x.SetUp.ID); err != nil || s.Reason != "first" {
		t.Errorf("the set-up now says %q, %v", s.Reason, err)
	}
}

func TestHostileZips(t *testing.T) {
	s := open(t, t.TempDir())
	for name, entries := range map[string]map[string][]byte{
		"climbs out": {"../evil": []byte("x")}, "absolute": {"/etc/x": []byte("x")}, "other file": {"run.sh": []byte("x")},
		"bomb": {"notebook.json": bytes.Repeat([]byte{' '}, 50<<20)}, "no records": {"SHA256SUMS": nil},
	} {
		path := filepath.Join(t.TempDir(), "a.zip")
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		z := zip.NewWriter(f)
		for n, b := range entries {
			w, err := z.Create(n)
			if err == nil {
				_, err = w.Write(b)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := joined(z.Close(), f.Close()); err != nil {
			t.Fatal(err)
		}
		if _, err := s.ImportPath(context.Background(), path, ImportOptions{}); notebook.CodeOf(err) != notebook.Invalid {
			t.Errorf("%s gave %v", name, err)
		}
	}
}

// F3 and D5 of the bars: a backup is proved; a flipped bit, a missing sound
// and a database copied by hand while in use are found.
func TestBackupIsProvedAndDamageIsFound(t *testing.T) {
	ctx := context.Background()
	a, _ := filled(t)
	dir := filepath.Join(t.TempDir(), "copy")
	made, err := a.Backup(ctx, dir, BackupOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Backup(ctx, dir, BackupOptions{}); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("a second backup overwrote the first: %v", err)
	}
	if _, err := Open(ctx, dir, Options{}); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("a backup was opened to work in it: %v", err)
	}
	b, err := Look(ctx, dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if have, err := b.Verify(ctx); err != nil || len(have.Problems) > 0 || have.Recordings != made.Recordings || made.Recordings != 1 {
		t.Errorf("the copy opens as %+v, was made as %+v, %v", have, made, err)
	}
	if !bytes.Equal(exported(t, a), exported(t, b)) {
		t.Error("the copy exports other bytes")
	}
	sounds, err := os.ReadDir(filepath.Join(dir, recordingsDir))
	if err != nil || len(sounds) != 1 {
		t.Fatal(sounds, err)
	}
	path := filepath.Join(dir, recordingsDir, sounds[0].Name())
	if err := os.WriteFile(path, []byte("a sounb"), 0o600); err != nil {
		t.Fatal(err)
	}
	if r, err := b.Verify(ctx); err != nil || len(r.Problems) != 1 || !strings.Contains(r.Problems[0], "has changed") {
		t.Errorf("a flipped byte was judged %v, %v", r.Problems, err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if r, err := b.Verify(ctx); err != nil || len(r.Problems) != 1 || !strings.Contains(r.Problems[0], "missing") {
		t.Errorf("a missing sound was judged %v, %v", r.Problems, err)
	}
}

// Every key of every exported record stands in the schema with the type it
// has, and everything required is there.
func TestExportFitsItsSchema(t *testing.T) {
	a, _ := filled(t)
	files := unpack(t, exported(t, a))
	var schema struct {
		Items struct {
			OneOf []struct {
				Properties struct {
					Kind   struct{ Const string }
					Record map[string]any
				}
			}
		}
	}
	if err := json.Unmarshal(files["notebook.schema.json"], &schema); err != nil {
		t.Fatal(err)
	}
	records := map[string]map[string]any{}
	for _, k := range schema.Items.OneOf {
		records[k.Properties.Kind.Const] = k.Properties.Record
	}
	var lines []struct {
		Kind   string
		Record any
	}
	if err := json.Unmarshal(files["notebook.json"], &lines); err != nil {
		t.Fatal(err)
	}
	if len(lines) < 8 {
		t.Fatalf("only %d records", len(lines))
	}
	for _, l := range lines {
		for _, p := range misfits(l.Record, records[l.Kind], l.Kind) {
			t.Error(p)
		}
	}
	// the check itself must be able to fail
	if len(misfits(map[string]any{"id": 3.0}, records["bow"], "bow")) == 0 {
		t.Error("the schema takes a bow whose id is a number")
	}
}

func misfits(v any, schema map[string]any, at string) (out []string) {
	object, isObject := v.(map[string]any)
	switch want := schema["type"]; {
	case want == "object" && isObject:
		known, _ := schema["properties"].(map[string]any)
		for key, value := range object {
			sub, ok := known[key].(map[string]any)
			if !ok {
				out = append(out, fmt.Sprintf("%s/%s is not in the schema", at, key))
				continue
			}
			out = append(out, misfits(value, sub, at+"/"+key)...)
		}
		for _, key := range schema["required"].([]any) {
			if _, ok := object[key.(string)]; !ok {
				out = append(out, fmt.Sprintf("%s/%s is missing", at, key))
			}
		}
	case want == nil, want == "string" && is[string](v), want == "boolean" && is[bool](v), want == "array" && is[[]any](v),
		(want == "number" || want == "integer") && is[float64](v):
	default:
		out = append(out, fmt.Sprintf("%s is %T, the schema wants %v", at, v, want))
	}
	return out
}

func is[T any](v any) bool {
	_, ok := v.(T)
	return ok
}

// Text that a spreadsheet would run is written as text.
func TestTablesAreHarmless(t *testing.T) {
	a, _ := filled(t)
	files := unpack(t, exported(t, a))
	readings := string(files["tables/readings.csv"])
	if !strings.Contains(readings, "'=cmd|") || strings.Contains(readings, ",=cmd") {
		t.Errorf("a formula stands in the readings:\n%s", readings)
	}
	if !strings.HasPrefix(readings, "id,kind,value_si,unit_si,as_typed,") || !strings.Contains(readings, `0.222,m,"22,2 cm"`) {
		t.Errorf("readings:\n%s", readings)
	}
	// a quantity has its value in SI and what was typed, under a header that says so
	sessions := string(files["tables/sessions.csv"])
	if !strings.Contains(sessions, ",temperature_degc,temperature_as_typed,") || !strings.Contains(sessions, ",18,18 °C,,,55.5,2.5,2.5 m/s,") {
		t.Errorf("sessions:\n%s", sessions)
	}
	ends := string(files["tables/ends.csv"])
	if !strings.HasPrefix(ends, "id,end,arrow,x_m,y_m,ring,kind,") || !strings.Contains(ends, ",1,3,0.021,-0.034,9,fletched,70,70 m,122,") || !strings.Contains(ends, ",,,M,bare,70,") {
		t.Errorf("ends:\n%s", ends)
	}
	if len(files) != 20 { // records, schema, sums, sixteen tables, one sound file
		t.Errorf("%d files: %v", len(files), sorted(files))
	}
	if !strings.Contains(string(files["tables/setups.csv"]), "brace_height.value,\"22,2 cm\"") {
		t.Errorf("set-ups:\n%s", files["tables/setups.csv"])
	}
}
