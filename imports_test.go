package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// science lists the packages that hold what the project knows about bows.
var science = []string{"bow", "shot", "arrow", "flight", "sound", "group", "trial"}

// allowed says which of our packages each package may import. A package
// missing here is an error: a new room states its doors first. "*" is free.
var allowed = map[string][]string{
	".":                        {"internal/cli"},
	"unit":                     {},
	"num":                      {},
	"num/numtest":              {"num"},
	"bow":                      {"unit", "num"},
	"arrow":                    {"unit", "num"},
	"flight":                   {"unit", "num"},
	"sound":                    {"unit", "num"},
	"sound/soundtest":          {"unit", "num", "sound"},
	"group":                    {"unit", "num"},
	"trial":                    {"unit", "num"},
	"shot":                     {"unit", "num", "bow"},
	"notebook":                 {"unit"},
	"workbench":                append([]string{"notebook", "unit", "num"}, science...),
	"docs":                     {"examples", "packaging"},
	"examples":                 {},
	"examples/client":          {},
	"packaging":                {},
	"web":                      {},
	"internal/store":           {"notebook", "unit"},
	"internal/store/storetest": {"notebook", "unit"},
	"internal/store/pgtest":    {},
	"internal/drill":           {"internal/store", "internal/store/pgtest", "internal/drill/ways", "notebook"},
	"internal/drill/ways":      {},
	"internal/drill/fuzz":      {"internal/drill"},
	"internal/drill/run":       {"internal/drill"},
	"internal/figure":          {"unit"},
	"internal/report":          append([]string{"workbench", "notebook", "internal/figure", "unit"}, science...),
	"internal/demo":            append([]string{"workbench", "notebook", "internal/figure", "unit", "sound/soundtest", "examples"}, science...),
	"internal/bank":            append([]string{"unit", "num/numtest"}, science...),
	"internal/trust":           {},
	"internal/supply":          {},
	"internal/contract":        {},
	"internal/errshare":        {},
	"internal/supply/sbom":     {"internal/supply"},
	"internal/server":          {"workbench", "notebook", "internal/report", "internal/figure", "unit", "docs", "web"},
	"internal/cli":             {"*"},
	"web/build":                {"docs"},
}

// hermetic packages compute; they never touch the outside world.
var hermetic = append([]string{"unit", "num", "num/numtest", "sound/soundtest"}, science...)

// worldly are the imports a hermetic package may not have, with everything below them.
var worldly = []string{"os", "net", "log", "database", "embed"}

func TestImportDirections(t *testing.T) {
	seen := 0
	for dir, imports := range packageImports(t) {
		rule, known := allowed[dir]
		if !known {
			t.Errorf("%s: no rule for this package in imports_test.go; add the directions it may import", dir)
			continue
		}
		for _, path := range imports {
			seen++
			if ours, ok := strings.CutPrefix(path, "tautline/"); ok && !permits(rule, ours) {
				t.Errorf("%s imports %s, allowed are %v", dir, path, rule)
			}
			if contains(hermetic, dir) && isWorldly(path) {
				t.Errorf("%s imports %s: a package that computes may not touch the outside world", dir, path)
			}
		}
	}
	if seen == 0 {
		t.Fatal("no imports were read: the test looks at the wrong place")
	}
}

// packageImports reads the imports of every non-test Go file below the root.
func packageImports(t *testing.T) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "node_modules" || d.Name() == "testdata" || strings.HasPrefix(d.Name(), ".") && path != ".") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		dir := filepath.ToSlash(filepath.Dir(path))
		for _, spec := range file.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			found[dir] = append(found[dir], name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}

func permits(rule []string, path string) bool {
	return contains(rule, "*") || contains(rule, path)
}

func isWorldly(path string) bool {
	for _, w := range worldly {
		if path == w || strings.HasPrefix(path, w+"/") {
			return true
		}
	}
	return false
}

func contains(list []string, want string) bool {
	for _, s := range list {
		if s == want {
			return true
		}
	}
	return false
}
