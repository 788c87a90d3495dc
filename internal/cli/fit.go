package cli

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// fittedArgs are the arguments of every command that asks a fitted bow.
type fittedArgs struct {
	bowArgs
	handArg
	MarksUpward bool `help:"The sight scale's numbers grow upward."`
}

// fit reads bow and readings and fits; without a readings file the bow is the
// generic one scaled to the bow file.
func (a fittedArgs) fit(ctx context.Context, t *terminal, readings string) (f *workbench.FittedBow, err error) {
	s, err := a.settings(t)
	if err != nil {
		return nil, err
	}
	ask := workbench.FitAsk{Settings: s, Hand: a.hand(), MarksUpward: a.MarksUpward}
	if readings != "" {
		file, err := openFile(readings)
		if err != nil {
			return nil, err
		}
		ask.Readings, err = workbench.ReadReadings(file, s)
		if err = errors.Join(err, file.Close()); err != nil {
			return nil, fmt.Errorf("%s: %w", readings, err)
		}
	}
	if f, err = workbench.FitBow(ctx, ask, t.progress("fitting")); err != nil {
		return nil, fmt.Errorf("%s: %w", a.Bow, err)
	}
	return f, nil
}

// fitCmd fits a bow to readings.
type fitCmd struct {
	fittedArgs
	Readings string   `arg:"" help:"CSV of readings: kind, value, distance and any setting they were taken with (see examples/readings.csv)."`
	Owns     []string `help:"What you can measure with, for the next reading." enum:"scale,square,chronograph,bare-shafts,second-spine" default:"scale,square,chronograph,bare-shafts,second-spine"`
	Know     string   `help:"What the next reading should tell most of: what changes do (all), the bare shaft, the speed, the button, the release." enum:"all,bare,speed,button,release" default:"all"`
}

// Help shows an example.
func (fitCmd) Help() string {
	return `Example:
  tautline fit examples/heron-70.json examples/readings.csv --owns square,bare-shafts

Fits the generic bow to your readings: parameters before and after, each reading
against the fitted bow, what it predicts, and which reading to take next. A
parameter that the readings say nothing about stays as wide as before.`
}

// owns turns the tools' names into what the workbench asks.
func (c fitCmd) owns() (o workbench.Owns) {
	for _, name := range c.Owns {
		switch name {
		case "scale":
			o.Scale = true
		case "square":
			o.Square = true
		case "chronograph":
			o.Chrono = true
		case "bare-shafts":
			o.BareShafts = true
		case "second-spine":
			o.SecondSpine = "next"
		}
	}
	return o
}

// Run fits and prints.
func (c fitCmd) Run(ctx context.Context, t *terminal) error {
	f, err := c.fit(ctx, t, c.Readings)
	if err != nil {
		return err
	}
	v, err := f.View(ctx, c.owns(), workbench.WishFor(c.Know))
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	if c.JSON {
		return t.printJSON(v)
	}
	return printFit(t, v)
}

func printFit(t *terminal, v workbench.FitView) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Fitted to %d readings\n\n  %-58s %10s   %-10s  %s\n", len(v.Readings), "parameter", "value", "± 1 sd", "before")
	for _, p := range v.Parameters {
		if p.Learnt < 0.05 {
			continue
		}
		fmt.Fprintf(&b, "  %-58s %10.4g   ± %-8.2g  %.4g ± %.2g %s\n", p.Name, p.Value, p.SD, p.PriorValue, p.PriorSD, p.Unit)
	}
	b.WriteString("  Parameters that the readings say next to nothing about are left out; --json has them all.\n\n")
	fmt.Fprintf(&b, "  %-44s %12s %12s   off by, sd\n", "reading", "read", "fitted")
	for _, r := range v.Readings {
		say := worded(r.Quantity, r.Unit, false)
		fmt.Fprintf(&b, "  %-44s %12s %12s   %+.1f\n", r.Name, say(r.Value), say(r.Fitted), r.Off)
	}
	fmt.Fprintf(&b, "\n  %-44s %12s   90 %%\n", "as the bow stands", "predicted")
	for _, p := range v.Predictions {
		say := worded(p.Quantity, p.Unit, false)
		fmt.Fprintf(&b, "  %-44s %12s   %s … %s\n", p.Quantity, say(p.Value), say(p.Low), say(p.High))
	}
	b.WriteString("\nNext reading, by how much doubt it would take away:\n")
	for i, n := range v.Next {
		if i == 3 {
			break
		}
		fmt.Fprintf(&b, "  %s (%s, about %d min): takes away %.0f %%. %s\n", n.Name, n.Needs, n.Minutes, 100*n.Drop, n.Why)
	}
	if _, err := fmt.Fprint(t.out, b.String()); err != nil {
		return err
	}
	for _, w := range v.Warnings {
		t.warnf("note: %s", w)
	}
	return nil
}

