package group

import (
	"encoding/csv"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"tautline/unit"
)

var (
	update = flag.Bool("update", false, "write the simulated tables anew")
	long   = flag.Bool("long", false, "ten times the simulated groups")
)

// runs is the number of simulated groups: ten times as many with -long.
func runs(n int) int {
	if *long {
		return 10 * n
	}
	return n
}

// referenceTable reads a table of ../../shared/reference/data as rows by
// column name.
func referenceTable(t *testing.T, name string) []map[string]float64 {
	t.Helper()
	text, err := os.ReadFile("../../shared/reference/data/" + name)
	if err != nil {
		t.Skipf("the reference table is not beside this checkout: %v", err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(text[strings.IndexByte(string(text), '\n')+1:]))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]float64
	for _, row := range rows[1:] {
		m := map[string]float64{}
		for i, cell := range row {
			m[rows[0][i]], _ = strconv.ParseFloat(cell, 64)
		}
		out = append(out, m)
	}
	if len(out) == 0 {
		t.Fatalf("%s is empty", name)
	}
	return out
}

// normalShots draws ends of n arrows with standard deviations sx and sy.
func normalShots(rng *rand.Rand, ends, n int, sx, sy float64) []Shot {
	var list []Shot
	for e := range ends {
		for range n {
			list = append(list, At(e+1, unit.Length(sx*rng.NormFloat64()), unit.Length(sy*rng.NormFloat64())))
		}
	}
	return list
}

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol }
