package main

import (
	"os"
	"strings"
	"testing"
)

const source = `package p

func f(err error, n int) int {
	if err != nil {
		n++
		if n > 3 {
			n = 3
		}
	}
	if n != 0 {
		n = 4
	}
	if _, bad := g(); n > 0 && bad != nil {
		return 1
	}
	return 0
}
`

// Of a profile with three blocks behind an error, of which one ran in one of two
// runs, the share and the lines that did not run.
func TestShare(t *testing.T) {
	profile := `mode: set
tautline/in/p.go:3.31,4.16 1 1
tautline/in/p.go:4.16,6.12 2 0
tautline/in/p.go:6.12,8.4 1 0
tautline/in/p.go:10.12,12.3 1 0
tautline/in/p.go:13.40,15.3 1 0
tautline/in/p.go:16.2,16.10 1 1
tautline/in/p.go:4.16,6.12 2 7
`
	read := func(name string) ([]byte, error) {
		if name != "in/p.go" {
			return nil, os.ErrNotExist
		}
		return []byte(source), nil
	}
	var out strings.Builder
	if err := report(&out, profile, read); err != nil {
		t.Fatal(err)
	}
	want := `in: 2 of 4 statements behind an error ran (50 %)
   in/p.go:6
   in/p.go:13
`
	if out.String() != want {
		t.Errorf("%s is not %s", out.String(), want)
	}
	for name, bad := range map[string]string{"torn": "mode: set\ntautline/in/p.go:3.31", "of a file that is not there": "mode: set\ntautline/in/q.go:1.1,2.2 1 1"} {
		if err := report(&out, bad, read); err == nil {
			t.Errorf("a profile %s was read", name)
		}
	}
}
