package cli

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"

	"tautline/unit"
	"tautline/workbench"
)

// planCmd prints a trial's plan to follow at the range; one command a kind.
type planCmd struct {
	Brace    planBraceCmd    `cmd:"" help:"Brace heights, a few string turns apart."`
	Bare     planBareCmd     `cmd:"" name:"bare-shaft" help:"Numbered bare shafts against fletched arrows."`
	Walk     planWalkCmd     `cmd:"" name:"walk-back" help:"One aim at many distances."`
	Two      planTwoCmd      `cmd:"" help:"Two set-ups: paired ends, or A-B-B-A visits for what is slow to change."`
	Sham     planShamCmd     `cmd:"" help:"Is a change felt at all? A helper sets half of the pairs twice the same."`
	Levels   planLevelsCmd   `cmd:"" help:"One setting at three wide levels."`
	Settings planSettingsCmd `cmd:"" help:"Two or three settings at once: corners and centre, then the faces."`
	Nocking  planNockingCmd  `cmd:"" help:"The nocking point by bare shaft: two readings 2 mm apart, powder on the tail."`
	Tiller   planTillerCmd   `cmd:"" help:"Tiller by how the bow holds and groups: three tillers in random blocks."`
	Confirm  planConfirmCmd  `cmd:"" help:"The best setting found against the old one."`
}

// planFlags are common to the kinds.
type planFlags struct {
	Arrows        int     `help:"Counted arrows an end; default 6, or 3 for bare shaft, walk-back and sham." placeholder:"N"`
	ArrowMinutes  float64 `help:"Minutes an arrow takes with walking and scoring; default 1." placeholder:"MIN"`
	Seed          uint64  `help:"Of the random order; printed, so that the plan can be printed again." placeholder:"N"`
	ReductionSeen float64 `name:"see" help:"The smallest reduction of the spread worth seeing; default 0.2." placeholder:"SHARE"`
	JSON          bool    `help:"Print the plan for a program." name:"json"`
}

func (f planFlags) ask(what string) workbench.TrialAsk {
	if f.Seed == 0 {
		f.Seed = 1 + rand.Uint64N(999_999)
	}
	return workbench.TrialAsk{What: what, Arrows: f.Arrows, ArrowMinutes: f.ArrowMinutes, Seed: f.Seed, Reduction: f.ReductionSeen}
}

func (f planFlags) print(t *terminal, ask workbench.TrialAsk) error {
	p, err := workbench.PlanTrial(ask)
	if err != nil {
		return usageError{err}
	}
	if f.JSON {
		return t.printJSON(p)
	}
	_, err = fmt.Fprint(t.out, planText(p))
	return err
}

// planText is the card: what it takes, what it shows, then step by step.
func planText(p workbench.TrialPlan) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n%s\n%s\n%s\n", p.Title, p.Needed, p.CanSee, p.Why)
	fmt.Fprintf(&b, "%d arrows, about %s. Seed %d.\n\n", p.Arrows, hours(p.Minutes), p.Ask.Seed)
	if p.Hidden {
		b.WriteString("For the helper only: the archer must not see this.\n")
	}
	block := 0
	for _, s := range p.Steps {
		if s.Block != block && p.Kind != "bare_shaft" && p.Kind != "walk_back" && p.Kind != "nocking" {
			fmt.Fprintf(&b, "block %d\n", s.Block)
		}
		block = s.Block
		fmt.Fprintf(&b, "  [ ] %2d  %s; %s%s\n", s.Position+1, s.Set, s.Shoot, minutesText(s.Minutes))
	}
	fmt.Fprintf(&b, "\nWrite down: %s.\n", p.Record)
	for _, w := range p.Warnings {
		fmt.Fprintf(&b, "Mind: %s.\n", strings.TrimSuffix(w, "."))
	}
	for _, c := range p.Cautions {
		fmt.Fprintf(&b, "Caution: %s\n", c)
	}
	return b.String()
}

func minutesText(m float64) string { return fmt.Sprintf(" (%.0f min)", m) }

func hours(m float64) string {
	if m < 90 {
		return fmt.Sprintf("%.0f minutes", m)
	}
	return fmt.Sprintf("%.1f hours", m/60)
}

// twoFlags are the two set-ups.
type twoFlags struct {
	planFlags
	Setting string `default:"button" help:"What differs: button, rest_height, centre_shot, nocking_point, brace_height or tiller."`
	A       string `help:"How A is set, as typed or in words." placeholder:"VALUE"`
	B       string `help:"How B is set." placeholder:"VALUE"`
}

func (c twoFlags) two(t *terminal, what string, rounds int) error {
	ask := c.ask(what)
	ask.Setting, ask.A, ask.B, ask.Rounds = c.Setting, c.A, c.B, rounds
	return c.print(t, ask)
}

type planTwoCmd struct {
	twoFlags
	Pairs int `help:"Pairs of ends (default 12), or cycles of four visits for slow settings (3)." placeholder:"N"`
}

