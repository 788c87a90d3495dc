package workbench

import (
	"fmt"
	"math"
	"math/rand/v2"

	"tautline/arrow"
	"tautline/bow"
	"tautline/notebook"
	"tautline/shot"
	"tautline/unit"
)

// What is assumed in the vertical plane where nothing was given, each with the
// doubt of one standard deviation. All are common practice without a source or
// plain assumptions, said aloud in Vertical.Assumed (docs/theory/vertical.md).
const (
	usualNocking   unit.Length = 10 * unit.Millimetre // bow square's reading
	usualNockWidth unit.Length = 6.4 * unit.Millimetre
	usualRest      unit.Length = 40 * unit.Millimetre // above the pivot
	usualTiller    unit.Length = 3 * unit.Millimetre
	usualHook      unit.Length = 7 * unit.Millimetre
	usualWireReach unit.Length = 2 * unit.Millimetre
	usualBalance               = 1.02 // lower limb's stiffness over the upper's
	usualTransfer              = 1e-3 // s
	usualWire                  = 3000 // N/m

	nockingDoubt  = 1.5 * unit.Millimetre
	restDoubt     = 4 * unit.Millimetre
	tillerDoubt   = 2 * unit.Millimetre
	hookDoubt     = 2.5 * unit.Millimetre
	pressureDoubt = 4 * unit.Millimetre
	reachDoubt    = 1 * unit.Millimetre
	balanceDoubt  = 0.02
	transferDoubt = 0.35 // of the logarithm
	wireDoubt     = 0.6  // of the logarithm
	liftDoubt     = 0.008
)

// Vertical is what the target needs in the vertical plane beyond Sideways.
// VerticalFromSettings makes it from a notebook's settings.
type Vertical struct {
	Setup bow.PairSetup
	// Balance is the lower limb's stiffness over the upper's.
	Balance float64
	Wire    arrow.Wire
	Shot    shot.PairConfig
	// Known tells what was read from what was assumed.
	Known VerticalKnown
	// Powder is the powder check's outcome, if somebody looked.
	Powder notebook.Powder
	// Withheld says why nothing may be said of the vertical plane; empty when
	// something may.
	Withheld string
	Assumed  []string
}

// VerticalKnown says which entries were given.
type VerticalKnown struct {
	Nocking, Rest, Tiller, Hook, Pressure, Reach bool
}

// stringWalking is why a crawl is not advised on.
const stringWalking = "the fingers walk the string: each crawl has a nocking point and a tiller of its own, and the way the string leaves fingers so far below the nock was never modelled. The crawl belongs to the set-up; tune heights by where the groups land at that crawl"

// VerticalFromSettings translates settings that SidewaysFromSettings has
// accepted. diameter is the shaft's.
func VerticalFromSettings(s notebook.Settings, diameter unit.Length) Vertical {
	out := Vertical{Balance: usualBalance, Powder: s.Rest.Powder}
	note := func(format string, a ...any) { out.Assumed = append(out.Assumed, fmt.Sprintf(format, a...)) }
	reading := s.NockingPoint.Value.Value
	out.Known.Nocking = !s.NockingPoint.Value.IsZero() && s.NockingPoint.Of == ""
	switch {
	case s.NockingPoint.Value.IsZero():
		reading = usualNocking
		note("No nocking point given: %.0f mm on the square assumed, give or take %.1f mm.", reading.Millimetres(), nockingDoubt.Millimetres())
	case s.NockingPoint.Of != "":
		note("The nocking point was read to another edge (%s): its height is taken as %.1f mm, give or take %.1f mm.", s.NockingPoint.Of, reading.Millimetres(), nockingDoubt.Millimetres())
	}
	out.Setup.Nock = bow.NockCentre(reading, diameter, usualNockWidth)
	given := func(l notebook.Length, usual unit.Length, known *bool, words string) unit.Length {
		if *known = !l.IsZero(); *known {
			return l.Value
		}
		note(words, usual.Millimetres())
		return usual
	}
	out.Setup.RestY = given(s.Rest.Height, usualRest, &out.Known.Rest, "No rest height given: %.0f mm above the pivot assumed.")
	out.Setup.RestX = -s.BraceHeight.ButtonBehind.Value
	out.Setup.Tiller = given(s.Tiller, usualTiller, &out.Known.Tiller, "No tiller given: %.0f mm assumed.")
	out.Setup.Hook = given(s.HookBelow, usualHook, &out.Known.Hook, "Where the fingers pull was not measured: %.0f mm below the nocking point assumed.")
	out.Setup.Pressure = given(s.PressurePoint, 0, &out.Known.Pressure, "Where the hand presses was not measured: the pivot assumed, %.0f mm off.")
	out.Wire.Reach = given(s.Rest.Reach, usualWireReach, &out.Known.Reach, "How far the rest's wire sticks out past the shaft was not measured: %.0f mm assumed. It decides whether a low bare shaft can be believed.")
	out.riser(s.Riser)
	out.balance(out.Balance)
	note("Limb balance, the fingers' opening and the wire's stiffness are assumed ordinary; their spread is in the intervals.")
	if s.StringWalking {
		out.Withheld = stringWalking
	}
	return out
}

