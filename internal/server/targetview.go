package server

import (
	"fmt"
	"math"

	"tautline/internal/figure"
	"tautline/internal/report"
	"tautline/unit"
	"tautline/workbench"
)

// follows is said instead of the doubt of a quick look.
const follows = "doubt follows"

// viewWhatIf shows what moves do in one person's units.
func viewWhatIf(w workbench.WhatIf, system unit.System) targetView {
	exact := w.Bows > 0
	near, impact := fine(system.SettingStyle()), system.ImpactStyle()
	v := targetView{
		Exact: exact, SetUps: w.Bows, Notes: saidAll(w.Notes, system), Cautions: targetCautions,
		Before: viewTelling(w.Before, system), After: viewTelling(w.After, system),
		Walk: walkView{said(w.WalkBefore.Text, system), said(w.WalkAfter.Text, system), someText(w.WalkAfter.CannotSeparate)},
		Quantities: []comparedView{
			pair("tail_clearance", "tail passes the button by", "m", w.TailGap, near, exact),
			pair("time_on_string", "time on the string", "s", w.TimeOnString, system.DurationStyle(), exact),
			pair("button_contact_end", "last touch of the button", "s", w.ContactEnd, system.DurationStyle(), exact),
			pair("speed", "arrow speed as it leaves", "m/s", w.Speed, system.SpeedStyle(), exact),
			pair("draw_weight", "draw weight", "N", w.DrawWeight, system.ForceStyle(), exact),
			plainPair("exit_yaw_rate", "turning as it flies off, point right positive", "rad/s", w.YawRate, "rad/s", 2, system, exact),
			plainPair("thrust_ratio", "peak thrust over the shaft's buckling load", "1", w.ThrustRatio, "", 2, system, exact),
		},
	}
	if !math.IsNaN(float64(w.VaneGap.Now.Value)) {
		v.Quantities = append(v.Quantities, pair("vane_clearance", "vanes pass the riser by", "m", w.VaneGap, near, exact))
	}
	for _, a := range w.At {
		v.Distances = append(v.Distances, distanceView{
			Distance: Shown{float64(a.Distance), "m", system.DistanceStyle().Print(a.Distance)}, Face: workbench.FaceAt(a.Distance),
			Bare:  barePair(a, impact, exact),
			Right: pair("impact", "fletched arrows, sideways", "m", a.Right, impact, exact),
			Up:    pair("height", "fletched arrows, in height", "m", a.Up, impact, exact),
			Speed: pair("speed_there", "speed at the target", "m/s", a.Speed, system.SpeedStyle(), exact),
			Drift: driftPair(a.Drift, system, exact),
		})
	}
	v.Figures = targetFigures(w, system)
	return v
}

// targetCautions stand beside everything that sends a shaft anywhere (job.md).
var targetCautions = []string{
	"A bare shaft may fly wide: short distance, wide backstop, clear range behind.",
	"The model is unfitted: try reversible changes first, a borrowed test shaft before you buy or cut.",
	"The range's rules, the makers' instructions and your coach decide.",
}

func viewTelling(t workbench.Told, system unit.System) tellingView {
	return tellingView{t.Window.In, said(t.Window.Reason, system), t.InShare, string(t.Reads), said(t.Reason, system)}
}

// fine shows a length on the bow with a digit more than a square reads.
func fine(s unit.Style[unit.Length]) unit.Style[unit.Length] {
	s.Digits = s.Unit.Digits() + 1
	return s
}

// pair shows a quantity before and after.
func pair[T unit.Quantity](name, label, si string, c workbench.Compared[T], style unit.Style[T], exact bool) comparedView {
	v := comparedView{
		Name: name, Label: label, Now: doubted(name, label, si, c.Now, style), After: doubted(name, label, si, c.After, style),
		Change: changed(name, label, si, c.Change, style),
	}
	return v.quick(exact)
}

// barePair says why nothing is said of a bare shaft far out.
func barePair(a workbench.AtDistance, style unit.Style[unit.Length], exact bool) comparedView {
	v := pair("bare_minus_fletched", "bare shaft from the fletched arrows", "m", a.Bare, style, exact)
	if a.Distance > workbench.BareReach {
		for _, d := range []*Doubted{&v.Now, &v.After, &v.Change} {
			d.Doubt = "no bare shaft beyond 30 m"
		}
	}
	return v
}

// quick takes out of a quick look the doubt that it does not have.
func (v comparedView) quick(exact bool) comparedView {
	if exact {
		return v
	}
	for _, d := range []*Doubted{&v.Now, &v.After, &v.Change} {
		d.Low, d.High, d.Doubt = nil, nil, follows
	}
	return v
}

// plainPair shows numbers that people have no choice of unit for.
func plainPair(name, label, si string, c workbench.Compared[float64], symbol string, digits int, system unit.System, exact bool) comparedView {
	text := func(v float64) string {
		if symbol == "" {
			return plainNumber(rounded(v, digits), system)
		}
		return plainNumber(rounded(v, digits), system) + " " + symbol
	}
	show := func(e workbench.Estimate[float64], sign bool) Doubted {
		d := Doubted{Name: name, Label: label, Unit: si, SI: finite(e.Value), Low: finite(e.Low), High: finite(e.High), Text: text(e.Value), Doubt: text(e.Low) + " to " + text(e.High)}
		if sign && rounded(e.Value, digits) > 0 {
			d.Text = "+" + d.Text
		}
		return d
	}
	return comparedView{name, label, show(c.Now, false), show(c.After, false), show(c.Change, true)}.quick(exact)
}

