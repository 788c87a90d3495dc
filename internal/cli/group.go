package cli

import (
	"errors"
	"fmt"
	"strings"

	"tautline/unit"
	"tautline/workbench"
)

// groupCmd says what arrows tell, and how two set-ups compare.
type groupCmd struct {
	A         string `arg:"" help:"Table of arrows: end,arrow,x_cm,y_cm (or _mm, _m, _in), or end,arrow,ring." placeholder:"A.csv"`
	B         string `arg:"" optional:"" help:"The same of another set-up, to compare." placeholder:"B.csv"`
	JSON      bool   `help:"Print numbers for a program; keys end in their unit." name:"json"`
	LookAsYou bool   `name:"look-as-you-go" help:"The ends were shot in pairs, order by coin, and looked at as they came: the k-th end of A stands beside the k-th of B. Without it the number of arrows was fixed beforehand."`
	Face      string `help:"Face that was shot at, for scores and rings: 122, 80/6, 40x3 …; 122 for rings if not given." placeholder:"KEY"`
	Shaft     string `help:"Diameter of the shaft; 5.5 mm if not given." type:"length" placeholder:"LENGTH"`
	Unit      string `enum:"mm,cm,m,in" default:"cm" help:"Unit of the printed lengths."`
}

// Help shows an example.
func (groupCmd) Help() string {
	return `Example:
  tautline group examples/group-a.csv examples/group-b.csv --face 122

How wide the group is and where its centre lies, each with its 95 % interval, what
it scores, which arrow lies further out than the rest explain, which numbered arrow
always flies out; with two tables, which set-up shoots tighter, or that it cannot be
told yet. A file that names two set-ups in its column "setup" is compared with itself.`
}

// groupReport is what --json prints: the first group's numbers, with the others
// and the comparison beside them.
type groupReport struct {
	workbench.GroupView
	B          *workbench.GroupView   `json:"b,omitempty"`
	Others     []workbench.GroupView  `json:"others,omitempty"`
	Comparison *workbench.CompareView `json:"comparison,omitempty"`
}

// Run reads the tables and prints.
func (c groupCmd) Run(t *terminal) error {
	style := unit.Metric().ImpactStyle()
	style.Unit = unit.Unit[unit.Length](c.Unit)
	ask := workbench.TableAsk{Face: c.Face}
	if c.Shaft != "" {
		shaft, err := unit.ParseLength(c.Shaft)
		if err != nil {
			return usageError{unit.For("--shaft", err)}
		}
		ask.Shaft = shaft
	}
	volleys, err := c.volleys(t, ask)
	if err != nil {
		return err
	}
	report, err := c.report(volleys, style)
	if err != nil {
		return err
	}
	if c.JSON {
		return t.printJSON(report)
	}
	return printGroups(t, report)
}

// volleys reads A, and B behind it.
func (c groupCmd) volleys(t *terminal, ask workbench.TableAsk) ([]workbench.Volley, error) {
	list, err := readVolleys(t, c.A, ask)
	if err != nil || c.B == "" {
		return list, err
	}
	second, err := readVolleys(t, c.B, ask)
	if err != nil {
		return nil, err
	}
	if fletched(list) > 1 || fletched(second) > 1 {
		return nil, usageError{errors.New("a table with several set-ups is compared with itself: give one file, or one set-up in each")}
	}
	return append(list, second...), nil
}

func fletched(list []workbench.Volley) (n int) {
	for _, v := range list {
		if v.Kind == "fletched" {
			n++
		}
	}
	return n
}

func readVolleys(t *terminal, path string, ask workbench.TableAsk) (list []workbench.Volley, err error) {
	f, err := openFile(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	list, warnings, err := workbench.ReadVolleys(f, ask)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	for _, w := range warnings {
		t.warnf("note: %s: %s", path, w)
	}
	for i := range list {
		if list[i].Label == "" {
			list[i].Label = path
		}
	}
	return list, nil
}

// report describes every group and compares the first two of fletched arrows,
// if there are exactly two.
func (c groupCmd) report(list []workbench.Volley, style unit.Style[unit.Length]) (groupReport, error) {
	var out groupReport
	var compared []workbench.Volley
	for i, v := range list {
		g, err := workbench.DescribeVolley(v, style)
		if err != nil {
			return out, fmt.Errorf("%s: %w", v.Label, err)
		}
		if v.Kind == "fletched" {
			compared = append(compared, v)
		}
		switch {
		case i == 0:
			out.GroupView = g
		case len(compared) == 2 && v.Kind == "fletched" && fletched(list) == 2:
			out.B = &g
		default:
			out.Others = append(out.Others, g)
		}
	}
	if fletched(list) != 2 {
		return out, nil
	}
	view, err := workbench.CompareVolleys(compared[0], compared[1], workbench.CompareAsk{Looking: c.LookAsYou})
	if err != nil {
		return out, fmt.Errorf("comparing %s and %s: %w", compared[0].Label, compared[1].Label, err)
	}
	out.Comparison = &view
	return out, nil
}

// printGroups tells it in sentences; assumptions and warnings go beside.
func printGroups(t *terminal, r groupReport) error {
	var b strings.Builder
	groups := []workbench.GroupView{r.GroupView}
	if r.B != nil {
		groups = append(groups, *r.B)
	}
	for i, g := range append(groups, r.Others...) {
		name := g.Label
		if r.Comparison != nil && i < 2 {
			name = []string{"A: ", "B: "}[i] + g.Label
		}
		if g.Kind == "bare" {
			name += ", bare shafts"
		}
		fmt.Fprintf(&b, "%s\n", name)
		for _, s := range append(g.Sentences, g.CanSee) {
			if s != "" {
				fmt.Fprintf(&b, "  %s\n", s)
			}
		}
	}
	if r.Comparison != nil {
		fmt.Fprintf(&b, "\n%s\n  %s.\n", r.Comparison.Text, r.Comparison.Method)
		for _, a := range r.Comparison.Assumptions {
			fmt.Fprintf(&b, "  assumes: %s\n", a)
		}
	}
	if _, err := fmt.Fprint(t.out, b.String()); err != nil {
		return err
	}
	said := map[string]bool{}
	notes := append([]string{}, r.Warnings...)
	if r.B != nil {
		notes = append(notes, r.B.Warnings...)
	}
	if r.Comparison != nil {
		notes = append(notes, r.Comparison.Warnings...)
	}
	for _, w := range notes {
		if !said[w] {
			t.warnf("note: %s", w)
		}
		said[w] = true
	}
	return nil
}
