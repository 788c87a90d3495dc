package workbench

import (
	"context"
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/flight"
	"tautline/notebook"
	"tautline/unit"
)

// HeightAct is what a bare shaft's height asks for.
type HeightAct string

// The answers.
const (
	HeightAsk      HeightAct = "ask"         // something must be looked at before anything is said
	HeightRead     HeightAct = "read"        // another reading comes next
	HeightMove     HeightAct = "move"        // move the nocking point
	HeightLeave    HeightAct = "leave"       // nothing to do within the doubt
	HeightTouches  HeightAct = "touches"     // the tail touches the rest: mend that first
	HeightUntold   HeightAct = "cannot tell" // the window's reason
	HeightWithheld HeightAct = "withheld"    // string-walking
)

// tailTouches is said wherever the height cannot be believed.
const tailTouches = "the tail touches the rest: a low reading may mean too low"

// HeightReading is one bare-shaft reading at one nocking point.
type HeightReading struct {
	// Nocking is the bow square's reading it was shot with.
	Nocking  unit.Length
	Distance unit.Length // 18 or 30 m are usual
	// Up is bare minus fletched, + high; Doubt its standard deviation, 0 takes
	// a third of a millimetre for every metre of the distance.
	Up, Doubt unit.Length
	// Taped: the bare tail has the vanes' mass and balance. Otherwise the
	// effect of being lighter is predicted and taken off.
	Taped bool
}

// usualReadingDoubt of a few arrows, as a share of the distance: 3 cm at 30 m
// (assumed).
const usualReadingDoubt = 0.001

func (r HeightReading) doubt() float64 {
	if r.Doubt > 0 {
		return float64(r.Doubt)
	}
	return usualReadingDoubt * float64(r.Distance)
}

func (r HeightReading) check(at int) error {
	var problems notebook.Problems
	field := fmt.Sprintf("/readings/%d/", at)
	bad := func(name, message, hint string) {
		problems = append(problems, notebook.Error{Code: notebook.Invalid, Field: field + name, Message: message, Hint: hint})
	}
	if !unit.NockingPoint.Holds(r.Nocking) {
		bad("nocking_point", fmt.Sprintf("%.1f mm is no nocking point", r.Nocking.Millimetres()), "the square's reading, like 9 mm")
	}
	if !(r.Distance >= 5 && r.Distance <= 90) {
		bad("distance", fmt.Sprintf("%v is no distance for a bare shaft", r.Distance), "18 m or 30 m")
	}
	if !(math.Abs(float64(r.Up)) < 3) || !(r.Doubt >= 0) {
		bad("up", "the bare shaft's height is not a length on a target", "bare minus fletched, like −12 cm")
	}
	return problems.OrNil()
}

// HeightAdvice says what to do about a bare shaft that lands high or low.
// Changes only: no height of a nocking point is right in itself.
type HeightAdvice struct {
	Act HeightAct `json:"act"`
	// Ask are the settings to look at first, as keys.
	Ask []string `json:"ask,omitempty"`
	// Move is how far to move the nocking point, + higher; 0 unless Act is
	// HeightMove.
	Move unit.Length `json:"move_m"`
	// Expected is what the move does to the bare shaft at the reading's
	// distance, PerMM what a millimetre does.
	Expected Estimate[unit.Length] `json:"expected_up_m"`
	PerMM    Estimate[unit.Length] `json:"per_nock_mm_up_m"`
	// Calibrated: PerMM comes from two readings of this bow, not from the model.
	Calibrated bool `json:"calibrated"`
	// TailGap is the smallest gap over the rest at either end of the move.
	TailGap Estimate[unit.Length] `json:"tail_gap_rest_m"`
	// InShare is the share of the plausible set-ups in which both ends of the
	// move pass the rest clean and both one-sided differences agree; Obey the
	// share in which the move does what is said of it.
	InShare float64 `json:"vertical_window_share_ratio"`
	Obey    float64 `json:"obey_ratio"`
	Say     string  `json:"say"`
	// Tiller is why no tiller is advised.
	Tiller string   `json:"tiller"`
	Notes  []string `json:"notes,omitempty"`
	bestIn bool     // the middle set-up is in the window as it is
}

// Limits of what is advised in one step.
const (
	mostNockStep  = 2 * unit.Millimetre
	leastNockStep = 0.5 * unit.Millimetre
	// calibrateApart is how far apart two readings must stand to teach what a
	// millimetre does.
	calibrateApart = 1.5 * unit.Millimetre
	// sureShare is the share of plausible set-ups in which a move must do what
	// is said of it.
	sureShare = 0.9
)

// noTiller is always said with a height.
const noTiller = "Tiller is not advised from bare shafts: 2 mm of it at equal brace height and square move them by less than a centimetre at 30 m. Choose it by how the bow holds at full draw and by groups."

