package workbench

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
)

// NockingStop is one nocking point of a nocking-point trial, with how to come
// there.
type NockingStop struct {
	Nocking unit.Length
	Words   string
}

// NockingPlan is a nocking-point trial by bare shaft: two readings 2 mm apart
// first, since they teach what a millimetre does on this bow; then the move, and
// a reading to confirm it.
type NockingPlan struct {
	Stops    []NockingStop
	Distance unit.Length
	// First are settings that must be looked at before the first arrow.
	First    []string
	Steps    []string
	Cautions []trial.Caution
	// Withheld says why there is no plan.
	Withheld string
}

// nockingApart is the distance between the two teaching readings.
const nockingApart = 2 * unit.Millimetre

// PlanNocking plans a nocking-point trial. up is where the bare shaft lands now,
// if somebody has looked, + high, so that the second reading goes the way that
// would mend it; without it the second stands 2 mm higher, where the rule holds
// on any rest (docs/theory/vertical.md).
func PlanNocking(s notebook.Settings, up *unit.Length) NockingPlan {
	p := NockingPlan{Distance: 18, Cautions: []trial.Caution{trial.BareShaftWide, trial.ClearRange, trial.InspectBow, trial.NoDryLoose, trial.RulesDecide}}
	if s.StringWalking {
		p.Withheld = stringWalking
		return p
	}
	first := s.NockingPoint.Value.Value
	if s.NockingPoint.Value.IsZero() {
		first = usualNocking
		p.First = append(p.First, "nocking_point.value")
	}
	var ask HeightAdvice
	ask.askFirst(s)
	p.First = append(p.First, ask.Ask...)
	second, word := first+nockingApart, "raise"
	if up != nil && *up < 0 {
		second, word = first-nockingApart, "lower"
	}
	mm := func(l unit.Length) string { return l.Format(unit.MM, 1, unit.Point) }
	p.Stops = []NockingStop{
		{first, "as it is: " + mm(first) + " on the square"},
		{second, word + " the nocking point by 2 mm, to " + mm(second) + " on the square"},
	}
	p.Steps = []string{
		"Tape the bare shafts' tails to the vanes' mass and balance.",
		"Powder the shaft's tail and the rest's wire; one shot; note clean or marked. Marked: stop here and mend the rest first.",
		"Three fletched and three numbered bare shafts at one aim.",
		"Move the nocking point by 2 mm, read the square, three settling shots, and the same again, powder too.",
		"Read the answer; move; shoot once more to confirm it.",
	}
	return p
}

// NockingShot is what was shot at one stop.
type NockingShot struct {
	Nocking unit.Length // the bow square's reading
	Bare    trial.BareShaftInput
}

// NockingVerdict answers a nocking-point trial.
type NockingVerdict struct {
	Stops  []trial.BareShaftVerdict
	Advice HeightAdvice
}

// DecideNocking reads the stops, in the order shot, and advises from the last.
func DecideNocking(ctx context.Context, s notebook.Settings, hand arrow.Hand, stops []NockingShot) (NockingVerdict, error) {
	var out NockingVerdict
	var readings []HeightReading
	for i, stop := range stops {
		v, err := trial.DecideBareShaft(stop.Bare)
		if err != nil {
			return out, understand(fmt.Errorf("stop %d: %w", i+1, err))
		}
		out.Stops = append(out.Stops, v)
		r := HeightReading{Nocking: stop.Nocking, Distance: stop.Bare.Distance, Up: v.Up.Value, Taped: stop.Bare.Taped || stop.Bare.MassEffect.Known()}
		if v.Up.Bounded() {
			r.Doubt = v.Up.Half() / 1.645
		}
		readings = append(readings, r)
	}
	var err error
	out.Advice, err = AdviseHeight(ctx, s, hand, readings)
	return out, err
}

// TillerPlan is a tiller trial by hold and by group. Bare shafts have no part in
// it.
type TillerPlan struct {
	Levels   []unit.Length // tillers, in the order of size
	Shooting trial.ShootingPlan
	// Hold says how to note how the bow holds.
	Hold string
	Why  string
}

// tillerApart is the distance between the levels: what limb bolts can be set to
// with some certainty, and enough to feel.
const tillerApart = 2 * unit.Millimetre

// PlanTiller plans three tillers around the present one, blocks visits each.
func PlanTiller(s notebook.Settings, blocks int, seed uint64) (TillerPlan, error) {
	middle := s.Tiller.Value
	if s.Tiller.IsZero() {
		middle = usualTiller
	}
	p := TillerPlan{
		Hold: "After each arrow at full draw, note how the sight stood: 1 wandered up and down … 5 stood. Note it before you look at the target.",
		Why:  noTiller + " At each tiller set the same brace height and the same nocking point on the square anew: the bolts move both, and the draw weight with them.",
	}
	var names []string
	for k := -1; k <= 1; k++ {
		l := middle + unit.Length(k)*tillerApart
		p.Levels = append(p.Levels, l)
		names = append(names, "tiller "+l.Format(unit.MM, 1, unit.Point))
	}
	kind, err := trial.SettingByKey("tiller")
	if err != nil {
		return p, understand(err)
	}
	p.Shooting, err = trial.PlanLevels(kind, names, blocks, trial.PlanCost{}, seed)
	return p, understand(err)
}

