package unit

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

// Decimal is the decimal mark a person writes and reads.
type Decimal byte

const (
	// Point prints 22.5. It is the default.
	Point Decimal = iota
	// Comma prints 22,5.
	Comma
)

// number is one number as typed: its exact value and the size of its last
// digit (or its fraction's denominator).
type number struct {
	value, step *big.Rat
	whole       bool // digits only, so that a fraction may follow
}

// reason is a refusal inside the scanner; Read wraps it into a ParseError.
type reason string

// Error returns the clause.
func (r reason) Error() string { return string(r) }

// refuse builds a reason.
func refuse(format string, args ...any) error { return reason(fmt.Sprintf(format, args...)) }

// Bounds of the numbers looked at: the exponents a float64 can have and more
// digits than Exact prints, so that exact arithmetic stays cheap.
const (
	maxExponent = 330
	maxDigits   = 80
)

// scanNumber reads a number from the front of s and returns the rest:
// 22.5, 22,5, .5, 8 3/4, 8-3/4, 3/4, 1e-3.
func scanNumber(s string, mark Decimal) (number, string, error) {
	run, rest := cutDigits(s)
	if !strings.ContainsAny(run, "0123456789") {
		return number{}, s, refuse("a number is expected before %q", shorten(s))
	}
	n, err := readDecimal(run, mark)
	if err != nil {
		return number{}, s, err
	}
	if exp, after, ok := cutExponent(rest); ok {
		return scaled(n, exp, after)
	}
	return scanFraction(n, rest)
}

// cutDigits takes the leading digits and decimal marks.
func cutDigits(s string) (run, rest string) {
	i := 0
	for i < len(s) && (isDigit(s[i]) || s[i] == '.' || s[i] == ',') {
		i++
	}
	return s[:i], s[i:]
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// cutExponent takes e±nn, if it follows at once.
func cutExponent(s string) (exp, rest string, ok bool) {
	if s == "" || (s[0] != 'e' && s[0] != 'E') {
		return "", s, false
	}
	i := 1
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	digits := i
	for i < len(s) && isDigit(s[i]) {
		i++
	}
	return s[1:i], s[i:], i > digits
}

// scaled applies a decimal exponent within the bounds accepted.
func scaled(n number, exp, rest string) (number, string, error) {
	e, err := strconv.Atoi(exp)
	if err != nil || e > maxExponent || e < -maxExponent {
		return number{}, rest, refuse("an exponent of %s is beyond anything on a bow", shorten(exp))
	}
	power := new(big.Rat).SetFrac(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(abs(e))), nil), big.NewInt(1))
	if e < 0 {
		power.Inv(power)
	}
	n.value.Mul(n.value, power)
	n.step.Mul(n.step, power)
	n.whole = false
	return n, rest, nil
}

func abs(i int) int {
	if i < 0 {
		return -i
	}
	return i
}

// scanFraction reads what may follow a whole number: "/4", " 3/4", "-3/4".
func scanFraction(n number, rest string) (number, string, error) {
	if over, ok := strings.CutPrefix(strings.TrimLeft(rest, " "), "/"); ok && n.whole && startsWithDigit(over) {
		return divide(n, over)
	}
	mixed := strings.TrimLeft(rest, " ")
	mixed = strings.TrimPrefix(mixed, "-")
	top, after := cutDigits(mixed)
	after = strings.TrimLeft(after, " ")
	over, ok := strings.CutPrefix(after, "/")
	if top == "" || !ok || len(mixed) == len(rest) {
		return n, rest, nil
	}
	return addFraction(n, top, over)
}

// startsWithDigit reports whether a digit is next after spaces.
func startsWithDigit(s string) bool {
	s = strings.TrimLeft(s, " ")
	return s != "" && isDigit(s[0])
}

// addFraction completes a mixed number such as 8 3/4.
func addFraction(n number, top, over string) (number, string, error) {
	if !n.whole {
		return number{}, over, refuse("a fraction can follow only a whole number")
	}
	part, err := readDecimal(top, Point)
	if err != nil || !part.whole {
		return number{}, over, refuse("the fraction's upper number %q is not whole", top)
	}
	frac, rest, err := divide(part, over)
	if err != nil {
		return number{}, rest, err
	}
	if frac.value.Cmp(big.NewRat(1, 1)) >= 0 {
		return number{}, rest, refuse("the fraction after a whole number is not less than one")
	}
	return number{value: frac.value.Add(frac.value, n.value), step: frac.step}, rest, nil
}

