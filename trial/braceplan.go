package trial

import (
	"fmt"
	"math"

	"tautline/unit"
)

// Order is the sequence in which the stops of a brace-height trial are shot.
type Order string

const (
	// Up starts at the low end and adds turns: the loops only seat tighter,
	// every reading approaches from the same side, and the lively end, where a
	// fault in the set-up shows first, is heard first.
	Up Order = "up"
	// Down starts at the high end and removes turns: the gentle end first, for
	// a bow or an archer not yet known, or when the string already holds many
	// turns and removing them is the safe direction.
	Down Order = "down"
	// ABBA visits two stops as A-B-B-A, so that anything drifting steadily
	// (a warming string, a tiring arm) cancels: for deciding between two stops
	// after a sweep, not for a first look.
	ABBA Order = "abba"
)

// Reason says why one would shoot in this order, and what it cannot tell.
func (o Order) Reason() string {
	switch o {
	case Up:
		return "From the low end upward: turns are only added, so loops and servings seat from one side and every reading can be compared. What drifts with time looks like brace height; a second visit to one stop shows it."
	case Down:
		return "From the high end downward: turns are only removed, the gentle end comes first, and a string that already holds many turns is not wound further. What drifts with time looks like brace height; a second visit to one stop shows it."
	case ABBA:
		return "A-B-B-A between two stops: a steady drift of bow, archer or phone cancels, and the two visits to each stop show how well a setting comes back. It decides between two stops; it does not search."
	}
	return ""
}

// BracePlanInput is what a plan needs to know. Zero fields take the default
// stated.
type BracePlanInput struct {
	LimbLow, LimbHigh unit.Length // the limb maker's range, for the usual grip position; 190–250 mm usual
	RiserOffset       unit.Length // δ: how far this riser's pivot sits back of the usual; compare reading + δ; default 0
	Brace             unit.Length // present brace height as read on the square
	Turns             float64     // total turns in the string now; 0: not known
	Curve             TwistCurve  // predicted brace height against turns added; required
	TurnsPerStep      float64     // default 3
	MinTurns          float64     // fewest turns in all the string may hold; default 8 (common practice, no source)
	MaxTurns          float64     // most turns in all; default 40 (common practice, no source)
	BracePerString    float64     // d brace / d string length; default −1.5 (model)

	Order          Order         // default: the end nearer to the present setting decides Up or Down
	StopA, StopB   unit.Length   // the two stops of ABBA, on the square
	SettlingShots  int           // per stop, default 3; −1 for none
	FirstSettling  int           // at the first stop of the day, default 5 (a brace height is read after at least five shots)
	ArrowsPerStop  int           // counted arrows per stop, default 6
	ChangeTime     unit.Duration // per change of twist, default 5 min (common practice, editable)
	ArrowTime      unit.Duration // per arrow on the blank bale, default 30 s (common practice, editable)
	MinimumMassSet bool          // the maker's minimum arrow mass is on record; false: the plan asks for it
}

// PlannedStop is one stop, in the order in which it is shot.
type PlannedStop struct {
	Index        int                   // stop number by brace height, 1 is the lowest; visits to the same stop share it
	Visit        int                   // 1, 2 … in shooting order
	FromPrevious float64               // turns to add since the previous visit; negative: remove
	FromNow      float64               // turns to add counted from the string as it is now
	Total        float64               // turns in all, NaN if not known
	Brace        Estimate[unit.Length] // expected reading on the square
	Corrected    unit.Length           // expected reading + riser offset, for the maker's range
	InRange      Inside                // is it inside the limb maker's range
	Settling     int                   // settling shots before the reading
	Arrows       int                   // counted arrows
	Time         unit.Duration         // change and shots
}

// Inside answers whether a predicted brace height lies inside the range.
type Inside string

const (
	Yes     Inside = "yes"
	No      Inside = "no"
	NotSure Inside = "not sure" // the prediction's interval crosses the limit: measure before shooting
)

// Beyond is the part of the range that this string cannot reach by twisting.
type Beyond struct {
	From, To    unit.Length // on the square
	StringBy    unit.Length // how much shorter (positive) or longer (negative) the string would have to be to reach the far end
	Description string      // "228–240 mm: a string 8 mm shorter"
}

// BracePlan is the plan of a brace-height trial.
type BracePlan struct {
	Low, High         unit.Length // the limb maker's range as this riser's square reads it
	SpanLow, SpanHigh unit.Length // what this string reaches inside that range
	Start             string      // "low", "high" or "A"
	StartReason       string
	Order             Order
	OrderReason       string
	Stops             []PlannedStop
	Beyond            []Beyond
	Time              unit.Duration
	Arrows            int
	CanSee            string // what so many stops and arrows can show, before shooting
	Warnings          []string
	Cautions          []Caution
}

