package figure

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"
)

func sample() Figure {
	return Figure{
		Title: "Speed against brace height", Finding: "Each centimetre more costs about 0.6 m/s.",
		X: Axis{Label: "brace height", Unit: "cm", Digits: 1}, Y: Axis{Label: "speed", Unit: "m/s", Digits: 1},
		Series: []Line{
			{Name: "model", Kind: Curve, X: Numbers([]float64{20, 21, 22}), Y: Numbers([]float64{60, 59.4, 58.8}), Low: Numbers([]float64{58, 57.4, 56.8}), High: Numbers([]float64{62, 61.4, 60.8})},
			{Name: "measured", Kind: Points, X: Numbers([]float64{20, 21}), Y: Numbers([]float64{59.8, math.NaN()}), Low: Numbers([]float64{59.5, math.NaN()}), High: Numbers([]float64{60.1, math.NaN()})},
		},
		Spans: []Span{{From: 20, To: 22, Label: "maker's range"}}, Marks: []Mark{{At: 21, Label: "now"}},
	}
}

func TestWriteDrawsWhatTheDescriptionHolds(t *testing.T) {
	var svg, png bytes.Buffer
	if err := sample().Write(&svg, "svg", 160, 90); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Speed against brace height", "brace height (cm)", "speed (m/s)", "model", "measured"} {
		if !strings.Contains(svg.String(), want) {
			t.Errorf("the SVG lacks %q", want)
		}
	}
	if err := sample().Write(&png, "png", 160, 90); err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(png.Bytes(), []byte("\x89PNG")) {
		t.Error("not a PNG")
	}
	if err := sample().Write(&png, "gif", 160, 90); err == nil || !strings.Contains(err.Error(), "svg or png") {
		t.Errorf("an unknown format gave %v", err)
	}
}

func TestGapsAreNullInJSONAndEmptyInCSV(t *testing.T) {
	b, err := json.Marshal(sample())
	if err != nil {
		t.Fatal(err)
	}
	var back Figure
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	if !math.IsNaN(float64(back.Series[1].Y[1])) {
		t.Errorf("the gap came back as %v", back.Series[1].Y[1])
	}
	var csv bytes.Buffer
	if err := sample().WriteCSV(&csv); err != nil {
		t.Fatal(err)
	}
	want := "series,brace height (cm),speed (m/s),low,high\r\nmodel,20.0,60.0,58.0,62.0\r\n"
	if !strings.HasPrefix(csv.String(), want) || !strings.HasSuffix(csv.String(), "measured,21.0,,,\r\n") {
		t.Errorf("CSV:\n%s", csv.String())
	}
}

func TestValidateNamesWhatIsMissing(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*Figure)
		want  string
	}{
		"no finding":   {func(f *Figure) { f.Finding = "" }, "finding"},
		"half a doubt": {func(f *Figure) { f.Series[0].High = nil }, "doubt"},
		"lengths":      {func(f *Figure) { f.Series[0].Y = f.Series[0].Y[:2] }, "3 x for 2 y"},
		"kind":         {func(f *Figure) { f.Series[0].Kind = "pie" }, "pie"},
	} {
		f := sample()
		c.spoil(&f)
		if err := f.Validate(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
