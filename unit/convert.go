package unit

// Metres returns the length in metres.
func (l Length) Metres() float64 { return float64(l / Metre) }

// Centimetres returns the length in centimetres.
func (l Length) Centimetres() float64 { return float64(l / Centimetre) }

// Millimetres returns the length in millimetres.
func (l Length) Millimetres() float64 { return float64(l / Millimetre) }

// Inches returns the length in inches.
func (l Length) Inches() float64 { return float64(l / Inch) }

// Feet returns the length in feet.
func (l Length) Feet() float64 { return float64(l / Foot) }

// Yards returns the length in yards.
func (l Length) Yards() float64 { return float64(l / Yard) }

// In returns the number that states the length in unit u.
func (l Length) In(u Unit[Length]) float64 { return u.From(l) }

// Format prints the length in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (l Length) Format(u Unit[Length], digits int, mark Decimal) string {
	return Format(l, u, digits, mark)
}

// String prints the length in its default unit.
func (l Length) String() string { return Format(l, "", -1, Point) }

// Kilograms returns the mass in kilograms.
func (m Mass) Kilograms() float64 { return float64(m / Kilogram) }

// Grams returns the mass in grams.
func (m Mass) Grams() float64 { return float64(m / Gram) }

// Grains returns the mass in grains.
func (m Mass) Grains() float64 { return float64(m / Grain) }

// Pounds returns the mass in pounds.
func (m Mass) Pounds() float64 { return float64(m / Pound) }

// Ounces returns the mass in ounces.
func (m Mass) Ounces() float64 { return float64(m / Ounce) }

// In returns the number that states the mass in unit u.
func (m Mass) In(u Unit[Mass]) float64 { return u.From(m) }

// Format prints the mass in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (m Mass) Format(u Unit[Mass], digits int, mark Decimal) string {
	return Format(m, u, digits, mark)
}

// String prints the mass in its default unit.
func (m Mass) String() string { return Format(m, "", -1, Point) }

// Newtons returns the force in newtons.
func (f Force) Newtons() float64 { return float64(f / Newton) }

// PoundsForce returns the force in pounds-force.
func (f Force) PoundsForce() float64 { return float64(f / PoundForce) }

// KilogramsForce returns the force in kilograms-force.
func (f Force) KilogramsForce() float64 { return float64(f / KilogramForce) }

// In returns the number that states the force in unit u.
func (f Force) In(u Unit[Force]) float64 { return u.From(f) }

// Format prints the force in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (f Force) Format(u Unit[Force], digits int, mark Decimal) string {
	return Format(f, u, digits, mark)
}

// String prints the force in its default unit.
func (f Force) String() string { return Format(f, "", -1, Point) }

// MetresPerSecond returns the speed in metres per second.
func (v Speed) MetresPerSecond() float64 { return float64(v / MetrePerSecond) }

// FeetPerSecond returns the speed in feet per second.
func (v Speed) FeetPerSecond() float64 { return float64(v / FootPerSecond) }

// KilometresPerHour returns the speed in kilometres per hour.
func (v Speed) KilometresPerHour() float64 { return float64(v / KilometrePerHour) }

// In returns the number that states the speed in unit u.
func (v Speed) In(u Unit[Speed]) float64 { return u.From(v) }

// Format prints the speed in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (v Speed) Format(u Unit[Speed], digits int, mark Decimal) string {
	return Format(v, u, digits, mark)
}

// String prints the speed in its default unit.
func (v Speed) String() string { return Format(v, "", -1, Point) }

// Radians returns the angle in radians.
func (a Angle) Radians() float64 { return float64(a / Radian) }

// Degrees returns the angle in degrees.
func (a Angle) Degrees() float64 { return float64(a / Degree) }

// Milliradians returns the angle in milliradians.
func (a Angle) Milliradians() float64 { return float64(a / Milliradian) }

// ArcMinutes returns the angle in minutes of arc.
func (a Angle) ArcMinutes() float64 { return float64(a / ArcMinute) }

// In returns the number that states the angle in unit u.
func (a Angle) In(u Unit[Angle]) float64 { return u.From(a) }

// Format prints the angle in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (a Angle) Format(u Unit[Angle], digits int, mark Decimal) string {
	return Format(a, u, digits, mark)
}

// String prints the angle in its default unit.
func (a Angle) String() string { return Format(a, "", -1, Point) }

// Seconds returns the duration in seconds.
func (d Duration) Seconds() float64 { return float64(d / Second) }

// Milliseconds returns the duration in milliseconds.
func (d Duration) Milliseconds() float64 { return float64(d / Millisecond) }

