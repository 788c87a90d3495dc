package unit

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

// A file written by a person holds text with units and keeps it; the types
// themselves stay SI numbers in JSON.
func TestTextInHumanFiles(t *testing.T) {
	var bow struct {
		Brace Text[Length] `json:"brace_height"`
		Draw  Text[Force]  `json:"draw_weight"`
		Spine Text[Spine]  `json:"static_spine"`
		SI    Length       `json:"length_m"`
		None  Text[Mass]   `json:"arrow_mass,omitzero"`
	}
	in := `{"brace_height":"8 3/4 in","draw_weight":"44#","static_spine":500,"length_m":0.225}`
	if err := json.Unmarshal([]byte(in), &bow); err != nil {
		t.Fatal(err)
	}
	if bow.Brace.Value != 0.22225 || bow.Brace.Unit != In || bow.Draw.Unit != Lbf || bow.Spine.Value != 0.0127 || bow.SI != 0.225 {
		t.Errorf("read %+v", bow)
	}
	out, err := json.Marshal(bow)
	want := `{"brace_height":"8 3/4 in","draw_weight":"44#","static_spine":"500","length_m":0.225}`
	if err != nil || string(out) != want {
		t.Errorf("wrote %s (%v)\nwant  %s", out, err, want)
	}
}

func TestTextRefusesBareNumbers(t *testing.T) {
	var v struct{ Brace Text[Length] }
	err := json.Unmarshal([]byte(`{"Brace": 22.5}`), &v)
	var pe *ParseError
	if !errors.As(err, &pe) || !strings.Contains(err.Error(), "no unit") {
		t.Fatalf("error %v, want a ParseError about the unit", err)
	}
	if got := For("brace height", fmt.Errorf("line 3: %w", err)); !strings.HasPrefix(got.Error(), "brace height: ") {
		t.Errorf("For gives %q", got)
	}
	if For("x", nil) != nil {
		t.Error("For makes an error of nil")
	}
}

// What was typed is kept, with its unit and the size of its last digit.
func TestTypedKeepsWhatWasTyped(t *testing.T) {
	for _, c := range []struct {
		text string
		unit Unit[Length]
		step Length
	}{
		{"22,5 cm", CM, 0.001}, {"225mm", MM, 0.001}, {`8 3/4"`, In, 0.00635}, {"8.75 in", In, 0.000254},
		{`5' 10"`, Ft, 0.0254}, {"1e-3 m", M, 0.001}, {"0.2250 m", M, 0.0001},
	} {
		got, err := Read(c.text, Reading[Length]{})
		if err != nil || got.Text != c.text || got.Unit != c.unit || got.Step != c.step {
			t.Errorf("Read(%q) = %+v (%v), want unit %s, step %g", c.text, got, err, c.unit, float64(c.step))
		}
	}
	said := Said(Length(0.22225), In)
	if said.Text != "8.75 in" || said.String() != "8.75 in" || (Typed[Length]{Value: 0.225}).String() != "225 mm" {
		t.Errorf("Said gives %+v", said)
	}
}

func TestBareNumbersTakeTheCallersUnit(t *testing.T) {
	if got, err := ParseLengthIn("22,5", CM); err != nil || got != 0.225 {
		t.Errorf("22,5 in cm: %v, %v", float64(got), err)
	}
	if got, err := ParseLengthIn("225 mm", CM); err != nil || got != 0.225 {
		t.Errorf("a typed unit wins: %v, %v", float64(got), err)
	}
	if _, err := ParseLengthIn("22", "furlong"); err == nil {
		t.Error("an unknown default unit is accepted")
	}
	// With a declared comma 1,234 is settled and 1.234 is not; and the reverse.
	comma := Mixed()
	comma.Decimal = Comma
	if got, err := comma.SettingStyle().Read("brace height", "1,234"); err != nil || got.Value != 0.001234 {
		t.Errorf("1,234 with a comma: %+v, %v", got, err)
	}
	for _, s := range []struct {
		style Style[Length]
		text  string
	}{{comma.SettingStyle(), "1.234"}, {Mixed().SettingStyle(), "1,234"}} {
		_, err := s.style.Read("brace height", s.text)
		if err == nil || !strings.Contains(err.Error(), "1.234") && !strings.Contains(err.Error(), "1,234 or 1234") {
			t.Errorf("%q: error %v, want both readings", s.text, err)
		}
	}
}

