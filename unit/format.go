package unit

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// missing is printed for a value that is not a number.
const missing = "–"

// Format prints x in unit u with the given decimals and decimal mark:
// "22.5 cm". digits < 0 takes the unit's usual decimals. NaN and infinities
// print as a dash.
func Format[T Quantity](x T, u Unit[T], digits int, mark Decimal) string {
	d := kindOf[T]().bySymbol(string(u))
	if digits < 0 {
		digits = d.digits
	}
	return d.with(decimals(d.number(float64(x)), digits, mark))
}

// Exact prints x in unit u with as many digits as it takes to read the same
// float64 back; a temperature only to about 1e-30 degrees.
func Exact[T Quantity](x T, u Unit[T], mark Decimal) string {
	d := kindOf[T]().bySymbol(string(u))
	si := new(big.Rat).SetFloat64(float64(x))
	if si == nil {
		return missing
	}
	want, shown := d.fromSI(si), ""
	for digits := 15; digits <= 60; digits++ {
		shown = plain(want, digits)
		back, _, err := scanNumber(strings.TrimPrefix(shown, "-"), Point)
		if err == nil && reads(back, d, shown, float64(x)) {
			break
		}
	}
	return d.with(marked(shown, mark))
}

// reads reports whether the number shown gives x back.
func reads(n number, d *def, shown string, x float64) bool {
	if strings.HasPrefix(shown, "-") {
		n.value.Neg(n.value)
	}
	back, _ := d.toSI(n.value).Float64()
	return back == x
}

// plain writes v with the given significant digits, without trailing zeros,
// and with an exponent only where zeros would pile up.
func plain(v *big.Rat, digits int) string {
	f := new(big.Float).SetPrec(300).SetRat(v)
	s := f.Text('e', digits-1)
	mantissa, exponent, _ := strings.Cut(s, "e")
	mantissa = trimZeros(mantissa)
	exp, err := strconv.Atoi(exponent)
	if err != nil || exp < -7 || exp > 15 {
		return mantissa + "e" + exponent
	}
	return trimZeros(f.Text('f', max(0, digits-1-exp)))
}

// trimZeros drops trailing zeros after a decimal point.
func trimZeros(s string) string {
	if !strings.Contains(s, ".") {
		return s
	}
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// marked sets the decimal mark. A comma before exactly three digits gets one
// more zero, because 1,234 alone could be read as a thousand.
func marked(s string, mark Decimal) string {
	if mark != Comma {
		return s
	}
	whole, part, ok := strings.Cut(s, ".")
	if !ok {
		return s
	}
	digits, exponent, _ := strings.Cut(part, "e")
	if len(digits) == 3 {
		digits += "0"
	}
	if exponent != "" {
		exponent = "e" + exponent
	}
	return whole + "," + digits + exponent
}

// decimals writes v with fixed decimals; never "-0".
func decimals(v float64, digits int, mark Decimal) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return missing
	}
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	if mark == Comma {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// with adds the symbol.
func (d *def) with(number string) string {
	switch {
	case number == missing:
		return missing
	case d.symbol == "thou" && tradeNumber(number):
		return number
	case d.tight:
		return number + d.symbol
	}
	return number + " " + d.symbol
}

// tradeNumber reports whether a spine number can stand bare and be read back.
func tradeNumber(s string) bool {
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	return err == nil && v >= 100 && v <= 3000
}

// Sixteenths prints a length in inches to the nearest sixteenth, as a bow
// square shows it: "8 3/4 in".
func Sixteenths(l Length) string {
	v := l.Inches() * 16
	if math.IsNaN(v) || math.Abs(v) > 1e9 {
		return missing
	}
	n := int64(math.Round(v))
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	whole, part := n/16, n%16
	den := int64(16)
	for part != 0 && part%2 == 0 {
		part, den = part/2, den/2
	}
	switch {
	case part == 0:
		return fmt.Sprintf("%s%d in", sign, whole)
	case whole == 0:
		return fmt.Sprintf("%s%d/%d in", sign, part, den)
	}
	return fmt.Sprintf("%s%d %d/%d in", sign, whole, part, den)
}

// Both prints a length in both scales of a bow square: "222 mm (8 3/4 in)".
func Both(l Length, mark Decimal) string {
	mm := Format(l, MM, 0, mark)
	if mm == missing {
		return missing
	}
	return mm + " (" + Sixteenths(l) + ")"
}
