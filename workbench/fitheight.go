package workbench

import (
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/notebook"
	"tautline/unit"
)

// The fitted bow up and down: the pair of limbs at the fit's most probable
// bow, with the hook's height, the time in which the string leaves it, the
// hand's pressure and the wire's reach as parameters, and two numbers for what
// is held: a slope of the bare shaft's height (height_zero) and a factor on it
// (height_answer). Two readings with the nocking point 2 mm apart teach both.
// It leaves out what Upright leaves out.

// pairKey is all that a pair's shot needs to know.
type pairKey struct {
	shotKey
	set      bow.PairSetup
	transfer unit.Duration
}

// touchingError is the doubt of a height read while the tail touches the rest,
// m at 30 m: as much as such heights differ from the rule's (docs/theory/vertical.md).
const touchingError = 0.15

// withheldHeight says why a height says nothing.
func withheldHeight(why string) error {
	return &notebook.Error{Code: notebook.Invalid, Field: "/kind", Message: "the height of a bare shaft cannot be used: " + why, Hint: "leave this reading out of the fit"}
}

// upright is a scene's vertical set-up at these parameters.
func (w *world) upright(sc *scene) Vertical {
	v := sc.up
	v.Setup.Hook += unit.Length(w.other(kHook))
	v.Setup.Pressure += unit.Length(w.other(kPressure))
	v.Setup.RestX = -sc.settings.BraceHeight.ButtonBehind.Value
	v.Wire.Reach = max(0, v.Wire.Reach+unit.Length(w.other(kReach)))
	v.Wire.Stiffness = usualWire
	v.Wire.Damping = 0.25 * math.Sqrt(usualWire*0.005) // as sway.apply
	v.Shot.Transfer = unit.Duration(usualTransfer * math.Exp(w.other(kTransfer)))
	return v
}

// pair strings, draws and looses the two limbs.
func (a *answers) pair(sc *scene, v Vertical) (*pairRun, error) {
	key := pairKey{shotKey{sc.limb, sc.mass}, v.Setup, v.Shot.Transfer}
	if r, ok := a.pairs[key]; ok {
		return r, nil
	}
	s, err := a.stand(sc.limb)
	if err != nil {
		return nil, err
	}
	cfg := v.Shot
	cfg.Config = a.w.shotConfig(sc.mass)
	r, err := newPairRun(s.model, v.Setup, sc.limb.brace+s.square, cfg)
	if err == nil {
		a.pairs[key] = r
	}
	return r, err
}

// lift looses the scene's arrow in both planes.
func (a *answers) lift(sc *scene) (out bothWays, err error) {
	if out, ok := a.lifts[sc]; ok {
		return out, nil
	}
	if sc.sideErr != nil {
		return out, sc.sideErr
	}
	v := a.w.upright(sc)
	r, err := a.pair(sc, v)
	if err != nil {
		return out, err
	}
	if a.planes == nil {
		p, err := newPlanes()
		if err != nil {
			return out, err
		}
		a.planes = &p
	}
	if out, err = a.planes.loose(r, sc.arrow, a.w.sideways(sc), v.Wire, arrow.UprightCheck{}); err == nil {
		a.lifts[sc] = out
	}
	return out, err
}

// lifted is the bare shaft's height over the fletched one's.
func (a *answers) lifted(k wanted) (float64, error) {
	both, err := a.lift(k.sc)
	if err != nil {
		return 0, err
	}
	f, err := a.flyer(k.sc)
	if err != nil {
		return 0, err
	}
	l := both.launch(k.sc.arrow)
	fletched, err := f.fletched.Fly(l, flight.Wind{}, k.q.Distance)
	if err != nil {
		return 0, err
	}
	bare, err := f.bare.Fly(l, flight.Wind{}, k.q.Distance)
	return math.Exp(a.w.other(kRiseGain))*float64(bare.Up-fletched.Up) + a.w.other(kRiseZero)*float64(k.q.Distance), err
}

// touches tells whether the tail comes closer to the rest than LeastTailGap
// where the fit is, or cannot be loosed at all.
func (g *rig) touches(u []float64, sc *scene) bool {
	gap, err := g.restGap(u, sc)
	return err != nil || gap < float64(LeastTailGap)
}

func (g *rig) restGap(u []float64, sc *scene) (float64, error) {
	a, err := newAnswers(g.world(u), nil)
	if err != nil {
		return 0, err
	}
	return a.restGap(sc)
}

func (a *answers) restGap(sc *scene) (float64, error) {
	both, err := a.lift(sc)
	return float64(both.rise.TailGap), err
}

// restGap is how far the tail passes the rest on the fitted bow; the base's is
// kept. at is what was computed of the scene.
func (f *FittedBow) restGap(sc *scene, at *answers) (float64, error) {
	if sc != f.rig.base {
		return at.restGap(sc)
	}
	f.kept.Lock()
	defer f.kept.Unlock()
	if f.gap != nil {
		return *f.gap, nil
	}
	gap, err := f.rig.restGap(f.u, sc)
	if err == nil {
		f.gap = &gap
	}
	return gap, err
}

// touchingSays is what is told of a height outside the window.
const touchingSays = "cannot tell: the tail touches the rest"

// height judges whether the change of a bare shaft's height can be told, and
// gives the quantities that can be computed: those of height are left out
// where the vertical plane does not stand, so that the rest is still told.
func (out *Foreseen) height(f *FittedBow, a, b *scene, at *answers, of []Quantity) []Quantity {
	kept := of[:0:0]
	for _, q := range of {
		if q.Kind != QBareUp {
			kept = append(kept, q)
		}
	}
	if len(kept) == len(of) {
		return of
	}
	for _, sc := range []*scene{a, b} {
		if sc.up.Withheld != "" {
			out.HeightReason = sc.up.Withheld
			return kept
		}
		gap, err := f.restGap(sc, at)
		if err != nil {
			out.HeightReason = "the height cannot be computed: " + err.Error()
			return kept
		}
		if gap < float64(LeastTailGap) && out.HeightReason == "" {
			out.HeightReason = fmt.Sprintf("the tail passes the rest at %.1f mm: closer than %.0f mm, so a low reading may mean too low. Powder the tail and look", 1e3*gap, LeastTailGap.Millimetres())
		}
	}
	out.HeightInWindow = out.HeightReason == ""
	return of
}

// withhold says that a height cannot be told, for a reason.
func (e *Effect) withhold(reason string) {
	if reason != "" && e.Quantity.Kind == QBareUp && e.Says != "no change" {
		e.Says = touchingSays
	}
}
