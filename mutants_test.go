package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/format"
	"go/parser"
	"go/token"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"
)

// T24: a test that finds nothing is none. In the long run (TAUTLINE_LONG=1, some
// minutes) conditions of the rules of who may do what, of the store, and of a
// trial's decisions are turned round one by one at spots drawn with a seed
// (MUTANT_SEED), and the package's own tests must notice at least 85 % of them.
// MUTANTS says how many.
func TestMutantsAreNoticed(t *testing.T) {
	if os.Getenv("TAUTLINE_LONG") == "" {
		t.Skip("compiles and tests a package for each mutant: TAUTLINE_LONG=1")
	}
	number := func(name string, otherwise int) int {
		if n, err := strconv.Atoi(os.Getenv(name)); err == nil {
			return n
		}
		return otherwise
	}
	seed, n := number("MUTANT_SEED", 1), number("MUTANTS", 20)
	for _, of := range []struct{ pkg, files string }{
		{"notebook", "{rights}.go"}, {"internal/store", "{table,accounts,erase,erasing,import}.go"},
		{"trial", "{bareshaft,walkback,sham,compare}.go"},
	} {
		t.Run(of.pkg, func(t *testing.T) {
			if out, err := testedWith(t, of.pkg, ""); err != nil {
				t.Fatalf("its tests fail without a mutant: %v\n%s", err, out)
			}
			noticed, tried := 0, 0
			for _, m := range spots(t, of.pkg, of.files, seed, n) {
				switch err := m.test(t); {
				case errors.Is(err, errNoMutant):
				case err != nil:
					noticed, tried = noticed+1, tried+1
				default:
					tried++
					t.Logf("not noticed: %s", m.what)
				}
			}
			t.Logf("%d of %d mutants were noticed, seed %d", noticed, tried, seed)
			if tried == 0 || noticed*100 < tried*85 {
				t.Errorf("%d of %d mutants were noticed, want 85 %%", noticed, tried)
			}
		})
	}
}

// mutant is a file with one condition turned round.
type mutant struct {
	pkg, file, what string
	text            []byte
}

var errNoMutant = errors.New("it does not compile")

// turned are the operators that are exchanged.
var turned = map[token.Token]token.Token{
	token.EQL: token.NEQ, token.NEQ: token.EQL, token.LAND: token.LOR, token.LOR: token.LAND, token.LSS: token.GEQ, token.GEQ: token.LSS, token.GTR: token.LEQ, token.LEQ: token.GTR,
}

// spots makes so many mutants of the files. A comparison with nil is left out:
// turned round it is a panic or an error in every test.
func spots(t *testing.T, pkg, pattern string, seed, n int) (out []mutant) {
	t.Helper()
	for name := range bytes.SplitSeq([]byte(pattern[1:len(pattern)-len("}.go")]), []byte(",")) {
		file := filepath.Join(pkg, string(name)+".go")
		set := token.NewFileSet()
		parsed, err := parser.ParseFile(set, file, nil, parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(parsed, func(node ast.Node) bool {
			e, ok := node.(*ast.BinaryExpr)
			if !ok || turned[e.Op] == 0 || nilCompared(e) {
				return true
			}
			was := e.Op
			e.Op = turned[was]
			var text bytes.Buffer
			if err := format.Node(&text, set, parsed); err != nil {
				t.Fatal(err)
			}
			e.Op = was
			out = append(out, mutant{pkg, file, fmt.Sprintf("%s: %s for %s", set.Position(e.OpPos), turned[was], was), text.Bytes()})
			return true
		})
	}
	rand.New(rand.NewPCG(uint64(seed), 24)).Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out[:min(n, len(out))]
}

func nilCompared(e *ast.BinaryExpr) bool {
	name, ok := e.Y.(*ast.Ident)
	return ok && name.Name == "nil"
}

// test runs the package's tests on the mutant, which stands only in a layer
// over the folder.
func (m mutant) test(t *testing.T) error {
	t.Helper()
	dir := t.TempDir()
	here, err := filepath.Abs(m.file)
	if err != nil {
		t.Fatal(err)
	}
	layer, err := json.Marshal(map[string]any{"Replace": map[string]string{here: filepath.Join(dir, "mutant.go")}})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.WriteFile(filepath.Join(dir, "mutant.go"), m.text, 0o600), os.WriteFile(filepath.Join(dir, "layer.json"), layer, 0o600)); err != nil {
		t.Fatal(err)
	}
	out, err := testedWith(t, m.pkg, filepath.Join(dir, "layer.json"))
	if err != nil && (bytes.Contains(out, []byte("[build failed]")) || bytes.Contains(out, []byte("[setup failed]"))) {
		return fmt.Errorf("%w: %s", errNoMutant, out)
	}
	return err
}

// testedWith runs a package's tests with a layer over the folder, "" for none.
// They write nothing down of what they found.
func testedWith(t *testing.T, pkg, layer string) ([]byte, error) {
	t.Helper()
	dir := passing(t)
	defer ended(t, dir)
	run := exec.CommandContext(t.Context(), "go", "test", "-short", "-failfast", "-timeout", "15m", "-overlay", layer, "./"+pkg)
	for _, set := range os.Environ() {
		if name, _, _ := bytes.Cut([]byte(set), []byte("=")); string(name) != "TAUTLINE_LONG" {
			run.Env = append(run.Env, set)
		}
	}
	run.Env = append(run.Env, "RAPID_NOFAILFILE=true", "TMPDIR="+dir)
	return run.CombinedOutput()
}

// passing is a folder for what a run leaves behind, which a database server's
// user may enter.
func passing(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "mutant-")
	if err := errors.Join(err, os.Chmod(dir, 0o711)); err != nil {
		t.Fatal(err)
	}
	return dir
}

// ended stops the database servers that a run left behind in its folder, as one
// that ends by a panic does, and removes the folder.
func ended(t *testing.T, dir string) {
	t.Helper()
	left, err := filepath.Glob(filepath.Join(dir, "*", "data", "postmaster.pid"))
	for _, file := range left {
		err = errors.Join(err, interrupted(file))
	}
	for wait := time.Now(); len(left) > 0 && time.Since(wait) < 10*time.Second; time.Sleep(50 * time.Millisecond) {
		left, _ = filepath.Glob(filepath.Join(dir, "*", "data", "postmaster.pid"))
	}
	if err := errors.Join(err, os.RemoveAll(dir)); err != nil {
		t.Logf("left behind: %v", err)
	}
}

// interrupted tells the process of a server's file to end.
func interrupted(file string) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	var pid int
	if _, err := fmt.Sscan(string(text), &pid); err != nil {
		return err
	}
	server, err := os.FindProcess(pid)
	if err != nil {
		return err
	}
	return server.Signal(os.Interrupt)
}
