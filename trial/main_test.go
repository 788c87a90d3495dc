package trial

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
	_    = flag.Bool("update", false, "nothing is written here; the flag belongs to make golden")
	long = flag.Bool("long", false, "ten times the simulated trials")
)

// runs is the number of simulated trials: ten times as many with -long.
func runs(n int) int {
	if *long {
		return 10 * n
	}
	return n
}

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol }

// within checks a simulated share against a limit with its sampling error.
func within(t *testing.T, name string, hits, n int, low, high float64) {
	t.Helper()
	p := float64(hits) / float64(n)
	se := math.Sqrt(max(p*(1-p), 0.01) / float64(n))
	t.Logf("%-44s %.3f ± %.3f", name, p, se)
	if p < low-2.5*se || p > high+2.5*se {
		t.Errorf("%s: %.3f ± %.3f, want %.3f to %.3f", name, p, se, low, high)
	}
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
	return out
}

// shape draws one arrow of a shot shape with scale σ. The shapes are those of
// G6: normal; ellipse 1:2; t with 5 degrees of freedom on each axis; 5 % wild
// arrows with three times the spread.
type shape func(rng *rand.Rand, sigma float64) Point

func normalShape(rng *rand.Rand, s float64) Point {
	return Point{unit.Length(s * rng.NormFloat64()), unit.Length(s * rng.NormFloat64())}
}

var shapes = map[string]shape{
	"normal":      normalShape,
	"ellipse 1:2": func(rng *rand.Rand, s float64) Point { p := normalShape(rng, s); p.Up *= 2; return p },
	"t5": func(rng *rand.Rand, s float64) Point {
		p := normalShape(rng, s)
		chi := func() float64 {
			sum := 0.0
			for range 5 {
				z := rng.NormFloat64()
				sum += z * z
			}
			return math.Sqrt(sum / 5)
		}
		p.Right, p.Up = p.Right/unit.Length(chi()), p.Up/unit.Length(chi())
		return p
	},
	"5 % wild": func(rng *rand.Rand, s float64) Point {
		if rng.Float64() < 0.05 {
			s *= 3
		}
		return normalShape(rng, s)
	},
}

func (f shape) sample(rng *rand.Rand, ends, n int, sigma float64) Sample {
	var s Sample
	for range ends {
		var e End
		for range n {
			e = append(e, f(rng, sigma))
		}
		s = append(s, e)
	}
	return s
}