// Help shows an example.
func (planTwoCmd) Help() string {
	return `Example:
  tautline plan two --setting button --a '3 turns' --b '5 turns'`
}

// Run prints the plan.
func (c planTwoCmd) Run(t *terminal) error { return c.two(t, workbench.TwoTrial, c.Pairs) }

type planConfirmCmd struct {
	twoFlags
	Pairs int `help:"Pairs of ends (default 12), or cycles of four visits for slow settings (3)." placeholder:"N"`
}

// Run prints the plan.
func (c planConfirmCmd) Run(t *terminal) error { return c.two(t, workbench.ConfirmTrial, c.Pairs) }

type planShamCmd struct {
	twoFlags
	Repeats int `help:"Pairs felt, half of them equal; default 8." placeholder:"N"`
}

// Run prints the plan.
func (c planShamCmd) Run(t *terminal) error { return c.two(t, workbench.ShamTrial, c.Repeats) }

type planLevelsCmd struct {
	planFlags
	Setting string   `default:"button" help:"What differs: button, rest_height, centre_shot, nocking_point, brace_height or tiller."`
	Levels  []string `arg:"" help:"Three levels, wide apart, as typed: '4 mm' '8 mm' '12 mm', or '1 turn' '3 turns' '5 turns'."`
	Blocks  int      `help:"Blocks, each with every level once; default 6." placeholder:"N"`
}

// Help shows an example.
func (planLevelsCmd) Help() string {
	return `Example:
  tautline plan levels --setting nocking_point '4 mm' '8 mm' '12 mm'`
}

// Run prints the plan.
func (c planLevelsCmd) Run(t *terminal) error {
	ask := c.ask(workbench.LevelsTrial)
	ask.Setting, ask.Levels, ask.Rounds = c.Setting, c.Levels, c.Blocks
	return c.print(t, ask)
}

type planSettingsCmd struct {
	planFlags
	Settings []string `arg:"" help:"Two or three settings with both ends: 'button=1 turn..5 turns' 'nocking_point=6 mm..10 mm'."`
	Faces    bool     `help:"The face-centred points too, on a second day: finds a best point inside."`
	Centres  int      `help:"Centre points a day; default 3." placeholder:"N"`
}

// Help shows an example.
func (planSettingsCmd) Help() string {
	return `Example:
  tautline plan settings 'button=1 turn..5 turns' 'nocking_point=6 mm..10 mm' --faces`
}

// Run prints the plan.
func (c planSettingsCmd) Run(t *terminal) error {
	ask := c.ask(workbench.SettingsTrial)
	ask.FaceCentred, ask.Centres = c.Faces, c.Centres
	for _, text := range c.Settings {
		name, ends, named := strings.Cut(text, "=")
		low, high, ranged := strings.Cut(ends, "..")
		if !named || !ranged {
			return usageError{fmt.Errorf("cannot read %q; write a setting with both ends, like 'nocking_point=6 mm..10 mm'", text)}
		}
		ask.Settings = append(ask.Settings, workbench.FactorAsk{Setting: name, Low: low, High: high})
	}
	return c.print(t, ask)
}

type planBareCmd struct {
	planFlags
	Distance string `default:"18 m" help:"To the face." type:"length"`
	Shafts   int    `help:"Numbered bare shafts; default 3, at least 3." placeholder:"N"`
	Ends     int    `help:"Ends; default 4." placeholder:"N"`
	Taped    bool   `help:"Their tails are taped to the mass of fletching."`
}

// Run prints the plan.
func (c planBareCmd) Run(t *terminal) error {
	ask := c.ask(workbench.BareTrial)
	ask.Distance, ask.Shafts, ask.Rounds, ask.Taped = c.Distance, c.Shafts, c.Ends, c.Taped
	return c.print(t, ask)
}

type planWalkCmd struct {
	planFlags
	Distances []string `arg:"" optional:"" help:"Distances, nearest first; default 10, 15, 20, 25 and 30 m." type:"length"`
}

// Run prints the plan.
func (c planWalkCmd) Run(t *terminal) error {
	ask := c.ask(workbench.WalkTrial)
	ask.Distances = c.Distances
	return c.print(t, ask)
}

// ofBow are the trials that are planned around a bow's own settings.
type ofBow struct {
	bowArgs
	Rounds int      `help:"Ends at each nocking point (default 2), or blocks of a tiller trial (6)." placeholder:"N"`
	Arrows int      `help:"Fletched arrows an end: default 3 by bare shaft, 6 by group." placeholder:"N"`
	Seed   uint64   `help:"Of the random order; printed, so that the plan can be printed again." placeholder:"N"`
	Levels []string `help:"Where to set it instead, as typed: '10 mm,12 mm'." type:"length" placeholder:"LENGTH"`
}

