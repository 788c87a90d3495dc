package unit

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Printing then reading is the identity for every unit of every quantity and
// both decimal marks, and in the typography of six locales (bars U22). Run with -rapid.checks=1000000 for the full
// count; the default of 100 keeps the suite quick.
func TestPrintThenReadIsTheIdentity(t *testing.T) {
	t.Run("length", identity[Length])
	t.Run("mass", identity[Mass])
	t.Run("force", identity[Force])
	t.Run("speed", identity[Speed])
	t.Run("angle", identity[Angle])
	t.Run("duration", identity[Duration])
	t.Run("energy", identity[Energy])
	t.Run("stiffness", identity[Stiffness])
	t.Run("temperature", identity[Temperature])
	t.Run("pressure", identity[Pressure])
	t.Run("spine", identity[Spine])
}

// anyValue draws values from far below to far above anything on a bow.
func anyValue() *rapid.Generator[float64] {
	return rapid.Custom(func(t *rapid.T) float64 {
		m := rapid.Float64Range(-10, 10).Draw(t, "mantissa")
		return m * math.Pow(10, float64(rapid.IntRange(-8, 8).Draw(t, "exponent")))
	})
}

func identity[T Quantity](t *testing.T) {
	for _, u := range Units[T]() {
		t.Run(string(u), rapid.MakeCheck(func(t *rapid.T) {
			x := T(anyValue().Draw(t, "x"))
			if _, ok := any(x).(Temperature); ok {
				// Beside a zero at 273.15 a float64 of 1e-30 would need 50 digits.
				x = T(math.Round(float64(x)*1e12) / 1e12)
			}
			mark := rapid.SampledFrom([]Decimal{Point, Comma}).Draw(t, "mark")
			shown := Exact(x, u, mark)
			for _, how := range []Reading[T]{{}, {Decimal: mark}} {
				got, err := Read(shown, how)
				if err != nil {
					t.Fatalf("%v prints as %q: %v", float64(x), shown, err)
				}
				if got.Value != x || got.Text != shown {
					t.Fatalf("%v prints as %q, reads as %v", float64(x), shown, float64(got.Value))
				}
			}
			inLocales(t, x, u)
			settles(t, x, u, mark)
		}))
	}
}

// locales are ways to set numbers (CLDR, recalled): decimal mark, the sign of
// negative numbers and the space before a unit.
var locales = []struct {
	name         string
	mark         Decimal
	minus, space string
}{
	{"en-GB", Point, "-", " "}, {"en-US", Point, "-", " "}, {"de-DE", Comma, "-", "\u00a0"},
	{"fr-FR", Comma, "-", "\u202f"}, {"sv-SE", Comma, "\u2212", "\u00a0"}, {"nl-NL", Comma, "\u2013", " "},
}

// inLocales: a number set by a program in any of the locales reads the same.
func inLocales[T Quantity](t *rapid.T, x T, u Unit[T]) {
	l := rapid.SampledFrom(locales).Draw(t, "locale")
	shown := strings.NewReplacer("-", l.minus, " ", l.space).Replace(Exact(x, u, l.mark))
	shown = strings.Replace(shown, "e"+l.minus, "e-", 1)
	got, err := Read(shown, Reading[T]{Decimal: l.mark})
	if err != nil || got.Value != x {
		t.Fatalf("%s: %v is set as %q, reads as %v (%v)", l.name, float64(x), shown, float64(got.Value), err)
	}
}

// settles: a rounded print, read back by someone with the same decimal mark,
// prints the same again and is off by at most half its last digit.
func settles[T Quantity](t *rapid.T, x T, u Unit[T], mark Decimal) {
	if math.Abs(u.From(x)) > 1e10 {
		return // float64 has no more decimals to keep
	}
	digits := rapid.IntRange(0, 4).Draw(t, "digits")
	shown := Format(x, u, digits, mark)
	got, err := Read(shown, Reading[T]{Decimal: mark})
	if err != nil {
		t.Fatalf("%v with %d decimals prints as %q: %v", float64(x), digits, shown, err)
	}
	if again := Format(got.Value, u, digits, mark); again != shown {
		t.Fatalf("%q reads as %v and prints as %q", shown, float64(got.Value), again)
	}
	half := 0.5 * math.Pow(10, -float64(digits))
	// One part in 1e14 for the float64 conversions on both sides.
	if off := math.Abs(u.From(got.Value) - u.From(x)); off > half+1e-14*math.Abs(u.From(x))+1e-12 {
		t.Fatalf("%q is %g away from %v %s", shown, off, u.From(x), u)
	}
}

// The decimal numbers of the trade survive every change of unit: what is
// typed with few digits comes back with those digits.
func TestTypedDigitsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(Units[Length]()).Draw(t, "unit")
		n := rapid.IntRange(0, 99999).Draw(t, "hundredths")
		text := Format(Length(0), u, 2, Point)
		text = decimals(float64(n)/100, 2, Point) + text[len("0.00"):]
		got, err := ParseLength(text)
		if err != nil {
			t.Fatal(err)
		}
		if back := Format(got, u, 2, Point); back != text {
			t.Fatalf("%q comes back as %q", text, back)
		}
	})
}

