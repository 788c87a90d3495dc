package workbench

import (
	"context"
	"fmt"
	"math"
	"slices"

	"tautline/notebook"
	"tautline/unit"
)

// Observation is one reading with the set-up it was taken with.
type Observation struct {
	// ID of the notebook's reading, empty for one that is not kept there.
	ID notebook.ID
	// Name for a person: "speed, line 7" or "bare shaft at 30 m".
	Name     string
	Settings notebook.Settings
	Quantity Quantity
	Value    float64 // SI
	// Doubt is the value's standard deviation; 0 takes UsualDoubt.
	Doubt float64
	// Arrows behind it; 0 counts as the usual three.
	Arrows int
}

// Usual doubts of readings, one standard deviation (common practice, no
// source, unless said). Those of arrows are of one arrow.
const (
	speedPerArrow = 0.45   // m/s: chronograph and archer
	speedFloor    = 0.15   // m/s: the chronograph's own
	sidePerArrow  = 1.7e-3 // rad: a club archer's sideways spread
	forceShare    = 0.015  // of the draw weight: a hand scale
	markDoubt     = 0.7e-3 // m
	stringDoubt   = 3e-3   // m
	braceDoubt    = 1e-3   // m, of a bow square read twice
	usualArrows   = 3
)

// UsualDoubt is the standard deviation of a reading of this kind from so many
// arrows (common practice, no source); scale is the draw weight for forces.
func UsualDoubt(q Quantity, arrows int, weight unit.Force) float64 {
	if arrows <= 0 {
		arrows = usualArrows
	}
	n := math.Sqrt(float64(arrows))
	switch q.Kind {
	case QSpeed:
		return math.Hypot(speedPerArrow/n, speedFloor)
	case QBare, QBareUp:
		// the centres of as many bare and fletched arrows
		return sidePerArrow * float64(q.Distance) * math.Sqrt2 / n
	case QGroup:
		return sidePerArrow * float64(q.Distance) / n
	case QDrawWeight, QDrawForce:
		return forceShare * float64(weight)
	case QMark:
		return markDoubt
	case QString:
		return stringDoubt
	}
	return braceDoubt
}

// errorClass groups the quantities that share a model error.
func errorClass(kind string) string {
	switch kind {
	case QDrawForce:
		return QDrawWeight
	case QClearance:
		return QClearance
	}
	return kind
}

// seen is an observation ready for the fit.
type seen struct {
	Observation
	wanted
	doubt float64 // the reading's own
	model float64 // the model's error here, before widening
	// touching: the tail touches the rest, so that the height tells little.
	touching bool
}

// observe prepares the observations; a reading whose set-up cannot be
// understood is an error that names it.
func (g *rig) observe(list []Observation) ([]seen, error) {
	var out []seen
	scenes := map[string]*scene{}
	for i, o := range list {
		if o.Name == "" {
			o.Name = fmt.Sprintf("reading %d", i+1)
		}
		if _, known := quantityUnits[o.Quantity.Kind]; !known {
			return nil, &notebook.Error{Code: notebook.Invalid, Field: fmt.Sprintf("/readings/%d", i), Message: fmt.Sprintf("%s: a fit cannot use %q", o.Name, o.Quantity.Kind), Hint: "speed, draw_weight, draw_force, bare_shaft_right, bare_shaft_up, group_centre_right, sight_mark, string_length, brace_height with turns"}
		}
		if math.IsNaN(o.Value) || math.IsInf(o.Value, 0) {
			return nil, &notebook.Error{Code: notebook.Invalid, Field: fmt.Sprintf("/readings/%d", i), Message: o.Name + ": the value is no number", Hint: "a value like 58.2 m/s"}
		}
		key := settingsKey(o.Settings)
		sc := scenes[key]
		if sc == nil {
			var err error
			if sc, err = g.scene(o.Settings); err != nil {
				return nil, fmt.Errorf("%s: %w", o.Name, err)
			}
			scenes[key] = sc
		}
		if _, side, _ := o.Quantity.far(); side && sc.sideErr != nil {
			return nil, fmt.Errorf("%s: %w", o.Name, sc.sideErr)
		}
		if o.Quantity.Kind == QBareUp && sc.up.Withheld != "" {
			return nil, fmt.Errorf("%s: %w", o.Name, withheldHeight(sc.up.Withheld))
		}
		s := seen{Observation: o, wanted: wanted{sc, o.Quantity}, doubt: o.Doubt}
		if s.doubt <= 0 {
			s.doubt = UsualDoubt(o.Quantity, o.Arrows, g.in.Known.DrawWeight)
		}
		s.model = o.Quantity.floor()
		out = append(out, s)
	}
	return out, nil
}

