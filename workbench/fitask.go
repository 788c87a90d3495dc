package workbench

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/num"
	"tautline/unit"
)

// Quantity is something the fitted model can say of a set-up: what a reading
// of that kind would show.
type Quantity struct {
	// Kind is a kind of reading (speed, draw_weight, draw_force,
	// bare_shaft_right, bare_shaft_up, group_centre_right, sight_mark, string_length,
	// brace_height after turns) or one of the model's own: stored_energy,
	// residual_energy, time_on_string, tail_clearance.
	Kind string `json:"kind"`
	// Distance of the target, for the kinds that need one.
	Distance unit.Length `json:"distance_m,omitempty"`
	// Draw is the nock's distance from the pivot of a draw force.
	Draw unit.Length `json:"draw_m,omitempty"`
	// Turns added to the string since the set-up's brace height was read.
	Turns float64 `json:"turns,omitempty"`
}

// Kinds of quantity that are no reading.
const (
	QStored    = "stored_energy"
	QResidual  = "residual_energy"
	QTime      = "time_on_string"
	QClearance = "tail_clearance"
)

// Kinds of quantity that are readings too.
const (
	QSpeed      = "speed"
	QDrawWeight = "draw_weight"
	QDrawForce  = "draw_force"
	QBare       = "bare_shaft_right"
	QBareUp     = "bare_shaft_up"
	QGroup      = "group_centre_right"
	QMark       = "sight_mark"
	QString     = "string_length"
	QBrace      = "brace_height"
)

// Quantities are the kinds that can be wanted for.
var quantityUnits = map[string]string{
	QStored: "J", QResidual: "J", QTime: "s", QClearance: "m", QSpeed: "m/s", QDrawWeight: "N", QDrawForce: "N",
	QBare: "m", QBareUp: "m", QGroup: "m", QMark: "m", QString: "m", QBrace: "m",
}

// Unit is the SI unit of the quantity.
func (q Quantity) Unit() string { return quantityUnits[q.Kind] }

// wanted is a quantity of a scene.
type wanted struct {
	sc *scene
	q  Quantity
}

// far reports what has to be computed for a quantity.
func (q Quantity) far() (shot, side, flies bool) {
	switch q.Kind {
	case QSpeed, QResidual, QTime, QMark:
		return true, false, false
	case QClearance:
		return true, true, false
	case QBare, QBareUp, QGroup:
		return true, true, true
	}
	return false, false, false
}

// answers computes quantities at parameters; what was computed is kept by
// scene so that another place that shares it can begin there.
type answers struct {
	w      *world
	stands map[limbKey]stands
	shots  map[shotKey]loosed
	drives map[shotKey]bool // those that need a drive
	lefts  map[*scene]left
	flyers map[*scene]flyers
	sim    *arrow.Simulator
	pairs  map[pairKey]*pairRun
	lifts  map[*scene]bothWays
	planes *planes
}

type shotKey struct {
	limb limbKey
	mass unit.Mass
}

func newAnswers(w *world, of []wanted) (*answers, error) {
	sim, err := arrow.NewSimulator(arrow.Config{})
	a := &answers{
		w: w, stands: map[limbKey]stands{}, shots: map[shotKey]loosed{}, drives: map[shotKey]bool{},
		lefts: map[*scene]left{}, flyers: map[*scene]flyers{}, sim: sim,
		pairs: map[pairKey]*pairRun{}, lifts: map[*scene]bothWays{},
	}
	for _, k := range of {
		if _, side, _ := k.q.far(); side {
			a.drives[shotKey{k.sc.limb, k.sc.mass}] = true
		}
	}
	return a, err
}

// moved begins from what another place has computed, as far as a parameter of
// the group leaves it standing.
func (a *answers) moved(u []float64, group knobGroup) (*answers, error) {
	sim, err := arrow.NewSimulator(arrow.Config{})
	b := &answers{
		w: a.w.world(u), stands: map[limbKey]stands{}, shots: map[shotKey]loosed{}, drives: a.drives,
		lefts: map[*scene]left{}, flyers: map[*scene]flyers{}, sim: sim,
		pairs: map[pairKey]*pairRun{}, lifts: map[*scene]bothWays{},
	}
	if group >= knobSide {
		b.stands, b.shots, b.flyers = a.stands, a.shots, a.flyers
		b.pairs = maps.Clone(a.pairs)
	}
	if group >= knobFlight {
		b.lefts = a.lefts
		if group != knobUp {
			b.lifts = a.lifts
		}
	}
	if group == knobFlight {
		b.flyers = map[*scene]flyers{}
	}
	return b, err
}