// heightQuestion is the model's side of an advice.
type heightQuestion struct {
	uprightQuestion
	arrow *arrow.Arrow
	fly   flyers
	here  []tall // at the present nocking point
}

// AdviseHeight answers from a set-up and its bare-shaft readings, the latest
// last. It asks for the wire's reach and the powder check before anything else,
// moves the nocking point only where the tail passes the rest by more than a
// millimetre at both ends of the move and both one-sided differences agree, and
// never moves the tiller. It takes about half a second; ctx stops it.
func AdviseHeight(ctx context.Context, s notebook.Settings, hand arrow.Hand, readings []HeightReading) (HeightAdvice, error) {
	out := HeightAdvice{Tiller: noTiller}
	for i, r := range readings {
		if err := r.check(i); err != nil {
			return out, err
		}
	}
	if s.StringWalking {
		out.Act, out.Say = HeightWithheld, "Withheld: "+stringWalking+"."
		return out, nil
	}
	if out.askFirst(s) {
		return out, nil
	}
	if len(readings) == 0 {
		out.Act, out.Say = HeightRead, "Shoot three fletched and three bare shafts at one aim, 18 m first; then once more with the nocking point 2 mm higher or lower: the two readings teach what a millimetre does on your bow."
		return out, nil
	}
	q, err := newHeightQuestion(ctx, s, hand)
	if err != nil {
		return out, err
	}
	err = q.answer(ctx, readings, &out)
	return out, understand(err)
}

// askFirst names what must be looked at before a height means anything.
func (a *HeightAdvice) askFirst(s notebook.Settings) bool {
	if s.Rest.Powder == notebook.PowderMarked {
		a.Act = HeightTouches
		a.Say = "Powder shows that " + tailTouches + ". Leave the nocking point; shorten the rest's wire so that it does not stick out past the shaft, or see that the shaft leaves the button freely, and do the powder check again. It is the next reading."
		return true
	}
	if s.Rest.Reach.IsZero() {
		a.Ask = append(a.Ask, "rest.wire_reach")
	}
	if s.Rest.Powder == "" {
		a.Ask = append(a.Ask, "rest.powder_mark")
	}
	if len(a.Ask) == 0 {
		return false
	}
	a.Act = HeightAsk
	a.Say = "Before a high or low bare shaft means anything: "
	switch {
	case len(a.Ask) == 2:
		a.Say += "look down on the shaft against the button and note how far the rest's wire sticks out past the shaft's centre; then powder the shaft's tail and the wire, shoot once and note whether it is clean or marked."
	case a.Ask[0] == "rest.wire_reach":
		a.Say += "look down on the shaft against the button and note how far the rest's wire sticks out past the shaft's centre."
	default:
		a.Say += "powder the shaft's tail and the rest's wire, shoot once and note whether it is clean or marked."
	}
	return true
}

func newHeightQuestion(ctx context.Context, s notebook.Settings, hand arrow.Hand) (q heightQuestion, err error) {
	if q.uprightQuestion, err = newUprightQuestion(ctx, s, hand); err != nil {
		return q, err
	}
	if q.arrow, err = arrow.New(q.side.Arrow, arrow.Resolution{}); err != nil {
		return q, understand(err)
	}
	q.fly, err = newFlyers(q.side.Arrow, q.side.Air)
	return q, understand(err)
}

// nockedAt is the vertical set-up with another reading on the square.
func (q *heightQuestion) nockedAt(v Vertical, reading unit.Length) Vertical {
	if q.v.Known.Nocking {
		v.Setup.Nock += reading - q.settings.NockingPoint.Value.Value
	}
	return v
}

// answer is the advice once nothing has to be asked.
func (q *heightQuestion) answer(ctx context.Context, readings []HeightReading, out *HeightAdvice) error {
	now := readings[len(readings)-1]
	if !q.v.Known.Nocking {
		// the reading is the present nocking point
		q.settings.NockingPoint.Value = notebook.Length{Typed: unit.Said(now.Nocking, unit.MM)}
		q.settings.NockingPoint.Of = ""
		q.v = VerticalFromSettings(q.settings, unit.Length(q.side.Arrow.Diameter))
	}
	up, err := q.taped(now, out)
	if err != nil {
		return err
	}
	slope, err := q.slopeAt(ctx, now, now.Nocking)
	if err != nil {
		return err
	}
	out.PerMM, out.InShare, out.TailGap, out.bestIn = slope.perMM, slope.inShare, slope.gap, slope.in
	if bent := q.calibrate(readings, out); bent {
		out.Act = HeightTouches
		out.Say = fmt.Sprintf("Your two readings say that raising the nocking point does not lower the bare shaft: %s. Do the powder check again before the next reading.", tailTouches)
		return nil
	}
	if math.Abs(up) < 1.645*now.doubt() {
		out.Act = HeightLeave
		out.Say = fmt.Sprintf("The bare shaft lies %s of the fletched ones at %.0f m, within the reading's doubt of ± %.0f cm: nothing to do.", upWord(up), float64(now.Distance), 164.5*now.doubt())
		return nil
	}
	move := unit.Length(-up/float64(out.PerMM.Value)) * unit.Millimetre
	move = max(-mostNockStep, min(mostNockStep, move))
	move = unit.Length(math.Round(float64(move/(leastNockStep)))) * leastNockStep
	if move == 0 {
		move = unit.Length(math.Copysign(float64(leastNockStep), -up/float64(out.PerMM.Value)))
	}
	return q.moveBy(ctx, now, move, up, out)
}

