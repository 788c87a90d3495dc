package main

//lint:file-ignore SA1019 inside one function the parser tells variables apart well enough, and needs no build

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/printer"
	"go/token"
	"io/fs"
	"maps"
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
// the program's own, and what its own functions make of them. Values go in as
// $1, $2 … A variable of a function is no name of our own: what it was made of
// counts.
var ownNames = []string{
	"t.name", "k.table", "k.column", "k.of", "k.t.name", "place[0]", `strings.Join(columns, ", ")`, `strings.Join(marks, ", ")`, `strings.Join(order, ", ")`,
	"selectRows(table, columns, numbered)", "fmt.Sprintf(statement, t)", "strconv.Itoa(limit + 1)", "k.table()",
	"t.where(q)", "insertRows(table, columns, rowsAtOnce)", "insertRows(table, columns, n)", `oneOf("id", piece)`, "n.mayHold()", // texts with $1, and the values beside
	"s.engine.tables(ctx, s.read)", "allTables(ctx, s.write)",
	"k.t.scopeOf(b)", "stampTime(before)", "withoutIndexes(ctx, tx)", "withoutKeys(ctx, tx)", "ask.query", // conditions with $1, a time as digits, statements of the catalogue
	"allTables(ctx, tx)", "e.tables(ctx, from)", "to.inOrder(tables)", "p.inOrder(slices.Sorted(maps.Keys(sums)))", // tables that the catalogue or we know
	"r.From", "r.Kept", `fmt.Sprintf("%s%d_%s", pgBefore, version+1, s.now().UTC().Format(schemaTime))`, // schemas of our own naming
	"ctx", // of a method that takes the context first
}

// passedIn are the functions that are given a query, or a name in one, and
// where: who calls them is held to the same.
var passedIn = map[string]map[int]string{
	"readRows": {2: "query"}, "readPieces": {2: "query"}, "one": {2: "query"}, "exec": {1: "query"}, "names": {2: "query"}, "inTurn": {2: "steps"},
	"columnsOf": {2: "table"}, "sumTable": {2: "table"}, "copyRows": {3: "table"}, "fillTable": {3: "table"}, "dumpWhere": {2: "where"},
	"copySchema": {2: "to"}, "exchange": {2: "from", 3: "kept"}, "dropSchema": {1: "name"},
}

// T21: no query is built from what somebody sent. Every text given to the
// database is made of literals and of the names above, and never by a format.
func TestQueriesAreNotBuilt(t *testing.T) {
	files, set := map[string]*ast.File{}, token.NewFileSet()
	for _, file := range sources(t, ".go") {
		if strings.HasSuffix(file, "_test.go") || !strings.HasPrefix(file, filepath.Join("internal", "store")) || strings.HasPrefix(file, filepath.Join("internal", "store", "pgtest")) { // which makes databases for tests
			continue
		}
		parsed, err := parser.ParseFile(set, file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		files[file] = parsed
	}
	faults, seen := builtQueries(set, files)
	for _, f := range faults {
		t.Error(f)
	}
	if seen < 30 {
		t.Errorf("only %d queries were found", seen)
	}
}

// What it would not see is no check: queries built in every way are found.
func TestBuiltQueriesAreFound(t *testing.T) {
	for name, body := range map[string]string{
		"a sum":             `db.ExecContext(ctx, "DELETE FROM bows WHERE id = '" + id + "'")`,
		"a format":          `db.QueryContext(ctx, fmt.Sprintf("SELECT %s", id))`,
		"a variable":        `query := "SELECT body FROM bows WHERE name = '" + id + "'"; db.QueryContext(ctx, query)`,
		"a format in one":   `q := fmt.Sprintf("SELECT %s", id); db.Query(q)`,
		"added later":       `q := "SELECT body FROM bows"; if id != "" { q += " WHERE name = '" + id + "'" }; db.QueryRowContext(ctx, q)`,
		"through another":   `where := " WHERE id = " + id; q := "SELECT body FROM bows" + where; db.QueryContext(ctx, q)`,
		"from a list":       `for _, q := range []string{"SELECT 1", "SELECT " + id} { db.ExecContext(ctx, q) }`,
		"a declaration":     `var text = "SELECT " + id; db.PrepareContext(ctx, text)`,
		"what was passed":   `db.ExecContext(ctx, id)`,
		"a literal is none": ``,
	} {
		source := "package store\nfunc f(ctx context.Context, db *sql.DB, id string) {\n q := \"SELECT body FROM bows WHERE id = $1\"; db.QueryContext(ctx, q, id)\n" + body + "\n}"
		if strings.Contains(body, "q :=") {
			source = strings.Replace(source, "q := \"SELECT body FROM bows WHERE id = $1\"; db.QueryContext(ctx, q, id)", "", 1)
		}
		set := token.NewFileSet()
		parsed, err := parser.ParseFile(set, "planted.go", source, 0)
		if err != nil {
			t.Fatal(err)
		}
		faults, _ := builtQueries(set, map[string]*ast.File{"planted.go": parsed})
		if want := body != ""; want != (len(faults) > 0) {
			t.Errorf("%s: %q", name, faults)
		}
	}
}

// builtQueries are the parts of queries that are neither literals nor our own.
func builtQueries(set *token.FileSet, files map[string]*ast.File) (faults []string, seen int) {
	methods := map[string]map[int]string{}
	for _, of := range []string{"Exec", "Query", "QueryRow", "Prepare"} {
		methods[of], methods[of+"Context"] = map[int]string{0: ""}, map[int]string{1: ""}
	}
	maps.Copy(methods, passedIn)
	constants := map[string]bool{}
	for _, file := range files {
		for name, o := range file.Scope.Objects {
			constants[name] = constants[name] || o.Kind == ast.Con
		}
	}
	for _, file := range files {
		for _, d := range file.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || fn.Body == nil {
				continue
			}
			q := queries{set: set, fn: fn, constants: constants, known: map[*ast.Object]bool{}}
			ast.Inspect(fn.Body, func(n ast.Node) bool {
				call, ok := n.(*ast.CallExpr)
				if !ok {
					return true
				}
				for at := range methods[called(call.Fun)] {
					if last := call.Ellipsis.IsValid() && at == len(call.Args)-1; len(call.Args) > at && !last { // values of a prepared statement
						seen++
						q.holds(call.Args[at])
					}
				}
				return true
			})
			faults = append(faults, q.faults...)
		}
	}
	return faults, seen
}

