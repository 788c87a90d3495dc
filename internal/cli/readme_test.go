package cli

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"tautline/internal/store"
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
	for _, page := range append([]string{"../../README.md"}, manualFiles(t)...) {
		if page != clubPage { // has a notebook of its own, below
			ran += runShown(t, page, dir)
		}
	}
	if ran < 4 {
		t.Errorf("only %d commands were found in the README: does the test still read it right?", ran)
	}
}

// manualFiles are all pages of the manual.
func manualFiles(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob("../../docs/manual/*.md")
	if err != nil || len(files) < 12 {
		t.Fatalf("%q (%v)", files, err)
	}
	return files
}

// runShown runs the commands that a page shows, in a folder that is home, each
// after what comes before it.
func runShown(t *testing.T, page, dir string, before ...func()) (ran int) {
	t.Helper()
	for _, line := range linesOf(t, page) {
		command, shown := strings.CutPrefix(line, "    ./tautline ")
		if !shown || strings.HasPrefix(command, "serve") {
			continue // serve runs until it is stopped; the end-to-end test does it
		}
		ran++
		for _, first := range before {
			first()
		}
		shell := exec.Command("sh", "-c", "tautline "+command)
		shell.Dir = dir
		shell.Env = append(os.Environ(), "HOME="+dir, "XDG_DATA_HOME="+dir, "TAUTLINE_DATABASE=")
		if out, err := shell.CombinedOutput(); err != nil {
			t.Errorf("%s shows %q: %v\n%s", page, command, err, out)
		}
	}
	return ran
}

func linesOf(t *testing.T, page string) []string {
	t.Helper()
	raw, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(string(raw), "\n")
}

const clubPage = "../../docs/manual/club.md"

// What the club's manual shows is run in its order, on a notebook that an older
// program made, so that there is something to go back to; before each command
// the program is started and stopped.
func TestClubManualRuns(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "tautline"), os.DirFS("../store/testdata/v1")); err != nil {
		t.Fatal(err)
	}
	started := func() {
		book, err := store.Open(t.Context(), filepath.Join(dir, "tautline"), store.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if err := book.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if ran := runShown(t, clubPage, dir, started); ran < 7 {
		t.Errorf("only %d commands were run", ran)
	}
}

// A block of the club's manual that the tests cannot run, since it needs root
// or a certificate, says so; the others TestClubAsTheManualSays runs. The flags of
// serve in it exist.
func TestClubManualSaysWhatIsNotRun(t *testing.T) {
	blocks, lines := 0, strings.Join(linesOf(t, clubPage), "\n")
	for i, block := range strings.Split(lines, "```") {
		if i%2 == 0 {
			continue
		}
		blocks++
		if !strings.Contains(block, "# not run by the tests: ") && !runHere(block) {
			t.Errorf("it is not said that this is not run by the tests:\n%s", block)
		}
		for line := range strings.SplitSeq(strings.ReplaceAll(block, "\\\n", ""), "\n") {
			line = strings.TrimSpace(line)
			_, flags, unit := strings.Cut(line, "TAUTLINE_SERVE=")
			flags, _, _ = strings.Cut(flags, "'")
			if command, shown := strings.CutPrefix(line, "tautline "); shown {
				command, _, _ = strings.Cut(command, " |")
				understood(t, command)
			} else if unit {
				understood(t, "serve "+flags)
			}
		}
	}
	if blocks < 3 {
		t.Errorf("only %d blocks were found", blocks)
	}
}

// runHere tells the blocks that TestClubAsTheManualSays runs.
func runHere(block string) bool {
	return strings.Contains(block, "club_owner") || strings.Contains(block, "TAUTLINE_SERVE=") || strings.Contains(block, "pg_switch_wal") || strings.Contains(block, "systemctl enable --now tautline")
}

// understood reads a command without running it.
func understood(t *testing.T, command string) {
	t.Helper()
	term := &terminal{out: io.Discard, err: io.Discard}
	parser, err := newParser(term, func(int) { panic(parserExit{}) })
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parse(parser, strings.Fields(command)); err != nil {
		t.Errorf("tautline %s: %v", command, err)
	}
}

// Every page that the README and the manual point to is there.
func TestLinksLeadSomewhere(t *testing.T) {
	links := 0
	for _, path := range append([]string{"../../README.md", "../../CONTRIBUTING.md"}, manualFiles(t)...) {
		raw, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, part := range strings.Split(string(raw), "](")[1:] {
			target, _, ok := strings.Cut(part, ")")
			target, _, _ = strings.Cut(target, "#") // a place on this page or that
			if !ok || target == "" || strings.Contains(target, "://") {
				continue
			}
			links++
			if _, err := os.Stat(filepath.Join(filepath.Dir(path), target)); err != nil {
				t.Errorf("%s points to %s, which is not there", path, target)
			}
		}
	}
	if links < 10 {
		t.Errorf("only %d links were found", links)
	}
}
