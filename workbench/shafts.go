package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"tautline/arrow"
	"tautline/bow"
	"tautline/notebook"
	"tautline/shot"
	"tautline/unit"
)

// ShaftQuestion is what Shafts is asked. Zero values take the defaults.
type ShaftQuestion struct {
	Hand arrow.Hand
	// Reach is the least that a shaft must reach past the rest at full draw;
	// 25 mm by default, which new and growing archers need (common practice,
	// no source; the coach decides). Not below 10 mm.
	Reach unit.Length
	// Points are the point masses to choose from, insert included; by default
	// four around what is usual for the draw weight, and the present one.
	Points []unit.Mass
	// Count is how many shafts are listed, 5 by default, at most 12.
	Count int
}

// GrowingReach is how far a shaft reaches past the rest for new and growing
// archers.
const GrowingReach unit.Length = 25 * unit.Millimetre

const (
	leastReach  unit.Length = 10 * unit.Millimetre
	usualShafts             = 5
	mostShafts              = 12
	// lengthStep between the lengths tried, of which there are three.
	lengthStep unit.Length = 0.5 * unit.Inch
	lengths                = 3
	// NearBare is how near the group a bare shaft must land at 18 m for a shaft
	// to count as one that button and brace height can bring home: a hand's
	// width (common practice, no source).
	NearBare unit.Length = 0.10
)

// tradeSpines are the static spines that shafts are commonly sold in,
// thousandths of an inch (common practice, no source).
var tradeSpines = []float64{
	250, 300, 350, 400, 450, 500, 550, 600, 650, 700, 750, 800, 850, 900, 950, 1000, 1100, 1200, 1300, 1400, 1500, 1600, 1800, 2000,
}

// ShaftTry is one shaft to try. Right is right as seen from the shooting
// line, for every archer.
type ShaftTry struct {
	Spine       float64 `json:"spine_thousandths"`
	ShaftLength float64 `json:"shaft_length_m"` // without nock
	PastRest    float64 `json:"past_rest_m"`    // at full draw
	PointMass   float64 `json:"point_mass_kg"`  // with insert
	// Bare18 is where the bare shaft, its tail taped to equal mass, would land
	// against the fletched ones at 18 m.
	Bare18  float64 `json:"bare_minus_fletched_18m_right_m"`
	TailGap float64 `json:"tail_clearance_m"` // shaft's tail to button, the least
	Speed   float64 `json:"speed_mps"`
	// Interval holds, under the same names, the span of 90 % of the plausible
	// bows, buttons, releases and limb tips.
	Interval map[string]Span `json:"interval_90"`
	// Share of the plausible set-ups in which the tail clears the button and the
	// bare shaft lands within NearBare: the order of the list, after InWindow.
	Share float64 `json:"near_share_ratio"`
	// InWindow says whether its bare shaft can tell stiff from weak, Reason why
	// not; InShare is the share of the plausible set-ups in which it can.
	InWindow bool    `json:"in_window"`
	Reason   string  `json:"window_reason"`
	InShare  float64 `json:"window_share_ratio"`
	// Mass of the whole arrow, estimated from spine and length unless it is the
	// present one; MassPerForce is in grains per pound on the fingers.
	Mass         float64 `json:"arrow_mass_kg"`
	MassPerForce float64 `json:"arrow_mass_gr_per_lbf"`
	// Balance is from the bottom of the nock's groove; Forward is how far it
	// lies ahead of the shaft's middle, in per cent of the shaft's length (FOC).
	Balance float64 `json:"balance_from_nock_m"`
	Forward float64 `json:"balance_forward_percent"`
	// Light says that the arrow is below the bow maker's least mass; such a
	// shaft is never listed, only the present one can be.
	Light bool `json:"below_minimum_mass"`
}

// ShaftList is a short ranked list of shafts to try.
type ShaftList struct {
	Shafts []ShaftTry `json:"shafts"`
	// Present is the arrow of the settings, null without a spine and a mass.
	Present *ShaftTry `json:"present"`
	// Borrow says whether the first shaft is worth borrowing: its bare shaft can
	// be read, and lands near in one of ten plausible set-ups or more.
	Borrow bool `json:"borrow"`
	// Advice is what to do with the list; Unfitted says why it is no more.
	Advice   string   `json:"advice"`
	Unfitted bool     `json:"unfitted"`
	Bows     int      `json:"bows"` // plausible set-ups behind the intervals
	Cautions []string `json:"cautions"`
	Notes    []string `json:"notes"`
}

