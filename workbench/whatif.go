package workbench

import (
	"context"
	"slices"
	"sync"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/unit"
)

// Moves are what a what-if changes on a set-up; what is nil stays. The bow is
// the same bow and the shaft the same shaft: another brace height or draw
// length moves the draw weight, another point or shaft length the arrow's
// mass.
type Moves struct {
	Brace     *unit.Length    // to the pivot, usual 180 to 250 mm
	Draw      *unit.Length    // as the set-up quotes its draw length
	Centre    *unit.Length    // centre shot, outward positive, usual 0 to 3 mm
	Preload   *unit.Force     // of the button, usual 0.5 to 4 N
	Stiffness *unit.Stiffness // of its spring, usual 0.3 to 3 N/mm
	Spine     *unit.Spine     // static
	Point     *unit.Mass      // with insert
	Shaft     *unit.Length    // without nock
}

// usualStiffness is what a button's spring may be asked to be.
var usualStiffness = unit.Usual[unit.Stiffness]{What: "button stiffness", Low: 100, High: 6000, Unit: unit.NPerMM}

// check names every move that no bow can make.
func (m Moves) check() error {
	var problems notebook.Problems
	holds(&problems, "brace_height", m.Brace, unit.BraceHeight)
	holds(&problems, "draw_length", m.Draw, unit.DrawLength)
	holds(&problems, "centre_shot", m.Centre, unit.CentreShot)
	holds(&problems, "button_preload", m.Preload, unit.ButtonForce)
	holds(&problems, "button_stiffness", m.Stiffness, usualStiffness)
	holds(&problems, "spine", m.Spine, unit.ShaftSpine)
	holds(&problems, "point_mass", m.Point, unit.PointMass)
	holds(&problems, "shaft_length", m.Shaft, unit.ArrowLength)
	return problems.OrNil()
}

func holds[T unit.Quantity](problems *notebook.Problems, name string, x *T, r unit.Usual[T]) {
	if x == nil || r.Holds(*x) {
		return
	}
	*problems = append(*problems, notebook.Error{
		Code: notebook.Invalid, Field: "/moves/" + name, Message: r.Doubt(unit.Said(*x, r.Unit)),
		Hint: "between " + unit.Format(r.Low, r.Unit, -1, unit.Point) + " and " + unit.Format(r.High, r.Unit, -1, unit.Point),
	})
}

// TargetModel answers what changes of one set-up do at the target. Making it
// takes as long as NewBowModel; it may be used by many at once.
type TargetModel struct {
	bow      *BowModel
	settings notebook.Settings
	side     Sideways
	unknown  []stretch

	mu     sync.Mutex
	before map[string][]strike // the set-up as it is, every plausible one
	shafts shaftCache
}

// NewTargetModel prepares a set-up. model may be nil, else it is the set-up's
// bow, computed before. The error names the settings at fault.
func NewTargetModel(ctx context.Context, s notebook.Settings, hand arrow.Hand, model *BowModel) (*TargetModel, error) {
	side, err := SidewaysFromSettings(s, hand)
	if err != nil {
		return nil, err
	}
	if model == nil {
		in, err := FromSettings(s)
		if err != nil {
			return nil, err
		}
		if model, err = NewBowModel(ctx, in); err != nil {
			return nil, understand(err)
		}
	}
	return &TargetModel{
		bow: model, settings: s, side: side, unknown: draws(len(model.members), side.CentreKnown), before: map[string][]strike{},
	}, nil
}

// Start gives where each move begins: what the set-up is, or is taken to be.
func (t *TargetModel) Start() Moves {
	brace, draw := t.bow.Now(), t.settings.Draw.Length.Value
	set, a := t.side.Setup, t.side.Arrow
	centre, shaft := set.CentreShot, a.Length-grooveBehind
	return Moves{&brace, &draw, &centre, &set.Button.Preload, &set.Button.Stiffness, &a.Spine, &a.Point.Mass, &shaft}
}

// ArrowMass is the whole arrow's after the moves.
func (t *TargetModel) ArrowMass(m Moves) unit.Mass {
	d := t.side.Arrow
	take(&d.Point.Mass, m.Point)
	if m.Shaft != nil {
		d.Length = *m.Shaft + grooveBehind
	}
	return t.bow.in.ArrowMass + d.Mass() - t.side.Arrow.Mass()
}

// HandOf is the notebook's hand as the science says it.
func HandOf(h notebook.Hand) arrow.Hand {
	if h == notebook.LeftHanded {
		return arrow.LeftHanded
	}
	return arrow.RightHanded
}

// FaceAt is the face usual at a distance (common practice, after the rule
// book's rounds, recalled: 40 cm indoors, 80 cm to 50 m, 122 cm beyond).
func FaceAt(d unit.Length) FaceView {
	key := "122"
	switch {
	case d <= 20:
		key = "40"
	case d <= 55:
		key = "80"
	}
	for _, f := range FaceViews() {
		if f.Key == key {
			return f
		}
	}
	return FaceView{Zones: []ZoneView{}}
}

// Notes are what was assumed of arrow, button and release.
func (t *TargetModel) Notes() []string { return slices.Clone(t.side.Assumed) }

// moved is a set-up with its moves made.
type moved struct {
	brace, longer unit.Length // longer: drawn so much further
	arrow         *arrow.Arrow
	mass          unit.Mass
	set           arrow.Setup
	fly           flyers
}

// move makes the moves.
func (t *TargetModel) move(m Moves) (moved, error) {
	if err := m.check(); err != nil {
		return moved{}, err
	}
	d := t.side.Arrow
	out := moved{brace: t.bow.Now(), set: t.side.Setup}
	take(&out.brace, m.Brace)
	take(&out.set.CentreShot, m.Centre)
	take(&out.set.Button.Preload, m.Preload)
	take(&out.set.Button.Stiffness, m.Stiffness)
	take(&d.Spine, m.Spine)
	take(&d.Point.Mass, m.Point)
	if m.Draw != nil {
		out.longer = *m.Draw - t.settings.Draw.Length.Value
	}
	if m.Shaft != nil {
		d.Length = *m.Shaft + grooveBehind
	}
	var err error
	if out.arrow, err = t.shafts.get(d); err != nil {
		return moved{}, refusedMove(err)
	}
	out.mass = t.ArrowMass(m)
	out.fly, err = newFlyers(d, t.side.Air)
	return out, refusedMove(err)
}

func take[T any](into *T, from *T) {
	if from != nil {
		*into = *from
	}
}

// refusedMove puts the science's refusal into the notebook's words.
func refusedMove(err error) error {
	if err == nil {
		return nil
	}
	return &notebook.Error{Code: notebook.Invalid, Field: "/moves", Message: "the model cannot stand this change: " + err.Error(), Hint: "a smaller change", Cause: err}
}

// shaftCache keeps the arrows solved last: a slider comes by the same ones
// again, and another spine needs no new solution.
type shaftCache struct {
	mu   sync.Mutex
	made []*arrow.Arrow // oldest first
}

const mostSolved = 32

func (c *shaftCache) get(d arrow.Design) (*arrow.Arrow, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, a := range c.made {
		if o := a.Design(); o.Length == d.Length && o.Point.Mass == d.Point.Mass {
			return a.WithSpine(d.Spine)
		}
	}
	a, err := arrow.New(d, arrow.Resolution{})
	if err != nil {
		return nil, err
	}
	if c.made = append(c.made, a); len(c.made) > mostSolved {
		c.made = c.made[1:]
	}
	return a, nil
}
