package cli

import (
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"tautline/internal/report"
	"tautline/unit"
	"tautline/workbench"
)

// forgiveCmd says what a brace height, a button setting or an arrow forgives.
type forgiveCmd struct {
	bowArgs
	handArg
	Over    string `help:"Against brace height, button (turns added) or arrow (spine)." enum:"brace,button,arrow" default:"brace"`
	From    string `help:"Compare from: a brace height, turns of the button, or a spine." placeholder:"VALUE"`
	To      string `help:"Compare with." placeholder:"VALUE"`
	Group   string `help:"Your measured group at 70 m, sideways standard deviation; anchors the total." type:"length" placeholder:"LENGTH"`
	Picture string `help:"Draw the spread stacked by error to this file, .svg or .png." placeholder:"FILE"`
}

// Help shows an example.
func (forgiveCmd) Help() string {
	return `Examples:
  tautline forgive examples/heron-70.json --from '21.5 cm' --to '23.5 cm'
  tautline forgive examples/heron-70.json --over button --from=-1 --to 1 --picture spread.svg

How much each of the archer's errors moves the impact at 70 m, sideways, against
brace height, button setting or arrow, error by error. A direction is named only
where both models of the string agree; "cannot tell" is an answer.`
}

// question reads the flags.
func (c forgiveCmd) question() (q workbench.ForgiveQuestion, err error) {
	q = workbench.ForgiveQuestion{Hand: c.hand(), Over: workbench.Over(c.Over)}
	read := func(flag, text string, into func(string) error) {
		if text == "" || err != nil {
			return
		}
		if failed := into(text); failed != nil {
			err = usageError{unit.For(flag, failed)}
		}
	}
	length := func(to *unit.Length) func(string) error {
		return func(text string) (err error) { *to, err = unit.ParseLength(text); return err }
	}
	turns := func(flag string, to *float64) func(string) error {
		return func(text string) (err error) {
			if *to, err = strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64); err != nil {
				return fmt.Errorf("%s: cannot read %q as turns; write a plain number like 1 or -0.5", flag, text)
			}
			return nil
		}
	}
	spine := func(to *unit.Spine) func(string) error {
		return func(text string) (err error) { *to, err = unit.ParseSpine(text); return err }
	}
	from, to := length(&q.From), length(&q.To)
	switch q.Over {
	case workbench.OverButton:
		from, to = turns("--from", &q.FromTurns), turns("--to", &q.ToTurns)
	case workbench.OverArrow:
		from, to = spine(&q.FromSpine), spine(&q.ToSpine)
	}
	read("--from", c.From, from)
	read("--to", c.To, to)
	read("--group", c.Group, length(&q.Group))
	return q, err
}

// Run asks the model and prints.
func (c forgiveCmd) Run(ctx context.Context, t *terminal) error {
	s, err := c.settings(t)
	if err != nil {
		return err
	}
	q, err := c.question()
	if err != nil {
		return err
	}
	f, err := workbench.Forgive(ctx, s, q, t.progress("shooting ghosts"))
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	if err := c.draw(f); err != nil {
		return err
	}
	if c.JSON {
		return t.printJSON(f.Rows)
	}
	if _, err := fmt.Fprint(t.out, forgiveText(f)); err != nil {
		return err
	}
	for _, n := range f.Notes {
		t.warnf("note: %s", n)
	}
	return nil
}

// pictureWide and pictureTall are the picture's size, mm.
const pictureWide, pictureTall = 170, 100

// draw writes the picture, if one was asked for.
func (c forgiveCmd) draw(f workbench.Forgiveness) error {
	if c.Picture == "" {
		return nil
	}
	format := strings.TrimPrefix(strings.ToLower(filepath.Ext(c.Picture)), ".")
	if format != "svg" && format != "png" {
		return usageError{fmt.Errorf("--picture %s: name a file that ends in .svg or .png", c.Picture)}
	}
	return writeFile(c.Picture, func(w io.Writer) error {
		return report.ForgiveFigure(f, units).Write(w, format, pictureWide, pictureTall)
	})
}

// forgiveText is the table and the sentences.
func forgiveText(f workbench.Forgiveness) string {
	var b strings.Builder
	head := map[workbench.Over]string{workbench.OverButton: "button, turns added", workbench.OverArrow: "static spine"}[f.Over]
	if head == "" {
		head = "brace height, " + units.SettingStyle().Symbol()
	}
	far := units.ImpactStyle()
	fmt.Fprintf(&b, "%s\n\n  %-20s sideways at 70 m, cm    90 %% of plausible set-ups   (with the other string model)   in height, cm\n", f.Summary, head)
	for _, r := range f.Rows {
		up := "–"
		if r.Vertical != nil {
			up = far.Number(unit.Length(*r.Vertical))
		}
		fmt.Fprintf(&b, "  %19s %21s %15s … %-10s %14s %20s%s\n", rowName(r), far.Number(unit.Length(r.Sideways)), far.Number(unit.Length(r.Interval[0])), far.Number(unit.Length(r.Interval[1])), far.Number(unit.Length(r.Lumped)), up, outside(r))
	}
	for _, c := range f.Changes {
		fmt.Fprintf(&b, "%s\n", c.Sentence)
	}
	if len(f.Rows) > 0 && f.Rows[0].VerticalReason != "" {
		fmt.Fprintf(&b, "In height: %s.\n", f.Rows[0].VerticalReason)
	}
	return b.String()
}

// rowName is where a row stands.
func rowName(r workbench.ForgiveRow) string {
	switch {
	case r.Turns != nil:
		return fmt.Sprintf("%+g", math.Round(100**r.Turns)/100)
	case r.Spine != nil:
		return fmt.Sprintf("%.0f", *r.Spine)
	}
	return units.SettingStyle().Number(unit.Length(r.BraceHeight))
}

// outside says that a bare shaft cannot be read there.
func outside(r workbench.ForgiveRow) string {
	if r.InWindow {
		return ""
	}
	return "   outside the window"
}