// PlanBrace plans a brace-height trial: every stop a whole number of steps
// from the string as it is now, so that the present setting is one of them,
// from one end of the limb maker's range to the other as far as this string
// reaches. It leaves out creep of a new string: shoot it in first.
func PlanBrace(in BracePlanInput) (BracePlan, error) {
	in = in.withDefaults()
	if err := in.check(); err != nil {
		return BracePlan{}, err
	}
	p := BracePlan{Low: in.LimbLow - in.RiserOffset, High: in.LimbHigh - in.RiserOffset}
	p.Cautions = []Caution{UseStringer, NoDryLoose, InspectBow, StayInRange, MinimumMass, ClearRange, RulesDecide}
	p.warnAboutStart(in)
	turns := in.reachable(p.Low, p.High)
	if len(turns) == 0 {
		return p, bad("range", "check the riser offset and the brace height, or the turns in the string",
			"no stop lies inside %s to %s: %s now, and a step of %g turns jumps over the range or the string cannot reach it",
			mm(p.Low), mm(p.High), mm(in.Brace), in.TurnsPerStep)
	}
	p.SpanLow, p.SpanHigh = in.Curve(turns[0]).Value, in.Curve(turns[len(turns)-1]).Value
	p.Beyond = in.beyond(p, turns)
	p.choose(in, turns)
	p.lay(in, turns)
	p.warnAboutSize()
	p.CanSee = canSeeSpot(p.Stops, in)
	return p, nil
}

func (in BracePlanInput) withDefaults() BracePlanInput {
	fill := func(x *float64, d float64) {
		if *x == 0 {
			*x = d
		}
	}
	count := func(n *int, d int) {
		if *n == 0 {
			*n = d
		}
		*n = max(*n, 0)
	}
	fill(&in.TurnsPerStep, 3)
	fill(&in.MinTurns, 8)
	fill(&in.MaxTurns, 40)
	fill(&in.BracePerString, -1.5)
	count(&in.SettlingShots, 3)
	count(&in.FirstSettling, max(5, in.SettlingShots))
	count(&in.ArrowsPerStop, 6)
	if in.ChangeTime == 0 {
		in.ChangeTime = 5 * unit.Minute
	}
	if in.ArrowTime == 0 {
		in.ArrowTime = 30 * unit.Second
	}
	return in
}

func (in BracePlanInput) check() error {
	usual := unit.BraceHeight
	switch {
	case in.Curve == nil:
		return bad("twist curve", "give the bow's prediction, or ConstantStep with about 0.7 mm per turn", "none was given")
	case !usual.Holds(in.LimbLow) || !usual.Holds(in.LimbHigh):
		return bad("limb range", "write it as on the limb, such as 210 mm to 230 mm", "%s to %s is not a brace-height range", mm(in.LimbLow), mm(in.LimbHigh))
	case in.LimbLow >= in.LimbHigh:
		return bad("limb range", "give the lower figure first, such as 210 mm to 230 mm", "%s is not below %s", mm(in.LimbLow), mm(in.LimbHigh))
	case !usual.Holds(in.Brace):
		return bad("brace height", "measure from the grip's deepest point, such as 215 mm", "%s is not a brace height", mm(in.Brace))
	case math.Abs(float64(in.RiserOffset)) > 0.05:
		return bad("riser offset", "it is usually between −10 mm and 20 mm", "%s is too large", mm(in.RiserOffset))
	case in.TurnsPerStep <= 0 || in.TurnsPerStep > 20:
		return bad("turns per step", "3 is usual", "%g is not a step", in.TurnsPerStep)
	case in.Turns < 0 || in.Turns > 100:
		return bad("turns", "count all turns in the string, such as 20, or leave it empty", "%g is not a number of turns", in.Turns)
	case in.BracePerString >= 0:
		return bad("brace per string", "a longer string lowers the brace: about −1.5", "%g is not below zero", in.BracePerString)
	case in.Order == ABBA && !(usual.Holds(in.StopA) && usual.Holds(in.StopB)):
		return bad("stops", "name the two stops to compare, such as 212 mm and 221 mm", "A-B-B-A needs two brace heights")
	case in.Order != "" && in.Order.Reason() == "":
		return bad("order", "up, down or abba", "%q is not an order", in.Order)
	}
	return nil
}

// reachable lists the turns, counted from now and ascending, of the stops
// inside the range that this string may be twisted to.
func (in BracePlanInput) reachable(low, high unit.Length) []float64 {
	var turns []float64
	for i := -200; i <= 200; i++ {
		t := float64(i) * in.TurnsPerStep
		if b := in.Curve(t).Value; in.allowed(t) && b >= low && b <= high {
			turns = append(turns, t)
		}
	}
	return turns
}

// allowed says whether the string may hold t turns more than now.
func (in BracePlanInput) allowed(t float64) bool {
	if in.Turns == 0 {
		return math.Abs(t) <= 60
	}
	return in.Turns+t >= in.MinTurns && in.Turns+t <= in.MaxTurns
}

// beyond says which parts of the range need another string.
func (in BracePlanInput) beyond(p BracePlan, turns []float64) []Beyond {
	var list []Beyond
	first, last := turns[0], turns[len(turns)-1]
	if next := in.Curve(first - in.TurnsPerStep).Value; !in.allowed(first-in.TurnsPerStep) && next > p.Low {
		by := unit.Length(float64(p.SpanLow-p.Low) / in.BracePerString)
		list = append(list, Beyond{
			p.Low, p.SpanLow, by,
			fmt.Sprintf("%s to %s: a string about %s longer", mm(p.Low), mm(p.SpanLow), mm1(-by)),
		})
	}
	if next := in.Curve(last + in.TurnsPerStep).Value; !in.allowed(last+in.TurnsPerStep) && next < p.High {
		by := unit.Length(float64(p.SpanHigh-p.High) / in.BracePerString)
		list = append(list, Beyond{
			p.SpanHigh, p.High, by,
			fmt.Sprintf("%s to %s: a string about %s shorter", mm(p.SpanHigh), mm(p.High), mm1(by)),
		})
	}
	return list
}
