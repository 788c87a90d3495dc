// Command bank judges many made-up trials and prints everything that each
// verdict says, one value a line. Two builds of it for different processors
// must print the same: some fuse x*y+z into one rounding and some do not, and
// no verdict may hang on that.
//
//	go run ./internal/bank 520 | less
package main

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strconv"

	"tautline/num/numtest"
)

// kind is one sort of trial: draws one, and judges it.
type kind struct {
	name  string
	judge func(rng *rand.Rand) (any, error)
}

func main() {
	n, err := strconv.Atoi(append(os.Args, "520")[1])
	if err != nil {
		fmt.Fprintln(os.Stderr, "usage: bank [HOW MANY CASES]")
		os.Exit(2)
	}
	out := bufio.NewWriter(os.Stdout)
	for i := range n {
		k := kinds[i%len(kinds)]
		rng := rand.New(rand.NewPCG(uint64(i), 2026))
		verdict, err := k.judge(rng)
		print(out, fmt.Sprintf("%d %s", i, k.name), verdict, err)
	}
	if err := out.Flush(); err != nil {
		fmt.Fprintln(os.Stderr, "bank:", err)
		os.Exit(1)
	}
}

// print writes the verdict's values in the order of their paths.
func print(out *bufio.Writer, name string, verdict any, err error) {
	var lines []string
	numtest.Leaves(verdict, func(path string, v reflect.Value) {
		text := ""
		switch {
		case v.CanFloat():
			text = strconv.FormatFloat(v.Float(), 'g', 17, 64)
		case v.CanInt():
			text = strconv.FormatInt(v.Int(), 10) + " whole"
		case v.CanUint():
			text = strconv.FormatUint(v.Uint(), 10) + " whole"
		default:
			text = strconv.Quote(fmt.Sprint(v))
		}
		lines = append(lines, path+" = "+text)
	})
	slices.Sort(lines)
	fmt.Fprintf(out, "%s: %v\n", name, err)
	for _, l := range lines {
		fmt.Fprintf(out, "%s %s\n", name, l)
	}
}
