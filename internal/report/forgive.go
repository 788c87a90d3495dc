package report

import (
	"cmp"
	"slices"

	"tautline/internal/figure"
	"tautline/unit"
	"tautline/workbench"
)

// shownSources is how many errors get a band of their own; the rest share one.
const shownSources = 5

// ForgiveFigure stacks the spread at 70 m by error: the height of the stack is
// one standard deviation of the arrows, and each error's band is as much of it
// as the error has of the variance.
func ForgiveFigure(f workbench.Forgiveness, system unit.System) figure.Figure {
	impact := system.ImpactStyle()
	out := figure.Figure{
		Title:    "What spreads the arrows sideways at 70 m",
		Finding:  f.Summary,
		X:        forgiveAxis(f.Over, system),
		Y:        figure.Axis{Label: "one standard deviation", Unit: impact.Symbol(), Digits: 1},
		Headroom: 0.34,
		Note:     "Bands share the height as the errors share the variance. Every repeatability is assumed until it is measured; the middle one of the plausible bows, resolved string.",
	}
	names := largest(f.Rows)
	var x []float64
	layers := make([]figure.Layer, len(names)+1)
	for i, name := range names {
		layers[i].Name = sourceName(name)
	}
	layers[len(names)].Name = "all others"
	for _, r := range f.Rows {
		x = append(x, forgivePlace(r, system))
		rest := 1.0
		for i, name := range names {
			share := 0.0
			if r.Sideways > 0 {
				share = r.BySource[name] * r.BySource[name] / (r.Sideways * r.Sideways)
			}
			rest -= share
			layers[i].Y = append(layers[i].Y, impact.Unit.From(unit.Length(share*r.Sideways)))
		}
		layers[len(names)].Y = append(layers[len(names)].Y, impact.Unit.From(unit.Length(max(0, rest)*r.Sideways)))
	}
	out.Series = figure.Stacked(x, layers)
	return out
}

// largest are the errors with the most variance over all rows, largest first.
func largest(rows []workbench.ForgiveRow) []string {
	sum := map[string]float64{}
	for _, r := range rows {
		for name, s := range r.BySource {
			sum[name] += s * s
		}
	}
	names := make([]string, 0, len(sum))
	for name := range sum {
		names = append(names, name)
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(cmp.Compare(sum[b], sum[a]), cmp.Compare(a, b)) })
	return names[:min(shownSources, len(names))]
}

// sourceName is an error in an archer's words.
func sourceName(key string) string {
	for s := workbench.Aim; s <= workbench.ShaftSpine; s++ {
		if s.String() == key {
			return s.Words()
		}
	}
	return key
}

func forgiveAxis(o workbench.Over, system unit.System) figure.Axis {
	switch o {
	case workbench.OverButton:
		return figure.Axis{Label: "turns added to the button", Digits: 1}
	case workbench.OverArrow:
		return figure.Axis{Label: "static spine, thousandths of an inch"}
	}
	setting := system.SettingStyle()
	return figure.Axis{Label: "brace height", Unit: setting.Symbol(), Digits: max(0, setting.Unit.Digits())}
}

func forgivePlace(r workbench.ForgiveRow, system unit.System) float64 {
	switch {
	case r.Turns != nil:
		return *r.Turns
	case r.Spine != nil:
		return *r.Spine
	}
	return system.SettingStyle().Unit.From(unit.Length(r.BraceHeight))
}
