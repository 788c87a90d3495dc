package flight

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"sync"
	"testing"
)

var update = flag.Bool("update", false, "write the fidelity table of docs/theory/flight.md from this run")

// row is one line of the fidelity table: a number of ours against a number
// from outside the package, with the tolerance and where both come from.
type row struct {
	what           string
	expected, ours float64
	tol            float64 // absolute
	unit           string
	why            string // reason for the tolerance
	bound          bool   // ours is an error: print it as a power of ten
}

// rel makes a row with a relative tolerance.
func rel(what string, expected, ours, tol float64, unit, why string) row {
	return row{what: what, expected: expected, ours: ours, tol: tol * math.Abs(expected), unit: unit, why: why}
}

// within makes a row for a number that has to lie in a span.
func within(what string, low, high, ours float64, unit, why string) row {
	return row{what: what, expected: (low + high) / 2, ours: ours, tol: (high - low) / 2, unit: unit, why: why}
}

// below makes a row for an error that has to stay under a limit.
func below(what string, ours, limit float64, unit, why string) row {
	return row{what: what, ours: ours, tol: limit, unit: unit, why: why, bound: true}
}

func (r row) holds() bool { return math.Abs(r.ours-r.expected) <= r.tol }

// check is one comparison with something outside the package. It is run once
// per test binary.
type check struct {
	id, source string
	run        func(t *testing.T) []row
	once       sync.Once
	rows       []row
}

func (c *check) get(t *testing.T) []row {
	c.once.Do(func() { c.rows = c.run(t) })
	if c.rows == nil {
		t.Skip("not run here; see the first skip message of this check")
	}
	return c.rows
}

// fidelity lists every check in the order of the table.
var fidelity = []*check{
	{id: "Air", source: "CIPM-2007 (coefficients recalled) against the ideal gas with Buck's vapour pressure (recalled), the standard atmosphere, and A8", run: checkAir},
	{id: "A9 point mass, target level at 70 m", source: "RK4, 1.2 kg/m³, 5.24 mm, 14.3 g, 57 m/s (computed)", run: checkPointMass},
	{id: "A9 flat fire", source: "closed forms (computed)", run: checkFlat},
	{id: "A8 drag", source: "Ortiz et al. 2020, Miyazaki 2020, abstracts (read)", run: checkDrag},
	{id: "A9 wind and time", source: "Park, magazine article; an experimenter's posting (read)", run: checkWind},
	{id: "Laws", source: "symmetry, closed forms, convergence (law)", run: checkLaws},
}

func TestFidelity(t *testing.T) {
	for _, c := range fidelity {
		t.Run(c.id, func(t *testing.T) {
			for _, r := range c.get(t) {
				if !r.holds() {
					t.Errorf("%s: got %.8g %s, expected %.8g ± %.2g (%s; %s)", r.what, r.ours, r.unit, r.expected, r.tol, c.source, r.why)
				}
			}
		})
	}
}

const (
	goldenFile  = "../docs/theory/flight.md"
	goldenStart = "<!-- Written by `go test ./flight -run Golden -update`; do not edit below. -->\n"
)

// TestGoldenFidelity keeps the table at the end of docs/theory/flight.md in
// step with the tests. A check that cannot run here keeps its old section.
func TestGoldenFidelity(t *testing.T) {
	data, err := os.ReadFile(goldenFile)
	if err != nil {
		t.Fatal(err)
	}
	text, table, found := strings.Cut(string(data), goldenStart)
	if !found {
		t.Fatalf("%s has no line %q", goldenFile, goldenStart)
	}
	old := sections(table)
	var out strings.Builder
	for _, c := range fidelity {
		section, ran := "", false
		t.Run(c.id, func(t *testing.T) { section, ran = c.section(c.get(t)), true })
		if !ran {
			section = old[c.id]
		}
		if !*update && ran && old[c.id] != section {
			t.Errorf("section %q of %s is out of date; run with -update\ngot:\n%s\nfile has:\n%s", c.id, goldenFile, section, old[c.id])
		}
		out.WriteString(section)
	}
	if *update {
		if err := os.WriteFile(goldenFile, []byte(text+goldenStart+out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func (c *check) section(rows []row) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\n### %s\nSource: %s.\n\n| check | expected | ours | tolerance | why this tolerance |\n|---|---|---|---|---|\n", c.id, c.source)
	for _, r := range rows {
		expected, ours := fmt.Sprintf("%.5g %s", r.expected, r.unit), fmt.Sprintf("%.5g %s", r.ours, r.unit)
		// Rounding differs between machines; a thousandth of the tolerance is
		// as fine as it needs to be told.
		if r.bound {
			expected, ours = "0", fmt.Sprintf("below %.0e %s", math.Pow(10, math.Ceil(math.Log10(math.Max(r.ours, r.tol/1000)))), r.unit)
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", r.what, strings.TrimSpace(expected), strings.TrimSpace(ours), strings.TrimSpace(fmt.Sprintf("%.2g %s", r.tol, r.unit)), r.why)
	}
	return b.String()
}

// sections splits the table by title.
func sections(table string) map[string]string {
	out := map[string]string{}
	for _, part := range strings.Split(table, "\n### ")[1:] {
		title, _, _ := strings.Cut(part, "\n")
		out[title] = strings.TrimSuffix("\n### "+part, "\n") + "\n"
	}
	return out
}
