package edge

import (
	"tautline/group"
	"tautline/num"
	"tautline/trial"
	"tautline/unit"
	"tautline/workbench"
)

// words are the functions that give only text, or yes or no: no panic, and no
// number that is none among the words.
var words = map[string]any{
	"num.Estimate.Known":          num.Estimate[unit.Length].Known,
	"num.Estimate.Bounded":        num.Estimate[unit.Length].Bounded,
	"num.Estimate.Holds":          num.Estimate[unit.Length].Holds,
	"num.Status.OK":               num.Status.OK,
	"unit.Length.Format":          unit.Length.Format,
	"unit.Mass.Format":            unit.Mass.Format,
	"unit.Force.Format":           unit.Force.Format,
	"unit.Speed.Format":           unit.Speed.Format,
	"unit.Angle.Format":           unit.Angle.Format,
	"unit.Duration.Format":        unit.Duration.Format,
	"unit.Energy.Format":          unit.Energy.Format,
	"unit.Stiffness.Format":       unit.Stiffness.Format,
	"unit.Temperature.Format":     unit.Temperature.Format,
	"unit.Pressure.Format":        unit.Pressure.Format,
	"unit.Spine.Format":           unit.Spine.Format,
	"unit.Length.String":          unit.Length.String,
	"unit.Mass.String":            unit.Mass.String,
	"unit.Force.String":           unit.Force.String,
	"unit.Speed.String":           unit.Speed.String,
	"unit.Angle.String":           unit.Angle.String,
	"unit.Duration.String":        unit.Duration.String,
	"unit.Energy.String":          unit.Energy.String,
	"unit.Stiffness.String":       unit.Stiffness.String,
	"unit.Temperature.String":     unit.Temperature.String,
	"unit.Pressure.String":        unit.Pressure.String,
	"unit.Spine.String":           unit.Spine.String,
	"unit.Format":                 unit.Format[unit.Length],
	"unit.Exact":                  unit.Exact[unit.Length],
	"unit.Sixteenths":             unit.Sixteenths,
	"unit.Both":                   unit.Both,
	"unit.Usual.Holds":            unit.Usual[unit.Length].Holds,
	"unit.Usual.Doubt":            unit.Usual[unit.Length].Doubt,
	"unit.System.Plain":           unit.System.Plain,
	"unit.Style.Print":            unit.Style[unit.Length].Print,
	"unit.Style.Precise":          unit.Style[unit.Length].Precise,
	"unit.Style.Number":           unit.Style[unit.Length].Number,
	"unit.Style.Symbol":           unit.Style[unit.Length].Symbol,
	"unit.Style.Difference":       unit.Style[unit.Length].Difference,
	"unit.Style.PlusMinus":        unit.Style[unit.Length].PlusMinus,
	"unit.Style.Range":            unit.Style[unit.Length].Range,
	"unit.Unit.Known":             unit.Unit[unit.Length].Known,
	"group.Moments.Circular":      group.Moments.Circular,
	"trial.Order.Reason":          trial.Order.Reason,
	"trial.Measure.Name":          trial.Measure.Name,
	"trial.Measure.Unit":          trial.Measure.Unit,
	"trial.BraceVerdict.Sentence": trial.BraceVerdict.Sentence,
	"trial.Caution.Text":          trial.Caution.Text,
	"trial.FiellerSet.Bounded":    trial.FiellerSet.Bounded,
	"trial.FiellerSet.Holds":      trial.FiellerSet.Holds,
	"trial.SettingKind.Slow":      trial.SettingKind.Slow,
	"trial.CanSeeText":            trial.CanSeeText,
	"workbench.Quantity.Unit":     workbench.Quantity.Unit,
	"workbench.EnoughToFit":       workbench.EnoughToFit,
	"workbench.ForecastKind":      workbench.ForecastKind,
	"workbench.PutBackStep.Says": func(s workbench.PutBackStep, by []float64, system unit.System) (said []string) {
		s.By = nil
		for i := range min(len(by), len(s.Changes)) {
			s.By = append(s.By, &by[i])
			said = append(said, s.Says(i, system))
		}
		return said
	},
	"workbench.BowWeek.Wants": workbench.BowWeek.Wants,
}
