package main

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/printer"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// What the program as it is given away never does: start other programs, run
// templates on what people wrote, call other machines. Tools and tests may.
func TestProgramKeepsToItself(t *testing.T) {
	free := []string{"internal/drill", "internal/drill/ways", "internal/drill/fuzz", "internal/store/pgtest", "internal/supply", "internal/supply/sbom", "internal/bank", "examples/client", "web/build"}
	never := map[string]string{
		"os/exec": "starts programs", "text/template": "is a language", "net/smtp": "sends mail", "encoding/gob": "reads what it is told to", "encoding/xml": "may be told to read files",
		"crypto/md5": "is broken", "crypto/des": "is broken", "crypto/rc4": "is broken", "math/rand": "can be guessed", "unsafe": "leaves the memory unguarded", "plugin": "loads code",
	}
	for dir, imports := range packageImports(t) {
		if slices.Contains(free, dir) {
			continue
		}
		for _, path := range imports {
			if why, bad := never[path]; bad {
				t.Errorf("%s imports %s, which %s", dir, path, why)
			}
		}
	}
	calls := regexp.MustCompile(`http\.(Get|Post|Head|PostForm|NewRequest|NewRequestWithContext)\(|http\.(DefaultClient|Client|Transport|DefaultTransport)\b|tls\.(Dial\w*|Client)\b|net\.(Dial\w*|Lookup\w*|Resolver|DefaultResolver)\b|httputil\.|rand\.(Read|N|IntN)\(.*(?i:secret|token|code)`)
	for _, bad := range []string{"http.NewRequestWithContext(ctx", "c := &http.Client{", "tls.DialWithDialer(", "net.LookupHost("} {
		if !calls.MatchString(bad) {
			t.Errorf("%s would not be seen", bad)
		}
	}
	for _, file := range sources(t, ".go") {
		if slices.Contains(free, filepath.Dir(file)) || strings.HasSuffix(file, "_test.go") {
			continue
		}
		raw, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, found := range calls.FindAll(raw, -1) {
			if file == filepath.Join("internal", "trust", "address.go") && string(found) == "net.Dial" {
				continue // asks the kernel which of its addresses it would use; a UDP socket sends nothing by that
			}
			t.Errorf("%s: %s: the program calls nobody", file, found)
		}
	}
}

// Parts of a query that are no literal: names of tables and columns, which are
// the program's own. Values go in as $1, $2 …
var ownNames = []string{
	"t.name", "k.table", "k.column", "k.of", "k.t.name", "table", "columns", "marks", "name", "t", "where", "query", "q", "step", "s", "statement", "sql", "text", "kept", "from",
	"steps", "place[0]", `strings.Join(columns, ", ")`, `strings.Join(marks, ", ")`, `strings.Join(order, ", ")`, "order", "selectRows(table, columns, numbered)",
	"fmt.Sprintf(statement, t)", "strconv.Itoa(limit + 1)", "k.table()",
	"cells", "ctx", // arguments of a prepared statement, and of a method that takes the context first
}

// T21: no query is built from what somebody sent. Every text given to the
// database is made of literals and of the names above, and never by a format.
func TestQueriesAreNotBuilt(t *testing.T) {
	methods := map[string]int{"ExecContext": 1, "QueryContext": 1, "QueryRowContext": 1, "PrepareContext": 1, "Exec": 0, "Query": 0, "QueryRow": 0, "Prepare": 0}
	seen := 0
	for _, file := range sources(t, ".go") {
		if strings.HasSuffix(file, "_test.go") || !strings.HasPrefix(file, filepath.Join("internal", "store")) {
			continue
		}
		set := token.NewFileSet()
		parsed, err := parser.ParseFile(set, file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(parsed, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			method, ok := call.Fun.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			at, ok := methods[method.Sel.Name]
			if !ok || len(call.Args) <= at {
				return true
			}
			seen++
			for _, part := range parts(call.Args[at]) {
				var text bytes.Buffer
				if err := printer.Fprint(&text, set, part); err != nil {
					t.Fatal(err)
				}
				if !slices.Contains(ownNames, text.String()) && !constant(parsed, text.String()) {
					t.Errorf("%s: a query is made of %s: pass values as $1, or add the program's own name to ownNames", set.Position(call.Pos()), text.String())
				}
			}
			return true
		})
	}
	if seen < 30 {
		t.Errorf("only %d queries were found", seen)
	}
}

// parts are the operands of a sum of texts that are no literals.
func parts(e ast.Expr) []ast.Expr {
	switch e := e.(type) {
	case *ast.BasicLit:
		return nil
	case *ast.BinaryExpr:
		return append(parts(e.X), parts(e.Y)...)
	case *ast.ParenExpr:
		return parts(e.X)
	}
	return []ast.Expr{e}
}

// constant reports whether the file declares a constant of that name.
func constant(file *ast.File, name string) bool {
	o := file.Scope.Lookup(name)
	return o != nil && o.Kind == ast.Con
}

// The pages put people's words on the screen as text, and nothing in them runs
// text as a program or listens to other windows.
func TestPagesShowTextAsText(t *testing.T) {
	bad := regexp.MustCompile(`innerHTML|outerHTML|dangerouslySetInnerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function\(|setTimeout\("|window\.open\(|\.opener|parent\.postMessage|window\.addEventListener\("message"|document\.cookie|__proto__|https?://[a-z0-9.-]+\.(com|net|org|io)/`)
	seen := 0
	for _, end := range []string{".ts", ".tsx", ".html"} {
		for _, file := range sources(t, end) {
			if !strings.HasPrefix(file, filepath.Join("web", "src")) {
				continue
			}
			seen++
			raw, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if found := bad.Find(raw); found != nil {
				t.Errorf("%s: %s", file, found)
			}
		}
	}
	if seen < 40 {
		t.Errorf("only %d files of the pages were read", seen)
	}
}

// sources lists our files with that ending.
func sources(t *testing.T, ending string) (files []string) {
	t.Helper()
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "node_modules" || d.Name() == "testdata" || d.Name() == "dist" || strings.HasPrefix(d.Name(), ".") && path != ".") {
			return fs.SkipDir
		}
		if !d.IsDir() && strings.HasSuffix(path, ending) {
			files = append(files, path)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}
