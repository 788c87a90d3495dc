package main

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
)

// What the project leans on itself, so that someone can still read it all: at
// most 25 Go modules and 6 npm packages (bar T25; our own choice of figures).
// The rest of go.mod is marked "// indirect", as `go mod tidy` leaves it.
func TestImportedModulesAreFew(t *testing.T) {
	modules := directModules(t)
	if len(modules) < 10 || len(modules) > 25 {
		t.Errorf("%d modules are required directly, 25 are allowed: %v", len(modules), modules)
	}
	raw, err := os.ReadFile("web/package.json")
	if err != nil {
		t.Fatal(err)
	}
	var pages struct{ Dependencies, DevDependencies map[string]string }
	if err := json.Unmarshal(raw, &pages); err != nil {
		t.Fatal(err)
	}
	if n := len(pages.Dependencies) + len(pages.DevDependencies); n < 1 || n > 6 {
		t.Errorf("%d npm packages, 6 are allowed", n)
	}
}

// Every module that our own files import is marked as such.
func TestImportedModulesAreDirect(t *testing.T) {
	modules := directModules(t)
	for dir, imports := range packageImports(t) {
		for _, path := range imports {
			host, _, _ := strings.Cut(path, "/")
			if !strings.Contains(host, ".") {
				continue
			}
			if !belongs(path, modules) {
				t.Errorf("%s imports %s, which go.mod does not require directly: run go mod tidy", dir, path)
			}
		}
	}
}

// directModules reads the requirements without the mark "// indirect".
func directModules(t *testing.T) (paths []string) {
	t.Helper()
	raw, err := os.ReadFile("go.mod")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(raw)) {
		f := strings.Fields(line)
		if len(f) == 2 && strings.HasPrefix(f[1], "v") {
			paths = append(paths, f[0])
		}
	}
	return paths
}

func belongs(path string, modules []string) bool {
	for _, m := range modules {
		if path == m || strings.HasPrefix(path, m+"/") {
			return true
		}
	}
	return false
}
