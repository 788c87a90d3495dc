package store

import (
	"archive/zip"
	"bytes"
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

var update = flag.Bool("update", false, "write the golden reports anew")

// nth replaces the first record of a kind in notebook.json.
func nth(files map[string][]byte, kind string, change func(string) string) {
	lines := strings.Split(string(files[recordsName]), "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, `{"kind":"`+kind+`"`) {
			lines[i] = change(l)
			break
		}
	}
	files[recordsName] = []byte(strings.Join(lines, "\n"))
	delete(files, sumsName) // the damage itself is to be found, not the checksum
}

func swap(old, new string) func(string) string {
	return func(l string) string { return strings.Replace(l, old, new, 1) }
}

// badImports is the bank: what is wrong with an export, and how it came about.
var badImports = []struct {
	name  string
	spoil func(files map[string][]byte)
}{
	{"value in centimetres", func(f map[string][]byte) { nth(f, "reading", swap(`"value":0.222`, `"value":22.2`)) }},
	{"value and text differ", func(f map[string][]byte) { nth(f, "reading", swap(`"value":0.222`, `"value":0.223`)) }},
	{"value is text", func(f map[string][]byte) { nth(f, "reading", swap(`"value":0.222`, `"value":"0.222"`)) }},
	{"unknown kind of reading", func(f map[string][]byte) { nth(f, "reading", swap(`"brace_height"`, `"brace"`)) }},
	{"set-up missing", func(f map[string][]byte) { nth(f, "setup", func(string) string { return "" }) }},
	{"bow missing", func(f map[string][]byte) { nth(f, "bow", func(string) string { return "" }) }},
	{"unit slip in a set-up", func(f map[string][]byte) { nth(f, "setup", swap(`"331 gr"`, `"331 g"`)) }},
	{"no unit in a set-up", func(f map[string][]byte) { nth(f, "setup", swap(`"40 lbf"`, `"40"`)) }},
	{"range upside down", func(f map[string][]byte) { nth(f, "setup", swap(`"21 cm"`, `"23.5 cm"`)) }},
	{"id not ours", func(f map[string][]byte) { nth(f, "bow", swap(`"id":"0`, `"id":"x`)) }},
	{"unknown kind of record", func(f map[string][]byte) { nth(f, "trial", swap(`"kind":"trial"`, `"kind":"quiver"`)) }},
	{"line cut off", func(f map[string][]byte) { nth(f, "person", func(l string) string { return l[:40] }) }},
	{"words between", func(f map[string][]byte) { nth(f, "person", func(l string) string { return "hello\n" + l }) }},
	{"hash shortened", func(f map[string][]byte) { nth(f, "recording", swap(`"hash":"`, `"hash":"zz`)) }},
	{"sound missing", func(f map[string][]byte) {
		maps.DeleteFunc(f, func(n string, _ []byte) bool { return strings.HasPrefix(n, recordingsDir) })
	}},
	{"sound changed", func(f map[string][]byte) {
		for n := range f {
			if strings.HasPrefix(n, recordingsDir) {
				f[n] = []byte("a sounb")
			}
		}
	}},
	{"changed by hand", func(f map[string][]byte) {
		f[recordsName] = bytes.Replace(f[recordsName], []byte("zweite Zeile"), []byte("dritte Zeile"), 1)
	}},
	{"empty", func(f map[string][]byte) { f[recordsName] = nil; delete(f, sumsName) }},
	{"last lines lost", func(f map[string][]byte) {
		i := bytes.LastIndex(f[recordsName], []byte(`,
{"kind":"retraction"`))
		f[recordsName] = f[recordsName][:i+1]
		delete(f, sumsName)
	}},
	{"from a newer program", func(f map[string][]byte) { nth(f, "bow", swap(`"name":`, `"colour":"red","name":`)) }},
	{"a line without end", func(f map[string][]byte) {
		f[recordsName] = append(f[recordsName], bytes.Repeat([]byte("x"), longestLine+1)...)
		delete(f, sumsName)
	}},
}

