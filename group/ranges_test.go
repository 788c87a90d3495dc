package group

import (
	"bytes"
	"fmt"
	"go/format"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
)

// rangeNodes are the rows of the table kept in rangetable.go.
var rangeNodes = []int{2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 22, 24, 27, 30, 33, 36, 40, 44, 48, 54, 60, 66, 72, 80, 90, 100, 112, 128, 144}

// simulateRange returns one row: mean, s.d., 5/50/95 % of the extreme spread,
// and the mean diagonal, σ = 1.
func simulateRange(n, groups int, seed uint64) [7]float64 {
	rng := rand.New(rand.NewPCG(seed, uint64(n)))
	es, row := make([]float64, groups), [7]float64{float64(n)}
	for g := range es {
		shots := normalShots(rng, 1, n, 1, 1)
		es[g] = float64(ExtremeSpread(shots))
		row[6] += float64(Diagonal(shots)) / float64(groups)
	}
	square := 0.0
	for _, x := range es {
		row[1] += x / float64(groups)
		square += x * x / float64(groups)
	}
	row[2] = math.Sqrt(square - row[1]*row[1])
	slices.Sort(es)
	for i, q := range []float64{0.05, 0.5, 0.95} {
		row[3+i] = es[int(q*float64(groups))]
	}
	return row
}

// With -update -long the table is simulated anew (2e6 groups up to 20 arrows, 4e5
// above: standard error of a mean at most 0.0011).
func TestGoldenRangeTable(t *testing.T) {
	if !*update || !*long {
		t.Skip("the table is written with -update -long (three minutes); TestRangeStatistics checks it")
	}
	var b bytes.Buffer
	b.WriteString("package group\n\n// rangeTable holds n; mean, s.d., 5, 50 and 95 % of the extreme spread; mean\n// diagonal, for n arrows of a circular group with σ = 1, by simulation\n// (TestGoldenRangeTable -update; standard error of a mean at most 0.0011).\nvar rangeTable = [][7]float64{\n")
	for _, n := range rangeNodes {
		groups := 2000000
		if n > 20 {
			groups = 400000
		}
		r := simulateRange(n, groups, 20)
		fmt.Fprintf(&b, "{%d, %.4f, %.4f, %.3f, %.3f, %.3f, %.4f},\n", n, r[1], r[2], r[3], r[4], r[5], r[6])
	}
	b.WriteString("}\n")
	src, err := format.Source(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("rangetable.go", src, 0o644); err != nil {
		t.Fatal(err)
	}
}