// whatifCmd says what moving settings does on a fitted bow.
type whatifCmd struct {
	fittedArgs
	Readings string            `arg:"" optional:"" help:"CSV of readings to fit first; without it the bow is unfitted."`
	Change   map[string]string `help:"A setting and what it becomes, such as button=3." placeholder:"KEY=VALUE" mapsep:"none" required:""`
}

// Help shows an example.
func (whatifCmd) Help() string {
	return `Example:
  tautline whatif examples/heron-70.json examples/readings.csv --change brace_height='23 cm' --change button=3

Says what the change does and what else it moves: speed, bare shaft to the side
and up, impact, sight marks, clearance. "Cannot tell" stands where the interval holds both
directions.`
}

// Run asks and prints.
func (c whatifCmd) Run(ctx context.Context, t *terminal) error {
	f, err := c.fit(ctx, t, c.Readings)
	if err != nil {
		return err
	}
	w, err := f.WhatIf(ctx, movedBy(c.Change))
	if err != nil {
		return usageError{fmt.Errorf("--change: %w", err)}
	}
	if c.JSON {
		return t.printJSON(w)
	}
	var b strings.Builder
	for _, d := range w.Changes {
		if d.Key == "draw.at_brace_height" {
			continue // follows from the brace height
		}
		fmt.Fprintf(&b, "%s\n", d)
	}
	fmt.Fprintf(&b, "\n  %-44s %12s   %-24s %s\n", "", "change", "90 %", "in words")
	for _, e := range w.Effects {
		say := worded(e.Quantity, e.Unit, true)
		if e.Withheld != "" {
			fmt.Fprintf(&b, "  %-44s %12s   %-24s %s\n", e.Name, "–", "–", e.Says)
			continue
		}
		fmt.Fprintf(&b, "  %-44s %12s   %-24s %s\n", e.Name, say(e.Value), say(e.Low)+" … "+say(e.High), e.Says)
	}
	if w.HeightReason != "" {
		fmt.Fprintf(&b, "The height of a bare shaft cannot be told: %s.\n", w.HeightReason)
	}
	if !w.InWindow {
		fmt.Fprintf(&b, "A bare shaft would not tell stiff from weak after the change: %s.\n", w.Reason)
	}
	if _, err := fmt.Fprint(t.out, b.String()); err != nil {
		return err
	}
	t.warnAll(w.Warnings)
	if c.Readings == "" {
		t.warnf("note: nothing here has seen this bow shoot; give a file of readings to narrow it.")
	}
	return nil
}

func movedBy(change map[string]string) (out []workbench.Setting) {
	for _, key := range sortedKeys(change) {
		out = append(out, workbench.Setting{Key: key, Value: change[key]})
	}
	return out
}

func (t *terminal) warnAll(lines []string) {
	for _, l := range lines {
		t.warnf("note: %s", l)
	}
}