// settingsKey tells two set-ups apart by content.
func settingsKey(s notebook.Settings) string {
	d, err := notebook.Diff(notebook.Settings{}, s)
	if err != nil {
		return ""
	}
	return fmt.Sprint(d)
}

// weigh adds to each observation's model error the share of what its set-up
// changes against the base: the model's response to a change is in doubt too.
func (g *rig) weigh(ctx context.Context, x []float64, list []seen) error {
	for i := range list {
		o := &list[i]
		parts, err := g.parts(ctx, x, g.base, o.sc, []Quantity{o.q}, nil, nil)
		if err != nil {
			continue // a set-up the model cannot split is weighed by its floor
		}
		sum := o.q.floor() * o.q.floor()
		for _, p := range parts {
			e := o.q.ofPart(p, 0)
			sum += e * e
		}
		o.model = math.Sqrt(sum)
		if o.q.Kind == QBareUp && g.touches(x, o.sc) {
			o.model, o.touching = math.Hypot(o.model, touchingError*o.q.farther()), true
		}
	}
	return ctx.Err()
}

// part is what one group of settings does of a change, alone.
type part struct {
	key    string // of the group
	label  string
	effect []float64
	steps  float64 // usual steps that the group moved
}

// parts splits the change from one scene to another by groups of settings:
// what each would do alone, from where the change starts. Settings that the
// model does not look at have no part. start and end are the quantities'
// values at both, if they are known.
func (g *rig) parts(ctx context.Context, x []float64, from, to *scene, of []Quantity, start, end []float64) ([]part, error) {
	diff, err := notebook.Diff(from.settings, to.settings)
	if err != nil {
		return nil, err
	}
	alone := map[string]*scene{}
	var groups, labels []string
	for i, d := range diff {
		group := settingGroup(d.Key)
		if slices.Contains(groups, group) {
			continue
		}
		if sc := g.alone(from, diff[i:], group); sc != nil && !sc.same(from) {
			groups, labels = append(groups, group), append(labels, d.Label())
			alone[group] = sc
		}
	}
	if len(groups) == 0 {
		return nil, nil
	}
	if start == nil {
		if start, _, err = g.values(ctx, x, askAll(from, of)); err != nil {
			return nil, err
		}
	}
	out := make([]part, len(groups))
	for i, group := range groups {
		v := slices.Clone(end)
		if end == nil || len(groups) > 1 {
			if v, _, err = g.values(ctx, x, askAll(alone[group], of)); err != nil {
				return nil, err
			}
		}
		for k := range v {
			v[k] -= start[k]
		}
		out[i] = part{group, labels[i], v, stepsBetween(group, from, alone[group])}
	}
	return out, nil
}

// alone is the scene with only one group's settings changed; nil where they
// cannot stand alone.
func (g *rig) alone(from *scene, diff []notebook.Difference, group string) *scene {
	s := from.settings
	for _, d := range diff {
		if settingGroup(d.Key) != group {
			continue
		}
		var err error
		if s, err = s.With(d.Key, d.After); err != nil {
			return nil
		}
	}
	sc, err := g.scene(s)
	if err != nil {
		return nil
	}
	return sc
}

// same reports whether the model sees no difference.
func (a *scene) same(b *scene) bool {
	return a.limb == b.limb && a.mass == b.mass && a.sight == b.sight && a.turns == b.turns && a.turned == b.turned &&
		(a.sideErr == nil) == (b.sideErr == nil) && a.side.Setup == b.side.Setup && sameArrow(a, b) && a.up.Setup == b.up.Setup && a.up.Wire == b.up.Wire
}

func sameArrow(a, b *scene) bool {
	p, q := a.side.Arrow, b.side.Arrow
	p.Extras, q.Extras = nil, nil
	return fmt.Sprint(p) == fmt.Sprint(q)
}

func askAll(sc *scene, of []Quantity) []wanted {
	out := make([]wanted, len(of))
	for i, q := range of {
		out[i] = wanted{sc, q}
	}
	return out
}
