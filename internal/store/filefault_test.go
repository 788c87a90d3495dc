package store

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// T24: of the same, as many files are open as the system allows, but for k, at
// every second k until it is enough (TAUTLINE_LONG=1: at every one). A program that serves many people meets that: it
// says nothing of the file that was wanted, so no backup is removed or called
// damaged for it, no recording lost, and nothing is replaced that was not kept.
func TestNoMoreFilesMayBeOpened(t *testing.T) {
	at, tried, step := time.Now().Truncate(time.Second), 0, 2
	if os.Getenv("TAUTLINE_LONG") != "" {
		step = 1
	}
	for _, u := range undertakings() {
		t.Run(u.name, func(t *testing.T) {
			in := place{t.TempDir(), Options{Now: func() time.Time { return at }, Program: "this"}}
			u.goesOver = true
			after, files := u.whole(t, in, func() {}, func() {})
			for k, good := 0, 0; good < 3; k += step {
				f := fault{name: fmt.Sprintf("what needs more than %d files", k)}
				f.begin, f.end = onlyFiles(t, k)
				if _, err := u.one(t, in.copied(t), f, after, files); err == nil {
					good++
				} else {
					good = 0
					tried++
				}
				if t.Failed() {
					t.Fatalf("%d files: it is enough", k)
				}
			}
		})
	}
	t.Logf("%d times too many files were open", tried)
}

// onlyFiles lets k files be opened and no more, between begin and end.
func onlyFiles(t *testing.T, k int) (begin func(), end func() (bool, bool)) {
	var was syscall.Rlimit
	fatal(t, syscall.Getrlimit(syscall.RLIMIT_NOFILE, &was))
	begin = func() {
		all, err := os.ReadDir("/proc/self/fd")
		if err != nil {
			t.Skipf("nobody tells which files are open here: %v", err)
		}
		open := map[int]bool{}
		for _, e := range all {
			n, err := strconv.Atoi(e.Name())
			fatal(t, err)
			if _, err := os.Readlink("/proc/self/fd/" + e.Name()); err == nil { // not that of the list itself
				open[n] = true
			}
		}
		limit := 0
		for free := 0; free < k || open[limit]; limit++ {
			if !open[limit] {
				free++
			}
		}
		fatal(t, syscall.Setrlimit(syscall.RLIMIT_NOFILE, &syscall.Rlimit{Cur: uint64(limit), Max: was.Max}))
	}
	return begin, func() (bool, bool) {
		fatal(t, syscall.Setrlimit(syscall.RLIMIT_NOFILE, &was))
		return true, false
	}
}

// T24: of the same, something is in the way: of every file that is read or made,
// a folder with something in it stands in its place, or a file in that of a
// folder. It is told, in our words; what was in the way is still there, and
// once it is away it is as if nothing had been.
func TestSomethingInTheWay(t *testing.T) {
	at, tried := time.Now().Truncate(time.Second), 0
	for _, u := range undertakings() {
		t.Run(u.name, func(t *testing.T) {
			in := place{t.TempDir(), Options{Now: func() time.Time { return at }, Program: "this"}}
			u.goesOver = true
			after, files := u.whole(t, in, func() {}, func() {})
			if u.left != nil && u.name == "a check of a backup" { // now it is damaged
				u.left = nil
			}
			whole := in.copied(t)
			fatal(t, u.do(t.Context(), whole, func() {}))
			kinds := kindsIn(t, in.base)
			maps.Copy(kinds, kindsIn(t, whole.base))
			for _, name := range []string{stagedName, markName, markName + unwritten} {
				kinds[filepath.Join("notebook", name)] = false
			}
			for _, name := range slices.Sorted(maps.Keys(kinds)) {
				_, missing := os.Stat(filepath.Join(in.base, filepath.Dir(name)))
				lost := u.name == "a backup" && strings.HasPrefix(name, "notebook/"+recordingsDir+"/") // is noted in it
				kept := name == "notebook/"+databaseName && strings.HasPrefix(u.name, "a restore")     // is put aside as it is
				if !strings.Contains(name, "/") || missing != nil && !strings.HasPrefix(name, "notebook/") || lost || kept {
					continue
				}
				in := in.copied(t)
				if _, err := u.one(t, in, inTheWay(t, in.base, name, kinds[name]), after, files); err != nil {
					tried++
				}
				if t.Failed() {
					t.Fatalf("%s: it is enough", name)
				}
			}
		})
	}
	t.Logf("%d times something was in the way", tried)
}

// kindsIn names all that lies in a folder, and says of each whether it is one.
func kindsIn(t *testing.T, dir string) map[string]bool {
	t.Helper()
	out := map[string]bool{}
	fatal(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		name, bad := filepath.Rel(dir, path)
		if name != "." && !strings.Contains(name, "/before-") {
			out[name] = d.IsDir()
		}
		return errors.Join(err, bad)
	}))
	return out
}

// inTheWay puts a file in the place of a folder, or a folder in that of a file,
// and what was there back at the end.
func inTheWay(t *testing.T, base, name string, isFolder bool) fault {
	path, aside, was := filepath.Join(base, name), filepath.Join(base, "aside"), error(nil)
	return fault{
		name: "with something in the way at " + name + " it",
		begin: func() {
			was = os.Rename(path, aside)
			if isFolder {
				fatal(t, os.MkdirAll(filepath.Dir(path), 0o700))
				fatal(t, os.WriteFile(path, []byte("in the way"), 0o600))
			} else {
				fatal(t, os.MkdirAll(path, 0o700))
				fatal(t, os.WriteFile(filepath.Join(path, "in the way"), nil, 0o600))
			}
		},
		end: func() (bool, bool) {
			fatal(t, os.RemoveAll(path))
			if was == nil {
				fatal(t, os.Rename(aside, path))
			}
			return true, false
		},
	}
}
