package cli

import (
	"context"
	"fmt"
	"strings"

	"tautline/trial"
	"tautline/unit"
	"tautline/workbench"
)

// braceCmd steps through the brace heights a bow and its string can reach.
type braceCmd struct {
	bowArgs
	From   string  `help:"Low end instead of the limb maker's, for the usual riser, such as \"21 cm\"." type:"length"`
	To     string  `help:"High end instead of the limb maker's." type:"length"`
	Twists float64 `help:"Turns added or removed from one stop to the next." default:"3"`
	Order  string  `help:"up or down; the end nearer to the present setting decides otherwise." enum:",up,down" default:""`
}

// Help shows an example.
func (braceCmd) Help() string {
	return `Example:
  tautline brace examples/heron-70.json --twists 3

Prints the plan of a brace-height trial: each stop with the turns to add or
remove, and what the model expects there. Changes between stops are much better
known than the values themselves.`
}

// stopView is one stop as numbers, for --json.
type stopView struct {
	workbench.Prediction
	Turns     float64              `json:"twists"` // added since the present setting
	RangeLow  float64              `json:"range_low_m"`
	RangeHigh float64              `json:"range_high_m"`
	Change    workbench.ChangeView `json:"change_from_now"`
}

// Run plans and prints.
func (c braceCmd) Run(ctx context.Context, t *terminal) error {
	s, err := c.settings(t)
	if err != nil {
		return err
	}
	if !(c.Twists >= 1 && c.Twists <= 20) {
		return usageError{fmt.Errorf("--twists %g: turns from stop to stop are 1 to 20; 3 is usual", c.Twists)}
	}
	ask := workbench.BraceAsk{TurnsPerStep: c.Twists, Order: trial.Order(c.Order), Low: c.From, High: c.To}
	plan, err := workbench.PlanBrace(ctx, s, ask, t.progress("predicting the stops"))
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	if c.JSON {
		return t.printJSON(stopViews(plan))
	}
	return printPlan(t, plan)
}

func stopViews(p workbench.BracePlan) []stopView {
	out := []stopView{}
	for i, stop := range p.Plan.Stops {
		v := stopView{p.Predictions[i], stop.FromNow, float64(p.Plan.Low), float64(p.Plan.High), p.Changes[i]}
		v.Warnings = append(v.Warnings, p.Plan.Warnings...)
		out = append(out, v)
	}
	return out
}

func printPlan(t *terminal, p workbench.BracePlan) error {
	var b strings.Builder
	plan := p.Plan
	fmt.Fprintf(&b, "Brace-height trial from %s; %d stops, about %.0f min, %d arrows\n", unit.Both(unit.Length(p.Now), unit.Point), len(plan.Stops), plan.Time.Minutes(), plan.Arrows)
	fmt.Fprintf(&b, "Range as this riser's square reads it: %s to %s\n", unit.Both(plan.Low, unit.Point), unit.Both(plan.High, unit.Point))
	fmt.Fprintf(&b, "%s\n\n", plan.OrderReason)
	mark, speed, energy := units.SettingStyle(), units.SpeedStyle(), units.EnergyStyle()
	fmt.Fprintf(&b, "  stop  turns  brace height, %s  speed, %s           change, %s        left behind, %s\n", mark.Symbol(), speed.Symbol(), speed.Symbol(), energy.Symbol())
	for i, stop := range plan.Stops {
		q, d := p.Predictions[i], p.Changes[i]
		v, c, left := q.Interval["speed_mps"], d.Interval["speed_mps"], q.Interval["residual_energy_j"]
		fmt.Fprintf(&b, "  %4d  %+5g  %3s (%s … %s)   %5s (%s … %s)  %5s (%s … %s)  %s (%s … %s)\n", stop.Index, stop.FromPrevious,
			mark.Number(stop.Brace.Value), mark.Number(stop.Brace.Low), mark.Number(stop.Brace.High),
			speed.Number(unit.Speed(q.Speed)), speed.Number(unit.Speed(v[0])), speed.Number(unit.Speed(v[1])),
			signed(speed, d.Speed), signed(speed, c[0]), signed(speed, c[1]),
			energy.Number(unit.Energy(q.LeftBehind)), energy.Number(unit.Energy(left[0])), energy.Number(unit.Energy(left[1])))
	}
	for _, x := range plan.Beyond {
		fmt.Fprintf(&b, "  beyond this string: %s\n", x.Description)
	}
	b.WriteString("Changes are against the present brace height. Spans hold 90 % of the plausible bows; that of the brace height is a 95 % interval.\n")
	if _, err := fmt.Fprint(t.out, b.String()); err != nil {
		return err
	}
	for _, w := range append(plan.Warnings, p.Notes...) {
		t.warnf("note: %s", w)
	}
	for _, c := range plan.Cautions {
		t.warnf("caution: %s", c.Text())
	}
	return nil
}
