package server

import (
	"fmt"

	"tautline/internal/figure"
	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

func viewForgiveness(f workbench.Forgiveness, settings notebook.Settings, system unit.System) forgiveView {
	impact := system.ImpactStyle()
	v := forgiveView{
		Over: string(f.Over), Summary: said(f.Summary, system), Compared: said(f.Compared, system), Rows: []forgiveRow{}, Changes: []treatedView{}, Ghosts: f.Ghosts, ShownBy: f.ShownBy,
		Notes: saidAll(f.Notes, system), Cautions: []string{"The makers' ranges and instructions and your coach decide; a computed figure never overrides them."},
	}
	for _, r := range f.Rows {
		row := forgiveRow{
			At: placeOf(r, system), Sideways: spanned("sideways", "sideways at 70 m, one standard deviation", "m", r.Sideways, r.Interval, impact),
			Other: Shown{r.Lumped, "m", impact.Print(unit.Length(r.Lumped))}, BySource: map[string]Shown{}, InWindow: r.InWindow, Reason: said(r.Reason, system),
		}
		for name, x := range r.BySource {
			row.BySource[name] = Shown{x, "m", impact.Print(unit.Length(x))}
		}
		if r.Vertical != nil {
			row.Height, row.BySourceUp = &Shown{*r.Vertical, "m", impact.Print(unit.Length(*r.Vertical))}, map[string]Shown{}
			for name, x := range r.BySourceUp {
				row.BySourceUp[name] = Shown{x, "m", impact.Print(unit.Length(x))}
			}
		}
		v.Rows, v.Vertical = append(v.Rows, row), r.VerticalReason
	}
	for _, c := range f.Changes {
		v.Changes = append(v.Changes, viewTreated(c, system))
	}
	if f.Unexplained != nil {
		v.Unexplained = &Shown{*f.Unexplained, "m", impact.Print(unit.Length(*f.Unexplained))}
	}
	v.Figures = []figure.Figure{forgiveFigure(f, settings, system)}
	return v
}

// forgiveFigure is the stack with the set-up as it is marked on it.
func forgiveFigure(f workbench.Forgiveness, settings notebook.Settings, system unit.System) figure.Figure {
	out := report.ForgiveFigure(f, system)
	out.Finding = said(out.Finding, system)
	at := 0.0
	switch f.Over {
	case workbench.OverBrace:
		height, known := settings.BraceHeight.ToPivot()
		if !known {
			return out
		}
		at = system.SettingStyle().Unit.From(height)
	case workbench.OverArrow:
		at = settings.Arrow.Spine.Value.Thousandths()
	}
	out.Marks = append(out.Marks, figure.Mark{At: at, Label: "as set up"})
	return out
}

// placeOf is where a row stands, in words.
func placeOf(r workbench.ForgiveRow, system unit.System) Shown {
	switch {
	case r.Turns != nil:
		text := plainNumber(rounded(*r.Turns, 2), system) + " turns"
		if *r.Turns > 0 {
			text = "+" + text
		}
		return Shown{*r.Turns, "1", text}
	case r.Spine != nil:
		spine := unit.Spine(*r.Spine) * unit.ThousandthInch
		return Shown{float64(spine), "m", system.SpineStyle().Print(spine)}
	}
	return Shown{r.BraceHeight, "m", system.SettingStyle().Print(unit.Length(r.BraceHeight))}
}

func viewTreated(c workbench.ForgiveChange, system unit.System) treatedView {
	percent := func(name, label string, e workbench.Estimate[float64]) Doubted {
		if c.BySource == nil {
			return Doubted{Name: name, Label: label, Unit: "%", Text: "–", Doubt: "cannot be re-tuned"}
		}
		text := func(x float64) string { return plainNumber(rounded(x, 1), system) + " %" }
		return Doubted{Name: name, Label: label, Unit: "%", SI: finite(e.Value), Low: finite(e.Low), High: finite(e.High), Text: text(e.Value), Doubt: text(e.Low) + " to " + text(e.High)}
	}
	v := treatedView{
		Treatment: string(c.Treatment), Sentence: said(c.Sentence, system), Sign: c.Sign, Agree: c.Agree, Retuned: c.Retuned, BySource: []sourceChange{},
		Percent: percent("change", "spread without the aim", c.Resolved), Other: percent("change_other_string", "with the other model of the string", c.Lumped),
	}
	for s := workbench.ArmRate; c.BySource != nil && s <= workbench.ShaftSpine; s++ {
		one := c.BySource[s.String()]
		low, high := min(abs(one.Resolved), abs(one.Lumped)), max(abs(one.Resolved), abs(one.Lumped))
		said := sourceChange{Name: s.String(), Label: s.Words(), Sign: one.Sign, Text: "cannot tell"}
		span := fmt.Sprintf("%s to %s %%", plainNumber(rounded(low, 0), system), plainNumber(rounded(high, 0), system))
		switch one.Sign {
		case 1:
			said.Text = "matters more, " + span
		case -1:
			said.Text = "matters less, " + span
		}
		v.BySource = append(v.BySource, said)
	}
	return v
}

func abs(x float64) float64 { return max(x, -x) }
