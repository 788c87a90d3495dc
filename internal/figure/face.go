package figure

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Face is a picture of a target face with places on it, seen from the shooting
// line: right is right, up is up. Lengths are in metres on the face.
type Face struct {
	// Title names what is shown; Finding says in one sentence what to see.
	Title   string `json:"title"`
	Finding string `json:"finding"`
	// Rings are the radii of the face's rings.
	Rings []float64 `json:"rings_m"`
	// Half is half the width and height that are shown.
	Half   float64 `json:"half_m"`
	Places []Place `json:"places"`
	// Ellipses are shapes about the places, such as where half of the arrows
	// fall.
	Ellipses []Ellipse `json:"ellipses,omitempty"`
	// Scale is the length of the bar drawn as a scale, and Bar its label.
	Scale float64 `json:"scale_m"`
	Bar   string  `json:"scale_label"`
	Note  string  `json:"note,omitempty"`
}

// Shape of a place, or of a series' places; they differ by shape, not only by
// colour.
type Shape string

const (
	// Dot is a group's centre.
	Dot Shape = "dot"
	// Diamond is a single place, such as a bare shaft.
	Diamond Shape = "diamond"
	// Ring is one arrow of many.
	Ring Shape = "ring"
)

// Ellipse is a closed line: half axes in metres, the angle of the major one in
// degrees from right toward up. Dashes tell two apart without colour.
type Ellipse struct {
	X      float64 `json:"right_m"`
	Y      float64 `json:"up_m"`
	Major  float64 `json:"major_m"`
	Minor  float64 `json:"minor_m"`
	Angle  float64 `json:"angle_deg"`
	Dashed bool    `json:"dashed,omitempty"`
}

// Place is something on the face. Low and High are the ends of its doubt
// sideways; equal when there is none to show.
type Place struct {
	Name  string  `json:"name"`
	Shape Shape   `json:"shape"`
	X     float64 `json:"right_m"`
	Y     float64 `json:"up_m"`
	Low   float64 `json:"low_right_m"`
	High  float64 `json:"high_right_m"`
}

// Validate says what is missing in the description.
func (f Face) Validate() error {
	switch {
	case f.Title == "" || f.Finding == "":
		return errors.New("figure: a face needs a title and a finding")
	case !(f.Half > 0) || math.IsInf(f.Half, 0):
		return fmt.Errorf("figure: a face %g m wide cannot be drawn", 2*f.Half)
	}
	for _, p := range f.Places {
		if v := p.X + p.Y + p.Low + p.High; v-v != 0 {
			return fmt.Errorf("figure: place %q is nowhere", p.Name)
		}
	}
	for _, e := range f.Ellipses {
		if v := e.X + e.Y + e.Major + e.Minor + e.Angle; v-v != 0 {
			return errors.New("figure: an ellipse is nowhere")
		}
	}
	return nil
}

// Write draws the face in the given format, "svg" or "png", size millimetres
// wide and high (usual 40 to 90).
func (f Face) Write(w io.Writer, format string, size float64) error {
	if err := f.Validate(); err != nil {
		return err
	}
	side := vg.Length(size) * vg.Millimeter
	var canvas interface {
		vg.CanvasSizer
		io.WriterTo
	}
	switch format {
	case "svg":
		canvas = vgsvg.New(side, side)
	case "png":
		canvas = vgimg.PngCanvas{Canvas: vgimg.New(side, side)}
	default:
		return fmt.Errorf("figure: %q is not a format it draws; use svg or png", format)
	}
	f.draw(draw.New(canvas))
	return written(canvas, w, format)
}

// plane places metres on the paper.
type plane struct {
	draw.Canvas
	middle vg.Point
	scale  vg.Length // per metre
}

func (p plane) at(x, y float64) vg.Point {
	return vg.Point{X: p.middle.X + vg.Length(x)*p.scale, Y: p.middle.Y + vg.Length(y)*p.scale}
}

