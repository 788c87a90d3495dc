package report

import (
	"fmt"
	"math"
	"slices"

	"tautline/notebook"
	"tautline/unit"
)

// Ruler is a sight's scale at true size with the marks beside it.
type Ruler struct {
	// From and To are the scale's ends, m; From is printed at the top unless
	// the scale's numbers grow Upward.
	From   float64     `json:"from_m"`
	To     float64     `json:"to_m"`
	Upward bool        `json:"upward,omitempty"`
	Inches bool        `json:"inches,omitempty"` // ticks in sixteenths, else millimetres
	Marks  []RulerMark `json:"marks"`
}

// RulerMark is one distance on the scale.
type RulerMark struct {
	At     float64 `json:"at_m"`
	Label  string  `json:"label"`
	Beyond bool    `json:"beyond_marks,omitempty"` // extrapolated: drawn dashed
}

// longestRuler fits on both papers below the head, m.
const longestRuler = 0.19

// check refuses what no page holds.
func (r Ruler) check() error {
	long := r.To - r.From
	if !(long > 0) || long > longestRuler {
		return &notebook.Error{Code: notebook.Invalid, Field: "/marks", Message: fmt.Sprintf("marks over %.0f mm of scale do not fit on one page", 1e3*long), Hint: "fewer distances: a card holds 190 mm"}
	}
	return nil
}

// Measures of the strip in millimetres from the ruler's line.
const (
	rulerLeft  = 22.0 // from the paper's margin to the ruler's line
	markLong   = 18.0 // a mark's line, which starts on the ruler's
	labelGap   = 8.0  // slanted part to the label
	labelTall  = 4.2  // least distance between labels
	stripWide  = 74.0 // the strip, from the margin
	checkLong  = 100.0
	checkWords = "This line is 100 mm long. Measure it: if it is not, print again at 100 %, not fitted to the page."
)

// ruler draws the strip at true size, whatever else is set tighter, and the
// table beside it.
func (p *pdfPage) ruler(k Block) error {
	r := *k.Ruler
	if err := r.check(); err != nil {
		return err
	}
	p.checkLine()
	long := 1e3 * (r.To - r.From)
	top := p.GetY() + 5
	if _, tall := p.GetPageSize(); top+long+6 > tall-p.end {
		p.AddPage()
		top = p.GetY() + 5
	}
	x := margin + rulerLeft
	place := func(at float64) float64 {
		if r.Upward {
			return top + 1e3*(r.To-at)
		}
		return top + 1e3*(at-r.From)
	}
	p.SetLineWidth(0.15)
	p.Line(x, top, x, top+long)
	p.ticks(r, x, place)
	p.marks(r, x, place, top, top+long)
	bottom := top + long + 6
	if k.Table != nil {
		p.SetXY(margin+stripWide, top-5)
		p.left, p.wide = margin+stripWide, p.wide-stripWide
		p.table(*k.Table)
		p.left, p.wide = margin, p.wide+stripWide
	}
	p.SetXY(margin, max(bottom, p.GetY()))
	return nil
}

// checkLine is what a person measures before trusting the card.
func (p *pdfPage) checkLine() {
	y := p.GetY() + 3
	p.SetLineWidth(0.2)
	p.Line(margin, y, margin+checkLong, y)
	for _, x := range []float64{margin, margin + checkLong} {
		p.Line(x, y-1.5, x, y+1.5)
	}
	p.SetXY(margin, y+2)
	p.SetFont("body", "", bodySize)
	p.MultiCell(0, 4.6, checkWords, "", "L", false)
	p.Ln(2)
}

// ticks draws the ruler's own divisions to the left of its line, with numbers
// in centimetres' tens of millimetres or in inches.
func (p *pdfPage) ticks(r Ruler, x float64, place func(float64) float64) {
	step, large, middle := 0.001, 10, 5
	if r.Inches {
		step, large, middle = float64(unit.Inch)/16, 16, 8
	}
	p.SetFont("body", "", bodySize)
	for n := int(math.Ceil(r.From/step - 1e-6)); float64(n)*step <= r.To+1e-9; n++ {
		y, wide := place(float64(n)*step), 2.0
		switch {
		case n%large == 0:
			wide = 5
			label := fmt.Sprint(n)
			if r.Inches {
				label = fmt.Sprint(n / large)
			}
			p.SetXY(x-wide-11, y-2)
			p.CellFormat(10, 4, label, "", 0, "R", false, 0, "")
		case n%middle == 0:
			wide = 3.5
		}
		p.Line(x-wide, y, x, y)
	}
}

// marks draws each distance at its place, labels set apart where marks crowd.
func (p *pdfPage) marks(r Ruler, x float64, place func(float64) float64, top, bottom float64) {
	marks := slices.Clone(r.Marks)
	slices.SortFunc(marks, func(a, b RulerMark) int {
		if place(a.At) < place(b.At) {
			return -1
		}
		return 1
	})
	wanted := make([]float64, len(marks))
	for i, m := range marks {
		wanted[i] = place(m.At)
	}
	labels := apart(wanted, labelTall, top-2, bottom+4)
	p.SetLineWidth(0.2)
	for i, m := range marks {
		if m.Beyond {
			p.SetDashPattern([]float64{1.2, 0.8}, 0)
		}
		p.Line(x, wanted[i], x+markLong, wanted[i])
		p.Line(x+markLong, wanted[i], x+markLong+labelGap, labels[i])
		p.SetDashPattern([]float64{}, 0)
		p.SetFont("body", "B", bodySize)
		p.SetXY(x+markLong+labelGap, labels[i]-2.1)
		label := m.Label
		if m.Beyond {
			label += " *"
		}
		p.CellFormat(22, 4.2, harmless(label), "", 0, "L", false, 0, "")
	}
}

// apart moves sorted places as little as it can until they stand least apart,
// between low and high as far as there is room.
func apart(at []float64, least, low, high float64) []float64 {
	out := slices.Clone(at)
	for i := range out {
		out[i] = max(out[i], low+float64(i)*least)
		if i > 0 {
			out[i] = max(out[i], out[i-1]+least)
		}
	}
	for i := len(out) - 1; i >= 0; i-- {
		limit := max(high-float64(len(out)-1-i)*least, low+float64(i)*least)
		if i < len(out)-1 {
			limit = min(limit, out[i+1]-least)
		}
		out[i] = min(out[i], max(limit, low+float64(i)*least))
	}
	return out
}
