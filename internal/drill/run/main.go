//go:build unix

// Command run makes the failure drills at full length, see docs/drills.md. It
// prints one line for each: drill, seed, n, failures; what was found goes to
// stderr. It ends with 1 when anything failed or could not run.
//
//	go run ./internal/drill/run -seed 3 -scale 0.1 D1 D2
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"syscall"
	"time"

	"tautline/internal/drill"
)

func main() {
	seed := flag.Uint64("seed", 1, "of all chance")
	scale := flag.Float64("scale", 1, "share of the full number of rounds")
	flag.Usage = usage
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	ok, err := drills(ctx, *seed, *scale, flag.Args())
	if err != nil {
		fmt.Fprintln(os.Stderr, "drills:", err)
	}
	if err != nil || !ok {
		stop()
		os.Exit(1)
	}
}

func usage() {
	fmt.Fprintln(os.Stderr, "usage: run [-seed N] [-scale F] [DRILL…]")
	flag.PrintDefaults()
	for _, d := range drill.All {
		fmt.Fprintf(os.Stderr, "  %-4s %s: %d rounds\n", d.Name, d.Title, d.Long)
	}
}

// drills runs those named, or all.
func drills(ctx context.Context, seed uint64, scale float64, names []string) (ok bool, err error) {
	for _, name := range names {
		if !slices.ContainsFunc(drill.All, func(d drill.Drill) bool { return d.Name == name }) {
			return false, fmt.Errorf("there is no drill %s", name)
		}
	}
	dir, err := os.MkdirTemp("", "tautline-drills-")
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir), drill.StopPostgres()) }()
	bin, err := drill.Build(ctx, dir)
	if err != nil {
		return false, err
	}
	ok = true
	for _, d := range drill.All {
		if len(names) > 0 && !slices.Contains(names, d.Name) {
			continue
		}
		if ctx.Err() != nil {
			return false, ctx.Err()
		}
		n := max(d.Short, int(scale*float64(d.Long)))
		res, err := drill.Do(ctx, d, bin, seed, n, os.Stderr)
		fmt.Println(res)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
		fmt.Fprintf(os.Stderr, "%s took %v\n", d.Name, res.Took.Round(time.Second))
		ok = ok && err == nil && res.Failures == 0
	}
	return ok, nil
}
