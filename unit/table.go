package unit

import (
	"math/big"
	"slices"
	"strings"
)

// def is one unit of a quantity: SI value = (number − zero) × scale.
type def struct {
	symbol  string
	scale   *big.Rat
	zero    *big.Rat // nil for every unit but °F and K
	digits  int      // decimals shown when nothing else is asked
	tight   bool     // no space between number and symbol
	then    string   // the smaller unit that may follow: 5 ft 10 in
	aliases []string // folded: lower case, no spaces, no dots
}

// kind is one quantity: its name, its units and a good example.
type kind struct {
	name    string
	example string
	units   []def
}

// pi180 is π/180 to 50 digits, so that angles round correctly too.
const pi180 = "0.017453292519943295769236907684886127134428718885417"

// rat reads an exact factor from the tables below.
func rat(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("unit: factor " + s + " is not a number")
	}
	return r
}

// product multiplies two factors of the tables exactly.
func product(a, b string) *big.Rat { return new(big.Rat).Mul(rat(a), rat(b)) }

// quotient divides two factors of the tables exactly.
func quotient(a, b string) *big.Rat { return new(big.Rat).Quo(rat(a), rat(b)) }

// Factors: see the constants of this package for their sources.
var (
	lengths = &kind{"length", "22.5 cm", []def{
		{symbol: "mm", scale: rat("0.001"), digits: 0, aliases: []string{"mm", "millimetre", "millimetres", "millimeter", "millimeters"}},
		{symbol: "cm", scale: rat("0.01"), digits: 1, aliases: []string{"cm", "centimetre", "centimetres", "centimeter", "centimeters"}},
		{symbol: "m", scale: rat("1"), digits: 3, aliases: []string{"m", "metre", "metres", "meter", "meters"}},
		{symbol: "in", scale: rat("0.0254"), digits: 2, aliases: []string{"in", "inch", "inches", "ins", `"`, "''"}},
		{symbol: "ft", scale: rat("0.3048"), digits: 2, then: "in", aliases: []string{"ft", "foot", "feet", "'"}},
		{symbol: "yd", scale: rat("0.9144"), digits: 1, aliases: []string{"yd", "yds", "yard", "yards"}},
	}}
	masses = &kind{"mass", "360 gr", []def{
		{symbol: "g", scale: rat("0.001"), digits: 1, aliases: []string{"g", "gram", "grams", "gramme", "grammes"}},
		{symbol: "kg", scale: rat("1"), digits: 2, aliases: []string{"kg", "kilogram", "kilograms", "kilo", "kilos"}},
		{symbol: "mg", scale: rat("0.000001"), digits: 0, aliases: []string{"mg", "milligram", "milligrams"}},
		{symbol: "gr", scale: rat("0.00006479891"), digits: 0, aliases: []string{"gr", "grs", "gn", "grain", "grains"}},
		{symbol: "lb", scale: rat("0.45359237"), digits: 2, then: "oz", aliases: []string{"lb", "lbs", "#", "pound", "pounds"}},
		{symbol: "oz", scale: rat("0.028349523125"), digits: 1, aliases: []string{"oz", "ounce", "ounces"}},
	}}
	forces = &kind{"force", "44 lbf", []def{
		{symbol: "N", scale: rat("1"), digits: 1, aliases: []string{"n", "newton", "newtons"}},
		{symbol: "lbf", scale: rat("4.4482216152605"), digits: 1, aliases: []string{"lbf", "lbsf", "lb", "lbs", "#", "pound", "pounds"}},
		{symbol: "kgf", scale: rat("9.80665"), digits: 2, aliases: []string{"kgf", "kg", "kp", "kilo", "kilos"}},
	}}
	speeds = &kind{"speed", "59.7 m/s", []def{
		{symbol: "m/s", scale: rat("1"), digits: 1, aliases: []string{"m/s", "mps", "ms-1"}},
		{symbol: "ft/s", scale: rat("0.3048"), digits: 0, aliases: []string{"ft/s", "fps", "f/s"}},
		{symbol: "km/h", scale: rat("5/18"), digits: 0, aliases: []string{"km/h", "kmh", "kph", "kmph"}},
		{symbol: "mph", scale: rat("0.44704"), digits: 0, aliases: []string{"mph", "mi/h"}},
	}}
	angles = &kind{"angle", "1.5°", []def{
		{symbol: "°", scale: rat(pi180), digits: 1, tight: true, then: "arcmin", aliases: []string{"°", "deg", "degree", "degrees"}},
		{symbol: "rad", scale: rat("1"), digits: 4, aliases: []string{"rad", "radian", "radians"}},
		{symbol: "mrad", scale: rat("0.001"), digits: 1, aliases: []string{"mrad", "mil", "mils", "milliradian", "milliradians"}},
		{symbol: "arcmin", scale: quotient(pi180, "60"), digits: 1, then: "arcsec", aliases: []string{"arcmin", "moa", "'", "arcminute", "arcminutes"}},
		{symbol: "arcsec", scale: quotient(pi180, "3600"), digits: 0, aliases: []string{"arcsec", `"`, "''", "arcsecond", "arcseconds"}},
	}}
	durations = &kind{"duration", "16.2 ms", []def{
		{symbol: "s", scale: rat("1"), digits: 2, aliases: []string{"s", "sec", "secs", "second", "seconds"}},
		{symbol: "ms", scale: rat("0.001"), digits: 1, aliases: []string{"ms", "msec", "millisecond", "milliseconds"}},
		{symbol: "µs", scale: rat("0.000001"), digits: 0, aliases: []string{"µs", "μs", "us", "microsecond", "microseconds"}},
		{symbol: "min", scale: rat("60"), digits: 1, then: "s", aliases: []string{"min", "mins", "minute", "minutes"}},
		{symbol: "h", scale: rat("3600"), digits: 1, then: "min", aliases: []string{"h", "hr", "hrs", "hour", "hours"}},
	}}
	energies = &kind{"energy", "52 J", []def{
		{symbol: "J", scale: rat("1"), digits: 1, aliases: []string{"j", "joule", "joules", "nm", "n·m"}},
		{symbol: "ft·lbf", scale: product("0.3048", "4.4482216152605"), digits: 1, aliases: []string{"ft·lbf", "ftlbf", "ftlb", "ftlbs", "ft-lb", "ft-lbs", "ft-lbf", "ft·lb", "footpounds", "foot-pounds"}},
	}}
	stiffnesses = &kind{"stiffness", "1.2 kN/m", []def{
		{symbol: "N/m", scale: rat("1"), digits: 0, aliases: []string{"n/m"}},
		{symbol: "N/mm", scale: rat("1000"), digits: 2, aliases: []string{"n/mm"}},
		{symbol: "kN/m", scale: rat("1000"), digits: 2, aliases: []string{"kn/m"}},
		{symbol: "lbf/in", scale: quotient("4.4482216152605", "0.0254"), digits: 1, aliases: []string{"lbf/in", "lb/in", "lbs/in", "#/in", "lbf/inch", "lb/inch"}},
	}}
	temperatures = &kind{"temperature", "18 °C", []def{
		{symbol: "°C", scale: rat("1"), digits: 0, aliases: []string{"°c", "c", "℃", "degc", "degreesc", "celsius"}},
		{symbol: "°F", scale: rat("5/9"), zero: rat("32"), digits: 0, aliases: []string{"°f", "f", "℉", "degf", "degreesf", "fahrenheit"}},
		{symbol: "K", scale: rat("1"), zero: rat("273.15"), digits: 1, aliases: []string{"k", "kelvin"}},
	}}
	pressures = &kind{"pressure", "1013 hPa", []def{
		{symbol: "hPa", scale: rat("100"), digits: 0, aliases: []string{"hpa", "hectopascal", "hectopascals"}},
		{symbol: "Pa", scale: rat("1"), digits: 0, aliases: []string{"pa", "pascal", "pascals"}},
		{symbol: "kPa", scale: rat("1000"), digits: 1, aliases: []string{"kpa", "kilopascal", "kilopascals"}},
		{symbol: "mbar", scale: rat("100"), digits: 0, aliases: []string{"mbar", "mb", "millibar", "millibars"}},
		{symbol: "mmHg", scale: rat("133.322387415"), digits: 0, aliases: []string{"mmhg", "torr"}},
		{symbol: "inHg", scale: product("25.4", "133.322387415"), digits: 2, aliases: []string{"inhg", `"hg`}},
	}}
	spines = &kind{"static spine", "500 (or .500)", []def{
		{symbol: "thou", scale: rat("0.0000254"), digits: 0, aliases: []string{"thou", "spine", "thousandths"}},
		{symbol: "in", scale: rat("0.0254"), digits: 3, aliases: []string{"in", "inch", "inches", `"`, "''"}},
		{symbol: "mm", scale: rat("0.001"), digits: 2, aliases: []string{"mm"}},
	}}
)

