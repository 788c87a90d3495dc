package workbench

import (
	"context"
	"fmt"
	"math"
	"slices"

	"tautline/notebook"
	"tautline/unit"
)

// Owns says what an archer can measure with.
type Owns struct {
	Scale      bool // hanging scale for the draw weight
	Square     bool // bow square
	Chrono     bool // chronograph
	BareShafts bool
	// SecondSpine is another shaft that can be borrowed or is there, as its
	// static spine; empty for none.
	SecondSpine string
	// SecondArrow is the whole mass of another arrow, like "360 gr".
	SecondArrow string
}

// EverythingOwned assumes a full bag and a shaft one size softer or stiffer.
func EverythingOwned() Owns {
	return Owns{Scale: true, Square: true, Chrono: true, BareShafts: true, SecondSpine: "next"}
}

// NextReading is a reading that would narrow what is wanted.
type NextReading struct {
	Name    string `json:"name"`
	Kind    string `json:"kind"`
	Needs   string `json:"needs"`
	Minutes int    `json:"minutes"` // about, common practice
	// Settings to change for it, and back afterwards; none when it is read as
	// the bow stands.
	Settings []Setting `json:"settings,omitempty"`
	Distance float64   `json:"distance_m,omitempty"`
	Arrows   int       `json:"arrows,omitempty"`
	// Drop is the share of the wanted quantity's variance that the reading is
	// expected to take away.
	Drop float64 `json:"expected_drop_ratio"`
	// SD is what would be left of the standard deviation, in shares of now.
	Left float64 `json:"sd_left_ratio"`
	Why  string  `json:"why"`
}

// WishFor names what an archer wants to know better.
type WishFor string

// What can be wanted.
const (
	WishAll     WishFor = "all"     // what any change of this bow does
	WishBare    WishFor = "bare"    // what a change does to the bare shaft
	WishSpeed   WishFor = "speed"   // what a change does to the speed
	WishButton  WishFor = "button"  // how much a turn of the button is worth
	WishRelease WishFor = "release" // what the fingers do, apart from the button
)

// candidate is a reading that could be taken.
type candidate struct {
	NextReading
	wanted
	noise float64
	pair  bool // the reading is the difference from the bow as it stands
}

// MeasureNext ranks the readings that the archer's tools allow by how much of
// the wanted variance each is expected to take away: with one more reading of
// slope h and noise R the variance of a quantity of slope g falls by
// (gᵀΣh)²/(hᵀΣh + R), which is exact for a linear model.
func (f *FittedBow) MeasureNext(ctx context.Context, owns Owns, wish WishFor) ([]NextReading, error) {
	wants, err := f.slopesWanted(ctx, wish)
	if err != nil {
		return nil, err
	}
	list := f.candidates(owns)
	var asks []wanted
	for _, c := range list {
		asks = append(asks, c.wanted)
	}
	for _, c := range list {
		asks = append(asks, wanted{f.rig.base, c.q})
	}
	if len(list) == 0 {
		return []NextReading{}, nil
	}
	_, jac, err := f.rig.slopes(ctx, f.u, asks, central)
	if err != nil {
		return nil, understand(err)
	}
	out := []NextReading{}
	for i, c := range list {
		h := jac.Row(i)
		if c.pair {
			for k, b := range jac.Row(len(list) + i) {
				h[k] -= b
			}
		}
		c.Drop = f.drop(wants, h, c.noise)
		c.Left = math.Sqrt(1 - c.Drop)
		if c.Drop > 0.01 {
			out = append(out, c.NextReading)
		}
	}
	slices.SortStableFunc(out, func(a, b NextReading) int {
		switch {
		case a.Drop > b.Drop:
			return -1
		case a.Drop < b.Drop:
			return 1
		}
		return a.Minutes - b.Minutes
	})
	return out, ctx.Err()
}

// drop is the mean share of variance that a reading takes from what is wanted.
func (f *FittedBow) drop(wants [][]float64, h []float64, noise float64) float64 {
	own := f.spread(h) + noise*noise
	sum := 0.0
	for _, g := range wants {
		both := quadratic(f.cov, g, h)
		sum += both * both / (own * f.spread(g))
	}
	return sum / float64(len(wants))
}