// driftPair tells the drift for one unit of wind as this person says it.
func driftPair(c workbench.Compared[unit.Length], system unit.System, exact bool) comparedView {
	wind := system.WindStyle()
	perUnit := unit.Length(wind.Unit.From(1)) // of this person's wind in 1 m/s
	per := func(e workbench.Estimate[unit.Length]) workbench.Estimate[unit.Length] {
		return workbench.Estimate[unit.Length]{Value: e.Value / perUnit, Low: e.Low / perUnit, High: e.High / perUnit}
	}
	said := workbench.Compared[unit.Length]{Now: per(c.Now), After: per(c.After), Change: per(c.Change)}
	v := pair("drift", "drift in a crosswind of 1 "+wind.Symbol(), "m per m/s", said, system.ImpactStyle(), exact)
	for i, d := range []*Doubted{&v.Now, &v.After, &v.Change} {
		e := []workbench.Estimate[unit.Length]{c.Now, c.After, c.Change}[i]
		d.SI = finite(float64(e.Value))
		if exact {
			d.Low, d.High = finite(float64(e.Low)), finite(float64(e.High))
		}
	}
	return v
}

// targetFigures are what changes with the distance.
func targetFigures(w workbench.WhatIf, system unit.System) []figure.Figure {
	style, far := system.ImpactStyle(), system.DistanceStyle()
	line := func(name string, dashed bool, of func(workbench.AtDistance) workbench.Estimate[unit.Length]) figure.Line {
		l := figure.Line{Name: name, Kind: figure.Points, Dashed: dashed}
		for _, a := range w.At {
			e := of(a)
			if math.IsNaN(float64(e.Value)) {
				continue
			}
			l.X, l.Y = append(l.X, figure.Number(far.Unit.From(a.Distance))), append(l.Y, figure.Number(style.Unit.From(e.Value)))
			if w.Bows > 0 {
				l.Low, l.High = append(l.Low, figure.Number(style.Unit.From(e.Low))), append(l.High, figure.Number(style.Unit.From(e.High)))
			}
		}
		return l
	}
	x := figure.Axis{Label: "distance", Unit: far.Symbol()}
	note := "A quick look at one plausible set-up; the doubt follows."
	if w.Bows > 0 {
		note = fmt.Sprintf("Bars hold 90 %% of %d plausible set-ups. The model is unfitted: trust the change more than the place.", w.Bows)
	}
	bare := figure.Figure{
		Title: "bare shaft from the fletched arrows", X: x, Y: figure.Axis{Label: "to the right", Unit: style.Symbol(), Digits: 1}, Note: note,
		Series: []figure.Line{
			line("as set up", false, func(a workbench.AtDistance) workbench.Estimate[unit.Length] { return a.Bare.Now }),
			line("after the change", true, func(a workbench.AtDistance) workbench.Estimate[unit.Length] { return a.Bare.After }),
		},
	}
	bare.Finding = bareFinding(w, system)
	return []figure.Figure{bare, walkFigure(w, x, system, note)}
}

// walkFigure draws the walk-back line before and after.
func walkFigure(w workbench.WhatIf, x figure.Axis, system unit.System, note string) figure.Figure {
	style, far := system.ImpactStyle(), system.DistanceStyle()
	line := func(name string, dashed bool, walk workbench.WalkBack) figure.Line {
		l := figure.Line{Name: name, Kind: figure.Curve, Dashed: dashed}
		for _, p := range walk.Points {
			l.X, l.Y = append(l.X, figure.Number(far.Unit.From(unit.Length(p.Distance)))), append(l.Y, figure.Number(style.Unit.From(unit.Length(p.Right))))
			if w.Bows > 0 {
				l.Low = append(l.Low, figure.Number(style.Unit.From(unit.Length(p.Interval[0]))))
				l.High = append(l.High, figure.Number(style.Unit.From(unit.Length(p.Interval[1]))))
			}
		}
		return l
	}
	return figure.Figure{
		Title: "walk-back line", X: x, Y: figure.Axis{Label: "to the right", Unit: style.Symbol(), Digits: 1},
		Note: note, Finding: said(w.WalkAfter.Text, system),
		Series: []figure.Line{line("as set up", false, w.WalkBefore), line("after the change", true, w.WalkAfter)},
	}
}

// bareFinding says what the bare shaft does at the furthest it is shot.
func bareFinding(w workbench.WhatIf, system unit.System) string {
	style := system.ImpactStyle()
	out := "No bare shaft is predicted beyond 30 m."
	furthest := unit.Length(0)
	for _, a := range w.At {
		if a.Distance <= workbench.BareReach && a.Distance > furthest {
			furthest = a.Distance
			place, _ := report.InWords(workbench.Quantity{Kind: workbench.OfBare}, func(v float64) string { return style.Print(unit.Length(v)) })
			out = fmt.Sprintf("At %s the bare shaft goes from %s to %s of the fletched arrows.", system.DistanceStyle().Print(a.Distance), place(float64(a.Bare.Now.Value)), place(float64(a.Bare.After.Value)))
		}
	}
	return out
}