// allKinds lists every quantity, to say "kg is a unit of mass" in an error.
var allKinds = []*kind{
	lengths, masses, forces, speeds, angles, durations, energies,
	stiffnesses, temperatures, pressures, spines,
}

// kindOf returns the table of T.
func kindOf[T Quantity]() *kind {
	switch any(T(0)).(type) {
	case Length:
		return lengths
	case Mass:
		return masses
	case Force:
		return forces
	case Speed:
		return speeds
	case Angle:
		return angles
	case Duration:
		return durations
	case Energy:
		return energies
	case Stiffness:
		return stiffnesses
	case Temperature:
		return temperatures
	case Pressure:
		return pressures
	default:
		return spines
	}
}

// bySymbol finds a unit by the symbol it prints; the default if unknown.
func (k *kind) bySymbol(symbol string) *def {
	for i := range k.units {
		if k.units[i].symbol == symbol {
			return &k.units[i]
		}
	}
	return &k.units[0]
}

// unmarked takes away what people put into a unit's name or leave out.
var unmarked = strings.NewReplacer(" ", "", ".", "")

// byAlias finds a unit by what a person wrote; nil if unknown.
func (k *kind) byAlias(text string) *def {
	folded := strings.ToLower(unmarked.Replace(text))
	for i := range k.units {
		if slices.Contains(k.units[i].aliases, folded) {
			return &k.units[i]
		}
	}
	return nil
}