// Minutes returns the duration in minutes.
func (d Duration) Minutes() float64 { return float64(d / Minute) }

// In returns the number that states the duration in unit u.
func (d Duration) In(u Unit[Duration]) float64 { return u.From(d) }

// Format prints the duration in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (d Duration) Format(u Unit[Duration], digits int, mark Decimal) string {
	return Format(d, u, digits, mark)
}

// String prints the duration in its default unit.
func (d Duration) String() string { return Format(d, "", -1, Point) }

// Joules returns the energy in joules.
func (e Energy) Joules() float64 { return float64(e / Joule) }

// FootPoundsForce returns the energy in foot-pounds-force.
func (e Energy) FootPoundsForce() float64 { return float64(e / FootPoundForce) }

// In returns the number that states the energy in unit u.
func (e Energy) In(u Unit[Energy]) float64 { return u.From(e) }

// Format prints the energy in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (e Energy) Format(u Unit[Energy], digits int, mark Decimal) string {
	return Format(e, u, digits, mark)
}

// String prints the energy in its default unit.
func (e Energy) String() string { return Format(e, "", -1, Point) }

// NewtonsPerMetre returns the stiffness in newtons per metre.
func (k Stiffness) NewtonsPerMetre() float64 { return float64(k / NewtonPerMetre) }

// NewtonsPerMillimetre returns the stiffness in newtons per millimetre.
func (k Stiffness) NewtonsPerMillimetre() float64 { return float64(k / NewtonPerMillimetre) }

// PoundsForcePerInch returns the stiffness in pounds-force per inch.
func (k Stiffness) PoundsForcePerInch() float64 { return float64(k / PoundForcePerInch) }

// In returns the number that states the stiffness in unit u.
func (k Stiffness) In(u Unit[Stiffness]) float64 { return u.From(k) }

// Format prints the stiffness in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (k Stiffness) Format(u Unit[Stiffness], digits int, mark Decimal) string {
	return Format(k, u, digits, mark)
}

// String prints the stiffness in its default unit.
func (k Stiffness) String() string { return Format(k, "", -1, Point) }

// DegreesCelsius returns the temperature in degrees Celsius.
func (t Temperature) DegreesCelsius() float64 { return float64(t / Celsius) }

// DegreesFahrenheit returns the temperature in degrees Fahrenheit.
func (t Temperature) DegreesFahrenheit() float64 { return float64(t)*1.8 + 32 }

// Kelvins returns the thermodynamic temperature in kelvins.
func (t Temperature) Kelvins() float64 { return float64(t) + 273.15 }

// In returns the number that states the temperature in unit u.
func (t Temperature) In(u Unit[Temperature]) float64 { return u.From(t) }

// Format prints the temperature in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (t Temperature) Format(u Unit[Temperature], digits int, mark Decimal) string {
	return Format(t, u, digits, mark)
}

// String prints the temperature in its default unit.
func (t Temperature) String() string { return Format(t, "", -1, Point) }

// Pascals returns the pressure in pascals.
func (p Pressure) Pascals() float64 { return float64(p / Pascal) }

// Hectopascals returns the pressure in hectopascals.
func (p Pressure) Hectopascals() float64 { return float64(p / Hectopascal) }

// InchesOfMercury returns the pressure in inches of mercury.
func (p Pressure) InchesOfMercury() float64 { return float64(p / InchOfMercury) }

// In returns the number that states the pressure in unit u.
func (p Pressure) In(u Unit[Pressure]) float64 { return u.From(p) }

// Format prints the pressure in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (p Pressure) Format(u Unit[Pressure], digits int, mark Decimal) string {
	return Format(p, u, digits, mark)
}

// String prints the pressure in its default unit.
func (p Pressure) String() string { return Format(p, "", -1, Point) }

// Thousandths returns the static spine in thousandths of an inch, the trade's spine number.
func (s Spine) Thousandths() float64 { return float64(s / ThousandthInch) }

// Deflection returns the mid-span deflection of the standard spine test.
func (s Spine) Deflection() Length { return Length(s) }

// In returns the number that states the static spine in unit u.
func (s Spine) In(u Unit[Spine]) float64 { return u.From(s) }

// Format prints the static spine in unit u with the given decimals (negative: the
// unit's usual ones) and decimal mark.
func (s Spine) Format(u Unit[Spine], digits int, mark Decimal) string {
	return Format(s, u, digits, mark)
}

// String prints the static spine in its default unit.
func (s Spine) String() string { return Format(s, "", -1, Point) }
