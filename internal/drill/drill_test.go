//go:build unix

package drill

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"
)

var bin string

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
