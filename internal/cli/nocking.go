package cli

import (
	"context"
	"fmt"
	"strings"

	"tautline/unit"
	"tautline/workbench"
)

// nockingCmd advises on the nocking point from bare-shaft readings.
type nockingCmd struct {
	bowArgs
	handArg
	Reading []string `help:"A bare-shaft reading: nocking point on the square; distance; bare minus fletched, + high. Repeat it, the latest last; two readings 2 mm apart teach what a millimetre does." placeholder:"9 mm; 30 m; -12 cm" sep:"none"`
	Untaped bool     `help:"The bare shafts were not taped to the vanes' mass and balance."`
	Moves   bool     `help:"Also what nocking point, rest, brace height, hook and hand do to the bare shaft."`
}

// Help shows an example.
func (nockingCmd) Help() string {
	return `Example:
  tautline nocking examples/heron-70.json --set rest.wire_reach='1 mm' --set rest.powder_mark=clean --reading '10 mm; 30 m; -12 cm'

Asks first how far the rest's wire sticks out past the shaft and what powder on
the tail showed: where the tail touches the rest, a low bare shaft may mean too
low. Says changes, never a right height; tiller is never advised from a bare
shaft, and nothing where the fingers walk the string.`
}

// nockingView is the answer for a program.
type nockingView struct {
	workbench.HeightAdvice
	Moves []workbench.Sensitivity `json:"moves,omitempty"`
}

// Run asks the model and prints.
func (c nockingCmd) Run(ctx context.Context, t *terminal) error {
	s, err := c.settings(t)
	if err != nil {
		return err
	}
	var readings []workbench.HeightReading
	for _, text := range c.Reading {
		r, err := parseHeight(text)
		if err != nil {
			return usageError{err}
		}
		r.Taped = !c.Untaped
		readings = append(readings, r)
	}
	advice, err := workbench.AdviseHeight(ctx, s, c.hand(), readings)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Bow, err)
	}
	view := nockingView{HeightAdvice: advice}
	if c.Moves {
		if view.Moves, err = workbench.HeightMoves(ctx, s, c.hand()); err != nil {
			return fmt.Errorf("%s: %w", c.Bow, err)
		}
	}
	if c.JSON {
		return t.printJSON(view)
	}
	_, err = fmt.Fprint(t.out, nockingText(view))
	for _, n := range advice.Notes {
		t.warnf("note: %s", n)
	}
	return err
}

// nockingText is the answer in words.
func nockingText(v nockingView) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", v.Say)
	if len(v.Moves) > 0 {
		b.WriteString("\nBare minus fletched, up positive, cm:                    18 m    30 m   (90 % of plausible set-ups)\n")
	}
	for _, m := range v.Moves {
		sign := ""
		if m.Agree < 0.8 {
			sign = "   the sign differs from set-up to set-up"
		}
		at := func(l unit.Length) string { return signed(units.ImpactStyle(), float64(l)) }
		fmt.Fprintf(&b, "  %-52s %6s  %6s   %s … %s%s\n", m.Move, at(m.Bare18.Value), at(m.Bare30.Value), at(m.Bare30.Low), at(m.Bare30.High), sign)
	}
	fmt.Fprintf(&b, "%s\nThe range's rules, the makers' instructions and a qualified coach decide; a bare shaft may fly wide: short distance, wide backstop.\n", v.Tiller)
	return b.String()
}

// parseHeight reads "9 mm; 30 m; -12 cm".
func parseHeight(text string) (r workbench.HeightReading, err error) {
	parts := strings.Split(text, ";")
	if len(parts) != 3 {
		return r, fmt.Errorf(`--reading %q: three lengths with semicolons, like "9 mm; 30 m; -12 cm"`, text)
	}
	for i, into := range []*unit.Length{&r.Nocking, &r.Distance, &r.Up} {
		if *into, err = unit.ParseLength(strings.TrimSpace(parts[i])); err != nil {
			return r, unit.For("--reading", err)
		}
	}
	return r, nil
}
