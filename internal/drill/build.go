//go:build unix

package drill

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// Root is the folder of the module that holds this package.
func Root(ctx context.Context) (string, error) {
	root, err := exec.CommandContext(ctx, "go", "list", "-m", "-f", "{{.Dir}}").Output()
	if err != nil {
		return "", fmt.Errorf("go list: %w", err)
	}
	return strings.TrimSpace(string(root)), nil
}

// Build makes the real binary in dir; TAUTLINE_BIN names one that is built
// already, to be tried instead. With TAUTLINE_RACE=1 it detects data races, and
// a drill that meets one fails.
func Build(ctx context.Context, dir string) (string, error) {
	if bin := os.Getenv("TAUTLINE_BIN"); bin != "" {
		return filepath.Abs(bin)
	}
	root, err := Root(ctx)
	if err != nil {
		return "", err
	}
	bin := filepath.Join(dir, "tautline")
	return bin, build(ctx, root, bin, "-ldflags=-s -w") // as make build does
}

func build(ctx context.Context, root, bin string, flags ...string) error {
	if racing() {
		flags = append(flags, "-race")
	}
	c := exec.CommandContext(ctx, "go", append(append([]string{"build"}, flags...), "-o", bin, ".")...)
	c.Dir = root
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("go build: %w\n%s", err, out)
	}
	return nil
}

// racing says that the binary is to detect data races.
func racing() bool { return os.Getenv("TAUTLINE_RACE") == "1" }

// raceName begins the files into which the race detector writes, one a process.
const raceName = "race"

// races fails the run for each process that met a data race.
func (r *Run) races() {
	found, err := filepath.Glob(filepath.Join(r.dir, raceName+".*"))
	if err != nil {
		r.Failf("%v", err)
	}
	for _, f := range found {
		if text, err := os.ReadFile(f); err != nil || strings.Contains(string(text), "DATA RACE") {
			r.Failf("a data race: %s %v", text, err)
		}
	}
}

// rebuilt makes the binary from a source in which one file of the store is
// changed; the source itself stays as it is.
func rebuilt(ctx context.Context, r *Run, file string, changes ...string) (string, error) {
	bin := filepath.Join(r.Folder(), "tautline")
	return bin, rebuildAs(ctx, bin, file, changes...)
}

func rebuildAs(ctx context.Context, bin, file string, changes ...string) error {
	root, err := Root(ctx)
	if err != nil {
		return err
	}
	path := filepath.Join(root, "internal", "store", file)
	raw, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	text := string(raw)
	for i := 0; i < len(changes); i += 2 {
		if strings.Count(text, changes[i]) != 1 {
			return fmt.Errorf("%s no longer holds %q once: mend the control", path, changes[i])
		}
		text = strings.Replace(text, changes[i], changes[i+1], 1)
	}
	changed, overlay := bin+"-"+file, bin+"-overlay.json"
	if err := os.WriteFile(changed, []byte(text), 0o600); err != nil {
		return err
	}
	if err := os.WriteFile(overlay, compact(obj{"Replace": obj{path: changed}}), 0o600); err != nil {
		return err
	}
	return build(ctx, root, bin, "-overlay", overlay)
}

// older is the program of before the newest change of the tables: the same
// source without that migration. It is made once for all drills, and for each
// where the program itself was not made here.
func (r *Run) older(ctx context.Context) (bin string, version int, err error) {
	root, err := Root(ctx)
	if err != nil {
		return "", 0, err
	}
	steps, err := fs.Glob(os.DirFS(filepath.Join(root, "internal", "store")), "migrations/*.sql")
	if err != nil || len(steps) < 2 {
		return "", 0, fmt.Errorf("%d migrations: %w", len(steps), err)
	}
	dir := filepath.Dir(r.bin)
	if os.Getenv("TAUTLINE_BIN") != "" {
		dir = r.Folder()
	}
	version = len(steps) - 1
	bin = filepath.Join(dir, "tautline-older")
	if _, err := os.Stat(bin); err == nil {
		return bin, version, nil
	}
	return bin, version, rebuildAs(ctx, bin, "migrate.go", "migrations/*.sql", strings.Join(steps[:version], " "))
}
