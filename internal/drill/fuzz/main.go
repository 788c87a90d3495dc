//go:build unix

// Command fuzz runs every fuzz target of the module and counts what it did
// (bars.md T20, D8). It prints one line for each: target, seconds, executions,
// failures.
//
//	go run ./internal/drill/fuzz -time 10m FuzzMP3
//
// On its default settings Go's fuzzer can spend all its time on making inputs
// smaller and run nothing, and then "clean" means nothing (F6): minimising is
// bounded, and 100 000 executions in ten minutes are demanded, fewer in less.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"

	"tautline/internal/drill"
)

// leastExecutions is in tenMinutes.
const (
	leastExecutions = 100_000
	tenMinutes      = 10 * time.Minute
)

func main() {
	each := flag.Duration("time", tenMinutes, "for each target")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	ok, err := all(ctx, *each, flag.Args())
	if err != nil {
		fmt.Fprintln(os.Stderr, "fuzz:", err)
	}
	if err != nil || !ok {
		stop()
		os.Exit(1)
	}
}

// target is one fuzz function and the folder of its package.
type target struct{ name, dir string }

var declared = regexp.MustCompile(`(?m)^func (Fuzz\w+)\(\w+ \*testing\.F\)`)

// targets finds every fuzz function below a folder.
func targets(root string) (out []target, err error) {
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "node_modules" || strings.HasPrefix(d.Name(), ".")):
			return fs.SkipDir
		case d.IsDir() || !strings.HasSuffix(path, "_test.go"):
			return nil
		}
		text, err := os.ReadFile(path)
		for _, m := range declared.FindAllSubmatch(text, -1) {
			out = append(out, target{string(m[1]), filepath.Dir(path)})
		}
		return err
	})
	return out, err
}

func all(ctx context.Context, each time.Duration, names []string) (ok bool, err error) {
	root, err := drill.Root(ctx)
	if err != nil {
		return false, err
	}
	found, err := targets(root)
	if err != nil {
		return false, err
	}
	ran := 0
	ok = true
	for _, t := range found {
		if len(names) > 0 && !slices.Contains(names, t.name) {
			continue
		}
		if ctx.Err() != nil {
			return false, ctx.Err()
		}
		ran++
		execs, failed, out := one(ctx, t, each)
		least := int(leastExecutions * each.Seconds() / tenMinutes.Seconds())
		if failed == 0 && execs < least {
			failed, out = 1, fmt.Sprintf("%d executions, %d are the least", execs, least)
		}
		fmt.Printf("%s, %.0f, %d, %d\n", t.name, each.Seconds(), execs, failed)
		if failed > 0 {
			ok = false
			fmt.Fprintf(os.Stderr, "%s: %s\n", t.name, out)
		}
	}
	if ran == 0 {
		return false, errors.New("there is no such fuzz target")
	}
	return ok, nil
}

var counted = regexp.MustCompile(`execs: (\d+)`)

// one fuzzes one target.
func one(ctx context.Context, t target, each time.Duration) (execs, failed int, out string) {
	c := exec.CommandContext(ctx, "go", "test", "-run", "^$", "-fuzz", "^"+t.name+"$", "-fuzztime", each.String(), "-fuzzminimizetime", "10x", "-parallel", "2", ".")
	c.Dir = t.dir
	text, err := c.CombinedOutput()
	for _, m := range counted.FindAllSubmatch(text, -1) {
		if n, bad := strconv.Atoi(string(m[1])); bad == nil {
			execs = n
		}
	}
	if err != nil {
		failed = 1
	}
	return execs, failed, string(text)
}
