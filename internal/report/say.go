package report

import (
	"fmt"
	"math"
	"strings"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// This file says numbers: pages, sheets, tables and the terminal use the same
// functions, so that a number reads alike wherever it stands.

// Sayer prints values of a quantity as a person reads them; si is the
// quantity's SI unit.
func Sayer(q workbench.Quantity, si string, system unit.System) func(float64) string {
	var print func(float64) string
	switch {
	case si == "m" && q.Distance > 0 && q.Kind != workbench.QMark:
		print = printer(system.ImpactStyle())
	case si == "m":
		print = settingPrinter(system)
	case si == "m/s":
		print = printer(system.SpeedStyle())
	case si == "N":
		print = printer(system.ForceStyle())
	case si == "s":
		print = printer(system.DurationStyle())
	case si == "J":
		print = printer(system.EnergyStyle())
	default:
		return func(v float64) string {
			return strings.TrimSpace(system.Plain(math.Round(100*v)/100+0) + " " + si) // +0: no minus before a nought
		}
	}
	return func(v float64) string {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return "unknown"
		}
		return print(v)
	}
}

func printer[T unit.Quantity](style unit.Style[T]) func(float64) string {
	return func(v float64) string { return style.Print(T(v)) }
}

// settingPrinter gives small lengths on the bow a digit more than large ones.
func settingPrinter(system unit.System) func(float64) string {
	style := system.SettingStyle()
	fine := style
	fine.Digits = system.Setting.Digits() + 1
	scale := math.Pow(10, float64(fine.Digits))
	return func(v float64) string {
		if math.Abs(v) < 0.0095 {
			return system.Plain(math.Round(scale*style.Unit.From(unit.Length(v)))/scale+0) + " " + style.Symbol()
		}
		return style.Print(unit.Length(v))
	}
}

// Moved is a move with its span: with its sign, or on the face with its side.
func Moved(e workbench.Estimate[float64], q workbench.Quantity, say func(float64) string) string {
	_, change := InWords(q, say)
	if e.Low == e.High {
		return change(e.Value)
	}
	return change(e.Value) + " (" + change(e.Low) + " to " + change(e.High) + ")"
}

// Spanned is a value with its span.
func Spanned(e workbench.Estimate[float64], q workbench.Quantity, say func(float64) string) string {
	value, _ := InWords(q, say)
	return value(e.Value) + " (" + value(e.Low) + " to " + value(e.High) + ")"
}

// sideWords are what archers say of a place on the face instead of a sign.
var sideWords = map[string][2]string{
	workbench.OfBare: {"right", "left"}, workbench.OfRight: {"right", "left"}, workbench.OfBareUp: {"high", "low"}, workbench.OfUp: {"high", "low"},
}

// InWords gives how a quantity's value and its change are printed: a place on
// the face with its side, a change of anything else with its sign.
func InWords(q workbench.Quantity, say func(float64) string) (value, change func(float64) string) {
	words, place := sideWords[q.Kind]
	if !place {
		return say, func(v float64) string { return Signed(v, say) }
	}
	placed := func(v float64) string {
		text := say(math.Abs(v))
		switch {
		case !strings.ContainsAny(text, "123456789"):
			return text
		case v < 0:
			return text + " " + words[1]
		}
		return text + " " + words[0]
	}
	return placed, placed
}

// Signed is a value with a plus before it where it is above nought as printed.
func Signed(v float64, say func(float64) string) string {
	text := say(v)
	if v > 0 && strings.ContainsAny(text, "123456789") {
		return "+" + text
	}
	return text
}

// QuantityLabel is a quantity in an archer's words.
func QuantityLabel(kind string) string {
	if info, ok := notebook.Kind(kind).Info(); ok {
		return info.Label
	}
	switch kind {
	case workbench.OfUp:
		return "height of the group"
	case workbench.OfBend:
		return "bends of the arrow on the string"
	case workbench.OfTime:
		return "time on the string"
	case workbench.OfLeftBehind:
		return "energy left behind"
	}
	return kind
}

// QuantitySI is its SI unit.
func QuantitySI(kind string) string {
	if info, ok := notebook.Kind(kind).Info(); ok {
		return info.SI
	}
	switch kind {
	case workbench.OfUp:
		return "m"
	case workbench.OfTime:
		return "s"
	case workbench.OfLeftBehind:
		return "J"
	}
	return ""
}

// RowLabel names a quantity of a comparison, with the distance it is seen at.
func RowLabel(q workbench.Quantity) string {
	label := QuantityLabel(q.Kind)
	if q.Distance > 0 {
		label += fmt.Sprintf(" at %g m", float64(q.Distance))
	}
	return label
}

// ReadingValue is a reading's value as a person reads it, with no fewer digits
// than were typed.
func ReadingValue(r notebook.Reading, system unit.System) string {
	info, known := r.Kind.Info()
	switch {
	case !known || info.WordsOnly:
		return r.Text
	case r.Kind == notebook.ReadStringLength:
		return asTyped(system.DrawStyle(), r)
	case info.SI == "m/s":
		return asTyped(system.SpeedStyle(), r)
	case info.SI == "N":
		return asTyped(system.ForceStyle(), r)
	case info.SI != "m":
		return system.Plain(r.Value)
	}
	switch r.Kind {
	case notebook.ReadBareShaft, notebook.ReadBareUp, notebook.ReadGroupRight:
		value, _ := InWords(workbench.Quantity{Kind: string(r.Kind)}, func(x float64) string {
			return system.ImpactStyle().Precise(unit.Length(x), stepTyped[unit.Length](r))
		})
		return value(r.Value)
	}
	return asTyped(system.SettingStyle(), r)
}

func asTyped[T unit.Quantity](style unit.Style[T], r notebook.Reading) string {
	return style.Precise(T(r.Value), stepTyped[T](r))
}

// stepTyped is the size of the last digit that was typed, 0 when it is not
// known.
func stepTyped[T unit.Quantity](r notebook.Reading) T {
	for _, text := range []string{r.Text, r.Text + " " + r.Unit} {
		if v, err := unit.Read(text, unit.Reading[T]{}); err == nil && float64(v.Value) == r.Value {
			return T(v.Step)
		}
	}
	return 0
}
