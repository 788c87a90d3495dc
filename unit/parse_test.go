package unit

import (
	"errors"
	"strings"
	"testing"
)

// readCase is one text and the SI value it must give, to the last bit: the
// literal on the right is the same decimal number, so a correctly rounded
// reading equals it.
type readCase struct {
	text string
	want float64
}

func check[T Quantity](t *testing.T, cases []readCase) {
	t.Helper()
	for _, c := range cases {
		got, err := Parse[T](c.text)
		if err != nil {
			t.Errorf("Parse(%q): %v", c.text, err)
			continue
		}
		if float64(got) != c.want {
			t.Errorf("Parse(%q) = %.17g, want %.17g", c.text, float64(got), c.want)
		}
	}
}

// The factors are exact by definition (international yard and pound, 1959;
// standard gravity, 1901), so the products below are too.
func TestParseAcceptsWhatPeopleWrite(t *testing.T) {
	check[Length](t, []readCase{
		{"22.5 cm", 0.225}, {"22,5 cm", 0.225}, {"225mm", 0.225}, {"0.225 m", 0.225},
		{"8 3/4 in", 0.22225}, {`8 3/4"`, 0.22225}, {"8.75 in", 0.22225}, {"8¾\"", 0.22225},
		{"8-3/4 in", 0.22225}, {"8 ¾ inches", 0.22225}, {"8\u00a03/4\u202fin.", 0.22225}, {"8 3⁄4 ″", 0.22225},
		{"+225 mm", 0.225}, {"-3 mm", -0.003}, {"−3,5 mm", -0.0035}, {" 225 MM ", 0.225},
		{`5' 10"`, 1.778}, {"5'10", 1.778}, {"5 ft 10 in", 1.778}, {`5′ 10 1/2″`, 1.7907}, {"6 ft", 1.8288},
		{"70 m", 70}, {"20 yd", 18.288}, {"3/8 in", 0.009525}, {".5 in", 0.0127}, {"1e-3 m", 0.001},
		{"1,234.5 mm", 1.2345}, {"1.234,5 mm", 1.2345}, {"1,234,567 mm", 1234.567}, {"1234,567 mm", 1.234567},
		{"0,225 m", 0.225}, {"1.234 m", 1.234},
	})
	check[Force](t, []readCase{
		{"44#", 195.721751071462}, {"44 lbf", 195.721751071462}, {"44 lb", 195.721751071462},
		{"44 lbs.", 195.721751071462}, {"196 N", 196}, {"20 kgf", 196.133}, {"20 kg", 196.133},
	})
	check[Mass](t, []readCase{
		{"360 gr", 0.0233276076}, {"23.3 g", 0.0233}, {"23,3 grams", 0.0233}, {"8 lb 4 oz", 3.7421370525}, {"2.1 kg", 2.1},
	})
	check[Speed](t, []readCase{{"196 fps", 59.7408}, {"59.7 m/s", 59.7}, {"196 ft/s", 59.7408}, {"36 km/h", 10}})
	check[Angle](t, []readCase{{"180°", 3.141592653589793}, {"1° 30'", 0.026179938779914944}, {"4 mrad", 0.004}})
	check[Duration](t, []readCase{{"16.2 ms", 0.0162}, {"1 h 30 min", 5400}, {"250 µs", 0.00025}, {"250 μs", 0.00025}})
	check[Energy](t, []readCase{{"52 J", 52}, {"1 ft·lbf", 1.3558179483314004}, {"1 ft-lb", 1.3558179483314004}, {"1 ft lbf", 1.3558179483314004}})
	check[Stiffness](t, []readCase{{"1.2 kN/m", 1200}, {"0.8 N/mm", 800}, {"1 lb/in", 175.12683524647639}})
	check[Temperature](t, []readCase{{"18 °C", 18}, {"-4 C", -4}, {"50 °F", 10}, {"-40 F", -40}, {"291.15 K", 18}})
	check[Pressure](t, []readCase{{"1013.25 hPa", 101325}, {"1013 mbar", 101300}, {"1 inHg", 3386.388640341}})
	check[Spine](t, []readCase{{".500", 0.0127}, {"500", 0.0127}, {"0.500 in", 0.0127}, {",500", 0.0127}, {"0,500", 0.0127}, {"12.7 mm", 0.0127}, {"500 spine", 0.0127}, {`.5"`, 0.0127}, {"1000", 0.0254}})
}

func TestParseNonsenseNamesFieldAndExample(t *testing.T) {
	cases := []struct{ text, reason string }{
		{"8 3/0 in", "divides by zero"},
		{"44 apples", `"apples" is not a unit`},
		{"NaN", "a number is expected"},
		{"Inf", "a number is expected"},
		{"-Inf m", "a number is expected"},
		{"1e999 mm", "exponent"},
		{"1e300 mm", "beyond anything"},
		{"-1e40 m", "beyond anything"},
		{"1e99999999999999999999 mm", "exponent"},
		{"", "nothing is written"},
		{" \u00a0\t", "nothing is written"},
		{"--3 mm", "a number is expected"},
		{"3 mm 4", "no unit"},
		{"3 mm 4 mm", "more than one value"},
		{"225", "no unit"},
		{"cm", "a number is expected"},
		{"1,234 mm", "could be 1.234 or 1234"},
		{"12,345 in", "could be 12.345 or 12345"},
		{"1.2.3 mm", "more than one decimal mark"},
		{"1,2.3,4 mm", "do not fit"},
		{"8.5 3/4 in", "whole number"},
		{"8 5/4 in", "not less than one"},
		{"8 3/ in", "lower number"},
		{"8 3/4/5 in", "not a unit"},
		{"44 lb", "unit of mass"},
		{"44 lbf", "unit of force"},
		{"5' 14\"", "do not fit together"},
		{"5.5 ft 3 in", "do not fit together"},
		{"0x10 mm", "not a unit"},
		{"1_000 mm", "not a unit"},
		{"22.5 cm; DROP TABLE", "not a unit"},
		{strings.Repeat("9", 81) + " mm", "digits"},
		{strings.Repeat("x", 1000), "too long"},
		{"22.5 c\x00m", "not a unit"},
		{"\xff\xfe", "a number is expected"},
	}
	for _, c := range cases {
		_, err := Read(c.text, Reading[Length]{Field: "brace height"})
		var pe *ParseError
		if !errors.As(err, &pe) {
			t.Errorf("Read(%q): error %v, want a ParseError", c.text, err)
			continue
		}
		if !strings.Contains(pe.Reason, c.reason) {
			t.Errorf("Read(%q): reason %q, want it to say %q", c.text, pe.Reason, c.reason)
		}
		msg := err.Error()
		if !strings.HasPrefix(msg, "brace height: ") || !strings.Contains(msg, "22.5 cm") || pe.Text != c.text {
			t.Errorf("Read(%q): %q lacks the field, the example or the text", c.text, msg)
		}
	}
}
