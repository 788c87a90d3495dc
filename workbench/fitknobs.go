package workbench

import (
	"math"

	"tautline/bow"
	"tautline/notebook"
	"tautline/num"
	"tautline/unit"
)

// knob is one parameter of the fitted model: a number that nobody measured,
// zero at its best guess, with the doubt it has before any reading.
type knob struct {
	key    string // stable name in files
	name   string // in an archer's words
	unit   string // of the value shown: "" for a factor
	sd     float64
	source string // where guess and doubt come from
	group  knobGroup
	// shown turns the parameter into the value a person reads, with its slope.
	shown func(x float64) (value, slope float64)
}

// knobGroup says how much of a shot has to be computed anew when a parameter
// moves.
type knobGroup int

const (
	knobBow    knobGroup = iota // bow at rest and shot along the string
	knobSide                    // the arrow on its way out
	knobFlight                  // the way to the target
	knobFrame                   // zeros of scales: nothing of the shot
	knobUp                      // the shot up and down alone
	knobRise                    // what is made of its height
)

// Places of the parameters after the bow's own twelve.
const (
	kLimbMass = iota
	kTipMass
	kJointDamping
	kMassDamping
	kStringMass
	kNockMass
	kButtonZero
	kButtonThread
	kButtonSpring
	kRelease
	kTips
	kCentre
	kYawRate
	kDrag
	kCrossflow
	kVanes
	kWindage
	kSightOrigin
	kSightReach
	kTurns
	kTwist
	kHook
	kTransfer
	kPressure
	kReach
	kRiseZero
	kRiseGain
	kCount
)

// Doubts that only the fit uses, one standard deviation.
const (
	limbMassSpread = 0.15 // ln, as the ensemble of bow.Fit
	tipMassSpread  = 0.35
	dampingSpread  = 0.70
	stringSpread   = 0.12
	nockSpread     = 0.40
	weighedDoubt   = 0.02
	zeroDoubt      = 0.3 // N
	threadDoubt    = 0.25
	// releaseDoubt and tipDoubt are wider than what an unfitted prediction
	// takes for plausible: a fit may be told otherwise by its readings.
	releaseDoubt     = 0.30
	tipDoubt         = 0.30
	centreRead       = 0.3e-3 // m, of a centre shot that was read
	yawDoubt         = 0.20   // rad/s
	dragDoubt        = 0.22
	crossflowDoubt   = 0.18
	vanesDoubt       = 0.25
	windageDoubt     = 0.02 // rad
	originDoubt      = 0.1  // m
	twistRadiusDoubt = 0.25
	countedDoubt     = 0.5  // turns
	upRead           = 1e-3 // m, of a hook or pressure point that was measured
	riseZeroDoubt    = 0.012
	riseGainDoubt    = 0.15
)

const (
	assumedSource  = "assumed, no source"
	ensembleSource = "assumed, as the spread of the generic family (docs/theory/bow.md)"
)

func factor(x float64) (float64, float64) { return math.Exp(x), math.Exp(x) }

func times(of float64) func(float64) (float64, float64) {
	return func(x float64) (float64, float64) { v := of * math.Exp(x); return v, v }
}

func plus(of float64) func(float64) (float64, float64) {
	return func(x float64) (float64, float64) { return of + x, 1 }
}

// bowKnobs are the generic family's own parameters, as moves from the scaled
// bow.
func bowKnobs(free bow.Freedom) (out []knob) {
	joint := inverse(free.Precision)
	for j, name := range free.Names {
		k := knob{
			key: "bow_" + snake(name), name: name, unit: free.Units[j], sd: math.Sqrt(joint.At(j, j)), group: knobBow,
			source: "the generic family's spread and the readings in the set-up (docs/theory/bow.md)", shown: plus(0),
		}
		if k.unit == "ln" {
			k.unit, k.shown = "", factor
		}
		out = append(out, k)
	}
	return out
}