var changing = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`)

// Each faulty export gives the report that a person has read and found good,
// and changes nothing.
func TestBadImportsAreReported(t *testing.T) {
	a, _ := filled(t)
	pristine := unpack(t, exported(t, a))
	var all strings.Builder
	for _, c := range badImports {
		files := maps.Clone(pristine)
		c.spoil(files)
		b := open(t, t.TempDir())
		r, err := b.ImportPath(context.Background(), folder(t, files), ImportOptions{})
		fmt.Fprintf(&all, "%s\n", c.name)
		if err != nil {
			fmt.Fprintf(&all, "  %v\n", err)
		}
		// what was read before is the same for all
		r.Added = nil
		all.WriteString(changing.ReplaceAllString(r.Text(), "ID"))
		if strings.Contains(c.name, "missing") && c.name != "sound missing" && c.name != "set-up missing" {
			continue // a warning: imported all the same
		}
		if len(r.Problems) == 0 || r.Done {
			t.Errorf("%s was imported: %+v", c.name, r)
		}
		if n := storetest.CountReadings(t, b); n != 0 {
			t.Errorf("%s left %d readings behind", c.name, n)
		}
	}
	golden := filepath.Join("testdata", "bad_imports.golden")
	if *update {
		if err := os.WriteFile(golden, []byte(all.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil || string(want) != all.String() {
		t.Errorf("%v; the reports are now\n%s", err, all.String())
	}
}

// Line ends of another system and a byte-order mark are no problem.
func TestImportTakesOtherLineEnds(t *testing.T) {
	a, _ := filled(t)
	files := unpack(t, exported(t, a))
	files[recordsName] = append([]byte("\ufeff"), bytes.ReplaceAll(files[recordsName], []byte("\n"), []byte("\r\n"))...)
	delete(files, sumsName)
	b := open(t, t.TempDir())
	if r, err := b.ImportPath(context.Background(), folder(t, files), ImportOptions{}); err != nil || !r.Done || len(r.Problems) > 0 {
		t.Fatalf("%+v, %v", r, err)
	}
	if !bytes.Equal(exported(t, a), exported(t, b)) {
		t.Error("the records changed on the way")
	}
}

func TestDryRunLeavesNothing(t *testing.T) {
	a, _ := filled(t)
	dir := folder(t, unpack(t, exported(t, a)))
	b := open(t, t.TempDir())
	r, err := b.ImportPath(context.Background(), dir, ImportOptions{DryRun: true})
	if err != nil || r.Done || r.Added["reading"] != 2 || len(r.Problems)+len(r.Warnings) > 0 {
		t.Errorf("%+v, %v", r, err)
	}
	if left, err := filepath.Glob(filepath.Join(b.dir, recordingsDir, "*")); err != nil || len(left) > 0 {
		t.Errorf("a look left %v, %v", left, err)
	}
	if n := storetest.CountReadings(t, b); n != 0 {
		t.Errorf("a look left %d readings", n)
	}
}

// The folder holds the same files as the zip; a link in it leads nowhere.
func TestExportFolder(t *testing.T) {
	a, _ := filled(t)
	dir := filepath.Join(t.TempDir(), "export")
	if err := a.ExportFolder(context.Background(), dir); err != nil {
		t.Fatal(err)
	}
	for name, want := range unpack(t, exported(t, a)) {
		if have, err := os.ReadFile(filepath.Join(dir, name)); err != nil || !bytes.Equal(have, want) {
			t.Errorf("%s differs from the zip's, %v", name, err)
		}
	}
	if err := a.ExportFolder(context.Background(), dir); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("a second export overwrote the first: %v", err)
	}
	sounds, err := filepath.Glob(filepath.Join(dir, recordingsDir, "*"))
	if err != nil || len(sounds) != 1 {
		t.Fatal(sounds, err)
	}
	outside := filepath.Join(t.TempDir(), "sound")
	if err := os.Rename(sounds[0], outside); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(outside, sounds[0]); err != nil {
		t.Fatal(err)
	}
	b := open(t, t.TempDir())
	if r, err := b.ImportPath(context.Background(), dir, ImportOptions{}); err != nil || len(r.Problems) != 1 {
		t.Errorf("a link out of the folder was followed: %+v, %v", r, err)
	}
}

// A silent recording shrinks a thousandfold; it must not come back as a bomb.
func TestSilenceComesBack(t *testing.T) {
	ctx := context.Background()
	a, x := filled(t)
	hash, size, err := a.Blobs().Add(ctx, bytes.NewReader(make([]byte, 1<<20)), 2<<20)
	if err != nil {
		t.Fatal(err)
	}
	rec := notebook.Recording{Stamp: notebook.Stamp{ID: notebook.NewID(), By: x.Person.ID, At: storetest.At}, Hash: hash, Bytes: size}
	if _, _, err := a.Recordings().Put(ctx, x.Person.ID, rec); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "a.zip")
	if err := a.ExportFile(ctx, path); err != nil {
		t.Fatal(err)
	}
	b := open(t, t.TempDir())
	if r, err := b.ImportPath(ctx, path, ImportOptions{}); err != nil || !r.Done {
		t.Errorf("%+v, %v", r, err)
	}
}

// T21: names that try to leave the folder, in every spelling we know.
func TestHostileNames(t *testing.T) {
	var names []string
	for _, up := range []string{"..", "...", "%2e%2e", "..%2f", "．．", ".", "", "C:", "~", "\x00", "recordings/..", "tables/../..", "recordings/\\..", "./recordings/.."} {
		for _, sep := range []string{"/", "\\", "//", "/./", "\\\\"} {
			for _, end := range []string{"evil", "notebook.json", "etc/passwd"} {
				names = append(names, up+sep+end)
			}
		}
	}
	names = append(names, "recordings/"+strings.Repeat("0", 63), "recordings/"+strings.Repeat("A", 64), "notebook.json/", "notebook.json\n", " notebook.json", "NOTEBOOK.JSON", "tables/x.exe")
	if len(names) < 200 {
		t.Fatalf("only %d names", len(names))
	}
	s := open(t, t.TempDir())
	path := filepath.Join(t.TempDir(), "a.zip")
	for _, name := range names {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		if _, err := z.CreateRaw(&zip.FileHeader{Name: name}); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := s.ImportPath(context.Background(), path, ImportOptions{}); notebook.CodeOf(err) != notebook.Invalid {
			t.Errorf("%q gave %v", name, err)
		}
	}
}
