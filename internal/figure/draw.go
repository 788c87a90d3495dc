package figure

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"math"
	"unicode"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// The colours keep apart for every kind of colour sight and hold 4.5:1 on white
// (look_test.go); dashes and shapes keep the series apart in grey. The pages
// have the same six, --line-1 to --line-6.
var palette = []color.NRGBA{
	{R: 0x02, G: 0x42, B: 0xd5, A: 0xff},
	{R: 0xb3, G: 0x47, B: 0x00, A: 0xff},
	{R: 0x15, G: 0x7b, B: 0x53, A: 0xff},
	{R: 0xad, G: 0x16, B: 0xa4, A: 0xff},
	{R: 0x4c, G: 0x31, B: 0x00, A: 0xff},
	{R: 0x2b, G: 0x2b, B: 0x2b, A: 0xff},
}

// Write draws the figure for paper in the given format, "svg" or "png", width
// and height in millimetres (usual 160 by 90).
func (f Figure) Write(w io.Writer, format string, width, height float64) error {
	if err := f.Validate(); err != nil {
		return err
	}
	if format != "svg" && format != "png" {
		return fmt.Errorf("figure: %q is not a format it draws; use svg or png", format)
	}
	p, err := f.plot()
	if err != nil {
		return err
	}
	drawn, err := p.WriterTo(vg.Length(width)*vg.Millimeter, vg.Length(height)*vg.Millimeter, format)
	if err != nil {
		return fmt.Errorf("figure: %w", err)
	}
	return written(drawn, w, format)
}

// written passes a drawing on. XML knows no control characters, and a bow's
// name may hold some.
func written(drawn io.WriterTo, w io.Writer, format string) error {
	if format != "svg" {
		_, err := drawn.WriteTo(w)
		return err
	}
	var text bytes.Buffer
	if _, err := drawn.WriteTo(&text); err != nil {
		return err
	}
	_, err := w.Write(bytes.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' || r == '\ufffe' || r == '\uffff' {
			return unicode.ReplacementChar
		}
		return r
	}, text.Bytes()))
	return err
}

func (f Figure) plot() (*plot.Plot, error) {
	p := plot.New()
	for _, text := range []*font.Font{&p.Title.TextStyle.Font, &p.X.Label.TextStyle.Font, &p.Y.Label.TextStyle.Font, &p.X.Tick.Label.Font, &p.Y.Tick.Label.Font, &p.Legend.TextStyle.Font} {
		text.Variant = "Sans"
	}
	p.Title.Text = f.Title
	p.X.Label.Text, p.Y.Label.Text = f.X.Title(), f.Y.Title()
	if f.X.Log {
		p.X.Scale, p.X.Tick.Marker = plot.LogScale{}, plot.LogTicks{Prec: -1}
	}
	p.Legend.Top = true
	p.Add(plotter.NewGrid())
	for i, s := range Dressed(f.Series) {
		if err := f.add(p, s, palette[i%len(palette)]); err != nil {
			return nil, fmt.Errorf("figure %q, series %q: %w", f.Title, s.Name, err)
		}
	}
	f.addSpans(p)
	if f.Headroom > 0 {
		p.Y.Max += (p.Y.Max - p.Y.Min) * f.Headroom / (1 - f.Headroom)
	}
	return p, nil
}

// glyphs draw the shapes on paper.
var glyphs = map[Shape]draw.GlyphDrawer{
	"disc": draw.CircleGlyph{}, "square": draw.BoxGlyph{}, "triangle": draw.PyramidGlyph{}, "diamond": diamond{},
	"ring": draw.RingGlyph{}, "cross": draw.CrossGlyph{}, "plus": draw.PlusGlyph{}, "box": draw.SquareGlyph{},
}

// diamond is a square on its corner.
type diamond struct{}

// DrawGlyph fills it.
func (diamond) DrawGlyph(c *draw.Canvas, style draw.GlyphStyle, at vg.Point) {
	r := style.Radius * 1.25
	var p vg.Path
	p.Move(vg.Point{X: at.X, Y: at.Y + r})
	p.Line(vg.Point{X: at.X + r, Y: at.Y})
	p.Line(vg.Point{X: at.X, Y: at.Y - r})
	p.Line(vg.Point{X: at.X - r, Y: at.Y})
	p.Close()
	c.SetColor(style.Color)
	c.Fill(p)
}

// lineWidth is a curve's, in points.
const lineWidth = 1.5

