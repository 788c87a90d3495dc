package workbench

import (
	"context"
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/bow"
	"tautline/unit"
)

// Upright is what the target and the bow show of one set-up in the vertical
// plane, each with the span of 90 % of the plausible bows, hands, rests and
// fingers. Up is up. Absolute heights are not to be trusted before anything was
// fitted: look at changes (docs/theory/vertical.md).
//
// It leaves out what bow.Pair, shot.PairSimulator and arrow.Upright leave out:
// friction and sideways give of the rest's wire, three fingers instead of one
// hook, limb twist, the bow's own weight, spin.
type Upright struct {
	// Bare18 and Bare30 are the bare shaft, taped to equal mass, less the
	// fletched arrow.
	Bare18, Bare30 Estimate[unit.Length]
	// StaticTravel is how far the nock rises over the bow square's line from
	// brace to full draw; DynamicTravel the span of its heights during the shot,
	// against the arrow's line; NockSpeed its upward speed as it leaves.
	StaticTravel, DynamicTravel Estimate[unit.Length]
	NockSpeed                   Estimate[unit.Speed]
	// RestContact is when the shaft last touched the rest.
	RestContact Estimate[unit.Duration]
	// TailGap is the smallest gap between the tail and the rest's wire.
	TailGap Estimate[unit.Length]
	// LowerFirst is how much earlier the lower limb arrives than the upper.
	LowerFirst Estimate[unit.Duration]
	// PitchRate of the arrow as it flies off, rad/s, nose up.
	PitchRate Estimate[float64]
	// PerMM18 and PerMM30 are what raising the nocking point by one millimetre
	// moves the bare shaft against the fletched arrow.
	PerMM18, PerMM30 Estimate[unit.Length]

	// In says whether the bare shaft's height tells which way to move the
	// nocking point here; Reason why not.
	In     bool
	Reason string
	// InShare is the share of plausible set-ups in which it does.
	InShare float64
	Bows    int
}

// LeastTailGap is the gap over the rest below which the height of a bare shaft
// is not to be read: in the prototype every set-up above it obeyed the rule,
// and fewer and fewer below (docs/theory/vertical.md).
const LeastTailGap = 1 * unit.Millimetre

// nockStep is how far the nocking point is moved to either side to see whether
// the answer bends.
const nockStep = 1 * unit.Millimetre

// tall is one plausible set-up in the vertical plane.
type tall struct {
	heights
	static, low, high float64
	nockSpeed, first  float64
	below, above      float64 // what a millimetre less and more does at 30 m
	near              float64 // per millimetre at 18 m
	gap               float64 // smallest of all three shots
	err               error
}

// in tells whether the reading can be believed.
func (t *tall) in() bool { return t.reason() == "" }

// reason says why it cannot.
func (t *tall) reason() string {
	switch {
	case t.gap < float64(LeastTailGap):
		return fmt.Sprintf("the tail passes the rest at %.1f mm: closer than %.0f mm, so a low reading may mean too low", 1e3*t.gap, LeastTailGap.Millimetres())
	case t.below*t.above <= 0:
		return "raising and lowering the nocking point move the bare shaft the same way here, so its height does not say which to do"
	}
	return ""
}

// pairConfig joins what the bow's two kinds of shots share.
func (b *BowModel) pairConfig(v Vertical) Vertical {
	v.Shot.Config = b.shotConfig()
	return v
}

// upright runs one plausible set-up: as it is, and with the nocking point a
// millimetre lower and higher.
func (b *BowModel) upright(m member, height unit.Length, a *arrow.Arrow, set arrow.Setup, v Vertical, f flyers) (t tall) {
	p, err := newPlanes()
	if err != nil {
		return tall{err: err}
	}
	v = b.pairConfig(v)
	at := func(nock unit.Length) (h heights, r *pairRun) {
		setup := v.Setup
		setup.Nock += nock
		if err == nil {
			r, err = newPairRun(m.model, setup, height+m.shift, v.Shot)
		}
		var both bothWays
		if err == nil {
			both, err = p.loose(r, a, set, v.Wire, arrow.UprightCheck{})
		}
		if err == nil {
			h, err = both.land(a, f)
		}
		return h, r
	}
	middle, run := at(0)
	below, _ := at(-nockStep)
	above, _ := at(nockStep)
	if err != nil {
		return tall{err: err}
	}
	t = tall{
		heights: middle, static: float64(run.curve.NockRise()), low: float64(run.shot.NockLow), high: float64(run.shot.NockHigh),
		nockSpeed: float64(run.shot.NockSpeed), first: float64(run.shot.LowerFirst),
		below: middle.bare30 - below.bare30, above: above.bare30 - middle.bare30, near: (above.bare18 - below.bare18) / 2,
	}
	t.gap = math.Min(float64(middle.both.rise.TailGap), math.Min(float64(below.both.rise.TailGap), float64(above.both.rise.TailGap)))
	return t
}