// Every sixteenth of an inch survives the way a bow square shows it.
func TestSixteenthsReadBack(t *testing.T) {
	for n := -200; n <= 400; n++ {
		x := Length(float64(n)*254) / 160000
		shown := Sixteenths(x)
		got, err := ParseLength(shown)
		if err != nil {
			t.Fatalf("%q: %v", shown, err)
		}
		if math.Abs(float64(got-x)) > 1e-15 {
			t.Errorf("%d/16 in prints as %q, reads as %v", n, shown, got.Inches())
		}
	}
}

// The constants for Go code and the tables for reading agree.
func TestConstantsAgreeWithTables(t *testing.T) {
	same(t, map[Unit[Length]]Length{MM: Millimetre, CM: Centimetre, M: Metre, In: Inch, Ft: Foot, Yd: Yard})
	same(t, map[Unit[Mass]]Mass{G: Gram, Kg: Kilogram, Mg: Milligram, Gr: Grain, Lb: Pound, Oz: Ounce})
	same(t, map[Unit[Force]]Force{N: Newton, Lbf: PoundForce, Kgf: KilogramForce})
	same(t, map[Unit[Speed]]Speed{MPS: MetrePerSecond, FPS: FootPerSecond, KPH: KilometrePerHour, MPH: MilePerHour})
	same(t, map[Unit[Angle]]Angle{Deg: Degree, Rad: Radian, Mrad: Milliradian, ArcMin: ArcMinute, ArcSec: ArcSecond})
	same(t, map[Unit[Duration]]Duration{S: Second, Ms: Millisecond, Us: Microsecond, Min: Minute, H: Hour})
	same(t, map[Unit[Energy]]Energy{J: Joule, FtLbf: FootPoundForce})
	same(t, map[Unit[Stiffness]]Stiffness{NPerM: NewtonPerMetre, NPerMM: NewtonPerMillimetre, LbfPerIn: PoundForcePerInch})
	same(t, map[Unit[Pressure]]Pressure{Pa: Pascal, HPa: Hectopascal, KPa: Kilopascal, MmHg: MillimetreOfMercury, InHg: InchOfMercury})
	same(t, map[Unit[Spine]]Spine{Thou: ThousandthInch})
}

func same[T Quantity](t *testing.T, sizes map[Unit[T]]T) {
	t.Helper()
	for u, want := range sizes {
		got, err := Parse[T]("1 " + string(u))
		if err != nil || got != want || u.Of(1) != want {
			t.Errorf("1 %s reads as %.17g, Of gives %.17g, the constant is %.17g (%v)", u, float64(got), float64(u.Of(1)), float64(want), err)
		}
	}
}

// The relations between units that define them, independent of the table's
// digits: 7000 gr = 1 lb; 36 in = 1 yd; 1 lbf is the weight of 1 lb.
func TestDefiningRelations(t *testing.T) {
	rel := func(name string, got, want float64) {
		if math.Abs(got/want-1) > 1e-15 { // one rounding on each side
			t.Errorf("%s: %.17g, want %.17g", name, got, want)
		}
	}
	rel("7000 gr", (7000 * Grain).Pounds(), 1)
	rel("16 oz", (16 * Ounce).Pounds(), 1)
	rel("36 in", (36 * Inch).Yards(), 1)
	rel("1 lbf", float64(PoundForce), Pound.Kilograms()*StandardGravity)
	rel("3600 arcsec", (3600 * ArcSecond).Degrees(), 1)
	rel("212 °F", Temperature(100).DegreesFahrenheit(), 212)
	rel("spine 500", float64(Spine(0.0127).Deflection()), 0.5*float64(Inch))
}

// FuzzRead: whatever is typed, reading neither panics nor yields NaN or an
// infinity, and what it accepts prints to something that reads the same.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"22.5 cm", "22,5 cm", "8 3/4 in", "8¾\"", "5' 10\"", "44#", "1,234 mm", "1.234,5 mm",
		"--3 mm", "1e999 m", "NaN", "3 mm 4", "−0 °F", "1e-30 yd", ".500", "8-3/4", "1/0", "\u00a0", "5'10 1/2", "1e", "e1 m",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		fuzzOne(t, s, MM)
		fuzzOne(t, s, Lbf)
		fuzzOne(t, s, Deg)
		fuzzOne(t, s, DegF)
		fuzzOne(t, s, Thou)
	})
}

func fuzzOne[T Quantity](t *testing.T, s string, u Unit[T]) {
	for _, how := range []Reading[T]{{}, {Bare: u}, {Bare: u, Decimal: Comma}} {
		got, err := Read(s, how)
		if err != nil {
			continue
		}
		if math.IsNaN(float64(got.Value)) || math.IsInf(float64(got.Value), 0) {
			t.Fatalf("%q reads as %v", s, float64(got.Value))
		}
		shown := Exact(got.Value, got.Unit, Point)
		back, err := Read(shown, Reading[T]{})
		if err != nil || back.Value != got.Value {
			t.Fatalf("%q reads as %v, prints as %q, reads as %v (%v)", s, float64(got.Value), shown, float64(back.Value), err)
		}
	}
}

func BenchmarkRead(b *testing.B) {
	for b.Loop() {
		if _, err := ParseLength("8 3/4 in"); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFormat(b *testing.B) {
	for b.Loop() {
		_ = Format(Length(0.22225), In, 2, Point)
	}
}

func BenchmarkExact(b *testing.B) {
	for b.Loop() {
		_ = Exact(Length(0.22225), In, Point)
	}
}