// dashes are a broken line's lengths on paper.
func dashes(d Dash) (out []vg.Length) {
	for _, length := range broken[d] {
		out = append(out, vg.Points(length*lineWidth))
	}
	return out
}

func (f Figure) add(p *plot.Plot, s Line, c color.NRGBA) error {
	run := finite(s)
	if len(run.xy) == 0 {
		return nil
	}
	if s.Kind == Curve {
		return addCurve(p, s, run, c)
	}
	return addPoints(p, s, run, c)
}

// shown is a series without its gaps.
type shown struct {
	xy        plotter.XYs
	low, high []float64
}

func finite(s Line) (out shown) {
	for i := range s.X {
		x, y := float64(s.X[i]), float64(s.Y[i])
		if math.IsNaN(x) || math.IsNaN(y) {
			continue
		}
		out.xy = append(out.xy, plotter.XY{X: x, Y: y})
		if s.Low != nil {
			out.low, out.high = append(out.low, float64(s.Low[i])), append(out.high, float64(s.High[i]))
		}
	}
	return out
}

// addCurve draws the band of doubt as a closed polygon, the line over it.
func addCurve(p *plot.Plot, s Line, run shown, c color.NRGBA) error {
	if run.low != nil {
		ring := make(plotter.XYs, 0, 2*len(run.xy))
		for i, q := range run.xy {
			ring = append(ring, plotter.XY{X: q.X, Y: run.low[i]})
		}
		for i := len(run.xy) - 1; i >= 0; i-- {
			ring = append(ring, plotter.XY{X: run.xy[i].X, Y: run.high[i]})
		}
		band, err := plotter.NewPolygon(ring)
		if err != nil {
			return err
		}
		band.Color = color.NRGBA{R: c.R, G: c.G, B: c.B, A: 0x30}
		band.LineStyle.Width = 0
		p.Add(band)
	}
	line, err := plotter.NewLine(run.xy)
	if err != nil {
		return err
	}
	line.Color, line.Width, line.Dashes = c, vg.Points(lineWidth), dashes(s.Dash)
	p.Add(line)
	if s.Shape == "" {
		p.Legend.Add(s.Name, line)
		return nil
	}
	dots, err := scatter(s, run, c)
	if err != nil {
		return err
	}
	p.Add(dots)
	p.Legend.Add(s.Name, line, dots)
	return nil
}

// bars feeds points and their doubt to the plotter.
type bars struct{ shown }

func (b bars) Len() int                    { return len(b.xy) }
func (b bars) XY(i int) (float64, float64) { return b.xy[i].X, b.xy[i].Y }
func (b bars) YError(i int) (float64, float64) {
	return b.xy[i].Y - b.low[i], b.high[i] - b.xy[i].Y
}

// scatter puts a series' shape at its places.
func scatter(s Line, run shown, c color.NRGBA) (*plotter.Scatter, error) {
	dots, err := plotter.NewScatter(run.xy)
	if err != nil {
		return nil, err
	}
	dots.Color, dots.Shape, dots.Radius = c, glyphs[s.Shape], vg.Points(3)
	return dots, nil
}

func addPoints(p *plot.Plot, s Line, run shown, c color.NRGBA) error {
	dots, err := scatter(s, run, c)
	if err != nil {
		return err
	}
	if run.low != nil {
		doubt, err := plotter.NewYErrorBars(bars{run})
		if err != nil {
			return err
		}
		doubt.Color = c
		p.Add(doubt)
	}
	p.Add(dots)
	p.Legend.Add(s.Name, dots)
	return nil
}

// addSpans shades the stretches with a meaning and draws the marks, inside
// the range that the series have set.
func (f Figure) addSpans(p *plot.Plot) {
	low, high := p.Y.Min, p.Y.Max
	for _, s := range f.Spans {
		box, err := plotter.NewPolygon(plotter.XYs{{X: s.From, Y: low}, {X: s.To, Y: low}, {X: s.To, Y: high}, {X: s.From, Y: high}})
		if err != nil {
			continue // a span without extent has nothing to shade
		}
		box.Color = color.NRGBA{R: 0x80, G: 0x80, B: 0x80, A: 0x20}
		box.LineStyle.Width = 0
		p.Add(box)
	}
	for _, m := range f.Marks {
		line, err := plotter.NewLine(plotter.XYs{{X: m.At, Y: low}, {X: m.At, Y: high}})
		if err != nil {
			continue
		}
		line.Dashes = []vg.Length{vg.Points(2), vg.Points(2)}
		p.Add(line)
	}
}
