package cli

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"tautline/sound"
	"tautline/sound/soundtest"
)

// Every command that README and manual show is run as it stands there, in a
// folder with the examples, a recording called evening.wav and a demo notebook.
func TestShownCommandsRun(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "examples"), os.DirFS("../../examples")); err != nil {
		t.Fatal(err)
	}
	var wav bytes.Buffer
	if err := sound.EncodeWAV(&wav, soundtest.DefaultBow().Session(0.22, 2, 3, 22050, 1), 22050); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "evening.wav"), wav.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	fill := exec.Command("tautline", "demo", "--fill", "--data", filepath.Join(dir, "tautline"))
	if out, err := fill.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	ran := 0
	for _, page := range []string{"../../README.md", "../../docs/manual/first-evening.md", "../../docs/manual/tutorial.md", "../../docs/manual/how-to.md", "../../docs/manual/plot-and-compare.md", "../../docs/manual/command-line.md", "../../docs/manual/fitted-bow.md"} {
		raw, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(string(raw), "\n") {
			command, shown := strings.CutPrefix(line, "    ./tautline ")
			if !shown || strings.HasPrefix(command, "serve") {
				continue // serve runs until it is stopped; the end-to-end test does it
			}
			ran++
			shell := exec.Command("sh", "-c", "tautline "+command)
			shell.Dir = dir
			shell.Env = append(os.Environ(), "XDG_DATA_HOME="+dir)
			if out, err := shell.CombinedOutput(); err != nil {
				t.Errorf("%s shows %q: %v\n%s", page, command, err, out)
			}
		}
	}
	if ran < 4 {
		t.Errorf("only %d commands were found in the README: does the test still read it right?", ran)
	}
}

// Every page that the README and the manual point to is there.
func TestLinksLeadSomewhere(t *testing.T) {
	links := 0
	for _, page := range []string{"README.md", "CONTRIBUTING.md", "docs/manual/first-evening.md", "docs/manual/tutorial.md", "docs/manual/how-to.md", "docs/manual/plot-and-compare.md", "docs/manual/command-line.md", "docs/manual/fitted-bow.md", "docs/manual/notebook-format.md", "docs/manual/sound.md", "docs/manual/on-the-phone.md"} {
		path := filepath.Join("../..", page)
		raw, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, part := range strings.Split(string(raw), "](")[1:] {
			target, _, ok := strings.Cut(part, ")")
			if !ok || strings.Contains(target, "://") {
				continue
			}
			links++
			if _, err := os.Stat(filepath.Join(filepath.Dir(path), target)); err != nil {
				t.Errorf("%s points to %s, which is not there", page, target)
			}
		}
	}
	if links < 10 {
		t.Errorf("only %d links were found", links)
	}
}