// slopesWanted gives the slopes of what a wish is about.
func (f *FittedBow) slopesWanted(ctx context.Context, wish WishFor) ([][]float64, error) {
	n := len(f.u)
	one := func(knobs ...int) []float64 {
		g := make([]float64, n)
		for _, k := range knobs {
			g[f.rig.at(k)] = f.rig.knobs[f.rig.at(k)].sd
		}
		return g
	}
	switch wish {
	case WishButton:
		return [][]float64{one(kButtonSpring, kButtonThread)}, nil
	case WishRelease:
		return [][]float64{one(kRelease)}, nil
	}
	var of []Quantity
	if wish != WishBare {
		of = append(of, Quantity{Kind: QSpeed})
	}
	if wish != WishSpeed && f.rig.base.sideErr == nil {
		of = append(of, Quantity{Kind: QBare, Distance: 30})
	}
	if len(of) == 0 {
		return nil, &notebook.Error{Code: notebook.Invalid, Field: "/arrow/spine", Message: "nothing is said of the shaft, so nothing of the bare shaft can be predicted", Hint: "give the static spine, like 600"}
	}
	var out [][]float64
	for _, to := range f.usualChanges() {
		rows, err := f.changeSlopes(ctx, to, of)
		if err != nil {
			continue // a change this bow cannot make
		}
		for _, g := range rows {
			if f.spread(g) > 0 {
				out = append(out, g)
			}
		}
	}
	if len(out) == 0 {
		return nil, &notebook.Error{Code: notebook.Invalid, Message: "no change of this bow could be predicted", Hint: "check brace height, arrow and button"}
	}
	return out, ctx.Err()
}

// changeSlopes is how the parameters move a change.
func (f *FittedBow) changeSlopes(ctx context.Context, to *scene, of []Quantity) ([][]float64, error) {
	before, start, err := f.slopes(ctx, f.rig.base, of)
	if err != nil {
		return nil, err
	}
	after, end, err := f.slopes(ctx, to, of)
	if err != nil {
		return nil, err
	}
	var out [][]float64
	for i := range of {
		if before[i] == after[i] {
			continue
		}
		g := slices.Clone(end.Row(i))
		for k, s := range start.Row(i) {
			g[k] -= s
		}
		out = append(out, g)
	}
	return out, nil
}

// usualChanges are the changes every archer asks about, as far as this set-up
// allows.
func (f *FittedBow) usualChanges() (out []*scene) {
	s, base := f.ask.Settings, f.rig.base
	for _, moved := range [][]Setting{
		{{"brace_height", lengthText(base.limb.brace+0.010, s)}},
		f.turned(1), f.spine(50), f.point(10),
	} {
		if sc := f.moved(moved); sc != nil {
			out = append(out, sc)
		}
	}
	return out
}

// moved is the scene after some settings, nil where it cannot be.
func (f *FittedBow) moved(moved []Setting) *scene {
	if len(moved) == 0 {
		return nil
	}
	s, err := withAll(f.ask.Settings, moved)
	if err != nil {
		return nil
	}
	sc, err := f.rig.scene(s)
	if err != nil || sc.same(f.rig.base) {
		return nil
	}
	return sc
}

// lengthText writes a brace height to the pivot as the set-up's own reference
// reads it.
func lengthText(brace unit.Length, s notebook.Settings) string {
	if s.BraceHeight.From == notebook.EdgeButton {
		brace += s.BraceHeight.ButtonBehind.Value
	}
	return brace.Format(unit.MM, 1, unit.Point)
}

func (f *FittedBow) turned(by float64) []Setting {
	t := by
	if b := f.ask.Settings.Button.Turns; b != nil {
		t += *b
	} else {
		return nil
	}
	return []Setting{{"button", fmt.Sprintf("%g", t)}}
}

func (f *FittedBow) spine(by float64) []Setting {
	s := f.ask.Settings.Arrow.Spine
	if s.IsZero() {
		return nil
	}
	return []Setting{{"spine", fmt.Sprintf("%.0f", float64(s.Value/unit.ThousandthInch)+by)}}
}

// point changes the point, and with it the whole arrow.
func (f *FittedBow) point(grains float64) []Setting {
	a := f.ask.Settings.Arrow
	if a.PointMass.IsZero() {
		return nil
	}
	more := unit.Mass(grains) * unit.Grain
	return []Setting{
		{"point_mass", (a.PointMass.Value + more).Format(unit.Gr, 1, unit.Point)},
		{"arrow_mass", (a.Mass.Value + more).Format(unit.Gr, 1, unit.Point)},
	}
}

