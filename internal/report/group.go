package report

import (
	"fmt"
	"math"
	"strings"

	"tautline/group"
	"tautline/internal/figure"
	"tautline/unit"
	"tautline/workbench"
)

// GroupRange is a length of a group with its 95 % interval.
type GroupRange struct {
	Name, Label string
	Of          workbench.Ranged
}

// GroupRanges are the lengths that are shown of a group, on the screen and on
// paper.
func GroupRanges(g workbench.GroupView) []GroupRange {
	return []GroupRange{
		{"sigma", "spread of one axis", g.Sigma}, {"sigma_x", "spread sideways", g.SigmaX}, {"sigma_y", "spread in height", g.SigmaY},
		{"sigma_long_run", "spread of one axis over all ends", g.LongRun},
		{"centre_x", "centre, right positive", g.Centre.X}, {"centre_y", "centre, up positive", g.Centre.Y},
	}
}

// groupFacts are a group's numbers for paper; one without an interval says so.
func groupFacts(g workbench.GroupView, system unit.System) []Fact {
	style := system.ImpactStyle()
	facts := []Fact{{"arrows with a place", fmt.Sprintf("%d in %d ends", g.Arrows, g.Ends), ""}}
	if g.RingOnly+g.Missed > 0 {
		facts = append(facts, Fact{"without a place", fmt.Sprintf("%d with a ring only, %d missed", g.RingOnly, g.Missed), ""})
	}
	for _, r := range GroupRanges(g) {
		if r.Of.Value != nil {
			facts = append(facts, Fact{r.Label, style.Print(unit.Length(*r.Of.Value)), "(" + lengthDoubt(r.Of, style) + ")"})
		}
	}
	if g.Rings != nil && g.Rings.Sigma.Value != nil {
		facts = append(facts, Fact{"spread of one axis, by rings alone", style.Print(unit.Length(*g.Rings.Sigma.Value)), "(" + lengthDoubt(g.Rings.Sigma, style) + ")"})
	}
	if s := g.Score; s != nil && s.PerArrow.Value != nil {
		facts = append(facts, Fact{"points an arrow in the long run", points(*s.PerArrow.Value, system), "(" + pointsDoubt(s.PerArrow, system) + ")"})
	}
	return facts
}

const noInterval = "no interval to give"

func lengthDoubt(r workbench.Ranged, style unit.Style[unit.Length]) string {
	if r.Low == nil || r.High == nil {
		return noInterval
	}
	return style.Range(unit.Length(*r.Low), unit.Length(*r.High))
}

func points(v float64, system unit.System) string { return fixed(v, 2, system) }

func pointsDoubt(r workbench.Ranged, system unit.System) string {
	if r.Low == nil || r.High == nil {
		return noInterval
	}
	return points(*r.Low, system) + " to " + points(*r.High, system)
}

// Places within which half, and nine in ten, of the arrows fall, in units of
// one axis' standard deviation: √(−2 ln(1−p)) of the Rayleigh distribution.
func holds(p float64) float64 { return math.Sqrt(-2 * math.Log(1-p)) }

// mostPlaces is how many arrows a picture on paper draws one by one.
const mostPlaces = 400

// groupFace draws the arrows of a volley with the group's shape: half of the
// arrows fall inside the full ellipse in the long run, nine in ten inside the
// dashed one.
func groupFace(v workbench.Volley, g workbench.GroupView, system unit.System) *figure.Face {
	shots, _ := v.Placed()
	if len(shots) == 0 {
		return nil
	}
	f := &figure.Face{Title: "Where the arrows struck", Note: "Seen from the shooting line."}
	if len(g.Sentences) > 0 {
		f.Finding = Marked(g.Sentences[0], system)
	}
	far := float64(v.Face.Radius()) * 0.4
	shape := figure.Ring
	if v.Kind == group.Bare {
		shape = figure.Diamond
	}
	for i, s := range shots {
		far = max(far, 1.1*math.Abs(float64(s.Right)), 1.1*math.Abs(float64(s.Up)))
		if i < mostPlaces {
			f.Places = append(f.Places, figure.Place{Name: s.Arrow, Shape: shape, X: float64(s.Right), Y: float64(s.Up), Low: float64(s.Right), High: float64(s.Right)})
		}
	}
	if e := g.LongEllipse; e.Major != nil && e.Minor != nil && e.Angle != nil && e.X != nil && e.Y != nil {
		far = max(far, math.Abs(*e.X)+*e.Major*holds(0.9), math.Abs(*e.Y)+*e.Major*holds(0.9))
		for _, share := range []float64{0.5, 0.9} {
			f.Ellipses = append(f.Ellipses, figure.Ellipse{X: *e.X, Y: *e.Y, Major: *e.Major * holds(share), Minor: *e.Minor * holds(share), Angle: *e.Angle, Dashed: share == 0.9})
		}
		f.Note += " Half of the arrows fall inside the full ellipse in the long run, nine in ten inside the dashed one."
	}
	f.Half = max(far, 0.02)
	for _, z := range v.Face.Zones {
		if float64(z.Radius) <= f.Half*1.42 {
			f.Rings = append(f.Rings, float64(z.Radius))
		}
	}
	f.Scale = roundBar(f.Half / 2)
	f.Bar = system.ImpactStyle().Print(unit.Length(f.Scale))
	return f
}

// roundBar is the largest of 1, 2, 5 … that is not above x.
func roundBar(x float64) float64 {
	ten := math.Pow(10, math.Floor(math.Log10(x)))
	for _, k := range []float64{5, 2} {
		if k*ten <= x {
			return k * ten
		}
	}
	return ten
}

// fixed prints a number with so many decimals in the person's decimal mark.
func fixed(v float64, digits int, system unit.System) string {
	text := fmt.Sprintf("%.*f", digits, v)
	if system.Decimal == unit.Comma {
		return strings.Replace(text, ".", ",", 1)
	}
	return text
}

// placesTable is the table behind a picture of arrows.
func placesTable(f *figure.Face, system unit.System) *Table {
	style := system.ImpactStyle()
	t := &Table{Header: []string{"arrow", "right (" + style.Symbol() + ")", "up (" + style.Symbol() + ")"}}
	for _, p := range f.Places {
		t.Rows = append(t.Rows, []string{p.Name, style.Number(unit.Length(p.X)), style.Number(unit.Length(p.Y))})
	}
	return t
}
