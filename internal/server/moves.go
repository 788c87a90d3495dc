package server

import (
	"math"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// moveView is one thing that can be moved, ready for a slider, buttons and a
// field: numbers are in the unit named, which is the person's own.
type moveView struct {
	Name     string  `json:"name" doc:"Field of moves." example:"brace_height"`
	Label    string  `json:"label" example:"brace height"`
	Quantity string  `json:"quantity" doc:"What to read a typed text as, for /units/parse." example:"setting"`
	Unit     string  `json:"unit" doc:"Symbol of the numbers' unit; empty for the trade's bare numbers." example:"mm"`
	Start    float64 `json:"start" doc:"Where the set-up is, or is taken to be." example:"220"`
	At       float64 `json:"at" doc:"Where it was moved to." example:"215"`
	Low      float64 `json:"low" doc:"A slider's lower end, a whole number of steps from start."`
	High     float64 `json:"high"`
	Step     float64 `json:"step" example:"1"`
	Digits   int     `json:"digits" doc:"Decimals to write it with." example:"0"`
	Assumed  bool    `json:"assumed" doc:"The start is not in the set-up: it is what is usual."`
	Text     string  `json:"text" doc:"The start as the person reads it." example:"220 mm"`
}

// steps of a slider by the unit's symbol: about what a careful archer sets.
type steps map[string]float64

var (
	settingSteps = steps{"mm": 1, "cm": 0.1, "in": 0.05}
	fineSteps    = steps{"mm": 0.25, "cm": 0.025, "in": 0.01}
	longSteps    = steps{"mm": 5, "cm": 0.5, "in": 0.25}
	massSteps    = steps{"g": 0.25, "gr": 5}
	preloadSteps = steps{"N": 0.1, "lbf": 0.02}
	springSteps  = steps{"N/mm": 0.05, "lbf/in": 0.5}
	spineSteps   = steps{"thou": 10}
)

// viewMoves lists what can be moved.
func viewMoves(start, to workbench.Moves, s notebook.Settings, system unit.System) []moveView {
	const mm, gr = unit.Millimetre, unit.Grain
	brace := moveOf("brace_height", "brace height", "setting", start.Brace, to.Brace, system.SettingStyle(), settingSteps, 20*mm, s.BraceHeight.Value.IsZero())
	list := []moveView{
		brace,
		moveOf("button_preload", "button preload", "preload", start.Preload, to.Preload, preloadStyle(system), preloadSteps, 1.4, true),
		moveOf("button_stiffness", "button spring's stiffness", "spring", start.Stiffness, to.Stiffness, springStyle(system), springSteps, 600, true),
		moveOf("centre_shot", "centre shot", "setting", start.Centre, to.Centre, system.SettingStyle(), fineSteps, 3*mm, s.CentreShot.IsZero()),
		moveOf("spine", "static spine", "spine", start.Spine, to.Spine, system.SpineStyle(), spineSteps, 150*unit.ThousandthInch, false),
		moveOf("point_mass", "point mass", "mass", start.Point, to.Point, system.MassStyle(), massSteps, 30*gr, s.Arrow.PointMass.IsZero()),
		moveOf("shaft_length", "shaft length", "draw", start.Shaft, to.Shaft, system.DrawStyle(), longSteps, 40*mm, s.Arrow.Length.IsZero()),
		moveOf("draw_length", "draw length", "draw", start.Draw, to.Draw, system.DrawStyle(), longSteps, 30*mm, false),
	}
	return list
}

// moveOf is one slider: its grid starts at the set-up, so that the way back
// is exact.
func moveOf[T unit.Quantity](name, label, quantity string, start, to *T, style unit.Style[T], by steps, reach T, assumed bool) moveView {
	step, ok := by[string(style.Unit)]
	if !ok {
		step = math.Pow(10, float64(-style.Unit.Digits()))
	}
	at := style.Unit.From(*start)
	n := math.Ceil(math.Abs(style.Unit.From(*start+reach)-at)/step - 1e-9)
	v := moveView{
		Name: name, Label: label, Quantity: quantity, Unit: style.Symbol(), Start: round(at), At: round(at), Step: step, Assumed: assumed,
		Low: round(at - n*step), High: round(at + n*step), Digits: max(placesOf(step), placesOf(at)),
	}
	if v.Unit == "thou" {
		v.Unit = ""
	}
	for v.Low < 0 && at >= 0 && name != "centre_shot" {
		v.Low = round(v.Low + step)
	}
	if to != nil {
		v.At = round(style.Unit.From(*to))
	}
	style.Digits = v.Digits
	v.Text = style.Print(*start)
	return v
}

// round takes the noise of converting units out of a number.
func round(v float64) float64 { return math.Round(v*1e9) / 1e9 }

// placesOf is how many decimals show v to a thousandth, at most 3.
func placesOf(v float64) int {
	for n := range 3 {
		if scaled := v * math.Pow(10, float64(n)); math.Abs(scaled-math.Round(scaled)) < 1e-3*math.Pow(10, float64(n)) {
			return n
		}
	}
	return 3
}

// preloadStyle shows a button's force: in newtons for all who do not read
// inches, whatever they weigh their draw in.
func preloadStyle(s unit.System) unit.Style[unit.Force] {
	style := s.ForceStyle()
	style.Unit, style.Digits = unit.N, 1
	if s.Setting == unit.In {
		style.Unit, style.Digits = unit.Lbf, 2
	}
	return style
}

// springStyle shows the stiffness of a button's spring.
func springStyle(s unit.System) unit.Style[unit.Stiffness] {
	style := s.StiffnessStyle()
	if style.Unit == unit.NPerM {
		style.Unit = unit.NPerMM
	}
	return style
}