// moveBy looks at the far end of the move and says it, or why not.
func (q *heightQuestion) moveBy(ctx context.Context, now HeightReading, move unit.Length, up float64, out *HeightAdvice) error {
	end, err := q.slopeAt(ctx, now, now.Nocking+move)
	if err != nil {
		return err
	}
	out.InShare, out.Obey = min(out.InShare, end.inShare), end.obey
	out.TailGap = Estimate[unit.Length]{min(out.TailGap.Value, end.gap.Value), min(out.TailGap.Low, end.gap.Low), min(out.TailGap.High, end.gap.High)}
	if out.InShare < LeastInShare || out.Obey < sureShare || !end.in || !out.bestIn {
		out.Act = HeightUntold
		out.Say = fmt.Sprintf("Cannot tell: in %.0f %% of the plausible set-ups the tail passes the rest closer than a millimetre, or raising and lowering do the same. It may be that %s. Do the powder check again with the nocking point where it is; a shorter wire, or a shaft that leaves the button earlier, clears it.", 100*(1-out.InShare), tailTouches)
		return nil
	}
	out.Act, out.Move = HeightMove, move
	mm := unit.Length(math.Abs(move.Millimetres()))
	share := float64(move / unit.Millimetre)
	out.Expected = Estimate[unit.Length]{
		unit.Length(share) * out.PerMM.Value,
		min(unit.Length(share)*out.PerMM.Low, unit.Length(share)*out.PerMM.High), max(unit.Length(share)*out.PerMM.Low, unit.Length(share)*out.PerMM.High),
	}
	word := "Raise"
	if move < 0 {
		word = "Lower"
	}
	out.Say = fmt.Sprintf("The bare shaft lands %s at %.0f m. %s the nocking point by %.1f mm: expect the bare shaft %.0f cm %ser (%.0f to %.0f cm), about %+.1f cm for each millimetre raised.",
		upWord(up), float64(now.Distance), word, float64(mm), 100*math.Abs(float64(out.Expected.Value)), highLow(float64(out.Expected.Value)),
		100*math.Abs(float64(nearEnd(out.Expected))), 100*math.Abs(float64(farEnd(out.Expected))), 100*float64(out.PerMM.Value))
	if out.Calibrated {
		out.Say += " That is from your own two readings."
	} else {
		out.Say += " It is the model's figure: two readings 2 mm apart teach your bow's own. Shoot again, powder the tail once more."
	}
	return nil
}

func upWord(up float64) string { return fmt.Sprintf("%.0f cm %s", 100*math.Abs(up), highLow(up)) }

func highLow(up float64) string {
	if up < 0 {
		return "low"
	}
	return "high"
}

func nearEnd(e Estimate[unit.Length]) unit.Length {
	if abs(e.Low) < abs(e.High) {
		return e.Low
	}
	return e.High
}

func farEnd(e Estimate[unit.Length]) unit.Length {
	if abs(e.Low) < abs(e.High) {
		return e.High
	}
	return e.Low
}

// taped takes the effect of a lighter bare shaft off the reading.
func (q *heightQuestion) taped(r HeightReading, out *HeightAdvice) (up float64, err error) {
	up = float64(r.Up)
	if r.Taped {
		return up, nil
	}
	effect, err := lighter(q.side.Arrow, q.side.Air, r.Distance)
	if err != nil {
		return up, err
	}
	out.Notes = append(out.Notes, fmt.Sprintf("The bare shafts were not taped: being lighter by the vanes alone takes them about %.1f cm high at %.0f m, which is taken off. Tape the tail to equal mass and balance for the next reading.", 100*effect, float64(r.Distance)))
	return up - effect, nil
}

// virtualShare is a bow's virtual mass over the arrow's: efficiency 0.75
// (assumed; it is 0.7 to 0.8 for ordinary recurves).
const virtualShare = 1/0.75 - 1

