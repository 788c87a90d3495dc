package unit

import (
	"math"
	"strconv"
	"strings"
)

// System is one person's choice of units and decimal mark. It is a plain
// value: start from Metric, Imperial or Mixed and change a field. An empty
// field means the quantity's default unit.
type System struct {
	Decimal     Decimal           `json:"decimal"`     // 0 point, 1 comma
	Setting     Unit[Length]      `json:"setting"`     // brace height, nocking point, tiller, button, centre shot
	Draw        Unit[Length]      `json:"draw"`        // draw length, arrow length
	Impact      Unit[Length]      `json:"impact"`      // places and spreads on the target
	Distance    Unit[Length]      `json:"distance"`    // to the target
	Mass        Unit[Mass]        `json:"mass"`        // arrow, point, string
	Force       Unit[Force]       `json:"force"`       // draw weight
	Speed       Unit[Speed]       `json:"speed"`       // arrow
	Wind        Unit[Speed]       `json:"wind"`        // air
	Angle       Unit[Angle]       `json:"angle"`       //
	Duration    Unit[Duration]    `json:"duration"`    // time on the string
	Energy      Unit[Energy]      `json:"energy"`      //
	Stiffness   Unit[Stiffness]   `json:"stiffness"`   //
	Temperature Unit[Temperature] `json:"temperature"` //
	Pressure    Unit[Pressure]    `json:"pressure"`    //
	Spine       Unit[Spine]       `json:"spine"`       //
}

// Metric is SI with the millimetre on the bow and newtons for the draw.
func Metric() System {
	return System{
		Setting: MM, Draw: CM, Impact: CM, Distance: M, Mass: G, Force: N, Speed: MPS, Wind: MPS,
		Angle: Deg, Duration: Ms, Energy: J, Stiffness: NPerM, Temperature: DegC, Pressure: HPa, Spine: Thou,
	}
}

// Imperial is inches, grains, pounds, yards and feet per second.
func Imperial() System {
	return System{
		Setting: In, Draw: In, Impact: In, Distance: Yd, Mass: Gr, Force: Lbf, Speed: FPS, Wind: MPH,
		Angle: Deg, Duration: Ms, Energy: FtLbf, Stiffness: LbfPerIn, Temperature: DegF, Pressure: InHg, Spine: Thou,
	}
}

// Mixed is what most metric archers use in fact: millimetres on the bow,
// metres to the target, but pounds of draw, inches of draw length and grains
// of arrow (common practice, no source). It is the default of the program.
func Mixed() System {
	s := Metric()
	s.Draw, s.Mass, s.Force = In, Gr, Lbf
	return s
}

// Style prints and reads one quantity in one unit.
type Style[T Quantity] struct {
	Unit    Unit[T]
	Decimal Decimal
	Digits  int // decimals; negative: the unit's usual ones
}

// SettingStyle is for brace height, nocking point, tiller and the like.
func (s System) SettingStyle() Style[Length] { return Style[Length]{s.Setting, s.Decimal, -1} }

// DrawStyle is for draw and arrow length.
func (s System) DrawStyle() Style[Length] { return Style[Length]{s.Draw, s.Decimal, -1} }

// ImpactStyle is for places and spreads on the target.
func (s System) ImpactStyle() Style[Length] { return Style[Length]{s.Impact, s.Decimal, 1} }

// DistanceStyle is for the distance to the target.
func (s System) DistanceStyle() Style[Length] { return Style[Length]{s.Distance, s.Decimal, 0} }

// MassStyle is for arrow, point and string masses.
func (s System) MassStyle() Style[Mass] { return Style[Mass]{s.Mass, s.Decimal, -1} }

// ForceStyle is for draw weight and tension.
func (s System) ForceStyle() Style[Force] { return Style[Force]{s.Force, s.Decimal, -1} }

// SpeedStyle is for the arrow's speed.
func (s System) SpeedStyle() Style[Speed] { return Style[Speed]{s.Speed, s.Decimal, -1} }

// WindStyle is for the wind.
func (s System) WindStyle() Style[Speed] { return Style[Speed]{s.Wind, s.Decimal, -1} }

// AngleStyle is for angles.
func (s System) AngleStyle() Style[Angle] { return Style[Angle]{s.Angle, s.Decimal, -1} }

// DurationStyle is for the time on the string and the like.
func (s System) DurationStyle() Style[Duration] { return Style[Duration]{s.Duration, s.Decimal, -1} }

// EnergyStyle is for energies.
func (s System) EnergyStyle() Style[Energy] { return Style[Energy]{s.Energy, s.Decimal, -1} }

// StiffnessStyle is for springs and strings.
func (s System) StiffnessStyle() Style[Stiffness] {
	return Style[Stiffness]{s.Stiffness, s.Decimal, -1}
}

// TemperatureStyle is for the air.
func (s System) TemperatureStyle() Style[Temperature] {
	return Style[Temperature]{s.Temperature, s.Decimal, -1}
}