func (a *answers) stand(l limbKey) (stands, error) {
	if s, ok := a.stands[l]; ok {
		return s, nil
	}
	s, err := a.w.stand(l)
	if err == nil {
		a.stands[l] = s
	}
	return s, err
}

func (a *answers) shot(sc *scene) (loosed, error) {
	key := shotKey{sc.limb, sc.mass}
	if l, ok := a.shots[key]; ok && (l.drive != nil || !a.drives[key]) {
		return l, nil
	}
	s, err := a.stand(sc.limb)
	if err != nil {
		return loosed{}, err
	}
	l, err := a.w.loose(s, sc.mass, a.drives[key])
	if err == nil {
		a.shots[key] = l
	}
	return l, err
}

func (a *answers) leave(sc *scene) (left, error) {
	if l, ok := a.lefts[sc]; ok {
		return l, nil
	}
	if sc.sideErr != nil {
		return left{}, sc.sideErr
	}
	shot, err := a.shot(sc)
	if err != nil {
		return left{}, err
	}
	l, err := a.w.leave(a.sim, sc, shot.drive)
	if err == nil {
		a.lefts[sc] = l
	}
	return l, err
}

// value is the quantity wanted for.
func (a *answers) value(k wanted) (float64, error) {
	shot, side, flies := k.q.far()
	switch {
	case k.q.Kind == QBareUp:
		return a.lifted(k)
	case flies:
		return a.flown(k)
	case side:
		l, err := a.leave(k.sc)
		return float64(l.result.TailGap), err
	case shot:
		return a.loosedValue(k)
	}
	s, err := a.stand(k.sc.limb)
	if err != nil {
		return 0, err
	}
	switch k.q.Kind {
	case QDrawWeight:
		return float64(s.full.Force), nil
	case QStored:
		return float64(s.full.Energy - s.brace.Energy), nil
	case QString:
		return 2 * float64(s.brace.HalfRest), nil
	case QDrawForce:
		at, err := s.model.At(s.brace, k.q.Draw)
		return float64(at.Force), err
	case QBrace:
		return a.twisted(s, k)
	}
	return 0, fmt.Errorf("%q is nothing the model can say", k.q.Kind)
}

func (a *answers) loosedValue(k wanted) (float64, error) {
	l, err := a.shot(k.sc)
	if err != nil {
		return 0, err
	}
	switch k.q.Kind {
	case QSpeed:
		return float64(l.result.Speed), nil
	case QResidual:
		return float64(l.result.Residual), nil
	case QTime:
		return float64(l.result.TimeOnString), nil
	}
	return a.mark(k, l.result.Speed)
}

// flyer gives what flies in a scene, made once.
func (a *answers) flyer(sc *scene) (flyers, error) {
	if f, ok := a.flyers[sc]; ok {
		return f, nil
	}
	f, err := a.w.flyers(sc)
	if err == nil {
		a.flyers[sc] = f
	}
	return f, err
}

// flown lets the arrow fly: bare less fletched, or the fletched one against
// the aim.
func (a *answers) flown(k wanted) (float64, error) {
	l, err := a.leave(k.sc)
	if err != nil {
		return 0, err
	}
	f, err := a.flyer(k.sc)
	if err != nil {
		return 0, err
	}
	launch := l.launch
	launch.YawRate += a.w.other(kYawRate)
	// Sideways the elevation hardly matters: the parabola's is good enough.
	v := float64(launch.Speed)
	launch.Elevation = unit.Angle(0.5 * math.Asin(math.Min(0.9, unit.StandardGravity*float64(k.q.Distance)/(v*v))))
	fletched, err := f.fletched.Fly(launch, flight.Wind{}, k.q.Distance)
	if err != nil {
		return 0, err
	}
	if k.q.Kind == QGroup {
		return float64(fletched.Right) + a.w.other(kWindage)*float64(k.q.Distance), nil
	}
	bare, err := f.bare.Fly(launch, flight.Wind{}, k.q.Distance)
	return float64(bare.Right - fletched.Right), err
}

// mark is the sight's reading for a distance (eq. 9 of docs/theory/flight.md).
func (a *answers) mark(k wanted, speed unit.Speed) (float64, error) {
	sight := k.sc.sight
	diameter := k.sc.settings.Arrow.Diameter.Value
	if diameter == 0 {
		diameter = usualDiameter
	}
	air := k.sc.side.Air
	if k.sc.sideErr != nil {
		air = flight.StandardAir()
	}
	p := flight.PointMass{Mass: k.sc.mass, Diameter: diameter, Drag: flight.ConstantDrag(1.8 * math.Exp(a.w.other(kDrag))), Air: air}
	s, err := p.Aim(speed, k.q.Distance, sight.EyeAboveNock)
	if err != nil {
		return 0, err
	}
	down := float64(sight.Reach)*math.Exp(a.w.other(kSightReach))*math.Tan(float64(s.Elevation)) - float64(sight.EyeAboveNock)
	if a.w.upward {
		down = -down
	}
	return a.w.other(kSightOrigin) + down, nil
}

