package unit

import "math"

// The sizes of the units in SI, for building quantities in Go code:
// 8.75 * unit.Inch, 44 * unit.PoundForce.
//
// Sources. Inch, foot, yard and pound are exact by the international yard and
// pound agreement of 1959; the grain is 1/7000 lb exactly; standard gravity
// 9.80665 m/s² (3rd CGPM, 1901) makes the pound-force exactly
// 0.45359237 × 9.80665 N and the kilogram-force 9.80665 N. The inch of
// mercury is the conventional one, 25.4 × 133.322387415 Pa. Degree, minute
// and second of arc follow from π.
const (
	Metre      Length = 1
	Millimetre Length = 0.001
	Centimetre Length = 0.01
	Inch       Length = 0.0254
	Foot       Length = 0.3048
	Yard       Length = 0.9144

	Kilogram  Mass = 1
	Gram      Mass = 0.001
	Milligram Mass = 0.000001
	Grain     Mass = 0.00006479891
	Pound     Mass = 0.45359237
	Ounce     Mass = 0.028349523125

	Newton        Force = 1
	PoundForce    Force = 4.4482216152605
	KilogramForce Force = 9.80665

	MetrePerSecond   Speed = 1
	FootPerSecond    Speed = 0.3048
	KilometrePerHour Speed = 1 / 3.6
	MilePerHour      Speed = 0.44704

	Radian      Angle = 1
	Milliradian Angle = 0.001
	Degree      Angle = math.Pi / 180
	ArcMinute   Angle = math.Pi / 10800
	ArcSecond   Angle = math.Pi / 648000

	Second      Duration = 1
	Millisecond Duration = 0.001
	Microsecond Duration = 0.000001
	Minute      Duration = 60
	Hour        Duration = 3600

	Joule          Energy = 1
	FootPoundForce Energy = 1.3558179483314004

	NewtonPerMetre      Stiffness = 1
	NewtonPerMillimetre Stiffness = 1000
	PoundForcePerInch   Stiffness = 4.4482216152605 / 0.0254

	Celsius Temperature = 1

	Pascal              Pressure = 1
	Hectopascal         Pressure = 100
	Kilopascal          Pressure = 1000
	Bar                 Pressure = 100000
	MillimetreOfMercury Pressure = 133.322387415
	InchOfMercury       Pressure = 3386.388640341

	// ThousandthInch is one step of the trade's spine number.
	ThousandthInch Spine = 0.0000254
)

// StandardGravity is the conventional acceleration of free fall in m/s²
// (3rd CGPM, 1901; exact).
const StandardGravity = 9.80665

// Unit names a unit in which a T is typed or printed. Its text is the symbol,
// so it can stand in JSON and in a database as it is. The empty Unit means
// the quantity's default unit; an unknown symbol prints as the default.
type Unit[T Quantity] string

// Units of each quantity, by symbol. The first of each group is the default.
const (
	MM Unit[Length] = "mm"
	CM Unit[Length] = "cm"
	M  Unit[Length] = "m"
	In Unit[Length] = "in"
	Ft Unit[Length] = "ft"
	Yd Unit[Length] = "yd"

	G  Unit[Mass] = "g"
	Kg Unit[Mass] = "kg"
	Mg Unit[Mass] = "mg"
	Gr Unit[Mass] = "gr"
	Lb Unit[Mass] = "lb"
	Oz Unit[Mass] = "oz"

	N   Unit[Force] = "N"
	Lbf Unit[Force] = "lbf"
	Kgf Unit[Force] = "kgf"

	MPS Unit[Speed] = "m/s"
	FPS Unit[Speed] = "ft/s"
	KPH Unit[Speed] = "km/h"
	MPH Unit[Speed] = "mph"

	Deg    Unit[Angle] = "°"
	Rad    Unit[Angle] = "rad"
	Mrad   Unit[Angle] = "mrad"
	ArcMin Unit[Angle] = "arcmin"
	ArcSec Unit[Angle] = "arcsec"

	S   Unit[Duration] = "s"
	Ms  Unit[Duration] = "ms"
	Us  Unit[Duration] = "µs"
	Min Unit[Duration] = "min"
	H   Unit[Duration] = "h"

	J     Unit[Energy] = "J"
	FtLbf Unit[Energy] = "ft·lbf"

	NPerM    Unit[Stiffness] = "N/m"
	NPerMM   Unit[Stiffness] = "N/mm"
	KNPerM   Unit[Stiffness] = "kN/m"
	LbfPerIn Unit[Stiffness] = "lbf/in"

	DegC Unit[Temperature] = "°C"
	DegF Unit[Temperature] = "°F"
	K    Unit[Temperature] = "K"

	HPa  Unit[Pressure] = "hPa"
	Pa   Unit[Pressure] = "Pa"
	KPa  Unit[Pressure] = "kPa"
	MBar Unit[Pressure] = "mbar"
	MmHg Unit[Pressure] = "mmHg"
	InHg Unit[Pressure] = "inHg"

	// Thou is the trade's spine number, printed bare: 500.
	Thou    Unit[Spine] = "thou"
	SpineIn Unit[Spine] = "in"
	SpineMM Unit[Spine] = "mm"
)
