package server

import (
	"tautline/unit"
	"tautline/workbench"
)

// Doubted is a computed quantity with its doubt, for the screen.
type Doubted struct {
	Name  string   `json:"name" doc:"Machine-readable name." example:"speed"`
	Label string   `json:"label" doc:"In words." example:"arrow speed"`
	SI    *float64 `json:"si" doc:"Best value in SI; null when there is none to give." example:"56.4"`
	Low   *float64 `json:"low" doc:"Lower end of the interval, SI; null when there is none to give." example:"54.9"`
	High  *float64 `json:"high" doc:"Upper end of the interval, SI." example:"58.0"`
	Unit  string   `json:"unit" doc:"The SI unit." example:"m/s"`
	Text  string   `json:"text" doc:"The value as this person reads it." example:"56.4 m/s"`
	Doubt string   `json:"doubt" doc:"The doubt in words." example:"54.9 to 58.0 m/s"`
}

// noDoubt is said of a value that has no interval to give.
const noDoubt = "no doubt to give"

// doubted shows an estimate of the model in one person's style.
func doubted[T unit.Quantity](name, label, si string, e workbench.Estimate[T], style unit.Style[T]) Doubted {
	d := Doubted{Name: name, Label: label, Unit: si, SI: finite(float64(e.Value)), Low: finite(float64(e.Low)), High: finite(float64(e.High)),
		Text: style.Print(e.Value), Doubt: style.Range(e.Low, e.High)}
	if e.Low == e.High {
		d.Doubt = noDoubt
	}
	return d
}

// changed shows a difference that the model predicts.
func changed[T unit.Quantity](name, label, si string, e workbench.Estimate[T], style unit.Style[T]) Doubted {
	d := doubted(name, label, si, e, style)
	d.Text, d.Doubt = style.Difference(e.Value), style.Difference(e.Low)+" to "+style.Difference(e.High)
	return d
}

// finite keeps what JSON cannot hold out of an answer.
func finite(v float64) *float64 {
	if v != v || v > 1e300 || v < -1e300 {
		return nil
	}
	return &v
}