func (f Face) draw(c draw.Canvas) {
	wide := c.Max.X - c.Min.X
	p := plane{c, vg.Point{X: (c.Min.X + c.Max.X) / 2, Y: (c.Min.Y + c.Max.Y) / 2}, wide / vg.Length(2*f.Half)}
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	grey := draw.LineStyle{Color: color.NRGBA{R: 0x70, G: 0x70, B: 0x70, A: 0xff}, Width: vg.Points(0.4)}
	for _, r := range f.Rings {
		p.StrokeLines(grey, p.circle(r))
	}
	for i, place := range f.Places {
		if place.Shape == Ring {
			i = 0 // arrows of one group are drawn alike
		}
		p.place(place, palette[i%len(palette)])
	}
	for _, e := range f.Ellipses {
		p.ellipse(e)
	}
	p.bar(f)
}

// circle is a ring as a closed line.
func (p plane) circle(r float64) []vg.Point {
	const sides = 72
	out := make([]vg.Point, sides+1)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / sides)
		out[i] = p.at(r*cos, r*sin)
	}
	return out
}

// ellipse draws a shape in black over everything.
func (p plane) ellipse(e Ellipse) {
	const sides = 90
	line := draw.LineStyle{Color: color.Black, Width: vg.Points(1)}
	if e.Dashed {
		line.Dashes = []vg.Length{vg.Points(4), vg.Points(3)}
	}
	sin, cos := math.Sincos(e.Angle * math.Pi / 180)
	out := make([]vg.Point, sides+1)
	for i := range out {
		s, c := math.Sincos(2 * math.Pi * float64(i) / sides)
		out[i] = p.at(e.X+e.Major*c*cos-e.Minor*s*sin, e.Y+e.Major*c*sin+e.Minor*s*cos)
	}
	p.StrokeLines(line, out)
}

// place draws the doubt as a line with ends, the mark over it.
func (p plane) place(at Place, c color.NRGBA) {
	line := draw.LineStyle{Color: c, Width: vg.Points(1.2)}
	if at.High > at.Low {
		tick := vg.Points(3)
		low, high := p.at(at.Low, at.Y), p.at(at.High, at.Y)
		p.StrokeLines(line, []vg.Point{low, high})
		for _, end := range []vg.Point{low, high} {
			p.StrokeLines(line, []vg.Point{{X: end.X, Y: end.Y - tick}, {X: end.X, Y: end.Y + tick}})
		}
	}
	m, r := p.at(at.X, at.Y), vg.Points(3.5)
	if at.Shape == Ring {
		p.DrawGlyph(draw.GlyphStyle{Color: c, Radius: vg.Points(2), Shape: draw.RingGlyph{}}, m)
		return
	}
	if at.Shape == Diamond {
		r *= 1.3
		p.FillPolygon(c, []vg.Point{{X: m.X - r, Y: m.Y}, {X: m.X, Y: m.Y + r}, {X: m.X + r, Y: m.Y}, {X: m.X, Y: m.Y - r}})
		return
	}
	p.DrawGlyph(draw.GlyphStyle{Color: c, Radius: r, Shape: draw.CircleGlyph{}}, m)
}

// bar draws the scale in the lower left corner.
func (p plane) bar(f Face) {
	if !(f.Scale > 0) {
		return
	}
	black := draw.LineStyle{Color: color.Black, Width: vg.Points(1)}
	left := vg.Point{X: p.Min.X + vg.Points(5), Y: p.Min.Y + vg.Points(5)}
	p.StrokeLines(black, []vg.Point{left, {X: left.X + vg.Length(f.Scale)*p.scale, Y: left.Y}})
	p.FillText(text.Style{
		Color: color.Black, Font: font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Points(8)}, Handler: text.Plain{Fonts: font.DefaultCache},
	}, vg.Point{X: left.X, Y: left.Y + vg.Points(3)}, f.Bar)
}