// called names a function or method that is called.
func called(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.SelectorExpr:
		return e.Sel.Name
	case *ast.Ident:
		return e.Name
	case *ast.IndexExpr:
		return called(e.X)
	}
	return ""
}

// queries looks at those of one function.
type queries struct {
	set       *token.FileSet
	fn        *ast.FuncDecl
	constants map[string]bool
	known     map[*ast.Object]bool // variables that were looked at
	faults    []string
}

// holds demands of every part of a text that it is a literal or our own.
func (q *queries) holds(e ast.Expr) {
	for _, part := range parts(e) {
		var text bytes.Buffer
		if err := printer.Fprint(&text, q.set, part); err != nil {
			q.faults = append(q.faults, err.Error())
			continue
		}
		name, isName := part.(*ast.Ident)
		switch {
		case slices.Contains(ownNames, text.String()):
		case isName && name.Obj == nil && q.constants[name.Name], isName && name.Obj != nil && name.Obj.Kind == ast.Con:
		case isName && name.Obj != nil && q.follows(name.Obj):
		default:
			q.faults = append(q.faults, q.set.Position(part.Pos()).String()+": a query of "+q.fn.Name.Name+" is made of "+text.String()+": pass values as $1, or add the program's own name to ownNames or passedIn")
		}
	}
}

// follows looks at all that a variable of the function is made of; a parameter
// is one of passedIn.
func (q *queries) follows(o *ast.Object) bool {
	if q.known[o] {
		return true
	}
	q.known[o] = true
	if _, parameter := o.Decl.(*ast.Field); parameter {
		return slices.Contains(slices.Collect(maps.Values(passedIn[q.fn.Name.Name])), o.Name)
	}
	found := false
	ast.Inspect(q.fn.Body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			for i, left := range n.Lhs {
				if is(left, o) {
					q.holds(n.Rhs[min(i, len(n.Rhs)-1)])
					found = true
				}
			}
		case *ast.ValueSpec:
			for i, left := range n.Names {
				if is(left, o) && len(n.Values) > 0 {
					q.holds(n.Values[min(i, len(n.Values)-1)])
				}
				found = found || is(left, o)
			}
		case *ast.RangeStmt:
			if n.Value != nil && is(n.Value, o) || n.Key != nil && is(n.Key, o) {
				q.holds(n.X)
				found = true
			}
		}
		return true
	})
	return found
}

func is(e ast.Expr, o *ast.Object) bool {
	name, ok := e.(*ast.Ident)
	return ok && name.Obj == o
}

// parts are the operands of a sum of texts, or the entries of a list of them,
// that are no literals.
func parts(e ast.Expr) (out []ast.Expr) {
	switch e := e.(type) {
	case *ast.BasicLit:
		return nil
	case *ast.BinaryExpr:
		return append(parts(e.X), parts(e.Y)...)
	case *ast.ParenExpr:
		return parts(e.X)
	case *ast.CompositeLit:
		for _, one := range e.Elts {
			if pair, ok := one.(*ast.KeyValueExpr); ok {
				one = pair.Key
			}
			out = append(out, parts(one)...)
		}
		return out
	case *ast.CallExpr:
		switch called(e.Fun) {
		case "names": // what a query of ours read from the catalogue; the query is held to the same
			return nil
		case "append":
			for _, one := range e.Args {
				out = append(out, parts(one)...)
			}
			return out
		}
	}
	return []ast.Expr{e}
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
