package main

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/build"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// T24: in the program as it is given away no error is dropped. A call that can
// fail stands nowhere alone, behind a defer or a go, and its error goes into no
// blank, but where the reason stands on the line or the one before. (Yuan et al., OSDI 2014: most catastrophic failures of
// servers come from errors that were signalled and mishandled.)
func TestNoErrorIsDropped(t *testing.T) {
	exports := exportData(t)
	set := token.NewFileSet()
	imports := importer.ForCompiler(set, "gc", func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) })
	byDir := map[string][]*ast.File{}
	tools := regexp.MustCompile(`^(examples|internal/(drill|bank|errshare|supply|store/(storetest|pgtest)|edge)|web/build)(/|$)`)
	for _, file := range sources(t, ".go") {
		dir := filepath.Dir(file)
		if strings.HasSuffix(file, "_test.go") || tools.MatchString(filepath.ToSlash(dir)) || !ours(t, file) {
			continue
		}
		parsed, err := parser.ParseFile(set, file, nil, parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		byDir[dir] = append(byDir[dir], parsed)
	}
	looked := 0
	for dir, files := range byDir {
		d := drops{set: set, info: &types.Info{Types: map[ast.Expr]types.TypeAndValue{}}}
		if _, err := (&types.Config{Importer: imports}).Check(dir, set, files, d.info); err != nil {
			t.Fatalf("%s: %v", dir, err)
		}
		for _, f := range files {
			d.file(f)
		}
		looked += d.calls
		for _, f := range d.found {
			t.Error(f)
		}
	}
	if looked < 1000 {
		t.Errorf("only %d calls that can fail were seen", looked)
	}
}

// What it would not see is no check.
func TestDroppedErrorsAreFound(t *testing.T) {
	exports := exportData(t)
	for body, want := range map[string]int{
		"os.Remove(`x`)": 1, "os.Remove(`x`) // it may be gone already": 0, "defer os.Remove(`x`)": 1, "go os.Remove(`x`)": 1, "_ = os.Remove(`x`)": 1, "n, _ := os.ReadFile(`x`); println(n)": 1,
		"_ = os.Remove(`x`) // why not": 0, "var b strings.Builder; b.WriteString(`x`)": 0, "if err := os.Remove(`x`); err != nil { panic(err) }": 0, "println(1)": 0,
	} {
		set := token.NewFileSet()
		parsed, err := parser.ParseFile(set, "planted.go", "package p\nimport (\"os\"; \"strings\")\nvar _ strings.Builder\nvar _ = os.Args\nfunc f() {\n"+body+"\n}", parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		d := drops{set: set, info: &types.Info{Types: map[ast.Expr]types.TypeAndValue{}}}
		imports := importer.ForCompiler(set, "gc", func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) })
		if _, err := (&types.Config{Importer: imports}).Check("p", set, []*ast.File{parsed}, d.info); err != nil {
			t.Fatal(body, err)
		}
		if d.file(parsed); len(d.found) != want {
			t.Errorf("%s: %q", body, d.found)
		}
	}
}

// exportData is where the compiler keeps what each package exports.
func exportData(t *testing.T) map[string]string {
	t.Helper()
	var said bytes.Buffer
	list := exec.CommandContext(t.Context(), "go", "list", "-export", "-deps", "-f", "{{.ImportPath}} {{.Export}}", "./...")
	list.Stderr = &said
	out, err := list.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, said.String())
	}
	exports := map[string]string{}
	for line := range strings.Lines(string(out)) {
		path, file, _ := strings.Cut(strings.TrimSpace(line), " ")
		exports[path] = file
	}
	return exports
}

// ours reports whether a file is built on this machine.
func ours(t *testing.T, file string) bool {
	t.Helper()
	dir, name := filepath.Split(file)
	match, err := build.Default.MatchFile("./"+dir, name)
	if err != nil {
		t.Fatal(err)
	}
	return match
}

// drops finds calls whose error is lost.
type drops struct {
	set   *token.FileSet
	info  *types.Info
	lines map[int]bool // with a comment
	calls int
	found []string
}

func (d *drops) file(f *ast.File) {
	d.lines = map[int]bool{}
	for _, group := range f.Comments {
		last := d.set.Position(group.End()).Line
		d.lines[last], d.lines[last+1] = true, true
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CallExpr:
			if d.failsAt(n) >= 0 {
				d.calls++
			}
		case *ast.ExprStmt:
			d.alone(n.X)
		case *ast.DeferStmt:
			d.alone(n.Call)
		case *ast.GoStmt:
			d.alone(n.Call)
		case *ast.AssignStmt:
			d.assigned(n)
		}
		return true
	})
}

func (d *drops) alone(e ast.Expr) {
	call, ok := e.(*ast.CallExpr)
	if ok && d.failsAt(call) >= 0 && !d.cannotFail(call) && !d.lines[d.set.Position(call.Pos()).Line] {
		d.drop(call, "is not looked at, without a reason on the line")
	}
}

func (d *drops) assigned(n *ast.AssignStmt) {
	for i, left := range n.Lhs {
		name, ok := left.(*ast.Ident)
		if !ok || name.Name != "_" {
			continue
		}
		right := n.Rhs[min(i, len(n.Rhs)-1)]
		call, ok := right.(*ast.CallExpr)
		if !ok || d.lines[d.set.Position(n.Pos()).Line] || d.cannotFail(call) {
			continue
		}
		if at := d.failsAt(call); at >= 0 && (at == i || len(n.Rhs) > 1) {
			d.drop(call, "goes into a blank, without a reason on the line")
		}
	}
}

func (d *drops) drop(call *ast.CallExpr, how string) {
	d.found = append(d.found, fmt.Sprintf("%s: the error of %s %s", d.set.Position(call.Pos()), types.ExprString(call.Fun), how))
}

// failsAt is which result of a call is an error, −1 for none.
func (d *drops) failsAt(call *ast.CallExpr) int {
	isError := func(t types.Type) bool { return types.Identical(t, types.Universe.Lookup("error").Type()) }
	switch t := d.info.Types[call].Type.(type) {
	case nil:
	case *types.Tuple:
		for i := range t.Len() {
			if isError(t.At(i).Type()) {
				return i
			}
		}
	default:
		if isError(t) {
			return 0
		}
	}
	return -1
}

// cannotFail are writers into memory, whose errors are documented as nil, and
// what is printed for a person, where nobody could be told.
func (d *drops) cannotFail(call *ast.CallExpr) bool {
	method, ok := call.Fun.(*ast.SelectorExpr)
	if !ok {
		return false
	}
	memory := func(e ast.Expr) bool {
		t := d.info.Types[e].Type
		if t == nil {
			return false
		}
		switch strings.TrimPrefix(t.String(), "*") {
		case "strings.Builder", "bytes.Buffer", "hash.Hash", "hash.Hash64", "hash.Hash32", "text/tabwriter.Writer":
			return true
		}
		return false
	}
	name := types.ExprString(call.Fun)
	return memory(method.X) || strings.HasPrefix(name, "fmt.Fprint") && len(call.Args) > 0 && memory(call.Args[0]) || strings.HasPrefix(name, "fmt.Print")
}