// PressureStyle is for the air.
func (s System) PressureStyle() Style[Pressure] { return Style[Pressure]{s.Pressure, s.Decimal, -1} }

// SpineStyle is for static spine.
func (s System) SpineStyle() Style[Spine] { return Style[Spine]{s.Spine, s.Decimal, -1} }

// Plain gives a count or a ratio in the person's decimal mark, with the digits
// it has.
func (s System) Plain(v float64) string {
	text := strconv.FormatFloat(v, 'f', -1, 64)
	if s.Decimal == Comma {
		text = strings.Replace(text, ".", ",", 1)
	}
	return text
}

// Print gives x with its unit: "22.5 cm".
func (p Style[T]) Print(x T) string { return Format(x, p.Unit, p.Digits, p.Decimal) }

// Precise gives x with its unit and no fewer digits than show a step, such as
// the last digit that was typed; step 0 is not known.
func (p Style[T]) Precise(x, step T) string {
	p.Digits = max(p.Unit.Digits(), decimalsOf(math.Abs(p.Unit.From(x+step)-p.Unit.From(x))))
	return p.Print(x)
}

// decimalsOf is how many decimals show a step, at most 3: 0.1 needs one, a
// quarter two, and 25.4 none.
func decimalsOf(step float64) int {
	if step <= 0 {
		return 0
	}
	return min(3, max(0, int(math.Ceil(-math.Log10(step)-0.01))))
}

// Number gives x without its unit, for a table whose header has it.
func (p Style[T]) Number(x T) string {
	d := p.def()
	return decimals(d.number(float64(x)), p.digits(), p.Decimal)
}

// Symbol is the unit's symbol, for a table's header.
func (p Style[T]) Symbol() string { return p.def().symbol }

// Difference gives a change of a quantity with its sign: "+1.5 mm", and for a
// temperature the change of degrees, not the temperature.
func (p Style[T]) Difference(x T) string {
	s := decimals(p.def().span(float64(x)), p.digits(), p.Decimal)
	if s != missing && !strings.HasPrefix(s, "-") && strings.Trim(s, "0.,") != "" {
		s = "+" + s
	}
	return p.def().withSymbol(s)
}

// PlusMinus gives x with the half-width of its interval: "22.5 ± 0.3 cm". The
// half-width gets one significant digit, two where it starts with 1 or 2, and
// x the same decimals (after the GUM, 7.2.6, recalled: at most two digits).
// A half-width that is unknown (NaN) or infinite prints as a dash: "22.5 ± –".
func (p Style[T]) PlusMinus(x, half T) string {
	d := p.def()
	width := math.Abs(d.span(float64(half)))
	digits := p.digits()
	if width > 0 && !math.IsInf(width, 0) {
		digits = doubtDigits(width)
		unit := math.Pow(10, float64(-digits))
		width = math.Round(width/unit) * unit
	}
	value := decimals(rounded(d.number(float64(x)), digits), max(0, digits), p.Decimal)
	return d.withSymbol(value + " ± " + decimals(width, max(0, digits), p.Decimal))
}

// Range gives an interval: "21.0 to 23.5 cm".
func (p Style[T]) Range(low, high T) string {
	return p.def().withSymbol(p.Number(low) + " to " + p.Number(high))
}

// Read reads what this person typed: a bare number is in their unit, and
// their decimal mark settles what 1,234 means. field is named in errors.
func (p Style[T]) Read(field, text string) (Typed[T], error) {
	return Read(text, Reading[T]{Field: field, Bare: Unit[T](p.def().symbol), Decimal: p.Decimal})
}

// doubtDigits gives the decimals to which a half-width is worth printing;
// negative for tens and hundreds.
func doubtDigits(width float64) int {
	lead := math.Floor(math.Log10(width))
	first := width / math.Pow(10, lead)
	digits := -int(lead)
	if first < 3-1e-9 {
		digits++
	}
	return min(digits, 12)
}

// rounded rounds to tens and hundreds where digits is negative.
func rounded(v float64, digits int) float64 {
	if digits >= 0 {
		return v
	}
	unit := math.Pow(10, float64(-digits))
	return math.Round(v/unit) * unit
}

func (p Style[T]) def() *def { return kindOf[T]().bySymbol(string(p.Unit)) }

func (p Style[T]) digits() int {
	if p.Digits < 0 {
		return p.def().digits
	}
	return p.Digits
}

// span converts a difference: scale without the zero.
func (d *def) span(si float64) float64 {
	scale, _ := d.scale.Float64()
	return si / scale
}

// withSymbol adds the symbol; the trade's spine numbers stand bare.
func (d *def) withSymbol(s string) string {
	switch {
	case d.symbol == "thou":
		return s
	case d.tight:
		return s + d.symbol
	}
	return s + " " + d.symbol
}