// divide reads the denominator and makes the fraction.
func divide(top number, over string) (number, string, error) {
	run, rest := cutDigits(strings.TrimLeft(over, " "))
	den, err := strconv.ParseInt(run, 10, 32)
	if err != nil {
		return number{}, rest, refuse("the fraction's lower number %q is not whole", shorten(run))
	}
	if den == 0 {
		return number{}, rest, refuse("the fraction divides by zero")
	}
	step := big.NewRat(1, den)
	return number{value: new(big.Rat).Mul(top.value, step), step: step}, rest, nil
}

// readDecimal gives the exact value of digits with decimal marks.
func readDecimal(run string, mark Decimal) (number, error) {
	if len(run) > maxDigits {
		return number{}, refuse("the number has %d digits", len(run))
	}
	whole, part, err := splitMarks(run, mark)
	if err != nil {
		return number{}, err
	}
	digits, ok := new(big.Int).SetString("0"+whole+part, 10)
	if !ok {
		return number{}, refuse("%q is not a number", run)
	}
	power := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(len(part))), nil)
	return number{
		value: new(big.Rat).SetFrac(digits, power),
		step:  new(big.Rat).SetFrac(big.NewInt(1), power),
		whole: !strings.ContainsAny(run, ".,"),
	}, nil
}

// splitMarks separates whole and decimal digits, and refuses to guess whether
// a mark is a decimal one or separates thousands.
func splitMarks(run string, mark Decimal) (whole, part string, err error) {
	points, commas := strings.Count(run, "."), strings.Count(run, ",")
	switch {
	case points == 0 && commas == 0:
		return run, "", nil
	case points > 0 && commas > 0:
		return splitBoth(run)
	case points+commas > 1:
		return splitThousands(run)
	}
	i := strings.IndexAny(run, ".,")
	whole, part = run[:i], run[i+1:]
	foreign := run[i] == ',' && mark == Point || run[i] == '.' && mark == Comma
	if foreign && len(part) == 3 && len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0' {
		return "", "", ambiguous(whole, part, mark)
	}
	return whole, part, nil
}

// ambiguous names both readings of a text such as 1,234.
func ambiguous(whole, part string, mark Decimal) error {
	sep := "."
	if mark == Comma {
		sep = ","
	}
	// the first is told with the person's own decimal mark, which is not the
	// one that was typed
	return refuse("this could be %s%s%s or %s%s; write %s%s%s for the first or %s%s for the second",
		whole, sep, part, whole, part, whole, sep, part, whole, part)
}

// splitBoth reads 1,234.5 and 1.234,5: the last mark is the decimal one.
func splitBoth(run string) (whole, part string, err error) {
	i := strings.LastIndexAny(run, ".,")
	whole, part = run[:i], run[i+1:]
	if strings.IndexByte(whole, run[i]) >= 0 {
		return "", "", refuse("the marks in %q do not fit together", run)
	}
	whole, _, err = splitThousands(whole)
	return whole, part, err
}

// splitThousands reads 1,234,567: groups of exactly three digits.
func splitThousands(run string) (whole, part string, err error) {
	groups := strings.FieldsFunc(run, func(r rune) bool { return r == '.' || r == ',' })
	marks := strings.Count(run, ".") + strings.Count(run, ",")
	bad := len(groups) != marks+1 || len(groups[0]) > 3
	for i := 1; i < len(groups) && !bad; i++ {
		bad = len(groups[i]) != 3
	}
	if bad {
		return "", "", refuse("%q has more than one decimal mark", run)
	}
	return strings.Join(groups, ""), "", nil
}

// ParseNumber reads a number without a unit, as a person writes it: 3, 2.5,
// 2,5, 8 3/4. The error is a *ParseError.
func ParseNumber(text string) (float64, error) {
	v, err := readNumber(text)
	if err != nil {
		return 0, &ParseError{Field: "number", Quantity: "number", Text: text, Reason: err.Error(), Example: "3 or 2.5"}
	}
	return v, nil
}

func readNumber(text string) (float64, error) {
	s := normalise(text)
	if len(text) > maxText || s == "" {
		return 0, refuse("no number is written here")
	}
	s, negative := cutSign(s)
	n, rest, err := scanNumber(s, Point)
	switch {
	case err != nil && !startsWithNumber(s):
		return 0, refuse("this is no number")
	case err != nil:
		return 0, err
	case strings.TrimSpace(rest) != "":
		return 0, refuse("it takes a number without a unit or anything else behind it, and has %q", shorten(strings.TrimSpace(rest)))
	}
	v, _ := n.value.Float64()
	if negative {
		v = -v
	}
	return v, tooFar(n.value)
}

func startsWithNumber(s string) bool { return startsWithDigit(s) || s != "" && marksNumber(s, 0) }