// Upright predicts the vertical plane at a brace height. It takes about 9 ms
// for each plausible bow, on all cores; ctx stops it.
func (b *BowModel) Upright(ctx context.Context, side Sideways, v Vertical, height unit.Length) (Upright, error) {
	a, err := arrow.New(side.Arrow, arrow.Resolution{})
	if err != nil {
		return Upright{}, err
	}
	f, err := newFlyers(side.Arrow, side.Air)
	if err != nil {
		return Upright{}, err
	}
	n := len(b.members)
	aside, up := draws(n, side.CentreKnown), sways(n, v.Known)
	all := make([]tall, n)
	err = each(ctx, n, func(j int) {
		all[j] = b.upright(b.members[j], height, a, aside[j].apply(side.Setup), up[j].apply(v), f)
	})
	if err != nil {
		return Upright{}, err
	}
	if all[0].err != nil {
		return Upright{}, all[0].err
	}
	return uprightOf(all, v), nil
}

// uprightOf gathers; plausible set-ups that could not be shot are left out.
func uprightOf(all []tall, v Vertical) Upright {
	var good []tall
	in := 0
	for _, t := range all[1:] {
		if t.err == nil {
			good = append(good, t)
			if t.in() {
				in++
			}
		}
	}
	best := all[0]
	out := Upright{
		Bare18:        spreadOf[unit.Length](best, good, func(t tall) float64 { return t.bare18 }),
		Bare30:        spreadOf[unit.Length](best, good, func(t tall) float64 { return t.bare30 }),
		StaticTravel:  spreadOf[unit.Length](best, good, func(t tall) float64 { return t.static }),
		DynamicTravel: spreadOf[unit.Length](best, good, func(t tall) float64 { return t.high - t.low }),
		NockSpeed:     spreadOf[unit.Speed](best, good, func(t tall) float64 { return t.nockSpeed }),
		RestContact:   spreadOf[unit.Duration](best, good, func(t tall) float64 { return float64(t.both.rise.LastContact) }),
		TailGap:       spreadOf[unit.Length](best, good, func(t tall) float64 { return math.Min(float64(t.both.rise.TailGap), farGap) }),
		LowerFirst:    spreadOf[unit.Duration](best, good, func(t tall) float64 { return t.first }),
		PitchRate:     spreadOf[float64](best, good, func(t tall) float64 { return t.both.rise.Clear.PitchRate }),
		PerMM18:       spreadOf[unit.Length](best, good, func(t tall) float64 { return t.near }),
		PerMM30:       spreadOf[unit.Length](best, good, func(t tall) float64 { return (t.below + t.above) / 2 }),
		Bows:          len(good),
	}
	if len(good) > 0 {
		out.InShare = float64(in) / float64(len(good))
	}
	out.In, out.Reason = best.in(), best.reason()
	switch {
	case v.Withheld != "":
		out.In, out.Reason = false, v.Withheld
	case out.In && out.InShare < LeastInShare:
		out.In, out.Reason = false, "for too many plausible rests, fingers and bows the tail touches the rest here, and then a low reading may mean too low"
	}
	return out
}

// farGap stands for a tail that passes well beside the wire: 2 cm.
const farGap = 0.02

func spreadOf[T ~float64](best tall, good []tall, of func(tall) float64) Estimate[T] {
	v := make([]float64, len(good))
	for i, t := range good {
		v[i] = of(t)
	}
	return estimate(T(of(best)), v)
}

// UprightMove is one thing that moves the bare shaft up or down.
type UprightMove string

// The moves that are always shown, each by one millimetre but the brace height,
// which moves by ten.
const (
	MoveNock     UprightMove = "nocking point 1 mm higher"
	MoveRest     UprightMove = "rest 1 mm higher, nocking point with the riser"
	MoveBrace    UprightMove = "brace height 10 mm higher"
	MoveHook     UprightMove = "fingers' pull 1 mm lower on the string"
	MovePressure UprightMove = "hand presses 1 mm higher"
	MoveTiller   UprightMove = "tiller 1 mm more, brace height and square kept"
)

