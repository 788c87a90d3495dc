package unit

import (
	"fmt"
	"math/big"
	"strings"
	"unicode"
)

// Reading says how a text is to be read. The zero value refuses a number
// without a unit and takes the point as decimal mark (a comma is understood
// where it cannot separate thousands).
type Reading[T Quantity] struct {
	Field   string  // named in errors; default the quantity's name
	Bare    Unit[T] // unit of a number typed without one; empty: refuse it
	Decimal Decimal // the mark this person uses; default Point
}

// Read reads what a person typed and keeps it beside the value. Understood:
// decimal point or comma, fractions (8 3/4, 8¾), signs, non-breaking spaces,
// feet and inches (5' 10"), and the usual names and signs of each unit. The
// value is the SI float64 nearest to what was typed, so 22.5 cm and 225 mm
// are equal. The error is a *ParseError.
func Read[T Quantity](text string, how Reading[T]) (Typed[T], error) {
	k := kindOf[T]()
	t, err := readQuantity(text, k, string(how.Bare), how.Decimal)
	if err != nil {
		field := how.Field
		if field == "" {
			field = k.name
		}
		return Typed[T]{}, &ParseError{Field: field, Quantity: k.name, Text: text, Reason: err.Error(), Example: k.example}
	}
	value, _ := t.value.Float64()
	step, _ := t.step.Float64()
	return Typed[T]{Value: T(value), Text: text, Unit: Unit[T](t.unit.symbol), Step: T(step)}, nil
}

// amount is a text read to the end: SI value, SI step, the unit it was typed in.
type amount struct {
	value, step *big.Rat
	unit        *def
}

// maxText bounds what is looked at; a longer text is no single quantity.
const maxText = 200

// readQuantity reads sign, number and unit, and compounds such as 5 ft 10 in.
func readQuantity(text string, k *kind, bare string, mark Decimal) (amount, error) {
	if len(text) > maxText {
		return amount{}, refuse("the text is too long for one value")
	}
	s := normalise(text)
	if s == "" {
		return amount{}, refuse("nothing is written here")
	}
	s, negative := cutSign(s)
	total, s, err := readPart(s, k, bare, mark)
	for err == nil && s != "" {
		var next amount
		if next, s, err = readPart(s, k, total.unit.follower(), mark); err == nil {
			err = total.join(next)
		}
	}
	if err != nil {
		return amount{}, err
	}
	if negative {
		total.value.Neg(total.value)
	}
	total.value = total.unit.toSI(total.value)
	total.step = new(big.Rat).Mul(total.step, total.unit.scale)
	return total, tooFar(total.value)
}

// tooFar refuses values whose float64 would be meaningless.
func tooFar(v *big.Rat) error {
	f, _ := v.Float64()
	if f > 1e30 || f < -1e30 {
		return refuse("the value is beyond anything on a bow")
	}
	return nil
}

// follower is the unit a bare number may take after d: 5' 10.
func (d *def) follower() string {
	if d.symbol == "ft" {
		return d.then
	}
	return ""
}

// readPart reads one number with its unit and returns the rest.
func readPart(s string, k *kind, bare string, mark Decimal) (amount, string, error) {
	n, rest, err := scanNumber(s, mark)
	if err != nil {
		return amount{}, s, err
	}
	name, rest := cutUnit(rest)
	u, err := findUnit(name, n, k, bare)
	if err != nil {
		return amount{}, s, err
	}
	return amount{value: n.value, step: n.step, unit: u}, strings.TrimLeft(rest, " "), nil
}

// join adds the smaller part of a compound: 10 in to 5 ft.
func (a *amount) join(next amount) error {
	if a.unit.then == "" || next.unit.symbol != a.unit.then {
		return refuse("there is more than one value")
	}
	ratio := new(big.Rat).Quo(next.unit.scale, a.unit.scale)
	part := new(big.Rat).Mul(next.value, ratio)
	if part.Cmp(big.NewRat(1, 1)) >= 0 || !a.value.IsInt() {
		return refuse("the %s and %s do not fit together", a.unit.symbol, next.unit.symbol)
	}
	a.value.Add(a.value, part)
	a.step = new(big.Rat).Mul(next.step, ratio)
	return nil
}

// cutSign takes one sign.
func cutSign(s string) (rest string, negative bool) {
	if s != "" && (s[0] == '+' || s[0] == '-') {
		return strings.TrimLeft(s[1:], " "), s[0] == '-'
	}
	return s, false
}

// cutUnit takes everything up to the next number.
func cutUnit(s string) (name, rest string) {
	for i := 0; i < len(s); i++ {
		if isDigit(s[i]) && !strings.HasSuffix(s[:i], "-") || marksNumber(s, i) {
			return strings.TrimSpace(s[:i]), s[i:]
		}
	}
	return strings.TrimSpace(s), ""
}

// marksNumber reports whether a number such as .5 starts at s[i].
func marksNumber(s string, i int) bool {
	return (s[i] == '.' || s[i] == ',') && i+1 < len(s) && isDigit(s[i+1])
}

// findUnit resolves the unit's name, or the bare number's unit.
func findUnit(name string, n number, k *kind, bare string) (*def, error) {
	switch {
	case name == "" && bare != "":
		return k.bySymbol(bare), nil
	case name == "" && k == spines:
		return bareSpine(n)
	case name == "":
		return nil, refuse("it has no unit (%s)", k.symbols())
	}
	if u := k.byAlias(name); u != nil {
		return u, nil
	}
	for _, other := range allKinds {
		if u := other.byAlias(name); u != nil {
			return nil, refuse("%s is a unit of %s, not of %s (%s)", u.symbol, other.name, k.name, k.symbols())
		}
	}
	return nil, refuse("%q is not a unit of %s (%s)", shorten(name), k.name, k.symbols())
}

