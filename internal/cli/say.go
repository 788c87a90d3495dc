package cli

import (
	"fmt"
	"math"
	"strings"

	"tautline/internal/report"
	"tautline/unit"
	"tautline/workbench"
)

// units are how the terminal prints: a bow file does not say who reads, so as
// for somebody who has chosen nothing yet. Every number goes through the same
// styles as on pages, sheets and in the API's texts, so that it reads alike
// wherever it stands.
var units = unit.Mixed()

// row is one printed quantity: its name, value and unit, and its span.
func row(name, value, symbol, low, high string) string {
	return fmt.Sprintf("  %-32s %8s %-5s %s … %s\n", name, value, symbol, low, high)
}

// estimated prints an estimate.
func estimated[T unit.Quantity](name string, e workbench.Estimate[T], style unit.Style[T]) string {
	return row(name, style.Number(e.Value), style.Symbol(), style.Number(e.Low), style.Number(e.High))
}

// spanned prints a number of the workbench with its span.
func spanned[T unit.Quantity](name string, v float64, s workbench.Span, style unit.Style[T]) string {
	return estimated(name, workbench.Estimate[T]{Value: T(v), Low: T(s[0]), High: T(s[1])}, style)
}

// moved prints a place, or a change, with its sign.
func moved[T unit.Quantity](name string, v float64, s workbench.Span, style unit.Style[T]) string {
	return row(name, signed(style, v), style.Symbol(), signed(style, s[0]), signed(style, s[1]))
}

// signed is a number with its sign, without its unit.
func signed[T unit.Quantity](style unit.Style[T], v float64) string {
	return strings.TrimSuffix(style.Difference(T(v)), " "+style.Symbol())
}

// finer shows a length on the bow with a digit more than a square reads.
func finer(s unit.Style[unit.Length]) unit.Style[unit.Length] {
	s.Digits = s.Unit.Digits() + 1
	return s
}

// percent prints a share with one digit where it has one.
func percent(share float64) string { return units.Plain(math.Round(1000*share) / 10) }

// worded prints a quantity of a fitted bow, or its change.
func worded(q workbench.Quantity, si string, change bool) func(float64) string {
	value, moves := report.InWords(q, report.Sayer(q, si, units))
	if change {
		return moves
	}
	return value
}
