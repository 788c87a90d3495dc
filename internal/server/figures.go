package server

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"tautline/internal/figure"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

func sortedKeys(m map[string]string) []string { return slices.Sorted(maps.Keys(m)) }

// curveOf is one quantity of a sweep.
type curveOf struct {
	label  string
	unit   string
	digits int
	// at gives value, low and high in that unit.
	at func(workbench.Stop) [3]float64
}

// sweepFigures draws every quantity of a sweep against brace height, in one
// person's units.
func sweepFigures(sweep workbench.Sweep, settings notebook.Settings, system unit.System) []figure.Figure {
	curves := []curveOf{
		curve("arrow speed", system.SpeedStyle(), func(s workbench.Stop) workbench.Estimate[unit.Speed] { return s.Speed }),
		curve("draw weight", system.ForceStyle(), func(s workbench.Stop) workbench.Estimate[unit.Force] { return s.DrawWeight }),
		curve("stored energy", system.EnergyStyle(), func(s workbench.Stop) workbench.Estimate[unit.Energy] { return s.StoredEnergy }),
		curve("energy left behind", system.EnergyStyle(), func(s workbench.Stop) workbench.Estimate[unit.Energy] { return s.LeftBehind }),
		curve("time on the string", system.DurationStyle(), func(s workbench.Stop) workbench.Estimate[unit.Duration] { return s.TimeOnString }),
		curve("string length", system.DrawStyle(), func(s workbench.Stop) workbench.Estimate[unit.Length] { return s.StringLength }),
	}
	figures := make([]figure.Figure, 0, len(curves))
	for _, c := range curves {
		figures = append(figures, c.draw(sweep, settings, system))
	}
	return figures
}

// curve reads one estimate in a style's unit.
func curve[T unit.Quantity](label string, style unit.Style[T], of func(workbench.Stop) workbench.Estimate[T]) curveOf {
	return curveOf{label, style.Symbol(), style.Unit.Digits(), func(s workbench.Stop) [3]float64 {
		e := of(s)
		return [3]float64{style.Unit.From(e.Value), style.Unit.From(e.Low), style.Unit.From(e.High)}
	}}
}

func (c curveOf) draw(sweep workbench.Sweep, settings notebook.Settings, system unit.System) figure.Figure {
	setting := system.SettingStyle()
	line := figure.Line{Name: "model, unfitted", Kind: figure.Curve}
	for _, stop := range sweep.Stops {
		v := c.at(stop)
		line.X = append(line.X, figure.Number(setting.Unit.From(stop.BraceHeight)))
		line.Y = append(line.Y, figure.Number(v[0]))
		line.Low = append(line.Low, figure.Number(v[1]))
		line.High = append(line.High, figure.Number(v[2]))
	}
	f := figure.Figure{
		Title:  c.label + " against brace height",
		X:      figure.Axis{Label: "brace height", Unit: setting.Symbol(), Digits: setting.Unit.Digits()},
		Y:      figure.Axis{Label: c.label, Unit: c.unit, Digits: c.digits},
		Series: []figure.Line{line},
		Note:   fmt.Sprintf("The band holds 90 %% of %d plausible bows. The model is unfitted: trust the slope more than the height.", sweep.Bows),
	}
	first, last := line.Y[0], line.Y[len(line.Y)-1]
	f.Finding = fmt.Sprintf("%s goes from %s to %s %s as the brace height goes from %s to %s.", c.label,
		plainNumber(rounded(float64(first), c.digits), system), plainNumber(rounded(float64(last), c.digits), system), c.unit, setting.Print(sweep.Stops[0].BraceHeight), setting.Print(sweep.Stops[len(sweep.Stops)-1].BraceHeight))
	markRange(&f, settings, setting)
	return f
}

func rounded(v float64, digits int) float64 {
	scale := math.Pow(10, float64(digits))
	return math.Round(v*scale) / scale
}

// markRange draws the limb maker's range and the present brace height.
func markRange(f *figure.Figure, settings notebook.Settings, setting unit.Style[unit.Length]) {
	if limbs := settings.Limbs; !limbs.RangeLow.IsZero() && !limbs.RangeHigh.IsZero() {
		offset := settings.Riser.Offset.Value
		f.Spans = append(f.Spans, figure.Span{
			From: setting.Unit.From(limbs.RangeLow.Value - offset), To: setting.Unit.From(limbs.RangeHigh.Value - offset),
			Label: "limb maker's range, as this riser reads"})
	}
	if now, ok := settings.BraceHeight.ToPivot(); ok {
		f.Marks = append(f.Marks, figure.Mark{At: setting.Unit.From(now), Label: "as set up"})
	}
}