func TestSystemPrintsInThePersonsUnits(t *testing.T) {
	mixed, imperial, comma := Mixed(), Imperial(), Metric()
	comma.Decimal = Comma
	nan := Length(math.NaN())
	for _, c := range []struct{ got, want string }{
		{mixed.SettingStyle().Print(0.225), "225 mm"},
		{mixed.DrawStyle().Print(0.7112), "28.00 in"},
		{mixed.ForceStyle().Print(44 * PoundForce), "44.0 lbf"},
		{mixed.MassStyle().Print(360 * Grain), "360 gr"},
		{imperial.SpeedStyle().Print(59.7408), "196 ft/s"},
		{imperial.DistanceStyle().Print(18.288), "20 yd"},
		{comma.ForceStyle().Print(195.72), "195,7 N"},
		{comma.DrawStyle().PlusMinus(0.7112, 0.0014), "71,12 ± 0,14 cm"},
		{mixed.SettingStyle().PlusMinus(0.2254, 0.0031), "225 ± 3 mm"},
		{mixed.SettingStyle().PlusMinus(0.2254, 0.0016), "225.4 ± 1.6 mm"},
		{mixed.SpeedStyle().PlusMinus(59.7, 12), "60 ± 12 m/s"},
		{mixed.SpeedStyle().PlusMinus(59.7, 123), "60 ± 120 m/s"},
		{mixed.SpeedStyle().PlusMinus(59.7, Speed(math.NaN())), "59.7 ± – m/s"},
		{mixed.SettingStyle().Range(0.210, 0.235), "210 to 235 mm"},
		{mixed.SettingStyle().Difference(0.0015), "+2 mm"},
		{mixed.SettingStyle().Difference(-0.0001), "0 mm"},
		{imperial.TemperatureStyle().Difference(5), "+9 °F"},
		{imperial.TemperatureStyle().Print(5), "41 °F"},
		{imperial.TemperatureStyle().PlusMinus(5, 2.5), "41 ± 5 °F"},
		{mixed.SpineStyle().Print(0.0127), "500"},
		{mixed.AngleStyle().Print(0.1), "5.7°"},
		{System{}.PressureStyle().Print(101325), "1013 hPa"},
		{mixed.SettingStyle().Print(nan), "–"},
		{Both(0.22225, Point), "222 mm (8 3/4 in)"},
		{Both(-0.003, Point), "-3 mm (-1/8 in)"},
		{Sixteenths(nan), "–"},
		{Length(0.225).String(), "225 mm"},
		{Length(0.225).Format(CM, 2, Comma), "22,50 cm"},
		{Length(-0.00001).Format(CM, 1, Point), "0.0 cm"},
	} {
		if c.got != c.want {
			t.Errorf("printed %q, want %q", c.got, c.want)
		}
	}
}

// A System survives JSON: it is stored per person.
func TestSystemInJSON(t *testing.T) {
	want := Imperial()
	want.Decimal = Comma
	b, err := json.Marshal(want)
	if err != nil {
		t.Fatal(err)
	}
	var got System
	if err := json.Unmarshal(b, &got); err != nil || got != want {
		t.Errorf("%s reads as %+v (%v)", b, got, err)
	}
	if Unit[Length]("furlong").Known() || !MM.Known() || Unit[Length]("").Known() {
		t.Error("Known does not know")
	}
}