// lighter is how much higher a bare shaft lands for having lost its vanes'
// mass, both leaving level: it leaves faster.
func lighter(d arrow.Design, air flight.Air, distance unit.Length) (float64, error) {
	const v = 58.0
	m, lost := float64(d.Mass()), float64(d.Fletching.Mass)
	fly := func(d arrow.Design, speed float64) (float64, error) {
		f, err := flight.New(bodyOf(d), air)
		if err != nil {
			return 0, err
		}
		hit, err := f.Fly(flight.Launch{Speed: unit.Speed(speed)}, flight.Wind{}, distance)
		return float64(hit.Up), err
	}
	taped, err := fly(d.BareTaped(), v)
	if err != nil {
		return 0, err
	}
	bare, err := fly(d.Bare(), v*(1+lost/(2*(m*(1+virtualShare)))))
	return bare - taped, err
}

// calibrate learns what a millimetre does from readings at two nocking points;
// bent when they say that raising does not lower.
func (q *heightQuestion) calibrate(readings []HeightReading, out *HeightAdvice) (bent bool) {
	now := readings[len(readings)-1]
	for i := len(readings) - 2; i >= 0; i-- {
		r := readings[i]
		apart := now.Nocking - r.Nocking
		if r.Distance != now.Distance || r.Taped != now.Taped || abs(apart) < calibrateApart {
			continue
		}
		mm := apart.Millimetres()
		slope, sd := float64(now.Up-r.Up)/mm, math.Hypot(now.doubt(), r.doubt())/math.Abs(mm)
		if slope-1.645*sd > 0 {
			return true
		}
		// the model's spread as a prior, the readings on top
		model := out.PerMM
		prior := max(1e-4, float64(model.High-model.Low)/(2*1.645))
		// the size hangs on aerodynamic slopes that are estimates: a third
		prior = math.Hypot(prior, math.Abs(float64(model.Value))/3)
		w, p := 1/(sd*sd), 1/(prior*prior)
		value, half := (w*slope+p*float64(model.Value))/(w+p), 1.645/math.Sqrt(w+p)
		out.PerMM = Estimate[unit.Length]{unit.Length(value), unit.Length(value - half), unit.Length(value + half)}
		out.Calibrated = true
		return value+half > 0
	}
	return false
}

// slopeHere is what the plausible set-ups say at one nocking point.
type slopeHere struct {
	perMM   Estimate[unit.Length]
	gap     Estimate[unit.Length]
	inShare float64
	in      bool    // the middle set-up
	obey    float64 // share in which going there does what a millimetre promises
}

// slopeAt asks the plausible set-ups that agree with a clean powder check: the
// tail passes without touching where the nocking point is now.
func (q *heightQuestion) slopeAt(ctx context.Context, now HeightReading, nocking unit.Length) (slopeHere, error) {
	b := q.model
	n := len(b.members)
	aside, up := draws(n, q.side.CentreKnown), sways(n, q.v.Known)
	there := make([]tall, n)
	moved := nocking - now.Nocking
	err := each(ctx, n, func(j int) {
		there[j] = b.upright(b.members[j], b.Now(), q.arrow, aside[j].apply(q.side.Setup), up[j].apply(q.nockedAt(q.v, nocking)), q.fly)
	})
	if err != nil {
		return slopeHere{}, err
	}
	if there[0].err != nil {
		return slopeHere{}, there[0].err
	}
	if moved == 0 {
		q.here = there
	}
	return q.gather(there, float64(moved), now.Distance), nil
}

// gather leaves out what could not be shot, and what contradicts the clean
// powder.
func (q *heightQuestion) gather(there []tall, moved float64, distance unit.Length) slopeHere {
	var good []tall
	in, obey := 0, 0
	for j := 1; j < len(there); j++ {
		here := &q.here[j]
		if there[j].err != nil || here.err != nil || here.both.rise.TailGap <= 0 {
			continue
		}
		good = append(good, there[j])
		if there[j].in() {
			in++
		}
		if (there[j].bare30-here.bare30)*moved < 0 {
			obey++
		}
	}
	out := slopeHere{
		perMM: spreadOf[unit.Length](there[0], good, func(t tall) float64 { return t.per(distance) }),
		gap:   spreadOf[unit.Length](there[0], good, func(t tall) float64 { return math.Min(t.gap, farGap) }),
		in:    there[0].in(),
	}
	if len(good) > 0 {
		out.inShare, out.obey = float64(in)/float64(len(good)), float64(obey)/float64(len(good))
	}
	return out
}

// per is what a millimetre does at a distance, from 18 and 30 m: nearly as the
// square of the distance.
func (t *tall) per(distance unit.Length) float64 {
	near, far := t.near, (t.below+t.above)/2
	if near*far <= 0 {
		return far * float64(distance) / 30
	}
	return far * math.Pow(float64(distance)/30, math.Log(far/near)/math.Log(30.0/18))
}