// candidates lists the readings the tools allow. Minutes are common practice,
// no source.
func (f *FittedBow) candidates(owns Owns) (out []candidate) {
	s, base := f.ask.Settings, f.rig.base
	add := func(n NextReading, q Quantity, moved []Setting) {
		sc := base
		if len(moved) > 0 {
			if sc = f.moved(moved); sc == nil {
				return
			}
		}
		if _, side, _ := q.far(); side && sc.sideErr != nil {
			return
		}
		n.Kind, n.Settings, n.Distance = q.Kind, moved, float64(q.Distance)
		noise := math.Hypot(UsualDoubt(q, n.Arrows, f.rig.in.Known.DrawWeight), f.widened(q.Kind)*q.floor())
		pair := q.Kind == QGroup // the sight's own zero is free, so only its move counts
		if pair {
			noise *= math.Sqrt2
		}
		out = append(out, candidate{n, wanted{sc, q}, noise, pair})
	}
	brace := []Setting{{"brace_height", lengthText(base.limb.brace+0.010, s)}}
	if owns.Scale {
		add(NextReading{Name: "draw weight at the clicker, on a scale", Needs: "scale", Minutes: 3, Why: "It sets the limbs' stiffness."}, Quantity{Kind: QDrawWeight}, nil)
		add(NextReading{Name: "draw force two thirds of the way", Needs: "scale", Minutes: 3, Why: "It tells the draw curve's shape, and with it the stored energy."},
			Quantity{Kind: QDrawForce, Draw: base.limb.brace + (base.limb.draw-base.limb.brace)*2/3}, nil)
	}
	if owns.Chrono {
		add(NextReading{Name: "speed of six arrows as the bow stands", Needs: "chronograph", Minutes: 5, Arrows: 6, Why: "It tells what the limbs and string swallow."}, Quantity{Kind: QSpeed}, nil)
		add(NextReading{Name: "speed of six arrows at a brace height 10 mm higher", Needs: "chronograph, square", Minutes: 15, Arrows: 6, Why: "It tells how speed answers brace height."}, Quantity{Kind: QSpeed}, brace)
		add(NextReading{Name: "speed of six arrows of another mass", Needs: "chronograph, another arrow", Minutes: 8, Arrows: 6, Why: "Two masses tell moving mass from loss."}, Quantity{Kind: QSpeed}, f.otherMass(owns))
	}
	if owns.BareShafts {
		f.bareCandidates(owns, brace, add)
	}
	if owns.Square {
		add(NextReading{Name: "brace height after three more turns", Needs: "square, stringer", Minutes: 8, Why: "It tells what a turn of the string is worth."}, Quantity{Kind: QBrace, Turns: 3}, nil)
	}
	return out
}

func (f *FittedBow) bareCandidates(owns Owns, brace []Setting, add func(NextReading, Quantity, []Setting)) {
	q := Quantity{Kind: QBare, Distance: 30}
	n := NextReading{Arrows: 6, Needs: "bare shafts"}
	n.Name, n.Minutes, n.Why = "six bare and six fletched at 30 m as the bow stands", 12, "It tells where the bare shaft lands now."
	add(n, q, nil)
	n.Name, n.Minutes, n.Why = "six bare and six fletched at 30 m, the button one turn stiffer", 14, "It tells what a turn of the button is worth."
	add(n, q, f.turned(1))
	n.Name, n.Minutes, n.Why = "six bare and six fletched at 30 m, at a brace height 10 mm higher", 20, "It tells the release from the button, and how the bare shaft answers brace height."
	add(n, q, brace)
	if spine := f.otherSpine(owns); spine != nil {
		n.Name, n.Minutes, n.Needs = "six bare and six fletched at 30 m of shafts of "+spine[0].Value+" spine", 15, "bare shafts of another spine, borrowed"
		n.Why = "One shaft leaves release and button tied together; a second spine takes them apart."
		add(n, q, spine)
	}
	add(NextReading{Name: "centre of six fletched arrows at 30 m, then with the button one turn stiffer and the sight left", Needs: "arrows", Minutes: 12, Arrows: 6,
		Why: "The group's move tells what a turn of the button is worth."}, Quantity{Kind: QGroup, Distance: 30}, f.turned(1))
}

func (f *FittedBow) otherSpine(owns Owns) []Setting {
	switch owns.SecondSpine {
	case "":
		return nil
	case "next":
		return f.spine(-50)
	}
	return []Setting{{"spine", owns.SecondSpine}}
}

func (f *FittedBow) otherMass(owns Owns) []Setting {
	if owns.SecondArrow != "" {
		return []Setting{{"arrow_mass", owns.SecondArrow}}
	}
	if m := f.point(30); m != nil {
		return m
	}
	m := f.ask.Settings.Arrow.Mass.Value + 30*unit.Grain
	return []Setting{{"arrow_mass", m.Format(unit.Gr, 1, unit.Point)}}
}

// FirstNext is the reading that tells most of everything on this bow, with all
// tools at hand; nil when there is none.
func (f *FittedBow) FirstNext(ctx context.Context) (*NextReading, error) {
	next, err := f.MeasureNext(ctx, EverythingOwned(), WishAll)
	if err != nil || len(next) == 0 {
		return nil, err
	}
	return &next[0], nil
}