// adviseCmd finds routes to a wish.
type adviseCmd struct {
	fittedArgs
	Readings string            `arg:"" optional:"" help:"CSV of readings to fit first."`
	Wish     string            `help:"What you would like: bare (bare shaft to the group), faster, quieter, same-tune (after --change)." enum:"bare,faster,quieter,same-tune" required:""`
	Distance string            `help:"Distance of the bare shaft." type:"distance" default:"30 m" placeholder:"LENGTH"`
	Offset   string            `help:"Where the bare shaft lands now, such as '6 cm right' of the group; default: as fitted." placeholder:"LENGTH"`
	Speed    string            `help:"How much faster." type:"speed" default:"2 m/s" placeholder:"SPEED"`
	Change   map[string]string `help:"What has to change for same-tune, such as string_length='166 cm'." placeholder:"KEY=VALUE" mapsep:"none"`
}

// Help shows an example.
func (adviseCmd) Help() string {
	return `Example:
  tautline advise examples/heron-70.json examples/readings.csv --wish bare --offset '6 cm right'

Two or three routes, each one setting moved inside its maker's limits, ranked by
the predicted chance of success, size and side effects. Nothing is advised
about the bare shaft where it does not tell stiff from weak.`
}

// wish reads the flags.
func (c adviseCmd) wish() (w workbench.Wish, err error) {
	w.Kind = map[string]workbench.WishKind{
		"bare": workbench.WishBareToGroup, "faster": workbench.WishFaster, "quieter": workbench.WishQuieter, "same-tune": workbench.WishSameTune,
	}[c.Wish]
	if w.Distance, err = unit.ParseIn(c.Distance, unit.M); err != nil {
		return w, unit.For("--distance", err)
	}
	if !unit.Distance.Holds(w.Distance) {
		return w, &notebook.Error{Code: notebook.Invalid, Field: "--distance", Message: unit.Distance.Doubt(unit.Said(w.Distance, unit.M))}
	}
	v, err := unit.ParseIn(c.Speed, unit.MPS)
	if err != nil || !(v > 0 && v < 20) {
		return w, errors.Join(fmt.Errorf("--speed %s: like 2 m/s", c.Speed), err)
	}
	w.Speed = float64(v)
	if c.Offset != "" {
		x, err := workbench.ReadOffset(c.Offset)
		if err != nil {
			return w, unit.For("--offset", err)
		}
		w.Offset = &x
	}
	w.Forced = movedBy(c.Change)
	return w, nil
}

// Run advises and prints.
func (c adviseCmd) Run(ctx context.Context, t *terminal) error {
	wish, err := c.wish()
	if err != nil {
		return usageError{err}
	}
	f, err := c.fit(ctx, t, c.Readings)
	if err != nil {
		return err
	}
	a, err := f.Advise(ctx, wish)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	if c.JSON {
		return t.printJSON(a)
	}
	return printAdvice(t, a)
}

func printAdvice(t *terminal, a workbench.Advice) error {
	var b strings.Builder
	if a.Withheld != "" {
		fmt.Fprintf(&b, "No advice. %s\n", a.Withheld)
	}
	for i, r := range a.Routes {
		say := worded(r.Reached.Quantity, r.Reached.Unit, true)
		fmt.Fprintf(&b, "%d. %s\n   %s: %s … %s\n", i+1, r.Say, r.Reached.Quantity, say(r.Reached.Low), say(r.Reached.High))
		for _, e := range r.Effects {
			mark := e.Quantity.Kind == workbench.QMark && e.Quantity.Distance != 70 // one is enough here
			if e.Withheld == "" && e.Direction() != 0 && math.Abs(e.Value) > 0 && e.Quantity != r.Reached.Quantity && !mark {
				fmt.Fprintf(&b, "   also %s: %s\n", e.Name, e.Says)
			}
		}
		for _, w := range r.Warnings {
			fmt.Fprintf(&b, "   %s\n", w)
		}
	}
	if _, err := fmt.Fprint(t.out, b.String()); err != nil {
		return err
	}
	t.warnAll(a.Notes)
	t.warnf("caution: makers' instructions, the range's rules and a qualified coach decide; a computed figure never overrides them.")
	return nil
}
