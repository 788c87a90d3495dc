package workbench

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"tautline/arrow"
	"tautline/unit"
)

// update is for the tables of docs/theory/forgiveness.md and, with
// TAUTLINE_LONG=1, the coverage in docs/theory/fit.md.
var update = flag.Bool("update", false, "write the tables of docs/theory from this run")

const (
	forgivenessPage = "../docs/theory/forgiveness.md"
	forgivenessMark = "<!-- Written by `go test ./workbench -run Golden -update`; do not edit below. -->\n"
)

// TestGoldenForgiveness keeps the tables at the end of
// docs/theory/forgiveness.md in step with the program. The signs are run on 200
// set-ups when the page is written or TAUTLINE_SIGNS=200, else left as they
// stand (TestSigns runs thirty).
func TestGoldenForgiveness(t *testing.T) {
	data, err := os.ReadFile(forgivenessPage)
	if err != nil {
		t.Fatal(err)
	}
	text, tables, found := strings.Cut(string(data), forgivenessMark)
	if !found {
		t.Fatalf("%s has no line %q", forgivenessPage, forgivenessMark)
	}
	signs, rest, found := strings.Cut(tables, exampleHeading)
	if !found && !*update {
		t.Fatalf("%s has no %q", forgivenessPage, exampleHeading)
	}
	if *update || manySigns() {
		ran := signTable(t)
		if !*update && ran != signs {
			t.Errorf("the signs are out of date; run with -update\ngot:\n%s", ran)
		}
		signs = ran
	}
	example := exampleTables(t)
	if !*update && example != exampleHeading+rest {
		t.Errorf("the example is out of date; run with -update\ngot:\n%s\nfile has:\n%s", example, exampleHeading+rest)
	}
	if *update {
		if err := os.WriteFile(forgivenessPage, []byte(text+forgivenessMark+signs+example), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// signTable is both string models side by side.
func signTable(t *testing.T) string {
	t.Helper()
	const count = 200
	resolved, lumped := signsOf(t, stringModels[0], count), signsOf(t, stringModels[1], count)
	var b strings.Builder
	fmt.Fprintf(&b, "\n### Signs on %d random set-ups\nMove of the bare shaft against the fletched arrow at 30 m, cm: median, 10th to 90th percentile in brackets.\n\n", count)
	b.WriteString("| change | sign asked | share asked | resolved string | | lumped string | |\n|---|---|---|---|---|---|---|\n")
	for i, m := range moves {
		side, asked := "left", "reported"
		if m.right {
			side = "right"
		}
		if m.share > 0 {
			asked = fmt.Sprintf("%.0f %%", 100*m.share)
		}
		fmt.Fprintf(&b, "| %s | %s | %s ", m.name, side, asked)
		for _, s := range []signs{resolved, lumped} {
			reached := ""
			if s.share(i) < m.share {
				reached = ": not reached"
			}
			middle, low, high := s.size(i)
			fmt.Fprintf(&b, "| %.1f %%%s | %+.1f (%+.1f to %+.1f) ", 100*s.share(i), reached, middle, low, high)
		}
		b.WriteString("|\n")
	}
	fmt.Fprintf(&b, "| left out for clearance | | | %.1f %% | | %.1f %% | |\n", 100*resolved.left(), 100*lumped.left())
	return b.String()
}

const exampleHeading = "\n### An example\n"

// exampleTables are the invented bow heron-70 from 21 to 23 cm, and its
// sources, as any archer can ask for them.
func exampleTables(t *testing.T) string {
	t.Helper()
	ask := func(q ForgiveQuestion) Forgiveness {
		q.Hand = arrow.RightHanded
		f, err := Forgive(t.Context(), example(t, "heron-70"), q, nil)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	var b strings.Builder
	b.WriteString(exampleHeading + "The invented bow heron-70 with its 600 shaft; 12 plausible set-ups.\n\n")
	brace := ask(ForgiveQuestion{Heights: []unit.Length{0.21, 0.22, 0.23}})
	b.WriteString("| treatment, 21 to 23 cm | resolved string | lumped string | both agree on a sign in |\n|---|---|---|---|\n")
	for _, c := range brace.Changes {
		fmt.Fprintf(&b, "| %s | %+.1f %% (%+.1f to %+.1f) | %+.1f %% (%+.1f to %+.1f) | %.0f %% |\n", c.Treatment, c.Resolved.Value, c.Resolved.Low, c.Resolved.High, c.Lumped.Value, c.Lumped.Low, c.Lumped.High, 100*c.Agree)
	}
	fmt.Fprintf(&b, "\nGhost shots spread %.3f of the linear answer. The program says: “%s”\n", brace.Ghosts, brace.Summary)
	for _, f := range []Forgiveness{brace, ask(ForgiveQuestion{Over: OverButton, Turns: []float64{-2, -1, 0, 1, 2}}), ask(ForgiveQuestion{Over: OverArrow})} {
		b.WriteString(spreadTable(f))
	}
	return b.String()
}

// spreadTable is one sweep with its sources, cm.
func spreadTable(f Forgiveness) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\nSpread at 70 m sideways, one standard deviation, cm, against %s, by source:\n\n| %s | together | 90 %% of plausible set-ups | lumped string |", map[Over]string{OverBrace: "brace height", OverButton: "turns added to the button", OverArrow: "static spine"}[f.Over], f.Over)
	for s := range sources {
		fmt.Fprintf(&b, " %s |", s)
	}
	b.WriteString("\n|" + strings.Repeat("---|", 4+int(sources)) + "\n")
	for _, r := range f.Rows {
		at := fmt.Sprintf("%.0f mm", 1e3*r.BraceHeight)
		switch {
		case r.Turns != nil:
			at = fmt.Sprintf("%+g", *r.Turns)
		case r.Spine != nil:
			at = fmt.Sprintf("%.0f", *r.Spine)
		}
		if !r.InWindow {
			at += ", outside the window"
		}
		fmt.Fprintf(&b, "| %s | %.1f | %.1f to %.1f | %.1f |", at, 100*r.Sideways, 100*r.Interval[0], 100*r.Interval[1], 100*r.Lumped)
		for s := range sources {
			fmt.Fprintf(&b, " %.1f |", 100*r.BySource[s.String()])
		}
		b.WriteString("\n")
	}
	return b.String()
}
