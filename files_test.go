package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Files that are opened by their whole path, and why that is right. Everything
// else goes through an os.Root, see internal/store/folders.go.
var byWholePath = map[string]string{
	"internal/store/folders.go os.OpenRoot":           "opens the notebook's folder, those three in it that may be its owner's links, and folders of backups",
	"internal/store/folders.go os.MkdirAll":           "makes the notebook's folder, which --data names",
	"internal/store/backup.go os.Lstat":               "the new folder of a backup is named on the command line, or made of the time",
	"internal/store/backup.go os.MkdirAll":            "the same",
	"internal/store/backup.go os.RemoveAll":           "the same, when it failed: it was not there before",
	"internal/store/backupsounds.go os.Link":          "from one backup into another, which no root spans; the name is a SHA-256, and what was linked counts once it was read through the root",
	"internal/store/keeper.go os.MkdirAll":            "the folder of backups, which --backups names",
	"internal/store/export.go os.OpenFile":            "an export goes where the command line says; nothing that is there is overwritten",
	"internal/store/export.go os.Remove":              "the same, when it failed: it was not there before",
	"internal/store/export.go os.Mkdir":               "the same, a folder",
	"internal/store/export.go os.RemoveAll":           "the same, a folder",
	"internal/store/import_source.go os.Stat":         "an export to read in is named on the command line",
	"internal/store/import_source.go os.OpenRoot":     "the same, unpacked: no link leads out of it",
	"internal/store/import_source.go zip.OpenReader":  "the same, as a zip; nothing of it is unpacked to a disk",
	"internal/trust/authority.go os.OpenRoot":         "opens the notebook's folder",
	"internal/cli/logfile.go os.OpenRoot":             "opens the notebook's folder",
	"internal/cli/support.go os.OpenRoot":             "opens the notebook's folder",
	"internal/cli/migrate.go os.MkdirTemp":            "a folder of its own for a lock, since the database's owner need not reach the notebook's",
	"internal/cli/migrate.go os.RemoveAll":            "the same, when it is done",
	"internal/cli/doctor.go os.Stat":                  "is there a folder where --data says",
	"internal/cli/keep.go os.Stat":                    "an export to read in is named on the command line",
	"internal/cli/output.go os.Open":                  "what to read is named on the command line",
	"internal/cli/output.go os.Create":                "what to write is named on the command line",
	"internal/cli/output.go os.Remove":                "the same, when it failed",
	"internal/cli/shafts.go os.MkdirAll":              "a folder for pictures is named on the command line",
	"internal/cli/serve.go tls.LoadX509KeyPair":       "certificate and key are named on the command line",
	"internal/server/metrics.go os.ReadDir":           "/proc, of this process",
	"internal/server/metrics.go os.ReadFile":          "/proc, of this process",
	"internal/store/os_windows.go syscall.CreateFile": "Windows keeps others out by how a file is opened, which no root can say; the name is the lock's",
	"internal/store/os_unix.go syscall.Statfs":        "asks for the room on the disk of the notebook's folder",
}

// T21: no file is opened by a path that was put together, but for those above.
func TestFilesGoThroughTheirFolder(t *testing.T) {
	tools := []string{"internal/drill", "internal/drill/ways", "internal/drill/fuzz", "internal/drill/run", "internal/store/pgtest", "internal/errshare", "internal/supply", "internal/supply/sbom", "internal/bank", "examples/client", "web/build"}
	calls := map[string][]string{
		"os": {"Open", "OpenFile", "Create", "CreateTemp", "Rename", "Remove", "RemoveAll", "Mkdir", "MkdirAll", "MkdirTemp", "ReadFile", "WriteFile", "ReadDir", "Stat", "Lstat", "Link", "Symlink", "Readlink",
			"Chmod", "Chown", "Chtimes", "Truncate", "DirFS", "CopyFS", "OpenRoot", "OpenInRoot", "Chdir"},
		"filepath": {"Walk", "WalkDir", "Glob", "EvalSymlinks"}, "zip": {"OpenReader"}, "tls": {"LoadX509KeyPair"}, "ioutil": {"ReadFile", "WriteFile", "ReadDir", "TempFile", "TempDir"},
		"syscall": {"Open", "Openat", "Rename", "Unlink", "Mkdir", "Statfs", "CreateFile"},
	}
	used := map[string]bool{}
	for _, file := range sources(t, ".go") {
		file = filepath.ToSlash(file)
		if slices.Contains(tools, filepath.ToSlash(filepath.Dir(file))) || strings.HasSuffix(file, "_test.go") {
			continue
		}
		set := token.NewFileSet()
		parsed, err := parser.ParseFile(set, filepath.FromSlash(file), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(parsed, func(n ast.Node) bool {
			of, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			pkg, ok := of.X.(*ast.Ident)
			if !ok || !slices.Contains(calls[pkg.Name], of.Sel.Name) {
				return true
			}
			key := file + " " + pkg.Name + "." + of.Sel.Name
			used[key] = true
			if byWholePath[key] == "" {
				t.Errorf("%s: %s.%s takes a whole path: go through the folder's os.Root, or say in byWholePath why not", set.Position(n.Pos()), pkg.Name, of.Sel.Name)
			}
			return true
		})
	}
	for key := range byWholePath {
		if !used[key] {
			t.Errorf("%s is allowed and no longer used", key)
		}
	}
}
