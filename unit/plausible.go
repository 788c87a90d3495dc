package unit

import (
	"fmt"
	"math"
	"math/big"
	"strings"
)

// Usual is the range in which a thing on a bow is ordinarily found. It is
// wide: its purpose is to catch 225 typed in the wrong unit, not to judge a
// bow.
type Usual[T Quantity] struct {
	What      string // "brace height"
	Low, High T
	Unit      Unit[T] // in which the range is told
}

// Ranges of adult and junior Olympic-style recurve and barebow, from the
// smallest beginner's bow to the longest arms. Common practice, no source.
var (
	BraceHeight  = Usual[Length]{"brace height", 0.150, 0.300, MM}
	DrawLength   = Usual[Length]{"draw length", 0.45, 0.90, CM}
	ArrowLength  = Usual[Length]{"arrow length", 0.45, 0.95, CM}
	StringLength = Usual[Length]{"string length", 1.10, 1.90, CM}
	NockingPoint = Usual[Length]{"nocking point", -0.010, 0.040, MM}
	Tiller       = Usual[Length]{"tiller", -0.030, 0.030, MM}
	CentreShot   = Usual[Length]{"centre shot", -0.010, 0.015, MM}
	ShaftWidth   = Usual[Length]{"shaft diameter", 0.0035, 0.0125, MM}
	Distance     = Usual[Length]{"distance", 2, 100, M}
	DrawWeight   = Usual[Force]{"draw weight", 8 * PoundForce, 72 * PoundForce, Lbf}
	ButtonForce  = Usual[Force]{"button preload", 0, 15, N}
	ArrowMass    = Usual[Mass]{"arrow mass", 0.009, 0.050, G}
	PointMass    = Usual[Mass]{"point mass", 0.003, 0.020, Gr}
	StringMass   = Usual[Mass]{"string mass", 0.003, 0.015, G}
	ArrowSpeed   = Usual[Speed]{"arrow speed", 25, 85, MPS}
	ShaftSpine   = Usual[Spine]{"static spine", 250 * ThousandthInch, 2200 * ThousandthInch, Thou}
	AirTemp      = Usual[Temperature]{"air temperature", -20, 50, DegC}
	AirPressure  = Usual[Pressure]{"air pressure", 60000, 110000, HPa}
)

// Holds reports whether x lies in the usual range.
func (r Usual[T]) Holds(x T) bool { return x >= r.Low && x <= r.High }

// Doubt returns a question about a reading outside the usual range, with the
// readings of the same digits that would be usual: another unit, or a decimal
// mark one place over. Empty when the reading is usual. The reading stays what
// was typed; the person decides.
func (r Usual[T]) Doubt(t Typed[T]) string {
	if r.Holds(t.Value) {
		return ""
	}
	told := kindOf[T]().bySymbol(string(r.Unit))
	shown := told.withSymbol(told.brief(float64(t.Value)))
	if t.Text != "" && !strings.EqualFold(t.Text, shown) {
		shown = fmt.Sprintf("%s (%s)", shorten(t.Text), shown)
	}
	text := fmt.Sprintf("%s %s is outside the usual %s to %s", r.What, shown,
		told.brief(float64(r.Low)), told.withSymbol(told.brief(float64(r.High))))
	if guesses := r.slips(t); len(guesses) > 0 {
		return text + "; did you mean " + strings.Join(guesses, " or ") + "?"
	}
	return text + "; please check the number and its unit"
}

// brief writes an SI value in this unit with three significant digits.
func (d *def) brief(si float64) string {
	v := d.number(si)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return missing
	}
	return plain(new(big.Rat).SetFloat64(v), 3)
}

// slips lists usual readings of the same digits: the same number in another
// unit first, then in the same unit with the mark moved one or two places,
// then the opposite sign.
func (r Usual[T]) slips(t Typed[T]) []string {
	k := kindOf[T]()
	typed := k.bySymbol(string(t.Unit))
	number := new(big.Rat).SetFloat64(float64(t.Value))
	if number == nil {
		return nil
	}
	number = typed.fromSI(number)
	var found []string
	for i := range k.units {
		if k.units[i].symbol != typed.symbol {
			found = r.try(found, number, &k.units[i])
		}
	}
	for _, shift := range []*big.Rat{big.NewRat(1, 10), big.NewRat(10, 1), big.NewRat(1, 100), big.NewRat(100, 1), big.NewRat(-1, 1)} {
		if len(found) == 0 {
			found = r.try(found, new(big.Rat).Mul(number, shift), typed)
		}
	}
	return found
}

// try adds number in unit d to the list if that would be usual.
func (r Usual[T]) try(found []string, number *big.Rat, d *def) []string {
	si, _ := d.toSI(number).Float64()
	shown := d.withSymbol(plain(number, 6))
	for _, f := range found {
		if sameQuantity(f, shown) {
			return found
		}
	}
	if r.Holds(T(si)) {
		found = append(found, shown)
	}
	return found
}

// sameQuantity treats hPa and mbar, which are equal, as one guess.
func sameQuantity(a, b string) bool {
	return strings.ReplaceAll(a, "mbar", "hPa") == strings.ReplaceAll(b, "mbar", "hPa")
}