func (c ofBow) print(t *terminal, ask workbench.TrialAsk) error {
	s, err := c.settings(t)
	if err != nil {
		return err
	}
	flags := planFlags{Arrows: c.Arrows, Seed: c.Seed, JSON: c.JSON}
	whole := flags.ask(ask.What)
	whole.Rounds, whole.Levels = c.Rounds, c.Levels
	whole.Distance, whole.Shafts, whole.Taped, whole.BareLow = ask.Distance, ask.Shafts, ask.Taped, ask.BareLow
	if whole, err = whole.FromSetUp(s); err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	return flags.print(t, whole)
}

type planNockingCmd struct {
	ofBow
	Distance string `default:"18 m" help:"To the face." type:"length"`
	Shafts   int    `help:"Numbered bare shafts; default 3, at least 3." placeholder:"N"`
	Taped    bool   `help:"Their tails are taped to the mass of fletching."`
	Low      bool   `help:"The bare shaft lands low now: the second nocking point is lower, not higher."`
}

// Help shows an example.
func (planNockingCmd) Help() string {
	return `Example:
  tautline plan nocking examples/heron-70.json --taped`
}

// Run asks the set-up and prints the card.
func (c planNockingCmd) Run(t *terminal) error {
	return c.print(t, workbench.TrialAsk{What: workbench.NockingTrial, Distance: c.Distance, Shafts: c.Shafts, Taped: c.Taped, BareLow: c.Low})
}

type planTillerCmd struct {
	ofBow
	Distance string `help:"To the face; default as you shoot." type:"length" placeholder:"LENGTH"`
}

// Help shows an example.
func (planTillerCmd) Help() string {
	return `Example:
  tautline plan tiller examples/heron-70.json --seed 7`
}

// Run asks the set-up and prints the card.
func (c planTillerCmd) Run(t *terminal) error {
	return c.print(t, workbench.TrialAsk{What: workbench.TillerTrial, Distance: c.Distance})
}

type planBraceCmd struct {
	bowArgs
	Twists float64 `help:"String turns from stop to stop; default 3." placeholder:"N"`
	Order  string  `enum:",up,down,abba" default:"" help:"up, down or abba; default from the nearer end."`
	StopA  string  `help:"First of the two stops of A-B-B-A." type:"length" placeholder:"LENGTH"`
	StopB  string  `help:"Second of the two stops of A-B-B-A." type:"length" placeholder:"LENGTH"`
	Arrows int     `help:"Counted arrows a stop; default 6." placeholder:"N"`
}

// Help shows an example.
func (planBraceCmd) Help() string {
	return `Example:
  tautline plan brace examples/heron-70.json`
}

// Run asks the model and prints the card.
func (c planBraceCmd) Run(ctx context.Context, t *terminal) error {
	s, err := c.settings(t)
	if err != nil {
		return err
	}
	ask := workbench.BraceAsk{TurnsPerStep: c.Twists, StopA: c.StopA, StopB: c.StopB, Arrows: c.Arrows}
	setOrder(&ask.Order, c.Order)
	p, err := workbench.PlanBrace(ctx, s, ask, t.progress("planning"))
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	if c.JSON {
		return t.printJSON(p)
	}
	if _, err := fmt.Fprint(t.out, braceCard(p)); err != nil {
		return err
	}
	for _, n := range p.Notes {
		t.warnf("note: %s", n)
	}
	return nil
}

func setOrder[T ~string](into *T, text string) { *into = T(text) }

// braceCard is the card of a brace-height trial.
func braceCard(b workbench.BracePlan) string {
	p, style := b.Plan, unit.Metric().SettingStyle()
	var out strings.Builder
	fmt.Fprintf(&out, "Brace height, %s to %s on this riser's square; this string reaches %s to %s\n\n%s\n%s %s\n", style.Print(p.Low), style.Print(p.High),
		style.Print(p.SpanLow), style.Print(p.SpanHigh), p.CanSee, p.StartReason, p.OrderReason)
	fmt.Fprintf(&out, "%d arrows, about %s.\n\n", p.Arrows, hours(p.Time.Minutes()))
	for i, s := range p.Stops {
		fmt.Fprintf(&out, "  [ ] %2d  %s; the square should show %s; %d settling, then %d arrows%s\n", i+1, turnsText(s.FromPrevious), style.Range(s.Brace.Low, s.Brace.High),
			s.Settling, s.Arrows, minutesText(s.Time.Minutes()))
	}
	out.WriteString("\nWrite down: the brace height read on the square, the turns, and what you heard and felt.\n")
	for _, x := range p.Beyond {
		fmt.Fprintf(&out, "Beyond this string: %s.\n", x.Description)
	}
	for _, w := range p.Warnings {
		fmt.Fprintf(&out, "Mind: %s.\n", strings.TrimSuffix(w, "."))
	}
	for _, c := range p.Cautions {
		fmt.Fprintf(&out, "Caution: %s\n", c.Text())
	}
	return out.String()
}

func turnsText(turns float64) string {
	switch {
	case turns > 0:
		return fmt.Sprintf("add %g turns", turns)
	case turns < 0:
		return fmt.Sprintf("take out %g turns", -turns)
	}
	return "as it is"
}
