package bow

import (
	"cmp"
	"fmt"
	"slices"

	"tautline/unit"
)

// DrawPoint is one reading of a draw–force curve: the nock's distance from the
// pivot and the force there.
type DrawPoint struct {
	Nock  unit.Length
	Force unit.Force
}

// Known is what an archer can say about a bow without taking it apart. Draw
// and DrawWeight are needed, the rest may be left zero.
type Known struct {
	// BowLength is the nominal length, 62 to 72 in; zero means 68 in with a
	// wide doubt.
	BowLength unit.Length
	// DrawWeight is the force at Draw, the nock's distance from the pivot
	// there (PivotDraw of the standard draw length).
	DrawWeight unit.Force
	Draw       unit.Length
	// Brace is the brace height to the pivot; zero takes UsualBrace, and the
	// fit says so.
	Brace unit.Length
	// StringLength is the whole string, loop to loop, unstrung and pulled
	// straight by hand, twisted as it is; zero if not measured.
	StringLength unit.Length
	// PivotOffset is how much further back than usual the riser's pivot
	// lies; see BraceRange.Check.
	PivotOffset unit.Length
	// String is the string's description; the zero value keeps the generic
	// bow's string.
	String StringSpec
	// Points are readings of the draw–force curve, loading, in any order.
	Points []DrawPoint
	// Doubt is the readings' doubt; zero fields take the defaults.
	Doubt ReadingDoubt

	// order holds each point's place in the caller's list, for naming it.
	order []int
}

// sortPoints replaces Points by a copy in the order of drawing.
func (k *Known) sortPoints() {
	given := k.Points
	k.order, k.Points = make([]int, len(given)), make([]DrawPoint, len(given))
	for i := range given {
		k.order[i] = i
	}
	slices.SortStableFunc(k.order, func(a, b int) int { return cmp.Compare(given[a].Nock, given[b].Nock) })
	for i, from := range k.order {
		k.Points[i] = given[from]
	}
}

// ReadingDoubt is one standard deviation of each kind of reading. The
// defaults are those of a hand scale and a tape measure (assumed).
type ReadingDoubt struct {
	DrawWeight   unit.Force  // default 1.5 % of the draw weight
	Points       unit.Force  // default 1.5 % of the draw weight
	Brace        unit.Length // default 1.5 mm
	StringLength unit.Length // default 4 mm
}

// Span of nominal bow lengths the generic family is scaled over.
const (
	shortestBow = 58 * 0.0254
	longestBow  = 74 * 0.0254
)

// UsualBrace is a brace height to assume when none is given: 219 mm for 68 to
// 70 in, as on the three bows of B2, in proportion for other lengths
// (assumed). Zero means an unknown length.
func UsualBrace(bowLength unit.Length) unit.Length {
	if bowLength == 0 {
		return 0.219
	}
	return 0.219 * bowLength / (69 * 0.0254)
}

func (k Known) withDefaults() Known {
	if k.Brace == 0 {
		k.Brace = UsualBrace(k.BowLength)
	}
	scale := 0.015 * k.DrawWeight
	k.Doubt = ReadingDoubt{
		DrawWeight: orDefault(k.Doubt.DrawWeight, scale), Points: orDefault(k.Doubt.Points, scale),
		Brace: orDefault(k.Doubt.Brace, 0.0015), StringLength: orDefault(k.Doubt.StringLength, 0.004),
	}
	return k
}

func orDefault[T ~float64](x, def T) T {
	if x == 0 {
		return def
	}
	return x
}

// Validate names the first entry that cannot be used.
func (k Known) Validate() error {
	limits := []limit{
		{"DrawWeight", float64(k.DrawWeight), 15, 450, 1, "N", "170 N (38 lbf)"},
		mm("Draw", k.Draw, 0.35, 0.95, "692 mm from the pivot for a 29 in draw"),
		mm("Brace", k.Brace, 0.1, 0.35, "220 mm"),
		mm("PivotOffset", k.PivotOffset, -0.06, 0.06, "10 mm"),
		{"Doubt.DrawWeight", float64(k.Doubt.DrawWeight), 0.01, 100, 1, "N", "2 N"},
		{"Doubt.Points", float64(k.Doubt.Points), 0.01, 100, 1, "N", "2 N"},
		mm("Doubt.Brace", k.Doubt.Brace, 1e-5, 0.05, "1.5 mm"),
		mm("Doubt.StringLength", k.Doubt.StringLength, 1e-5, 0.1, "4 mm"),
	}
	if k.BowLength != 0 {
		limits = append(limits, mm("BowLength", k.BowLength, shortestBow, longestBow, "68 in"))
	}
	if k.StringLength != 0 {
		limits = append(limits, mm("StringLength", k.StringLength, 1.2, 2, "1670 mm"))
	}
	for i, p := range k.Points {
		limits = append(limits,
			mm(fmt.Sprintf("Points[%d].Nock", i), p.Nock, float64(k.Brace)+0.01, 0.95, "a draw beyond the brace height, such as 450 mm"),
			limit{fmt.Sprintf("Points[%d].Force", i), float64(p.Force), 1, 900, 1, "N", "100 N"})
	}
	for _, l := range limits {
		if err := l.check(); err != nil {
			return err
		}
	}
	if k.Draw < k.Brace+0.1 {
		return &InputError{"Draw", "full draw is not 10 cm behind the brace height", "692 mm from the pivot for a 29 in draw"}
	}
	return nil
}