// Shafts lists shafts to try for a bow and a draw; no arrow need be known. It
// takes about half a second on two cores; ctx stops it, and progress, if not
// nil, is called with the share done.
func Shafts(ctx context.Context, s notebook.Settings, q ShaftQuestion, progress func(float64)) (ShaftList, error) {
	base, err := newShaftBase(s, q.Hand)
	if err != nil {
		return ShaftList{}, err
	}
	in, err := FromSettings(base.settings)
	if err != nil {
		return ShaftList{}, err
	}
	model, err := NewBowModel(ctx, in)
	if err != nil {
		return ShaftList{}, understand(err)
	}
	out, err := model.shafts(ctx, base, q, progress)
	return out, understand(err)
}

// shaftBase is the bow with an arrow to vary.
type shaftBase struct {
	settings notebook.Settings // with an arrow, the present one or an invented
	side     Sideways
	present  bool // the arrow is the archer's own
}

// newShaftBase fills in an ordinary arrow where there is none.
func newShaftBase(s notebook.Settings, hand arrow.Hand) (b shaftBase, err error) {
	b.present = !s.Arrow.Spine.IsZero() && !s.Arrow.Mass.IsZero()
	if !b.present {
		generic := arrow.Generic()
		minimum, diameter := s.Arrow.MinimumMass, s.Arrow.Diameter
		s.Arrow = notebook.Arrow{MinimumMass: minimum, Diameter: diameter}
		s.Arrow.Spine.Typed = unit.Said(generic.Spine, unit.Thou)
		length := toPivot(s, s.Draw.Length.Value) + pastPivot
		mass := unit.Mass(generic.LinearDensity*float64(length+grooveBehind)) + usualPoint + usualNock + usualFletching
		s.Arrow.Mass.Typed = unit.Said(mass, unit.G)
	}
	b.settings = s
	b.side, err = SidewaysFromSettings(s, hand)
	if !b.present {
		b.side.note("No arrow with spine and mass is given: a shaft's weight is taken from its spine, as is ordinary.")
	}
	return b, err
}

// reshaft is the same arrow on a shaft of another spine. Stiffer tubes have
// more wall: between the same tube with a thicker wall (mass as stiffness) and
// a wider tube (mass as its cube root) the weight is taken to go as the root of
// the stiffness (an assumption; 10 % for an ordinary change).
func reshaft(d arrow.Design, spine unit.Spine) arrow.Design {
	d.LinearDensity *= math.Sqrt(float64(d.Spine / spine))
	d.Spine = spine
	return d
}

// with is another shaft on the same nock and vanes.
func (b shaftBase) with(spine unit.Spine, length unit.Length, point unit.Mass) arrow.Design {
	d := reshaft(b.side.Arrow, spine)
	d.Length, d.Point.Mass = length, point
	return d
}

func (q *ShaftQuestion) check() error {
	var problems notebook.Problems
	bad := func(field, message, hint string) {
		problems = append(problems, notebook.Error{Code: notebook.Invalid, Field: field, Message: message, Hint: hint})
	}
	if q.Reach < leastReach || q.Reach > 0.2 || q.Reach != q.Reach {
		bad("/reach", fmt.Sprintf("a reach past the rest of %.0f mm is outside 10 to 200 mm", q.Reach.Millimetres()), "25 mm, and more for a growing archer")
	}
	if q.Count < 1 || q.Count > mostShafts {
		bad("/count", fmt.Sprintf("%d shafts cannot be listed", q.Count), fmt.Sprintf("1 to %d", mostShafts))
	}
	for i, p := range q.Points {
		if r := unit.PointMass; !r.Holds(p) {
			bad(fmt.Sprintf("/points/%d", i), r.Doubt(unit.Said(p, unit.Gr)), "something like 100 gr, insert included")
		}
	}
	return problems.OrNil()
}