// symbols lists the units a message offers.
func (k *kind) symbols() string {
	names := make([]string, len(k.units))
	for i, u := range k.units {
		names[i] = u.symbol
	}
	return strings.Join(names, ", ")
}

// toSI applies the unit exactly: (number − zero) × scale.
func (d *def) toSI(number *big.Rat) *big.Rat {
	si := new(big.Rat).Set(number)
	if d.zero != nil {
		si.Sub(si, d.zero)
	}
	return si.Mul(si, d.scale)
}

// fromSI is the inverse of toSI.
func (d *def) fromSI(si *big.Rat) *big.Rat {
	number := new(big.Rat).Quo(si, d.scale)
	if d.zero != nil {
		number.Add(number, d.zero)
	}
	return number
}

// Units lists the units in which a T can be typed and printed, the default
// first; a form offers them.
func Units[T Quantity]() []Unit[T] {
	k := kindOf[T]()
	list := make([]Unit[T], len(k.units))
	for i, d := range k.units {
		list[i] = Unit[T](d.symbol)
	}
	return list
}

// Known reports whether u is a unit of T (the empty Unit is not).
func (u Unit[T]) Known() bool {
	d := kindOf[T]().bySymbol(string(u))
	return d.symbol == string(u)
}

// Of returns the SI value of x in unit u: unit.In.Of(8.75) is 0.22225 m.
func (u Unit[T]) Of(x float64) T {
	d := kindOf[T]().bySymbol(string(u))
	scale, _ := d.scale.Float64()
	if d.zero != nil {
		zero, _ := d.zero.Float64()
		x -= zero
	}
	return T(x * scale)
}

// From returns the number that states x in unit u: unit.In.From(0.22225) is
// 8.75.
func (u Unit[T]) From(x T) float64 {
	d := kindOf[T]().bySymbol(string(u))
	return d.number(float64(x))
}

// number converts an SI value to this unit in plain floating point.
func (d *def) number(si float64) float64 {
	scale, _ := d.scale.Float64()
	v := si / scale
	if d.zero != nil {
		zero, _ := d.zero.Float64()
		v += zero
	}
	return v
}

// Digits returns the decimals usually shown in this unit: what the usual
// instrument resolves, no more.
func (u Unit[T]) Digits() int { return kindOf[T]().bySymbol(string(u)).digits }
