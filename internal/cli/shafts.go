package cli

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"tautline/internal/report"
	"tautline/unit"
	"tautline/workbench"
)

// shaftsCmd lists shafts to try.
type shaftsCmd struct {
	bowArgs
	handArg
	Reach  string   `help:"Least that a shaft reaches past the rest at full draw; 25 mm, and more for growing archers." type:"length" placeholder:"LENGTH"`
	Points []string `help:"Point masses to choose from, insert included." type:"mass" placeholder:"MASS"`
	Count  int      `help:"How many shafts to list, 1 to 12." least:"1" most:"12" default:"5"`

	Pictures string `help:"Folder for one small target picture a shaft, as SVG." placeholder:"DIR"`
}

// Help shows an example.
func (shaftsCmd) Help() string {
	return `Example:
  tautline shafts examples/sandpiper-66.json --reach '35 mm'

A short ranked list of spine, length and point mass for a bow and a draw: where
the bare shaft would land at 18 m, with its doubt, and how it clears the button.
No arrow need be in the file. The bow is unfitted: borrow one, buy and cut
nothing. Where no bare shaft could be read, or none is likely to land near, it
says so, with what it assumed of button and centre shot.`
}

// question reads the flags.
func (c shaftsCmd) question() (workbench.ShaftQuestion, error) {
	q := workbench.ShaftQuestion{Hand: c.hand(), Count: c.Count}
	if c.Reach != "" {
		reach, err := unit.ParseLength(c.Reach)
		if err != nil {
			return q, usageError{unit.For("--reach", err)}
		}
		q.Reach = reach
	}
	for _, text := range c.Points {
		p, err := unit.ParseMass(text)
		if err != nil {
			return q, usageError{unit.For("--points", err)}
		}
		q.Points = append(q.Points, p)
	}
	return q, nil
}

// Run asks the model and prints.
func (c shaftsCmd) Run(ctx context.Context, t *terminal) error {
	s, err := c.settings(t)
	if err != nil {
		return err
	}
	q, err := c.question()
	if err != nil {
		return err
	}
	list, err := workbench.Shafts(ctx, s, q, t.progress("shooting shafts"))
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	if err := c.draw(list); err != nil {
		return err
	}
	if c.JSON {
		return t.printJSON(list)
	}
	return printShafts(t, list)
}

// pictureSize is a shaft's picture, mm.
const pictureSize = 60

// draw writes the pictures, if a folder was named: shaft-1.svg and so on, the
// present arrow last.
func (c shaftsCmd) draw(list workbench.ShaftList) error {
	if c.Pictures == "" {
		return nil
	}
	if err := os.MkdirAll(c.Pictures, 0o755); err != nil {
		return openError(c.Pictures, err)
	}
	for i, face := range report.ShaftFaces(list, units) {
		name := fmt.Sprintf("shaft-%d.svg", i+1)
		if i == len(list.Shafts) {
			name = "present.svg"
		}
		err := writeFile(filepath.Join(c.Pictures, name), func(w io.Writer) error { return face.Write(w, "svg", pictureSize) })
		if err != nil {
			return err
		}
	}
	return nil
}

func printShafts(t *terminal, list workbench.ShaftList) error {
	var b strings.Builder
	switch {
	case list.Borrow:
		b.WriteString("Shafts to try; the bare shaft against the fletched ones at 18 m, right positive:\n")
	case len(list.Shafts) > 0:
		b.WriteString("Shafts tried, none of them worth borrowing; the bare shaft against the fletched ones at 18 m, right positive:\n")
	}
	for i, v := range list.Shafts {
		fmt.Fprintf(&b, "%d. %s", i+1, shaftText(v))
	}
	if list.Present != nil {
		fmt.Fprintf(&b, "The present arrow: %s", shaftText(*list.Present))
	}
	fmt.Fprintf(&b, "\n%s\n", list.Advice)
	for _, c := range list.Cautions {
		fmt.Fprintf(&b, "Caution: %s\n", c)
	}
	fmt.Fprintf(&b, "Spans hold 90 %% of %d plausible bows, buttons and releases; nothing here has seen this bow shoot.\n", list.Bows)
	if _, err := fmt.Fprint(t.out, b.String()); err != nil {
		return err
	}
	for _, n := range list.Notes {
		t.warnf("note: %s", n)
	}
	return nil
}

// shaftText is one shaft in three lines.
func shaftText(v workbench.ShaftTry) string {
	far, near, fast, mass := units.ImpactStyle(), finer(units.SettingStyle()), units.SpeedStyle(), units.MassStyle()
	bare, gap, speed := v.Interval["bare_minus_fletched_18m_right_m"], v.Interval["tail_clearance_m"], v.Interval["speed_mps"]
	length := func(x float64) unit.Length { return unit.Length(x) }
	text := fmt.Sprintf("spine %.0f, shaft %s (%s past the rest), point %s\n", v.Spine,
		unit.Both(unit.Length(v.ShaftLength), units.Decimal), units.SettingStyle().Print(length(v.PastRest)), mass.Print(unit.Mass(v.PointMass)))
	text += fmt.Sprintf("   bare shaft %s (%s … %s), tail passes the button by %s (%s … %s), near the group in %.0f %% of plausible set-ups\n",
		far.Difference(length(v.Bare18)), signed(far, bare[0]), signed(far, bare[1]), near.Print(length(v.TailGap)), near.Number(length(gap[0])), near.Number(length(gap[1])), 100*v.Share)
	text += fmt.Sprintf("   arrow %s (%s gr per lbf), balance %s %% forward of the middle, %s (%s … %s)\n",
		mass.Print(unit.Mass(v.Mass)), units.Plain(math.Round(10*v.MassPerForce)/10), units.Plain(math.Round(10*v.Forward)/10), fast.Print(unit.Speed(v.Speed)), fast.Number(unit.Speed(speed[0])), fast.Number(unit.Speed(speed[1])))
	if v.Light {
		text += "   lighter than the bow maker's least: do not shoot it\n"
	}
	if !v.InWindow {
		text += fmt.Sprintf("   its bare shaft cannot be read: %s\n", v.Reason)
	}
	return text
}