// otherKnobs are the rest, for a bow whose string was weighed or not, and an
// archer who read the centre shot or not.
func otherKnobs(in Inputs, side Sideways, s notebook.Settings) [kCount]knob {
	stringMass, centre, turns := stringSpread, float64(centreDoubt), turnsDoubt
	if in.StringMass > 0 {
		stringMass = weighedDoubt
	}
	if side.CentreKnown {
		centre = centreRead
	}
	if in.TurnsCounted {
		turns = countedDoubt
	}
	up := VerticalFromSettings(s, unit.Length(side.Arrow.Diameter))
	read := func(known bool, doubt unit.Length) float64 {
		if known {
			return upRead
		}
		return float64(doubt)
	}
	b := side.Setup.Button
	sight, _ := sightOf(s, false)
	reachFrom := "common practice, no source"
	if !s.SightExt.IsZero() {
		reachFrom = "draw length, sight extension and 3 cm of riser; the eye above the nock by common practice, no source"
	}
	return [kCount]knob{
		kLimbMass:     {"limb_mass", "limbs' moving mass", "", limbMassSpread, ensembleSource, knobBow, factor},
		kTipMass:      {"tip_mass", "limb tips' mass", "", tipMassSpread, ensembleSource, knobBow, factor},
		kJointDamping: {"limb_loss", "loss in the limbs' material", "", dampingSpread, ensembleSource, knobBow, factor},
		kMassDamping:  {"air_loss", "loss that grows with speed", "", dampingSpread, ensembleSource, knobBow, factor},
		kStringMass:   {"string_mass", "string's mass", "", stringMass, ensembleSource, knobBow, factor},
		kNockMass:     {"nocking_mass", "mass at the nocking point", "", nockSpread, ensembleSource, knobBow, factor},
		kButtonZero:   {"button_zero", "button's preload at its marked zero", "N", zeroDoubt, assumedSource + ": nobody reads newtons off a button", knobSide, plus(float64(zeroPreload))},
		kButtonThread: {"button_thread", "button's advance a turn", "m", threadDoubt, assumedSource + ": common threads advance 0.5 mm", knobSide, times(float64(threadPitch))},
		kButtonSpring: {"button_spring", "button's spring", "N/m", stiffnessDoubt, assumedSource + ": 0.5 to 2 N/mm span what is sold", knobSide, times(float64(b.Stiffness))},
		kRelease:      {"release_share", "sideways push of the release, share of the draw force", "", releaseDoubt, "about 2 mm aside in a published release, reported second-hand, ±50 % (docs/theory/arrow.md)", knobSide, times(genericKappa())},
		kTips:         {"tip_stiffness", "limb tips' sideways stiffness", "N/m", tipDoubt, assumedSource + ": no published measurement", knobSide, times(float64(side.Setup.Tips.Stiffness))},
		kCentre:       {"centre_shot_error", "error of the centre shot", "m", centre, "reading of a shaft's axis by eye, common practice", knobSide, plus(0)},
		kYawRate:      {"exit_yaw_offset", "what the model misses in the turn of the leaving shaft", "rad/s", yawDoubt, "difference of the string models in exit direction (docs/theory/arrow.md)", knobFlight, plus(0)},
		kDrag:         {"drag", "drag coefficient", "", dragDoubt, "published 1.3 to 2.6 (docs/theory/flight.md)", knobFlight, times(1.8)},
		kCrossflow:    {"crossflow", "side force on the shaft", "", crossflowDoubt, "crossflow drag 1.1 ± 0.2 of a cylinder (docs/theory/flight.md)", knobFlight, factor},
		kVanes:        {"vane_force", "side force on the vanes", "", vanesDoubt, "theory of fins on a slender body; estimate (docs/theory/flight.md)", knobFlight, factor},
		kWindage:      {"windage_zero", "sight's zero to the side", "rad", windageDoubt, "free: the archer sets it", knobFrame, plus(0)},
		kSightOrigin:  {"sight_zero", "sight scale's zero", "m", originDoubt, "free: a scale starts where its maker put it", knobFrame, plus(0)},
		kSightReach:   {"sight_reach", "eye to pin", "m", float64(sight.ReachDoubt / sight.Reach), reachFrom, knobFrame, times(float64(sight.Reach))},
		kTurns:        {"string_turns", "turns in the string", "", turns, "assumed where they were not counted", knobFrame, plus(in.Turns)},
		kTwist:        {"twist_effect", "brace height's answer to a turn", "", twistRadiusDoubt, "doubt of the string's thickness (docs/theory/bow.md)", knobFrame, factor},
		kHook:         {"hook_height", "fingers' pull below the nocking point", "m", read(up.Known.Hook, hookDoubt), assumedSource + " (docs/theory/vertical.md)", knobUp, plus(float64(up.Setup.Hook))},
		kTransfer:     {"hook_transfer", "time in which the string leaves the fingers", "s", transferDoubt, assumedSource + " (docs/theory/vertical.md)", knobUp, times(usualTransfer)},
		kPressure:     {"pressure_point", "hand's pressure above the pivot", "m", read(up.Known.Pressure, pressureDoubt), assumedSource + " (docs/theory/vertical.md)", knobUp, plus(float64(up.Setup.Pressure))},
		kReach:        {"wire_reach", "rest wire's reach past the shaft", "m", read(up.Known.Reach, reachDoubt), assumedSource + " (docs/theory/vertical.md)", knobUp, plus(float64(up.Wire.Reach))},
		kRiseZero:     {"height_zero", "what the model misses in the height of a bare shaft", "rad", riseZeroDoubt, "assumed: heights of an unfitted bow are not to be trusted, their changes are (docs/theory/vertical.md)", knobRise, plus(0)},
		kRiseGain:     {"height_answer", "a bare shaft's height against the computed one", "", riseGainDoubt, "spread over plausible bows of what a millimetre of nocking point does (docs/theory/fit.md)", knobRise, factor},
	}
}

// held tells that a parameter of the group leaves a quantity where it is. The
// bow's own parameters do move a bare shaft's height; that is left to
// height_answer and height_zero, because a bow with two limbs takes as long to
// loose as everything else together.
func (g knobGroup) held(q Quantity) bool {
	if q.Kind == QBareUp {
		return g == knobBow || g == knobFrame
	}
	return g >= knobUp
}

// inverse of a symmetric positive matrix, column by column.
func inverse(a num.Matrix) num.Matrix {
	n := a.Rows
	out, c := num.NewMatrix(n, n), num.NewCholesky(n)
	if c.Factor(a, 0) != num.Done {
		if _, status := c.FactorShifted(a); status != num.Done {
			return out
		}
	}
	e := make([]float64, n)
	for j := range n {
		clear(e)
		e[j] = 1
		c.Solve(e)
		for i, v := range e {
			out.Set(i, j, v)
		}
	}
	for i := range n { // rounding has its own two opinions
		for j := range i {
			both := (out.At(i, j) + out.At(j, i)) / 2
			out.Set(i, j, both)
			out.Set(j, i, both)
		}
	}
	return out
}

// snake makes a key of words.
func snake(words string) string {
	out := []byte{}
	for _, r := range words {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			out = append(out, byte(r))
		case r == ' ':
			out = append(out, '_')
		}
	}
	return string(out)
}