// balance shares the limbs' difference evenly, so that the draw weight stays.
func (v *Vertical) balance(b float64) {
	v.Balance = b
	v.Setup.UpperStiffness, v.Setup.LowerStiffness = 1/math.Sqrt(b), math.Sqrt(b)
}

// riser takes what is known of its inertia.
func (v *Vertical) riser(r notebook.Riser) {
	if r.PitchInertia != nil {
		v.Shot.PitchInertia = *r.PitchInertia
	}
	if !r.BalanceAhead.IsZero() {
		v.Shot.BalanceX = -r.BalanceAhead.Value
	}
}

// sway is one plausible set-up's difference in what nobody measured.
type sway struct {
	nock, rest, tiller, hook, pressure, reach unit.Length // added
	balance, transfer, wire                   float64     // factors
	lift                                      float64     // share of the draw force, added
}

// sways are the plausible values; the first is the middle. They depend on n and
// on what is known alone, so that two predictions differ only by what was
// changed.
func sways(n int, known VerticalKnown) []sway {
	r := rand.New(rand.NewPCG(seed, 90))
	normal := func() float64 { return max(-2, min(2, r.NormFloat64())) }
	out := []sway{{balance: 1, transfer: 1, wire: 1}}
	off := func(doubt unit.Length, known bool) unit.Length {
		z := unit.Length(normal())
		if known {
			return 0
		}
		return z * doubt
	}
	for range n - 1 {
		out = append(out, sway{
			nock: off(nockingDoubt, known.Nocking), rest: off(restDoubt, known.Rest), tiller: off(tillerDoubt, known.Tiller),
			hook: off(hookDoubt, known.Hook), pressure: off(pressureDoubt, known.Pressure), reach: off(reachDoubt, known.Reach),
			balance: 1 + balanceDoubt*normal(), transfer: math.Exp(transferDoubt * normal()), wire: math.Exp(wireDoubt * normal()),
			lift: liftDoubt * normal(),
		})
	}
	return out
}

// apply makes a plausible set-up of the middle one.
func (w sway) apply(v Vertical) Vertical {
	v.Setup.Nock += w.nock
	v.Setup.RestY += w.rest
	v.Setup.Tiller += w.tiller
	v.Setup.Hook += w.hook
	v.Setup.Pressure += w.pressure
	v.Wire.Reach = max(0, v.Wire.Reach+w.reach)
	v.balance(v.Balance * w.balance)
	v.Shot.Transfer = unit.Duration(usualTransfer * w.transfer)
	v.Wire.Stiffness = unit.Stiffness(usualWire * w.wire)
	// an eighth of critical on the few grams that move with the wire
	v.Wire.Damping = 0.25 * math.Sqrt(float64(v.Wire.Stiffness)*0.005)
	v.Shot.Lift += w.lift
	return v
}
