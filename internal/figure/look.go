package figure

import (
	"encoding/json"
	"fmt"
	"slices"
)

// Dash is how a curve's line is broken.
type Dash string

// The dashes and the shapes, in the order in which series take them. Screen
// and paper draw the same ones (web/src/ui/looks.ts).
var (
	Dashes = []Dash{"solid", "dashed", "dotted", "dash-dot", "long", "dash-dot-dot"}
	Shapes = []Shape{"disc", "square", "triangle", "diamond", "ring", "cross", "plus", "box"}
)

// broken are the lengths of stroke and gap of each dash, in widths of the line.
var broken = map[Dash][]float64{
	"solid": nil, "dashed": {4, 2.5}, "dotted": {0.9, 2}, "dash-dot": {4.5, 2, 0.9, 2}, "long": {9, 3}, "dash-dot-dot": {4.5, 1.8, 0.9, 1.8, 0.9, 1.8},
}

// Dressed gives every series a look of its own, so that no two of a picture
// are told apart by colour alone (WCAG 1.4.1): curves take a dash each, and
// where the dashes are used up a shape along the line beside it; points take a
// shape each. A look that a series brings along stays; one that only says
// Dashed takes the first of the broken lines that is free. The list itself is
// left alone.
func Dressed(series []Line) []Line {
	out := slices.Clone(series)
	taken := map[look]bool{}
	for _, s := range out {
		taken[look{s.Dash, s.Shape}] = true
	}
	for i := range out {
		if out[i].Dash == "" && out[i].Shape == "" {
			free := firstFree(looksOf(out[i]), taken)
			taken[free] = true
			out[i].Dash, out[i].Shape = free.dash, free.shape
		}
	}
	return out
}

// look is what tells a series from the others without its colour.
type look struct {
	dash  Dash
	shape Shape
}

// looksOf lists what a series may look like, the plainest first.
func looksOf(s Line) (out []look) {
	if s.Kind == Points {
		for _, m := range Shapes {
			out = append(out, look{"", m})
		}
		return out
	}
	dashes := Dashes
	if s.Dashed {
		dashes = append(slices.Clone(Dashes[1:]), Dashes[0])
	}
	for _, m := range append([]Shape{""}, Shapes...) {
		for _, d := range dashes {
			out = append(out, look{d, m})
		}
	}
	return out
}

func firstFree(looks []look, taken map[look]bool) look {
	for _, l := range looks {
		if !taken[l] {
			return l
		}
	}
	return looks[0] // Validate refuses so many
}

// alike names two series that look the same but for their colour.
func alike(series []Line) error {
	by := map[look]string{}
	for _, s := range Dressed(series) {
		l := look{s.Dash, s.Shape}
		if other, same := by[l]; same {
			return fmt.Errorf("series %q and %q look alike but for their colour: draw fewer, or in two pictures", other, s.Name)
		}
		by[l] = s.Name
	}
	return nil
}

// MarshalJSON writes the figure with the look of every series, so that the
// screen draws what paper does.
func (f Figure) MarshalJSON() ([]byte, error) {
	type plain Figure // without this method
	f.Series = Dressed(f.Series)
	return json.Marshal(plain(f))
}
