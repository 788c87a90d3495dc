package bow

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

var update = flag.Bool("update", false, "write docs/theory/bow_fidelity.md from this run")

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
// per test binary, by TestFidelity or TestGoldenFidelity, whichever comes
// first.
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
	{id: "Elastica cantilever", source: "elliptic integrals, worked out in the test (computed); Mattiasson 1981 and Bisshopp & Drucker 1945 give the same digits (recalled)", run: checkElastica},
	{id: "B1 limb as a cantilever", source: "Hickman, Nagler, Klopsteg 1947 (read; tapered forms computed)", run: checkBeams},
	{id: "B5 rigid-limb bow, brace sweep", source: "Hickman 1947, equations read, solution computed; data/rigid_limb_brace_sweep.csv", run: checkRigidSweep},
	{id: "B5/B6 rigid-limb bow, static tension", source: "as above; data/rigid_limb_static_tension.csv", run: checkRigidTension},
	{id: "B6 brace tension and starting slope", source: "exact relation T = (L/4)·dF/dx (computed)", run: checkBraceTension},
	{id: "B2 measured recurves", source: "Tuijn & Kooi 1992, Table I (read)", run: checkMeasured},
	{id: "B11 twist", source: "Wuertz et al. 2010 equations (read), data/twist_shortening.csv (computed)", run: checkTwist},
	{id: "Continuous elastica with contact", source: "data/independent.json, an engine that shares no code (computed)", run: checkContinuous},
	{id: "The same chain in another program", source: "data/independent.json, numpy (computed)", run: checkSpecChain},
	{id: "CalculiX straight limb", source: "Debian calculix-ccx, B32R beams, deck written by the test", run: checkCalculix},
	{id: "Derivatives", source: "central differences (computed)", run: checkDerivatives},
	{id: "Bracing there and back", source: "two different algorithms of ours (law)", run: checkRoundTrip},
	{id: "Energy", source: "F = dV/dx (law)", run: checkEnergy},
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

const goldenFile = "../docs/theory/bow_fidelity.md"

const goldenHead = `# The bow at rest: fidelity

Written by ` + "`go test ./bow -run Golden -update`" + `; do not edit. Each check states where the expected number comes from and why the
tolerance is what it is. Tags (read, computed, recalled) as in the reference folder. Agreement with another computation shows
that the mathematics is right, not that a real bow behaves so: only B2 compares with measured bows.
`

// TestGoldenFidelity keeps the table in docs/theory in step with the tests. A
// check that cannot run here keeps its old section.
func TestGoldenFidelity(t *testing.T) {
	old := sections(t)
	var out strings.Builder
	out.WriteString(goldenHead)
	for _, c := range fidelity {
		text, ran := "", false
		t.Run(c.id, func(t *testing.T) {
			text, ran = c.section(c.get(t)), true
		})
		if !ran {
			text = old[c.id]
		}
		if !*update && ran && old[c.id] != text {
			t.Errorf("section %q of %s is out of date; run with -update\ngot:\n%s\nfile has:\n%s", c.id, goldenFile, text, old[c.id])
		}
		out.WriteString(text)
	}
	if *update {
		if err := os.MkdirAll(filepath.Dir(goldenFile), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(goldenFile, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func (c *check) section(rows []row) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\n## %s\nSource: %s.\n\n| check | expected | ours | tolerance | why this tolerance |\n|---|---|---|---|---|\n", c.id, c.source)
	for _, r := range rows {
		expected, ours := fmt.Sprintf("%.5g %s", r.expected, r.unit), fmt.Sprintf("%.5g %s", r.ours, r.unit)
		if r.bound {
			expected, ours = "0", fmt.Sprintf("below %.0e %s", math.Pow(10, math.Ceil(math.Log10(math.Max(r.ours, 1e-16)))), r.unit)
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %.2g %s | %s |\n", r.what, strings.TrimSpace(expected), strings.TrimSpace(ours), r.tol, r.unit, r.why)
	}
	return b.String()
}

// sections reads the file's sections by title.
func sections(t *testing.T) map[string]string {
	out := map[string]string{}
	data, err := os.ReadFile(goldenFile)
	if err != nil {
		if !*update {
			t.Errorf("the fidelity table is missing: %v; run with -update", err)
		}
		return out
	}
	for _, part := range strings.Split(string(data), "\n## ")[1:] {
		title, _, _ := strings.Cut(part, "\n")
		text := "\n## " + part
		out[title] = strings.TrimSuffix(text, "\n") + "\n"
	}
	return out
}