// Bare spine numbers: the trade writes 500 or .500 for the same shaft. Real
// shafts lie between about 200 and 2000 thousandths of an inch, so the two
// ways of writing cannot be confused inside these limits.
var (
	leastThou   = big.NewRat(100, 1)
	mostThou    = big.NewRat(3000, 1)
	leastInches = big.NewRat(1, 10)
	mostInches  = big.NewRat(3, 1)
)

// bareSpine decides between thousandths and inches for a bare number.
func bareSpine(n number) (*def, error) {
	switch {
	case n.value.Cmp(leastThou) >= 0 && n.value.Cmp(mostThou) <= 0:
		return spines.bySymbol("thou"), nil
	case n.value.Cmp(leastInches) >= 0 && n.value.Cmp(mostInches) <= 0:
		return spines.bySymbol("in"), nil
	}
	return nil, refuse("a spine without a unit lies between 100 and 3000 thousandths, or between .100 and 3 inches")
}

// signs maps typographic variants to the plain signs the scanner knows.
var signs = strings.NewReplacer(
	"−", "-", "–", "-", "‐", "-", "‑", "-",
	"⁄", "/", "∕", "/", "÷", "/",
	"′", "'", "’", "'", "‘", "'", "´", "'", "″", `"`, "”", `"`, "“", `"`, "„", `"`,
	"º", "°", "˚", "°", "⋅", "·", "×", "·",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4",
	"⅓", " 1/3", "⅔", " 2/3", "⅕", " 1/5", "⅖", " 2/5", "⅗", " 3/5", "⅘", " 4/5",
	"⅙", " 1/6", "⅚", " 5/6", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
)

// normalise folds spaces and signs; it drops invisible marks that phones and
// spreadsheets add.
func normalise(text string) string {
	folded := strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case r == '\u200b' || r == '\u200e' || r == '\u200f' || r == '\u2060' || r == '\ufeff':
			return -1
		}
		return r
	}, text)
	return strings.TrimSpace(signs.Replace(folded))
}

// Parse reads a quantity typed with its unit; see Read.
func Parse[T Quantity](text string) (T, error) {
	t, err := Read(text, Reading[T]{})
	return t.Value, err
}

// ParseIn reads a quantity; a number without a unit is taken in bare.
func ParseIn[T Quantity](text string, bare Unit[T]) (T, error) {
	if !bare.Known() {
		return 0, fmt.Errorf("unit: %q is not a unit of %s", string(bare), kindOf[T]().name)
	}
	t, err := Read(text, Reading[T]{Bare: bare})
	return t.Value, err
}

// ParseLength reads 22.5 cm, 225mm, 8 3/4 in, 8¾", 5' 10".
func ParseLength(text string) (Length, error) { return Parse[Length](text) }

// ParseMass reads 360 gr, 23.3 g, 2.1 kg, 8 lb 4 oz.
func ParseMass(text string) (Mass, error) { return Parse[Mass](text) }

// ParseForce reads 44#, 44 lb, 44 lbf, 196 N, 20 kg (as kilogram-force).
func ParseForce(text string) (Force, error) { return Parse[Force](text) }

// ParseSpeed reads 196 fps, 59.7 m/s, 215 km/h.
func ParseSpeed(text string) (Speed, error) { return Parse[Speed](text) }

// ParseAngle reads 1.5°, 1° 30', 0.2 rad, 4 mrad.
func ParseAngle(text string) (Angle, error) { return Parse[Angle](text) }

// ParseDuration reads 16.2 ms, 0.5 s, 1 h 30 min.
func ParseDuration(text string) (Duration, error) { return Parse[Duration](text) }

// ParseEnergy reads 52 J, 38 ft·lbf.
func ParseEnergy(text string) (Energy, error) { return Parse[Energy](text) }

// ParseStiffness reads 1.2 kN/m, 0.8 N/mm, 5 lbf/in.
func ParseStiffness(text string) (Stiffness, error) { return Parse[Stiffness](text) }

// ParseTemperature reads 18 °C, 64 °F, 291 K.
func ParseTemperature(text string) (Temperature, error) { return Parse[Temperature](text) }

// ParsePressure reads 1013 hPa, 1013 mbar, 29.92 inHg.
func ParsePressure(text string) (Pressure, error) { return Parse[Pressure](text) }

// ParseSpine reads a static spine: 500, .500, 0.500 in, 12.7 mm.
func ParseSpine(text string) (Spine, error) { return Parse[Spine](text) }

// ParseLengthIn reads a length; a bare number is in the unit given.
func ParseLengthIn(text string, bare Unit[Length]) (Length, error) { return ParseIn(text, bare) }

// ParseMassIn reads a mass; a bare number is in the unit given.
func ParseMassIn(text string, bare Unit[Mass]) (Mass, error) { return ParseIn(text, bare) }

// ParseForceIn reads a force; a bare number is in the unit given.
func ParseForceIn(text string, bare Unit[Force]) (Force, error) { return ParseIn(text, bare) }

// ParseSpeedIn reads a speed; a bare number is in the unit given.
func ParseSpeedIn(text string, bare Unit[Speed]) (Speed, error) { return ParseIn(text, bare) }