// TillerLevel is what was shot and felt at one tiller.
type TillerLevel struct {
	Tiller unit.Length
	Ends   trial.Sample
	Hold   []int // 1 wandered … 5 stood
}

// TillerVerdict answers a tiller trial.
type TillerVerdict struct {
	Group trial.LevelsVerdict
	// Hold are the mean notes, in the order of the levels, with their standard
	// errors; Steadiest is the level that stands out, −1 if none does.
	Hold      []HoldNote
	Steadiest int
	// Agreement says how hold and group stand to each other; empty where no
	// tiller held steadiest.
	Agreement Agreement
	Say       string
}

// Agreement of how a bow held with how it grouped.
type Agreement string

const (
	HoldAgrees   Agreement = "agrees"   // the tightest groups are plainly there too, or that way
	HoldAlone    Agreement = "alone"    // the groups do not tell the tillers apart
	HoldDisputed Agreement = "disputed" // the groups are plainly tighter at another tiller
)

// HoldNote is how the bow held at one tiller.
type HoldNote struct {
	Tiller     unit.Length
	Mean, Half float64 // 90 % half-width at the usual level; +Inf of fewer than six notes
	Notes      int
}

// DecideTiller answers by hold and by group, at a level of confidence; where they
// disagree, or neither tells, it says so.
func DecideTiller(levels []TillerLevel, level float64) (TillerVerdict, error) {
	out := TillerVerdict{Steadiest: -1}
	var shot []trial.SettingLevel
	for i, l := range levels {
		for _, h := range l.Hold {
			if h < 1 || h > 5 {
				return out, &notebook.Error{Code: notebook.Invalid, Field: fmt.Sprintf("/levels/%d/hold", i), Message: fmt.Sprintf("a hold of %d", h), Hint: "1 wandered … 5 stood"}
			}
		}
		shot = append(shot, trial.SettingLevel{At: l.Tiller.Millimetres(), Ends: l.Ends})
		out.Hold = append(out.Hold, holdOf(l, level))
	}
	var err error
	if out.Group, err = trial.DecideLevels(shot, level); err != nil {
		return out, understand(err)
	}
	out.Steadiest = steadiest(out.Hold)
	out.agree()
	out.speak()
	return out, nil
}

// holdOf is the mean note. Notes are few and coarse: the half-width takes no
// less than a fifth of a note.
func holdOf(l TillerLevel, level float64) HoldNote {
	n := HoldNote{Tiller: l.Tiller, Notes: len(l.Hold), Half: math.Inf(1)}
	for _, h := range l.Hold {
		n.Mean += float64(h) / float64(len(l.Hold))
	}
	if len(l.Hold) < 6 {
		return n
	}
	var v []float64
	for _, h := range l.Hold {
		v = append(v, float64(h))
	}
	n.Half = max(0.2, distuv.UnitNormal.Quantile(level)*deviation(v)/math.Sqrt(float64(len(v))))
	return n
}

// steadiest is the level whose note stands clear of every other's, −1 if none.
func steadiest(notes []HoldNote) int {
	best := 0
	for i, n := range notes {
		if n.Mean > notes[best].Mean {
			best = i
		}
	}
	for i, n := range notes {
		if i != best && !(notes[best].Mean-n.Mean > math.Hypot(notes[best].Half, n.Half)) {
			return -1
		}
	}
	return best
}

// holdWords says by the notes where it held steadiest.
func (v *TillerVerdict) holdWords() string {
	if v.Steadiest < 0 {
		return "The notes of how the bow held do not tell the tillers apart."
	}
	best := v.Hold[v.Steadiest]
	return fmt.Sprintf("It held steadiest at %s (%.1f of 5).", best.Tiller.Format(unit.MM, 1, unit.Point), best.Mean)
}

// speak joins both answers.
func (v *TillerVerdict) speak() {
	v.Say = v.holdWords() + " By group: " + v.Group.Text
	switch {
	case v.Agreement == HoldAgrees:
		v.Say += " Both agree."
	case v.Agreement == HoldAlone:
		v.Say += " Choose by the hold; the groups do not speak against it."
	case v.Agreement == HoldDisputed:
		v.Say += " They do not agree: keep the tiller you have, and repeat both on another day."
	case v.Group.Outcome != trial.BestInside:
		v.Say += " Cannot tell: keep the tiller you have."
	}
}

// agree compares the steadiest tiller with where the groups are tightest. Groups
// that tighten toward one end dispute every other tiller.
func (v *TillerVerdict) agree() {
	if v.Steadiest < 0 {
		return
	}
	switch g := v.Group; {
	case g.SpeaksAgainst(v.Hold[v.Steadiest].Tiller.Millimetres()):
		v.Agreement = HoldDisputed
	case g.Outcome == trial.BestInside || g.Outcome == trial.BestBeyond:
		v.Agreement = HoldAgrees
	default:
		v.Agreement = HoldAlone
	}
}