// twisted is the brace height after turns were added: const + c·turns²
// (docs/theory/bow.md, the small-twist law).
func (a *answers) twisted(s stands, k wanted) (float64, error) {
	const h = 0.001
	low, err := s.model.Brace(k.sc.limb.brace + s.square - h)
	if err != nil {
		return 0, err
	}
	high, err := s.model.Brace(k.sc.limb.brace + s.square + h)
	if err != nil {
		return 0, err
	}
	b := a.w.bundle
	perString := h / float64(high.HalfRest-low.HalfRest)
	c := -perString * float64(bow.ShorteningSmall(b.Strand, b.Radius/math.Sqrt2, 1)) * math.Exp(a.w.other(kTwist))
	n := a.w.in.Turns + a.w.other(kTurns)
	return float64(k.sc.limb.brace) + c*((n+k.q.Turns)*(n+k.q.Turns)-n*n), nil
}

// values computes quantities at parameters.
func (g *rig) values(ctx context.Context, u []float64, of []wanted) ([]float64, *answers, error) {
	a, err := newAnswers(g.world(u), of)
	if err != nil {
		return nil, nil, err
	}
	out, err := a.all(ctx, of)
	return out, a, err
}

func (a *answers) all(ctx context.Context, of []wanted) ([]float64, error) {
	out := make([]float64, len(of))
	for i, k := range of {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		v, err := a.value(k)
		if err != nil {
			return nil, err
		}
		out[i] = v
	}
	return out, nil
}

// slopeStep is the step of differences in prior standard deviations: long
// enough to see past the shaft's leaving the button a step earlier or later
// and to average over the bends where a second touch of the button begins.
const slopeStep = 0.7

// sides says how differences are taken.
type sides int

const (
	forward sides = iota // quick: on the way of a fit
	central              // for intervals
)

// slopes computes quantities and what a move of each parameter does to them,
// one row a quantity, in the quantity's unit per prior standard deviation.
func (g *rig) slopes(ctx context.Context, u []float64, of []wanted, how sides) ([]float64, num.Matrix, error) {
	a, err := newAnswers(g.world(u), of)
	if err != nil {
		return nil, num.Matrix{}, err
	}
	return a.slopes(ctx, u, of, how, beside{})
}

// slopes are the rig's, from what was computed already.
func (a *answers) slopes(ctx context.Context, u []float64, of []wanted, how sides, near beside) ([]float64, num.Matrix, error) {
	at, err := a.all(ctx, of)
	if err != nil {
		return nil, num.Matrix{}, err
	}
	knobs := a.w.knobs
	jac := num.NewMatrix(len(of), len(knobs))
	fails := make([]error, len(knobs))
	err = each(ctx, len(knobs), func(j int) {
		fails[j] = column(ctx, a, u, j, at, jac, of, how, near)
	})
	if err != nil {
		return nil, jac, err
	}
	for _, e := range fails {
		if e != nil {
			return nil, jac, e
		}
	}
	return at, jac, nil
}

// column is one parameter's slope, from the other side alone where one does
// not stand.
func column(ctx context.Context, a *answers, u []float64, j int, at []float64, jac num.Matrix, of []wanted, how sides, near beside) error {
	group := a.w.knobs[j].group
	var asked []wanted
	var where []int
	for i, k := range of {
		if !group.held(k.q) {
			asked, where = append(asked, k), append(where, i)
		}
	}
	if len(asked) == 0 {
		return nil
	}
	side := func(h float64) ([]float64, error) {
		y := append([]float64(nil), u...)
		y[j] += h
		b, err := a.moved(y, group)
		if err != nil {
			return nil, err
		}
		near.lender.lend(neighbour{j, h > 0}, b)
		v, err := b.all(ctx, asked)
		if err == nil {
			near.keeper.keep(neighbour{j, h > 0}, b)
		}
		return v, err
	}
	up, errUp := side(slopeStep)
	var down []float64
	errDown := errOneSide
	if how == central || errUp != nil {
		down, errDown = side(-slopeStep)
	}
	if errUp != nil && errDown != nil {
		return errUp
	}
	for n, i := range where {
		switch {
		case errDown != nil:
			jac.Set(i, j, (up[n]-at[i])/slopeStep)
		case errUp != nil:
			jac.Set(i, j, (at[i]-down[n])/slopeStep)
		default:
			jac.Set(i, j, (up[n]-down[n])/(2*slopeStep))
		}
	}
	return nil
}

var errOneSide = errors.New("one side is enough")
