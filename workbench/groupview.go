package workbench

import (
	"cmp"
	"fmt"
	"math"

	"tautline/group"
	"tautline/notebook"
	"tautline/num"
	"tautline/trial"
	"tautline/unit"
)

// Ranged is a number with its 95 % interval; null where there is none to give.
type Ranged struct {
	Value *float64 `json:"value"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
}

func ranged[T ~float64](e num.Estimate[T]) Ranged {
	return Ranged{finite(float64(e.Value)), finite(float64(e.Low)), finite(float64(e.High))}
}

// finite is a number that JSON can hold, or nil.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// GroupView is what the arrows of one set-up tell, as numbers whose names end
// in their unit. Lengths are on the face, x right and y up as seen from the
// shooting line, for every archer.
type GroupView struct {
	SetUp    notebook.ID `json:"setup,omitempty"`
	Label    string      `json:"label,omitempty"` // the set-up in words
	Kind     string      `json:"kind"`            // fletched, bare
	Distance *float64    `json:"distance_m"`      // null: not known
	Face     string      `json:"face"`
	Arrows   int         `json:"n_arrows"` // with a place
	Ends     int         `json:"ends"`
	RingOnly int         `json:"n_ring_only"`
	Missed   int         `json:"n_missed"` // called M; they have no place
	Sigma    Ranged      `json:"sigma_m"`  // standard deviation of one axis about the ends' own centres, both pooled
	SigmaX   Ranged      `json:"sigma_x_m"`
	SigmaY   Ranged      `json:"sigma_y_m"`
	DF       *float64    `json:"degrees_of_freedom"`
	Centre   CentreView  `json:"centre_m"`
	Ellipse  EllipseView `json:"ellipse"` // about the ends' own centres
	// LongRun and LongEllipse are of all arrows: the ends' own centres scatter,
	// too. Radii, score and the forecast of a round are by them.
	LongRun     Ranged      `json:"sigma_long_run_m"`
	LongEllipse EllipseView `json:"ellipse_long_run"`
	Extreme     *float64    `json:"extreme_spread_m"` // mean over ends
	ExtremeBy   *float64    `json:"extreme_spread_expected_m"`
	Radius      *float64    `json:"mean_radius_m"` // from the ends' centres
	RadiusBy    *float64    `json:"mean_radius_expected_m"`
	R50         *float64    `json:"r50_m"` // half of the arrows fall inside, in the long run
	R90         *float64    `json:"r90_m"`

	Score       *ScoreView   `json:"score"` // null on blank paper
	Rings       *RingView    `json:"rings"` // what the rings alone tell; null without any
	Outliers    []OddArrow   `json:"outliers"`
	Offsets     []OffsetView `json:"arrow_offsets"`
	Sentences   []string     `json:"sentences"`
	CanSee      string       `json:"can_see"` // what so many arrows can tell of a change
	Assumptions []string     `json:"assumptions"`
	Warnings    []string     `json:"warnings"`
}

// CentreView is the group's centre.
type CentreView struct {
	X      Ranged `json:"x"`
	Y      Ranged `json:"y"`
	ByEnds bool   `json:"by_ends"` // the interval counts ends, not arrows
}

// EllipseView is one standard deviation along each principal axis.
type EllipseView struct {
	X       *float64 `json:"x_m"`
	Y       *float64 `json:"y_m"`
	Major   *float64 `json:"major_m"`
	Minor   *float64 `json:"minor_m"`
	Angle   *float64 `json:"angle_deg"` // of the major axis, from x toward y
	CircleP *float64 `json:"circle_p"`  // below 0.05: plainly longer one way
}

// ScoreView is what the group scores in the long run.
type ScoreView struct {
	Face     string  `json:"face"`
	Shaft    float64 `json:"shaft_m"`
	PerArrow Ranged  `json:"per_arrow"` // about where it hits now; the interval is the spread's doubt
	Centred  Ranged  `json:"per_arrow_centred"`
	Best     int     `json:"best"` // of one arrow
}

// RingView is what the rings alone tell of a circular group.
type RingView struct {
	Arrows   int      `json:"n_arrows"`
	Sigma    Ranged   `json:"sigma_m"`
	Offset   Ranged   `json:"offset_m"` // of the centre, direction not known
	Kept     *float64 `json:"information_kept"`
	Warnings []string `json:"warnings"`
}

// OddArrow is an arrow further out than its group explains: flagged, never
// deleted.
type OddArrow struct {
	ArrowRef
	Arrow  string  `json:"arrow,omitempty"`
	X      float64 `json:"x_m"`
	Y      float64 `json:"y_m"`
	Radius float64 `json:"radius_m"` // from its end's centre
	P      float64 `json:"p"`        // adjusted for the arrows looked at
}

// OffsetView is how far one numbered arrow flies from its ends' centres.
type OffsetView struct {
	Arrow  string   `json:"arrow"`
	Shots  int      `json:"n_shots"`
	X      float64  `json:"x_m"`
	Y      float64  `json:"y_m"`
	Radius *float64 `json:"radius_m"` // of the 95 % circle about it
	P      *float64 `json:"p"`        // adjusted for the arrows looked at
	Flag   bool     `json:"flies_out"`
}

// DescribeVolley says what the arrows of one set-up tell. style prints lengths
// in the sentences.
func DescribeVolley(v Volley, style unit.Style[unit.Length]) (GroupView, error) {
	out := GroupView{
		SetUp: v.SetUp, Label: v.Label, Kind: string(v.Kind), Face: v.Face.Key, Ends: len(v.Days), Outliers: []OddArrow{}, Offsets: []OffsetView{},
		Sentences: []string{}, Assumptions: []string{}, Warnings: []string{},
	}
	if v.Distance > 0 {
		out.Distance = finite(float64(v.Distance))
	}
	out.count(v)
	if err := out.fromRings(v); err != nil {
		return out, err
	}
	if out.Arrows == 0 {
		out.wordRings(v, style)
		return out, nil
	}
	d, err := group.Describe(v.Shots)
	if err != nil {
		return out, understandGroup(err)
	}
	out.fromPlaces(v, d)
	if err := out.score(v, d); err != nil {
		return out, err
	}
	out.word(v, d, style)
	return out, nil
}

// count sorts arrows by what is known of them.
func (g *GroupView) count(v Volley) {
	for _, s := range v.Shots {
		switch {
		case s.Placed:
			g.Arrows++
		case s.Ring == "M":
			g.Missed++
		default:
			g.RingOnly++
		}
	}
	if g.Missed > 0 {
		g.Warnings = append(g.Warnings, fmt.Sprintf("%d missed: they have no place and are in no spread, so the true spread is wider", g.Missed))
	}
	if len(v.Others) > 0 {
		g.Warnings = append(g.Warnings, fmt.Sprintf("ends on other faces too (%v): places count alike, scores are for the face %s", v.Others, v.Face.Name))
	}
	per := 0
	if len(v.Days) > 0 {
		per = len(v.Shots) / len(v.Days)
	}
	if len(v.Shots) > 1 {
		g.CanSee = trial.CanSeeText(len(v.Shots), per)
	}
}

// fromPlaces fills what the places tell.
func (g *GroupView) fromPlaces(v Volley, d group.Description) {
	g.Ends = d.Ends
	g.Sigma, g.SigmaX, g.SigmaY = ranged(d.Sigma), ranged(d.SigmaRight), ranged(d.SigmaUp)
	g.Centre = CentreView{ranged(d.Centre.Right), ranged(d.Centre.Up), d.Centre.ByEnds}
	if d.Sigma.Known() {
		g.DF = finite(d.DF)
		g.Ellipse, g.LongEllipse, g.LongRun = viewEllipse(d.Ellipse), viewEllipse(d.LongRun.Ellipse), ranged(d.LongRun.Sigma)
		g.Extreme, g.ExtremeBy = finite(float64(d.ExtremeSpread)), finite(float64(d.ExtremeExpected))
		g.Radius, g.RadiusBy = finite(float64(d.MeanRadius)), finite(float64(d.MeanRadiusExpects))
		g.R50, g.R90 = finite(float64(d.R50)), finite(float64(d.R90))
	}
	_, refs := v.Placed()
	for _, o := range d.Outliers {
		g.Outliers = append(g.Outliers, OddArrow{refs[o.Index], o.Shot.Arrow, float64(o.Shot.Right), float64(o.Shot.Up), float64(o.Radius), o.P})
	}
	for _, o := range d.Offsets {
		g.Offsets = append(g.Offsets, OffsetView{o.Arrow, o.Shots, float64(o.Offset.Right), float64(o.Offset.Up), finite(float64(o.Radius)), finite(o.P), o.Flag})
	}
	g.Assumptions, g.Warnings = append(g.Assumptions, d.Assumptions...), append(g.Warnings, d.Warnings...)
}

func viewEllipse(e group.Ellipse) EllipseView {
	return EllipseView{finite(float64(e.Centre.Right)), finite(float64(e.Centre.Up)), finite(float64(e.Major)), finite(float64(e.Minor)),
		finite(float64(e.Angle) * 180 / math.Pi), finite(e.CircleP)}
}

// fromRings fills what the rings alone tell, if any arrow has only a ring.
func (g *GroupView) fromRings(v Volley) error {
	if g.RingOnly == 0 || len(v.Face.Zones) == 0 {
		return nil
	}
	var shots []group.Shot
	for _, s := range v.Shots {
		if _, printed := v.Face.ZoneByLabel(s.Ring); printed || s.Ring == "" {
			shots = append(shots, s)
		}
	}
	counts, err := group.CountRings(v.Face, v.Shaft, shots)
	if err != nil {
		return understandGroup(err)
	}
	fit, err := group.FitRings(counts)
	if err != nil {
		return understandGroup(err)
	}
	g.Rings = &RingView{fit.Arrows, ranged(fit.Sigma), ranged(fit.Offset), finite(fit.Kept), append([]string{}, fit.Warnings...)}
	return nil
}

// score says what the spread of the long run scores on its face.
func (g *GroupView) score(v Volley, d group.Description) error {
	if len(v.Face.Zones) == 0 || !d.Sigma.Known() {
		return nil
	}
	out := ScoreView{Face: v.Face.Key, Shaft: float64(v.Shaft), Best: v.Face.Best()}
	long, q := d.LongRun, 1.0 // an ellipse keeps its shape while the doubt of its size is tried
	if long.Ellipse.Major > 0 {
		q = float64(long.Sigma.Value) / math.Sqrt((square(long.Ellipse.Major)+square(long.Ellipse.Minor))/2)
	}
	at := group.Point{Right: d.Centre.Right.Value, Up: d.Centre.Up.Value}
	for _, scale := range []struct {
		sigma          unit.Length
		here, centered **float64
	}{{long.Sigma.Value, &out.PerArrow.Value, &out.Centred.Value}, {long.Sigma.High, &out.PerArrow.Low, &out.Centred.Low}, {long.Sigma.Low, &out.PerArrow.High, &out.Centred.High}} {
		if math.IsInf(float64(scale.sigma), 0) {
			continue
		}
		k := q * float64(scale.sigma/long.Sigma.Value)
		spread := group.Spread{SigmaRight: long.SigmaRight.Value * unit.Length(k), SigmaUp: long.SigmaUp.Value * unit.Length(k)}
		for _, place := range []struct {
			at   group.Point
			into **float64
		}{{at, scale.here}, {group.Point{}, scale.centered}} {
			spread.Offset = place.at
			f, err := group.ExpectedScore(v.Face, v.Shaft, spread)
			if err != nil {
				return understandGroup(err)
			}
			*place.into = finite(f.PerArrow)
		}
	}
	g.Score = &out
	return nil
}

func square(l unit.Length) float64 { return float64(l) * float64(l) }

// word tells the places in plain sentences.
func (g *GroupView) word(v Volley, d group.Description, style unit.Style[unit.Length]) {
	say := func(format string, args ...any) { g.Sentences = append(g.Sentences, fmt.Sprintf(format, args...)) }
	if !d.Sigma.Known() {
		say("%s: one arrow an end has no spread to measure; shoot at least three an end.", counted(d.Arrows, "arrow"))
		return
	}
	say("%s in %s: the spread of one axis is %s (%s).", counted(d.Arrows, "arrow"), counted(d.Ends, "end"), style.Print(d.Sigma.Value), rangeOf(d.Sigma, style))
	if d.LongRun.Wider && d.Centre.ByEnds {
		say("The ends' own centres scatter by more than their arrows explain: over all ends the spread of one axis is %s (%s).", style.Print(d.LongRun.Sigma.Value), rangeOf(d.LongRun.Sigma, style))
	}
	say("In the long run half of the arrows fall within %s of the centre, nine in ten within %s.", style.Print(d.R50), style.Print(d.R90))
	say("The centre is %s.", whereabouts(d.Centre, style))
	if d.Ellipse.CircleP < 0.05 {
		say("The group is plainly longer one way: %s by %s, its long way %.0f° from level.", style.Print(d.Ellipse.Major), style.Print(d.Ellipse.Minor), float64(d.Ellipse.Angle)*180/math.Pi)
	}
	if s := g.Score; s != nil && s.PerArrow.Value != nil {
		say("On the %s face that is %.2f points an arrow%s; centred it would be %.2f.", v.Face.Name, *s.PerArrow.Value, pointsRange(s.PerArrow), *s.Centred.Value)
	}
	for _, o := range g.Offsets {
		if o.Flag {
			say("Arrow %s always flies out: %s from where its ends are, over %d shots. Look at its nock, fletching and straightness.", o.Arrow, offsetWords(o.X, o.Y, style), o.Shots)
		}
	}
	if n := len(g.Outliers); n > 0 {
		say("%s further out than the rest explain; kept in every figure.", counted(n, "arrow lies", "arrows lie"))
	}
}

// wordRings tells what rings alone say.
func (g *GroupView) wordRings(v Volley, style unit.Style[unit.Length]) {
	if g.Rings == nil || g.Rings.Sigma.Value == nil {
		g.Sentences = append(g.Sentences, fmt.Sprintf("%s without a place: no spread can be told.", counted(len(v.Shots), "arrow")))
		return
	}
	r := g.Rings
	e := num.Estimate[unit.Length]{Value: unit.Length(*r.Sigma.Value), Low: lengthOr(r.Sigma.Low, math.Inf(-1)), High: lengthOr(r.Sigma.High, math.Inf(1))}
	g.Sentences = append(g.Sentences, fmt.Sprintf("%s by their rings alone: the spread of one axis is %s (%s).", counted(r.Arrows, "arrow"), style.Print(e.Value), rangeOf(e, style)))
	if r.Kept != nil {
		g.Sentences = append(g.Sentences, fmt.Sprintf("The rings keep %.0f %% of what the places would tell of the spread, and nothing of its direction.", 100**r.Kept))
	}
}

func lengthOr(v *float64, none float64) unit.Length {
	if v == nil {
		return unit.Length(none)
	}
	return unit.Length(*v)
}

// counted writes a number with its noun: "1 arrow", "3 arrows".
func counted(n int, words ...string) string {
	many := words[0] + "s"
	if len(words) > 1 {
		many = words[1]
	}
	if n == 1 {
		return "1 " + words[0]
	}
	return fmt.Sprintf("%d %s", n, many)
}

// rangeOf writes an interval; an end that the data do not bound is said.
func rangeOf(e num.Estimate[unit.Length], style unit.Style[unit.Length]) string {
	switch {
	case math.IsInf(float64(e.High), 0) || math.IsNaN(float64(e.High)):
		return "not bounded above"
	case e.Low < 0:
		e.Low = 0
	}
	return style.Range(e.Low, e.High)
}

func pointsRange(r Ranged) string {
	if r.Low == nil || r.High == nil {
		return ""
	}
	return fmt.Sprintf(" (%.2f to %.2f)", *r.Low, *r.High)
}

// whereabouts tells the centre, and on which sides it is plainly off.
func whereabouts(c group.CentreEstimate, style unit.Style[unit.Length]) string {
	side := func(e num.Estimate[unit.Length], plus, minus string) string {
		word := plus
		if e.Value < 0 {
			word = minus
		}
		text := fmt.Sprintf("%s %s", style.Print(absLength(e.Value)), word)
		switch {
		case !e.Bounded():
			return text + " (too few to say how surely)"
		case e.Holds(0):
			return fmt.Sprintf("%s (± %s: cannot be told from the middle)", text, style.Print(e.Half()))
		}
		return fmt.Sprintf("%s (± %s)", text, style.Print(e.Half()))
	}
	return side(c.Right, "right", "left") + " and " + side(c.Up, "high", "low")
}

func absLength(l unit.Length) unit.Length { return unit.Length(math.Abs(float64(l))) }

// offsetWords tells a place from a centre: "3.1 cm left and 0.4 cm high".
func offsetWords(x, y float64, style unit.Style[unit.Length]) string {
	side := func(v float64, plus, minus string) string {
		return style.Print(absLength(unit.Length(v))) + " " + cmp.Or(map[bool]string{true: minus}[v < 0], plus)
	}
	return side(x, "right", "left") + " and " + side(y, "high", "low")
}
