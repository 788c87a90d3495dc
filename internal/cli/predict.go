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

// line is one printed quantity.
type line struct {
	name, value, low, high, unit string
}

func quantity[T unit.Quantity](name string, e workbench.Estimate[T], u unit.Unit[T], digits int) line {
	num := func(x T) string { return fmt.Sprintf("%.*f", digits, u.From(x)) }
	return line{name, num(e.Value), num(e.Low), num(e.High), string(u)}
}

func printForecast(t *terminal, f workbench.Forecast, shown string) error {
	s := f.Stop
	rows := []line{
		quantity("draw weight", s.DrawWeight, unit.Lbf, 1),
		quantity("stored energy", s.StoredEnergy, unit.J, 1),
		quantity("arrow speed", s.Speed, unit.MPS, 1),
		{"efficiency", fmt.Sprintf("%.0f", 100*s.Efficiency.Value), fmt.Sprintf("%.0f", 100*s.Efficiency.Low), fmt.Sprintf("%.0f", 100*s.Efficiency.High), "%"},
		quantity("time on string", s.TimeOnString, unit.Ms, 1),
		quantity("energy left in limbs and string", s.LeftBehind, unit.J, 1),
		quantity("string length", s.StringLength, unit.CM, 1),
		quantity("string tension at brace", s.BraceTension, unit.N, 0),
	}
	out := fmt.Sprintf("At a brace height of %s\n", unit.Both(s.BraceHeight, unit.Point))
	if f.Range != nil {
		out += fmt.Sprintf("The limb maker's range on this riser is %s to %s: %s.\n", unit.Both(unit.Length(f.Range.Low), unit.Point), unit.Both(unit.Length(f.Range.High), unit.Point), f.Range.Side)
	}
	for _, r := range rows {
		out += fmt.Sprintf("  %-32s %8s %-4s  %s … %s\n", r.name, r.value, r.unit, r.low, r.high)
	}
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
