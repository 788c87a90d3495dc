// Errshare counts, of a coverage profile, how many of the statements that stand
// behind "if err != nil" ran in each package, and names the lines that did not:
//
//	go test -coverprofile=P -coverpkg=./internal/store ./internal/store
//	go run ./internal/errshare P
//
// Nine of ten catastrophic failures of distributed programs came from such
// statements (Yuan and others, OSDI 2014). It knows an error by its name, not by
// its type, and looks at if alone: the cases of a switch are left out.
package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"maps"
	"os"
	"path"
	"slices"
	"strings"
)

// module is what stands before a file's name in a profile.
const module = "tautline/"

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage, in the project's folder: go run ./internal/errshare PROFILE")
		os.Exit(2)
	}
	raw, err := os.ReadFile(os.Args[1])
	if err == nil {
		err = report(os.Stdout, string(raw), os.ReadFile)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// block is a run of statements with nothing to branch between them, as the
// compiler counts them.
type block struct{ line, column, endLine, endColumn int }

// counted is how many statements a block has, and whether it ran.
type counted struct {
	statements int
	ran        bool
}

// share is what was counted in a package.
type share struct {
	statements, ran int
	missing         []string
}

// report writes the share of every package of a profile, whose source read gives.
func report(w io.Writer, profile string, read func(string) ([]byte, error)) error {
	files, err := blocks(profile)
	if err != nil {
		return err
	}
	all := map[string]*share{}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		source, err := read(name)
		if err != nil {
			return err
		}
		in := path.Dir(name)
		if all[in] == nil {
			all[in] = &share{}
		}
		if err := all[in].add(name, source, files[name]); err != nil {
			return err
		}
	}
	for _, in := range slices.Sorted(maps.Keys(all)) {
		s := all[in]
		fmt.Fprintf(w, "%s: %d of %d statements behind an error ran (%.0f %%)\n", in, s.ran, s.statements, 100*float64(s.ran)/float64(max(1, s.statements)))
		for _, m := range s.missing {
			fmt.Fprintln(w, "  ", m)
		}
	}
	return nil
}

// blocks reads a profile. A block that stands in it more than once, of several
// tests, ran if it did in one of them.
func blocks(profile string) (map[string]map[block]counted, error) {
	out := map[string]map[block]counted{}
	for n, line := range strings.Split(strings.TrimSpace(profile), "\n")[1:] {
		var b block
		var statements, times int
		name, rest, _ := strings.Cut(line, ":")
		if _, err := fmt.Sscanf(rest, "%d.%d,%d.%d %d %d", &b.line, &b.column, &b.endLine, &b.endColumn, &statements, &times); err != nil {
			return nil, fmt.Errorf("line %d of the profile cannot be read: %w", n+2, err)
		}
		name = strings.TrimPrefix(name, module)
		if out[name] == nil {
			out[name] = map[block]counted{}
		}
		out[name][b] = counted{statements, times > 0 || out[name][b].ran}
	}
	return out, nil
}

// add counts the blocks of a file that stand behind an error.
func (s *share) add(name string, source []byte, of map[block]counted) error {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, name, source, 0)
	if err != nil {
		return err
	}
	behind := map[block]bool{} // once, also of one within another
	ast.Inspect(file, func(n ast.Node) bool {
		branch, ok := n.(*ast.IfStmt)
		if !ok || !asksForError(branch.Cond) {
			return true
		}
		from, to := set.Position(branch.Body.Pos()), set.Position(branch.Body.End())
		for b := range of {
			if !before(b.line, b.column, from.Line, from.Column) && !before(to.Line, to.Column, b.endLine, b.endColumn) {
				behind[b] = true
			}
		}
		return true
	})
	for _, b := range slices.SortedFunc(maps.Keys(behind), func(x, y block) int { return x.line - y.line }) {
		s.statements += of[b].statements
		if of[b].ran {
			s.ran += of[b].statements
		} else {
			s.missing = append(s.missing, fmt.Sprintf("%s:%d", name, b.line))
		}
	}
	return nil
}

func before(line, column, of, ofColumn int) bool {
	return line < of || line == of && column < ofColumn
}

// asksForError tells a condition in which something that is called like an error
// is held against nil.
func asksForError(cond ast.Expr) (found bool) {
	ast.Inspect(cond, func(n ast.Node) bool {
		if b, ok := n.(*ast.BinaryExpr); ok && b.Op == token.NEQ {
			x, named := b.X.(*ast.Ident)
			y, isNil := b.Y.(*ast.Ident)
			found = found || named && isNil && y.Name == "nil" && isErrorName(x.Name)
		}
		return true
	})
	return found
}

func isErrorName(name string) bool {
	return strings.Contains(strings.ToLower(name), "err") || slices.Contains([]string{"bad", "e", "broken"}, name)
}