// Slips of the unit and of the decimal mark that a range cannot miss, and
// usual readings that must not be questioned.
func TestDoubtCatchesSlips(t *testing.T) {
	slip(t, BraceHeight, "225 cm", "225 mm")
	slip(t, BraceHeight, "8.75 cm", "8.75 in")
	slip(t, BraceHeight, "8.75 mm", "8.75 in")
	slip(t, BraceHeight, "22.5 in", "22.5 cm")
	slip(t, BraceHeight, "2,25 cm", "22.5 cm")
	slip(t, DrawLength, "28 cm", "28 in")
	slip(t, DrawWeight, "20 N", "20 lbf")
	slip(t, DrawWeight, "196 lbf", "196 N")
	slip(t, ArrowMass, "23.3 gr", "23.3 g")
	slip(t, ArrowMass, "360 g", "360 gr")
	slip(t, ArrowSpeed, "196 m/s", "196 ft/s")
	slip(t, AirTemp, "68 °C", "68 °F")
	slip(t, AirPressure, "29.92 hPa", "29.92 inHg")
	slip(t, NockingPoint, "-25 mm", "-2.5 mm")
	slip(t, Distance, "1800 m", "1800 cm")
	usual(t, BraceHeight, "22.5 cm", "8 3/4 in", "160 mm", "9.6 in")
	usual(t, DrawWeight, "44#", "12 lb", "196 N", "20 kg")
	usual(t, ArrowMass, "360 gr", "18 g", "28.5 g")
	usual(t, ShaftSpine, "500", ".340", "1800")
	usual(t, AirTemp, "-5 °C", "95 °F")
}

func slip[T Quantity](t *testing.T, r Usual[T], text, guess string) {
	t.Helper()
	typed, err := Read(text, Reading[T]{})
	if err != nil {
		t.Fatal(err)
	}
	doubt := r.Doubt(typed)
	if !strings.Contains(doubt, r.What) || !strings.Contains(doubt, "did you mean") || !strings.Contains(doubt, guess) {
		t.Errorf("%s typed as %s: %q, want the guess %s", r.What, text, doubt, guess)
	}
}

func usual[T Quantity](t *testing.T, r Usual[T], texts ...string) {
	t.Helper()
	for _, text := range texts {
		typed, err := Read(text, Reading[T]{})
		if err != nil {
			t.Fatal(err)
		}
		if doubt := r.Doubt(typed); doubt != "" {
			t.Errorf("a usual %s of %s is questioned: %s", r.What, text, doubt)
		}
	}
}

// Accessors give the number a person would say.
func TestAccessors(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"millimetres", Length(0.225).Millimetres(), 225},
		{"inches", Length(0.22225).Inches(), 8.75},
		{"grains", (360 * Grain).Grains(), 360},
		{"pounds-force", Force(195.721751071462).PoundsForce(), 44},
		{"feet per second", Speed(59.7408).FeetPerSecond(), 196},
		{"degrees", Angle(math.Pi).Degrees(), 180},
		{"milliseconds", Duration(0.0162).Milliseconds(), 16.2},
		{"thousandths", Spine(0.0127).Thousandths(), 500},
		{"fahrenheit", Temperature(20).DegreesFahrenheit(), 68},
		{"In", Length(0.225).In(CM), 22.5},
		{"Of", float64(DegF.Of(68)), 20},
	} {
		if math.Abs(c.got-c.want) > 4e-16*math.Abs(c.want) { // two roundings
			t.Errorf("%s: %.17g, want %.17g", c.name, c.got, c.want)
		}
	}
}

func ExampleReading() {
	brace, err := Read("8 3/4 in", Reading[Length]{Field: "brace height"})
	fmt.Println(brace.Value.Format(CM, 1, Comma), brace.Text, err)
	_, err = Read("8 3/0 in", Reading[Length]{Field: "brace height"})
	fmt.Println(err)
	// Output:
	// 22,2 cm 8 3/4 in <nil>
	// brace height: cannot read "8 3/0 in": the fraction divides by zero; write it like 22.5 cm
}
