//go:build unix

package drill

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var bin string

// Every fault that a drill plants still has its place: the long runs would say so
// hours later.
func TestPlantedFaultsFit(t *testing.T) {
	var all []planted
	for _, c := range careless {
		all = append(all, c.planted)
	}
	for _, f := range flawed {
		all = append(all, f.planted)
	}
	for _, c := range all {
		raw, err := os.ReadFile(filepath.Join("..", "store", c.file))
		if err != nil {
			t.Fatal(err)
		}
		for i := 0; i < len(c.changes); i += 2 {
			if n := strings.Count(string(raw), c.changes[i]); n != 1 {
				t.Errorf("%s: %q stands %d times in %s", c.name, c.changes[i], n, c.file)
			}
		}
	}
}

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "tautline-drills-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := 1
	if bin, err = Build(context.Background(), dir); err == nil {
		code = m.Run()
	}
	if err := errors.Join(err, StopPostgres(), os.RemoveAll(dir)); err != nil {
		fmt.Fprintln(os.Stderr, err)
		code = 1
	}
	os.Exit(code)
}

// TestDrills runs a short version of every drill; make drills runs the full.
func TestDrills(t *testing.T) {
	for _, d := range All {
		t.Run(d.Name+" "+d.Title, func(t *testing.T) {
			if testing.Short() {
				t.Skip("drills start the real binary; not in -short")
			}
			var log strings.Builder
			res, err := Do(t.Context(), d, bin, 1, d.Short, &log)
			t.Logf("%v\n%s", res, log.String())
			switch {
			case errors.Is(err, ErrSkip):
				t.Skip(err)
			case err != nil:
				t.Fatal(err)
			case res.Failures > 0:
				t.Errorf("%d failures", res.Failures)
			}
		})
	}
}
