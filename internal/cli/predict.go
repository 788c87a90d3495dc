package cli

import (
	"context"
	"fmt"

	"tautline/unit"
	"tautline/workbench"
)

// predictCmd says what one set-up does.
type predictCmd struct {
	bowArgs
	handArg
}

// forecastView is a forecast with what the target shows.
type forecastView struct {
	workbench.Forecast
	onTarget
	upDown
}

// Help shows an example.
func (predictCmd) Help() string {
	return `Example:
  tautline predict examples/heron-70.json --set brace_height="22 cm"

Every value stands with the span that holds 90 % of the plausible bows: those
that meet what the file says and differ in what nobody measured.`
}

// Run predicts and prints.
func (c predictCmd) Run(ctx context.Context, t *terminal) error {
	s, err := c.settings(t)
	if err != nil {
		return err
	}
	f, err := workbench.Predict(ctx, s)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	shown, err := target(ctx, s, c.hand())
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	tall, err := upright(ctx, s, c.hand())
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	if c.JSON {
		return t.printJSON(forecastView{f, shown, tall})
	}
	return printForecast(t, f, shown.text()+tall.text())
}

func printForecast(t *terminal, f workbench.Forecast, shown string) error {
	s := f.Stop
	out := fmt.Sprintf("At a brace height of %s\n", unit.Both(s.BraceHeight, units.Decimal))
	if f.Range != nil {
		out += fmt.Sprintf("The limb maker's range on this riser is %s to %s: %s.\n", unit.Both(unit.Length(f.Range.Low), units.Decimal), unit.Both(unit.Length(f.Range.High), units.Decimal), f.Range.Side)
	}
	out += estimated("draw weight", s.DrawWeight, units.ForceStyle())
	out += estimated("stored energy", s.StoredEnergy, units.EnergyStyle())
	out += estimated("arrow speed", s.Speed, units.SpeedStyle())
	out += row("efficiency", percent(s.Efficiency.Value), "%", percent(s.Efficiency.Low), percent(s.Efficiency.High))
	out += estimated("time on the string", s.TimeOnString, units.DurationStyle())
	out += estimated("energy left in limbs and string", s.LeftBehind, units.EnergyStyle())
	out += estimated("string length", s.StringLength, units.DrawStyle())
	out += estimated("string tension at rest", s.BraceTension, units.ForceStyle())
	out += shown
	out += fmt.Sprintf("The last columns hold 90 %% of %d plausible bows; nothing here has seen this bow shoot.\n", f.Bows)
	if _, err := fmt.Fprint(t.out, out); err != nil {
		return err
	}
	for _, w := range f.Warnings {
		t.warnf("note: %s", w)
	}
	return nil
}
