package shot

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

var update = flag.Bool("update", false, "write docs/theory/shot_fidelity.md from this run")

// row is one line of the fidelity table: a number of ours against a number
// from outside the package, with the tolerance and its reason.
type row struct {
	what           string
	expected, ours float64
	tol            float64 // absolute
	unit           string
	why            string
	bound          bool // ours is an error: print it as a power of ten
	digits         int  // significant digits to print, 5 unless set
}

// at makes a row with an absolute tolerance.
func at(what string, expected, ours, tol float64, unit, why string) row {
	return row{what: what, expected: expected, ours: ours, tol: tol, unit: unit, why: why}
}

// within makes a row for a number that has to lie in a span.
func within(what string, low, high, ours float64, unit, why string) row {
	return row{what: what, expected: (low + high) / 2, ours: ours, tol: (high - low) / 2, unit: unit, why: why, digits: 3}
}

// below makes a row for an error that has to stay under a limit.
func below(what string, ours, limit float64, unit, why string) row {
	return row{what: what, ours: ours, tol: limit, unit: unit, why: why, bound: true}
}

// to sets the digits printed: fewer where another processor's rounding may show.
func (r row) to(digits int) row {
	r.digits = digits
	return r
}

func (r row) holds() bool { return math.Abs(r.ours-r.expected) <= r.tol }

// check is one comparison with something outside the package. It runs once per
// test binary, whoever asks first.
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
	{id: "The same chains in another program", source: "data/independent.json: MuJoCo 3.3.8, RK4 at 2.5 µs (computed); plain model", run: checkSpecChains},
	{id: "The generic bow in a dense solver", source: "data/independent.json: numpy mass matrix with DOP853, LSODA agrees to 1e-8 m/s (computed); plain model", run: checkGenericSpec},
	{id: "Infinitely many links", source: "data/independent.json: Richardson limit of three chains (computed)", run: checkLimits},
	{id: "Continuous string, straight limb", source: "data/independent.json: Cartesian code, 96 links, 192 string nodes (computed)", run: checkContinuousStraight},
	{id: "Continuous string on a recurve", source: "data/independent.json: MuJoCo contact solver and Cartesian penalty code (computed)", run: checkContinuousRecurve},
	{id: "B5 rigid-limb bow", source: "Hickman 1947, equations read, solution computed; data/rigid_limb_shot_trace.csv and rigid_limb_brace_sweep.csv", run: checkRigid},
	{id: "B3 virtual mass of a recurve", source: "an experimenter's web page, method of Tuijn & Kooi (read, informal); limb mass, string mass and losses unknown", run: checkVirtualMass},
	{id: "B4 string mass", source: "Hickman 1947 (read): three wooden bows, linen strings of 7.0 and 16.5 g, 25.92 g arrow", run: checkStringMass},
	{id: "Production against plain model", source: "the plain model of this package with many links and string nodes (law: one bow, two models)", run: checkProduction},
	{id: "Fresh random bows", source: "bows drawn by their inputs as in random_test.go, none of them used to choose anything", run: checkFresh},
	{id: "Laws", source: "mechanics", run: checkLaws},
	{id: "Convergence", source: "numerical analysis", run: checkConvergence},
	{id: "Brace-height sweep of the generic bow", source: "model.md sections 2 and 9", run: checkSweep},
	{id: "Linear modes", source: "string between fixed ends (closed form), and the model's own motion", run: checkModes},
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

const goldenFile = "../docs/theory/shot_fidelity.md"

const goldenHead = `# The shot: fidelity

Written by ` + "`go test ./shot -run Golden -update`" + `; do not edit. Each check states where the expected number comes from and why the
tolerance is what it is. Tags (read, computed, recalled) as in the reference folder. Agreement with another computation shows
that the mathematics is right, not that a real bow behaves so: only B3 and B4 compare with measured bows.
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
		digits := r.digits
		if digits == 0 {
			digits = 5
		}
		expected, ours := fmt.Sprintf("%.*g %s", digits, r.expected, r.unit), fmt.Sprintf("%.*g %s", digits, r.ours, r.unit)
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