// UprightMoves lists them in the order in which they are shown.
var UprightMoves = []UprightMove{MoveNock, MoveRest, MoveBrace, MoveHook, MovePressure, MoveTiller}

// with is the set-up moved by share of a step.
func (m UprightMove) with(set bow.PairSetup, brace unit.Length, share float64) (bow.PairSetup, unit.Length) {
	mm := unit.Length(share) * unit.Millimetre
	switch m {
	case MoveNock:
		set.Nock += mm
	case MoveRest:
		set.RestY += mm
		set.Nock -= mm // the nock stays on the string
	case MoveBrace:
		brace += 10 * mm
	case MoveHook:
		set.Hook += mm
	case MovePressure:
		set.Pressure += mm
	case MoveTiller:
		set.Tiller += mm
	}
	return set, brace
}

// Sensitivity is what one move does to the bare shaft at 18 and 30 m.
type Sensitivity struct {
	Move   UprightMove           `json:"move"`
	Bare18 Estimate[unit.Length] `json:"bare_18m_up_m"`
	Bare30 Estimate[unit.Length] `json:"bare_30m_up_m"`
	// Agree is the share of plausible set-ups whose one-sided differences have
	// the sign of Bare30.
	Agree float64 `json:"agree_ratio"`
}

// sensitivityBows are the plausible set-ups behind each: six moves, two sides.
const sensitivityBows = 12

// Sensitivities says what each move does. It takes about 0.3 s on two cores.
func (b *BowModel) Sensitivities(ctx context.Context, side Sideways, v Vertical, height unit.Length) ([]Sensitivity, error) {
	a, err := arrow.New(side.Arrow, arrow.Resolution{})
	if err != nil {
		return nil, err
	}
	f, err := newFlyers(side.Arrow, side.Air)
	if err != nil {
		return nil, err
	}
	n := min(sensitivityBows+1, len(b.members))
	aside, up := draws(n, side.CentreKnown), sways(n, v.Known)
	moves := len(UprightMoves)
	steps := make([][3]heights, n*moves)
	errs := make([]error, n*moves)
	err = each(ctx, n*moves, func(i int) {
		j, move := i/moves, UprightMoves[i%moves]
		w := b.pairConfig(up[j].apply(v))
		set := aside[j].apply(side.Setup)
		p, err := newPlanes()
		for k := range 3 {
			if err != nil {
				break
			}
			setup, brace := move.with(w.Setup, height+b.members[j].shift, float64(k-1))
			var r *pairRun
			if r, err = newPairRun(b.members[j].model, setup, brace, w.Shot); err != nil {
				break
			}
			var both bothWays
			if both, err = p.loose(r, a, set, w.Wire, arrow.UprightCheck{}); err == nil {
				steps[i][k], err = both.land(a, f)
			}
		}
		errs[i] = err
	})
	if err != nil {
		return nil, err
	}
	var out []Sensitivity
	for k, move := range UprightMoves {
		if errs[k] != nil {
			return nil, errs[k]
		}
		out = append(out, sensitivityOf(move, steps, errs, k, moves))
	}
	return out, nil
}

// sensitivityOf gathers one move over the plausible set-ups.
func sensitivityOf(move UprightMove, steps [][3]heights, errs []error, first, stride int) Sensitivity {
	var near, far []float64
	agree, sided := 0, 0
	middle := steps[first][2].bare30 - steps[first][0].bare30
	for i := first; i < len(steps); i += stride {
		if errs[i] != nil {
			continue
		}
		s := &steps[i]
		sided++
		below, above := s[1].bare30-s[0].bare30, s[2].bare30-s[1].bare30
		if below*middle > 0 && above*middle > 0 {
			agree++
		}
		if i > first {
			near, far = append(near, (s[2].bare18-s[0].bare18)/2), append(far, (s[2].bare30-s[0].bare30)/2)
		}
	}
	best := &steps[first]
	return Sensitivity{
		Move:   move,
		Bare18: estimate(unit.Length((best[2].bare18-best[0].bare18)/2), near),
		Bare30: estimate(unit.Length(middle/2), far),
		Agree:  float64(agree) / float64(max(1, sided)),
	}
}