// fill takes the defaults: light bows are shot with lighter points (common
// practice, no source).
func (q *ShaftQuestion) fill(weight unit.Force, b shaftBase) {
	if q.Reach == 0 {
		q.Reach = GrowingReach
	}
	if q.Count == 0 {
		q.Count = usualShafts
	}
	if len(q.Points) > 0 {
		return
	}
	first := 90.0
	if weight < 28*unit.PoundForce {
		first = 70
	}
	for i := range 4 {
		q.Points = append(q.Points, unit.Mass(first+10*float64(i))*unit.Grain)
	}
	if own := b.side.Arrow.Point.Mass; b.present && !slices.ContainsFunc(q.Points, func(p unit.Mass) bool { return abs(p-own) < unit.Grain }) {
		q.Points = append(q.Points, own)
	}
}

// shafts screens spines, lengths and points on the middle bow and looks at
// the best of them on every plausible one.
func (b *BowModel) shafts(ctx context.Context, base shaftBase, q ShaftQuestion, progress func(float64)) (ShaftList, error) {
	q.fill(b.in.Known.DrawWeight, base)
	if err := q.check(); err != nil {
		return ShaftList{}, err
	}
	if progress == nil {
		progress = func(float64) {}
	}
	drawn, err := b.drawAll(ctx, b.Now())
	if err != nil {
		return ShaftList{}, err
	}
	progress(0.1)
	found, err := b.screen(ctx, base, q, drawn[0])
	if err != nil {
		return ShaftList{}, err
	}
	progress(0.4)
	keep := pick(found, q.Count+3)
	designs := make([]arrow.Design, 0, len(keep)+1)
	for _, s := range keep {
		designs = append(designs, s.design)
	}
	if base.present {
		designs = append(designs, base.side.Arrow)
	}
	tries, err := b.tryAll(ctx, base, designs, drawn)
	if err != nil {
		return ShaftList{}, err
	}
	progress(1)
	return b.list(base, q, tries), nil
}

// drawn is one plausible bow at full draw.
type drawn struct {
	model *bow.Model
	curve bow.Curve
	err   error
}

// drawAll braces and draws every plausible bow.
func (b *BowModel) drawAll(ctx context.Context, height unit.Length) ([]drawn, error) {
	out := make([]drawn, len(b.members))
	err := each(ctx, len(out), func(j int) {
		m := b.members[j]
		out[j].model = m.model
		out[j].curve, out[j].err = m.model.Draw(height + m.shift)
	})
	if err != nil {
		return nil, err
	}
	return out, out[0].err
}

// drive shoots an arrow of a given mass from it.
func (d drawn) drive(mass unit.Mass, cfg shot.Config) (*arrow.Drive, error) {
	if d.err != nil {
		return nil, d.err
	}
	cfg.ArrowMass = mass
	return driveOf(d.model, d.curve.Brace, d.curve.Full, drawSlope(d.curve), cfg)
}

// screened is one shaft on the middle bow.
type screened struct {
	design arrow.Design
	bare18 float64
	ok     bool // it clears the button
	close  bool // by too little for a bare shaft to be read
}

// screenResolution is coarse: a screen's bare shaft may be off by half a
// centimetre.
var screenResolution = arrow.Resolution{Elements: 16, Bending: 6}

// screen shoots every combination once. Spines are those between the stiffest
// that still answers and the softest that still clears: thrust over buckling
// load 0.75 to 1.1 (docs/theory/arrow.md).
func (b *BowModel) screen(ctx context.Context, base shaftBase, q ShaftQuestion, middle drawn) ([]screened, error) {
	cfg := b.shotConfig()
	start := middle.curve.Full.Nock - base.side.Setup.Button.Place
	shortest := unit.Length(math.Ceil(float64((start+q.Reach-grooveBehind)/(unit.Inch/4))-1e-9)) * unit.Inch / 4
	var all []screened
	for i := range lengths {
		length := shortest + unit.Length(i)*lengthStep + grooveBehind
		for _, point := range q.Points {
			spines, err := b.spinesFor(base, length, point, middle, cfg)
			if err != nil {
				return nil, err
			}
			for _, s := range spines {
				all = append(all, screened{design: base.with(s, length, point)})
			}
		}
	}
	least := base.settings.Arrow.MinimumMass.Value
	errs := make([]error, len(all))
	err := each(ctx, len(all), func(i int) {
		if s := &all[i]; s.design.Mass() >= least {
			errs[i] = s.shoot(base.side, middle, cfg)
		}
	})
	return all, cmp.Or(err, errors.Join(errs...))
}

