package figure

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"strings"
	"testing"
)

// No two series of a picture look alike but for their colour (WCAG 1.4.1),
// whatever they are and however many; and a picture that cannot be told apart
// is refused.
func TestSeriesDifferWithoutColour(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 300 {
		f := sample()
		f.Series = nil
		points, curves := rng.IntN(len(Shapes)+1), rng.IntN(12)
		for i := range points + curves {
			s := Line{Name: fmt.Sprint("series ", i), Kind: Points, Dashed: rng.IntN(2) == 0}
			if i >= points {
				s.Kind = Curve
			}
			f.Series = append(f.Series, s)
		}
		rng.Shuffle(len(f.Series), func(i, k int) { f.Series[i], f.Series[k] = f.Series[k], f.Series[i] })
		if err := f.Validate(); err != nil {
			t.Fatal(err)
		}
		raw, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		var seen struct {
			Series []struct{ Name, Kind, Dash, Shape string }
		}
		if err := json.Unmarshal(raw, &seen); err != nil {
			t.Fatal(err)
		}
		by := map[string]string{}
		for _, s := range seen.Series {
			look := s.Dash + "/" + s.Shape
			if look == "/" || by[look] != "" || (s.Kind == "points") != (s.Dash == "") {
				t.Fatalf("%q looks %q, as %q does", s.Name, look, by[look])
			}
			by[look] = s.Name
		}
	}
	same := sample()
	same.Series = []Line{{Name: "before", Kind: Curve, Dash: "dotted"}, {Name: "after", Kind: Curve, Dash: "dotted"}}
	if err := same.Validate(); err == nil || !strings.Contains(err.Error(), "alike") {
		t.Errorf("two dotted curves were let through: %v", err)
	}
}

// Paper draws the dashes: each curve its own.
func TestPaperDrawsTheDashes(t *testing.T) {
	f := sample()
	f.Series = nil
	for i := range Dashes {
		f.Series = append(f.Series, Line{Name: fmt.Sprint("curve ", i), Kind: Curve, X: Numbers([]float64{0, 1}), Y: Numbers([]float64{0, float64(i)})})
	}
	f.Spans, f.Marks = nil, nil
	var svg bytes.Buffer
	if err := f.Write(&svg, "svg", 160, 90); err != nil {
		t.Fatal(err)
	}
	drawn := map[string]bool{}
	for _, m := range regexp.MustCompile(`stroke-dasharray:([^;"]+)`).FindAllStringSubmatch(svg.String(), -1) {
		drawn[m[1]] = true
	}
	if len(drawn) != len(Dashes)-1 { // the first is whole
		t.Errorf("%d broken lines are drawn: %v", len(drawn), drawn)
	}
}

// seenBy are what is left of linear red, green and blue for people who lack one
// kind of cone, wholly (Machado, Oliveira, Fernandes 2009, severity 1; recalled).
var seenBy = map[string][3][3]float64{
	"all":    {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protan": {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deutan": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritan": {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
}

func linear(c color.NRGBA) (out [3]float64) {
	for i, v := range []uint8{c.R, c.G, c.B} {
		if x := float64(v) / 255; x <= 0.04045 {
			out[i] = x / 12.92
		} else {
			out[i] = math.Pow((x+0.055)/1.055, 2.4)
		}
	}
	return out
}

// lab gives CIE 1976 L*, a*, b* of linear sRGB, D65.
func lab(rgb [3]float64) [3]float64 {
	to := [3][3]float64{{0.4124564, 0.3575761, 0.1804375}, {0.2126729, 0.7151522, 0.0721750}, {0.0193339, 0.1191920, 0.9503041}}
	white := [3]float64{0.95047, 1, 1.08883}
	var f [3]float64
	for i := range to {
		v := 0.0
		for k := range rgb {
			v += to[i][k] * min(1, max(0, rgb[k]))
		}
		if v /= white[i]; v > 216.0/24389 {
			f[i] = math.Cbrt(v)
		} else {
			f[i] = (24389.0/27*v + 16) / 116
		}
	}
	return [3]float64{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

func luminance(c color.NRGBA) float64 {
	v := linear(c)
	return 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2]
}

// The colours of paper, and of the pages in every theme, are kept apart by
// people of every colour sight (CIE76 difference of 15, ../shared/design/bars.md
// U16) and hold 4.5:1 on their ground (U14).
func TestColoursForEverySight(t *testing.T) {
	css, err := os.ReadFile("../../web/src/app.css")
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := os.ReadFile("../../web/src/sheet/sheet.css")
	if err != nil {
		t.Fatal(err)
	}
	palettes := map[string][]color.NRGBA{"paper": append([]color.NRGBA{{R: 255, G: 255, B: 255, A: 255}}, palette...)}
	for name, text := range map[string]string{"app.css": string(css), "sheet.css": string(sheet)} {
		for i, p := range palettesOf(t, text) {
			palettes[fmt.Sprint(name, " ", i+1)] = p
		}
	}
	if len(palettes) != 1+3+1 { // paper; light, dark by the device, dark chosen; sheets
		t.Errorf("%d palettes", len(palettes))
	}
	for name, p := range palettes {
		ground, lines := p[0], p[1:]
		if len(lines) != len(palette) {
			t.Errorf("%s has %d colours", name, len(lines))
		}
		for i, a := range lines {
			light, dark := luminance(a), luminance(ground)
			if light < dark {
				light, dark = dark, light
			}
			if ratio := (light + 0.05) / (dark + 0.05); ratio < 4.5 {
				t.Errorf("%s: line %d holds %.2f:1 on its ground", name, i+1, ratio)
			}
			for k := range i {
				for sight, m := range seenBy {
					if d := apart(lab(through(m, a)), lab(through(m, lines[k]))); d < 15 {
						t.Errorf("%s: lines %d and %d are %.1f apart for %s", name, k+1, i+1, d, sight)
					}
				}
			}
		}
	}
}

func through(m [3][3]float64, c color.NRGBA) (out [3]float64) {
	for i := range m {
		for k, v := range linear(c) {
			out[i] += m[i][k] * v
		}
	}
	return out
}

func apart(a, b [3]float64) float64 {
	return math.Hypot(math.Hypot(a[0]-b[0], a[1]-b[1]), a[2]-b[2])
}

var (
	ruleOf   = regexp.MustCompile(`(?s)\{[^{}]*--line-1:[^{}]*\}`)
	groundOf = regexp.MustCompile(`(?:--card|background): #([0-9a-f]{6}|fff);`)
	lineOf   = regexp.MustCompile(`--line-\d: #([0-9a-f]{6});`)
)

// palettesOf finds the grounds and lines of every rule that sets them.
func palettesOf(t *testing.T, css string) (out [][]color.NRGBA) {
	t.Helper()
	read := func(hex string) (c color.NRGBA) {
		if hex == "fff" {
			hex = "ffffff"
		}
		if _, err := fmt.Sscanf(hex, "%02x%02x%02x", &c.R, &c.G, &c.B); err != nil {
			t.Fatal(hex, err)
		}
		return c
	}
	for _, rule := range ruleOf.FindAllString(css, -1) {
		ground := groundOf.FindStringSubmatch(rule)
		if ground == nil {
			t.Fatalf("a rule sets lines and no ground: %.80s", rule)
		}
		p := []color.NRGBA{read(ground[1])}
		for _, m := range lineOf.FindAllStringSubmatch(rule, -1) {
			p = append(p, read(m[1]))
		}
		out = append(out, p)
	}
	return out
}