// spinesFor are the trade's spines in the window of a length and a point.
func (b *BowModel) spinesFor(base shaftBase, length unit.Length, point unit.Mass, middle drawn, cfg shot.Config) ([]unit.Spine, error) {
	trial := base.with(base.side.Arrow.Spine, length, point)
	a, err := arrow.New(trial, screenResolution)
	if err != nil {
		return nil, err
	}
	drive, err := middle.drive(trial.Mass(), cfg)
	if err != nil {
		return nil, err
	}
	// Thrust changes little with the mass; the load falls as 1/spine.
	ratio := drive.Thrust() * float64(trial.Mass()) / float64(a.BucklingForce())
	at := trial.Spine.Thousandths() / ratio
	var out []unit.Spine
	for _, s := range tradeSpines {
		if s > 0.75*at && s < 1.1*at {
			out = append(out, unit.Spine(s)*unit.ThousandthInch)
		}
	}
	return out, nil
}

// shoot fills in what the middle bow does with the shaft; one that collapses
// or strikes the button is no shaft to try.
func (s *screened) shoot(side Sideways, middle drawn, cfg shot.Config) error {
	a, err := arrow.New(s.design, screenResolution)
	if err != nil {
		return err
	}
	drive, err := middle.drive(s.design.Mass(), cfg)
	if err != nil {
		return err
	}
	sim, err := arrow.NewSimulator(arrow.Config{})
	if err != nil {
		return err
	}
	r, err := sim.Shoot(a, drive, side.Setup)
	var soft *arrow.CollapseError
	if errors.As(err, &soft) {
		return nil
	}
	if err != nil {
		return err
	}
	f, err := newFlyers(s.design, side.Air)
	if err != nil {
		return err
	}
	s.ok, s.close = r.TailGap > 0, !r.Window().In
	s.bare18, err = f.apart(launchOf(a, &r), 18)
	return err
}

// pick takes the n nearest to the group, at most two of a spine, so that the
// list holds what can be borrowed; those that pass the button too closely last.
func pick(all []screened, n int) []screened {
	good := slices.DeleteFunc(all, func(s screened) bool { return !s.ok })
	late := map[bool]int{true: 1}
	slices.SortStableFunc(good, func(a, b screened) int {
		return cmp.Or(late[a.close]-late[b.close], cmp.Compare(math.Abs(a.bare18), math.Abs(b.bare18)))
	})
	var out []screened
	of := map[unit.Spine]int{}
	for _, s := range good {
		if len(out) < n && of[s.design.Spine] < 2 {
			of[s.design.Spine]++
			out = append(out, s)
		}
	}
	return out
}

// tried is one shaft on all plausible set-ups.
type tried struct {
	arrow *arrow.Arrow
	holes []hole
}

// tryAll shoots every design from every plausible set-up.
func (b *BowModel) tryAll(ctx context.Context, base shaftBase, designs []arrow.Design, bows []drawn) ([]tried, error) {
	cfg, n := b.shotConfig(), len(bows)
	unknown := draws(n, base.side.CentreKnown)
	out, fly := make([]tried, len(designs)), make([]flyers, len(designs))
	for i, d := range designs {
		var err error
		if out[i].arrow, err = arrow.New(d, arrow.Resolution{}); err != nil {
			return nil, err
		}
		if fly[i], err = newFlyers(d, base.side.Air); err != nil {
			return nil, err
		}
		out[i].holes = make([]hole, n)
	}
	err := each(ctx, n*len(designs), func(k int) {
		i, j := k/n, k%n
		drive, err := bows[j].drive(designs[i].Mass(), cfg)
		if err != nil {
			out[i].holes[j] = hole{err: err}
			return
		}
		out[i].holes[j] = near(drive, out[i].arrow, unknown[j].apply(base.side.Setup), fly[i])
	})
	return out, err
}

// near is the chain as far as 18 m.
func near(d *arrow.Drive, a *arrow.Arrow, set arrow.Setup, f flyers) (h hole) {
	sim, err := arrow.NewSimulator(arrow.Config{})
	if err != nil {
		return hole{err: err}
	}
	j, err := sim.Judge(a, d, set)
	if err != nil {
		return hole{err: err}
	}
	h.shot, h.window = j.Result, j.Window
	h.bare18, h.err = f.apart(launchOf(a, &j.Result), 18)
	return h
}
