package workbench

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/num"
	"tautline/trial"
	"tautline/unit"
)

// FromSetUp fills in what a plan takes from the bow and the person left out:
// the two nocking points of a nocking-point trial, the three tillers of a
// tiller trial. Other kinds stay as they are.
func (a TrialAsk) FromSetUp(s notebook.Settings) (TrialAsk, error) {
	if err := a.check(); err != nil {
		return a, err
	}
	mm := func(l unit.Length) string { return l.Format(unit.MM, 1, unit.Point) }
	switch a.What {
	case NockingTrial:
		var up *unit.Length
		if a.BareLow {
			low := -unit.Centimetre
			up = &low
		}
		p := PlanNocking(s, up)
		if p.Withheld != "" {
			return a, &notebook.Error{Code: notebook.Invalid, Field: "/what", Message: "withheld: " + p.Withheld, Hint: "tune heights by where the groups land at that crawl"}
		}
		if len(a.Levels) == 0 {
			for _, stop := range p.Stops {
				a.Levels = append(a.Levels, mm(stop.Nocking))
			}
		}
		if len(a.First) == 0 {
			a.First = p.First
		}
	case TillerTrial:
		p, err := PlanTiller(s, max(1, cmp.Or(a.Rounds, tillerBlocks)), max(1, a.Seed))
		if err != nil {
			return a, fieldProblem("/rounds", err)
		}
		if len(a.Levels) == 0 {
			for _, l := range p.Levels {
				a.Levels = append(a.Levels, mm(l))
			}
		}
	}
	return a, nil
}

// tillerBlocks is how many visits each tiller gets: six notes of how the bow
// held are the fewest that have an interval.
const tillerBlocks = 6

// firstWords says what must be looked at before a height means anything.
var firstWords = map[string]string{
	"nocking_point.value": "read the nocking point on the square first: it is assumed",
	"rest.wire_reach":     "note first how far the rest's wire sticks out past the shaft's centre: without it the verdict only asks for it",
	"rest.powder_mark":    "do the powder check first and note it in the set-up: without it the verdict only asks for it",
}

// planNocking visits two nocking points about 2 mm apart, with bare shafts at
// each.
func (p *TrialPlan) planNocking() error {
	a := &p.Ask
	a.Shafts, a.Rounds, a.Distance = cmp.Or(a.Shafts, 3), cmp.Or(a.Rounds, 2), cmp.Or(a.Distance, "18 m")
	far, err := distance("/distance", a.Distance)
	if err != nil {
		return err
	}
	at, err := heightLevels(a.Levels, unit.NockingPoint)
	switch {
	case err != nil:
		return err
	case len(at) != 2 || abs(at[0]-at[1]) < calibrateApart || abs(at[0]-at[1]) > 4*unit.Millimetre:
		return &notebook.Error{Code: notebook.Invalid, Field: "/levels", Message: "two nocking points about 2 mm apart are needed", Hint: "like 10 mm and 12 mm; closer they teach nothing, wider the second may touch"}
	case a.Shafts < 3 || a.Shafts > 12:
		return &notebook.Error{Code: notebook.Invalid, Field: "/bare_shafts", Message: fmt.Sprintf("%d bare shafts cannot be told from one odd shaft", a.Shafts), Hint: "at least 3, each with a number"}
	case a.Rounds < 1 || a.Rounds > 20:
		return &notebook.Error{Code: notebook.Invalid, Field: "/rounds", Message: fmt.Sprintf("%d ends at each nocking point cannot be planned", a.Rounds), Hint: "2 are usual"}
	}
	fletched := p.cost(3).Arrows
	for k, level := range a.Levels {
		for i := range a.Rounds {
			p.nockingStep(k, i, level, fletched, far)
		}
	}
	p.Kind, p.Title = "nocking", fmt.Sprintf("Nocking point by bare shaft: %s at %s", strings.Join(a.Levels, ", then "), a.Distance)
	p.Needed = fmt.Sprintf("Two readings, each of %d ends with %d numbered bare shafts: together they teach what a millimetre does on your bow.", a.Rounds, a.Shafts)
	p.Why = "As it is first, then 2 mm away, where the bare shaft's height is read again: no order by chance, since the second reading is only worth shooting when the powder on the tail stays clean."
	p.CanSee = "How far to move the nocking point and what to expect; not a right height. Where the tail touches the rest it says so and moves nothing. " + noTiller
	p.Record = "at each nocking point powder the tail and the wire, one shot: marked means stop and mend the rest; then plot every arrow with the number on its shaft, and mark the bare ones"
	for _, key := range a.First {
		if words := firstWords[key]; words != "" {
			p.Warnings = append(p.Warnings, words)
		}
	}
	if !a.Taped {
		p.Warnings = append(p.Warnings, "a bare shaft is lighter than a fletched one and lands high for that alone: tape its tail to the vanes' mass and balance, or let the program subtract it")
	}
	p.cautions(trial.BareShaftWide, trial.ClearRange, trial.InspectBow, trial.NoDryLoose, trial.RulesDecide)
	return nil
}

// nockingStep adds one end at one nocking point.
func (p *TrialPlan) nockingStep(k, i int, level string, fletched int, far unit.Length) {
	step := TrialStep{Position: len(p.Steps), Block: k + 1, Label: level, Set: "leave as it is", Changed: i == 0, Arrows: fletched + p.Ask.Shafts, Distance: float64(far),
		Shoot: fmt.Sprintf("%d fletched and the %d bare shafts, in turns, one aim", fletched, p.Ask.Shafts)}
	if i == 0 {
		step.Settling, step.Set = 3, "nocking point to "+level+" on the square"
		step.Shoot = "powder the tail and the wire and look after the first of three settling shots; then " + step.Shoot
	}
	step.Minutes = (unit.Duration(step.Settling+step.Arrows) * p.arrowTime()).Minutes()
	p.Steps = append(p.Steps, step)
	p.Arrows, p.Minutes = p.Arrows+step.Settling+step.Arrows, p.Minutes+step.Minutes
}

// heightLevels reads typed heights of a few millimetres.
func heightLevels(levels []string, usual unit.Usual[unit.Length]) (at []unit.Length, err error) {
	for i, text := range levels {
		t, err := unit.Read(text, unit.Reading[unit.Length]{Field: "levels", Bare: unit.MM})
		if err != nil || !usual.Holds(t.Value) {
			return nil, &notebook.Error{Code: notebook.Invalid, Field: fmt.Sprintf("/levels/%d", i), Message: fmt.Sprintf("%q is no %s", text, usual.What), Hint: "in millimetres with the unit, like 10 mm"}
		}
		at = append(at, t.Value)
	}
	return at, nil
}

// planTiller visits three tillers in random blocks.
func (p *TrialPlan) planTiller() error {
	k, err := trial.SettingByKey("tiller")
	if err != nil {
		return err
	}
	p.Ask.Setting, p.Ask.Rounds = k.Key, cmp.Or(p.Ask.Rounds, tillerBlocks)
	if at, err := heightLevels(p.Ask.Levels, unit.Tiller); err != nil || len(at) < 3 {
		return cmp.Or(err, error(&notebook.Error{Code: notebook.Invalid, Field: "/levels", Message: "three tillers are needed", Hint: "like 1 mm, 3 mm and 5 mm"}))
	}
	s, err := trial.PlanLevels(k, p.Ask.Levels, p.Ask.Rounds, p.cost(6), p.Ask.Seed)
	if err != nil {
		return fieldProblem("/levels", err)
	}
	p.adopt(s, func(step trial.PlanStep) string {
		return "tiller to " + step.Label + "; the same brace height and nocking point on the square anew"
	})
	p.Kind, p.Title = "tiller", "Tiller by hold and group: "+strings.Join(p.Ask.Levels, ", ")
	p.Why += " The bolts move brace height, nocking point and draw weight too: measure all three anew each time."
	p.CanSee = noTiller + " " + p.CanSee
	p.Record = "after each end, before you look at the target, note how the sight stood at full draw, 1 wandered up and down to 5 stood; then plot every arrow"
	return p.need("a tiller")
}

// nocking gathers the bare shafts of each nocking point; the advice comes from
// JudgeNocking, which knows the bow.
func (j *judging) nocking(v *TrialVerdict) ([]NockingShot, error) {
	at, err := heightLevels(j.plan.Ask.Levels, unit.NockingPoint)
	if err != nil {
		return nil, err
	}
	var shots []NockingShot
	for k, level := range j.plan.Ask.Levels {
		in := trial.BareShaftInput{Taped: j.plan.Ask.Taped, LeftHanded: j.ask.LeftHanded}
		for _, e := range j.ends {
			step := j.plan.Steps[*e.Stop]
			if end := endWithBare(e); step.Label == level && len(end.Bare) > 0 && len(end.Fletched) > 0 {
				in.Distance = cmp.Or(e.Distance.Value, unit.Length(step.Distance))
				in.Ends = append(in.Ends, end)
			}
		}
		if len(in.Ends) == 0 {
			continue
		}
		d, err := trial.DecideBareShaft(in)
		if err != nil {
			return nil, err
		}
		v.effect("bare_minus_fletched_up", "bare less fletched at "+level+", up positive", "m", ranged(d.Up), j.sideText(d.Up))
		v.Assumptions = d.Assumptions
		shots = append(shots, NockingShot{Nocking: at[k], Bare: in})
	}
	if len(shots) == 0 {
		v.waiting("no end holds fletched and numbered bare arrows.", 6)
		return nil, nil
	}
	v.waiting("the bow is not known here.", 0)
	return shots, nil
}

// JudgeNocking gives the verdict of a nocking-point trial on the bow it was shot
// with. It takes about half a second; ctx stops it.
func JudgeNocking(ctx context.Context, p TrialPlan, ask JudgeAsk, s notebook.Settings, hand arrow.Hand) (TrialVerdict, error) {
	v, err := JudgeTrial(p, ask)
	if err != nil || v.shots == nil {
		return v, err
	}
	n, err := DecideNocking(ctx, s, hand, v.shots)
	if err != nil {
		return v, err
	}
	a := n.Advice
	v.Outcome, v.Text = strings.ReplaceAll(string(a.Act), " ", "_"), a.Say
	v.Decided = slices.Contains([]HeightAct{HeightMove, HeightLeave, HeightTouches}, a.Act)
	v.Next = nockingNext(a, len(v.shots))
	if a.PerMM.Value != 0 {
		v.effect("per_millimetre", "a millimetre higher moves the bare shaft, up positive", "m", spanned(a.PerMM), ask.Style.Difference(a.PerMM.Value))
	}
	v.decideNocking(a, n.Stops, v.shots)
	v.Warnings = append(v.Warnings, a.Notes...)
	v.WouldChange = []string{"another powder check: where the tail touches the rest no height can be believed", "the second reading 2 mm away, if it is not shot yet"}
	return v, nil
}

// decideNocking notes what a nocking-point trial settled: the nocking point to
// leave, or to move to where one move brings it there, as well as the last
// height read is known, by what a millimetre does. A move as far as one step
// allows is on the way, and settles nothing.
func (v *TrialVerdict) decideNocking(a HeightAdvice, stops []trial.BareShaftVerdict, shots []NockingShot) {
	last := len(stops) - 1
	settled := a.Act == HeightLeave || a.Act == HeightMove && math.Abs(float64(a.Move)) < float64(mostNockStep)-1e-9
	if last < 0 || !settled || a.PerMM.Value == 0 || !stops[last].Up.Bounded() {
		return
	}
	per := math.Abs(float64(a.PerMM.Value)) / float64(unit.Millimetre)
	best, half := float64(shots[last].Nocking+a.Move), float64(stops[last].Up.Half())/per
	v.Decides = append(v.Decides, Decided{
		Entry: "nocking_point.value", Quantity: OfBareUp, Distance: shots[last].Bare.Distance, Label: "nocking point by bare shaft", Unit: "m",
		Value: best, Low: best - half, High: best + half, Level: stops[last].Up.Level, From: "the bare shafts' height, by what a millimetre does",
	})
}

// spanned is a model's estimate as a verdict shows it.
func spanned(e Estimate[unit.Length]) Ranged {
	return Ranged{Value: finite(float64(e.Value)), Low: finite(float64(e.Low)), High: finite(float64(e.High))}
}

// nockingNext is what to do.
func nockingNext(a HeightAdvice, stops int) string {
	switch a.Act {
	case HeightMove:
		return "move the nocking point, make it the next set-up, and shoot the bare shafts once more to confirm it"
	case HeightLeave:
		return "leave the nocking point; now the side: a bare-shaft trial"
	case HeightTouches, HeightUntold:
		return "the powder check is the next reading; mend the rest before the nocking point"
	case HeightAsk:
		return "note wire and powder check in the bow's set-up, then read this verdict again"
	}
	if stops < 2 {
		return "shoot the next step of the plan"
	}
	return "shoot the bare shafts once more"
}

// tiller judges how the bow held and how it grouped.
func (j *judging) tiller(v *TrialVerdict) error {
	at, err := heightLevels(j.plan.Ask.Levels, unit.Tiller)
	if err != nil {
		return err
	}
	hold := map[int]int{}
	for _, r := range standing(j.ask.Readings) {
		if r.Kind == notebook.ReadFeel && r.Stop != nil {
			hold[*r.Stop] = int(r.Value)
		}
	}
	var levels []TillerLevel
	for k, text := range j.plan.Ask.Levels {
		l := TillerLevel{Tiller: at[k]}
		for i, s := range j.plan.Steps {
			if s.Label != text {
				continue
			}
			l.Ends = append(l.Ends, j.at[i]...)
			if h, ok := hold[i]; ok {
				l.Hold = append(l.Hold, h)
			}
		}
		if hasSpread(l.Ends) {
			levels = append(levels, l)
		}
	}
	if len(levels) < 3 {
		v.waiting(fmt.Sprintf("%s of at least three are shot.", counted(len(levels), "tiller")), max(1, j.missing))
		return nil
	}
	d, err := DecideTiller(levels, j.confidence())
	if err != nil {
		return err
	}
	v.tillerAnswer(j, d)
	j.atTheWhole(v, strings.TrimSuffix(d.holdWords(), ".")+". By group the best tiller is "+d.Group.Where(func(mm float64) string { return fmt.Sprintf("%.1f mm", mm) }))
	return nil
}

// tillerAnswer turns both answers into a verdict.
func (v *TrialVerdict) tillerAnswer(j *judging, d TillerVerdict) {
	inside := d.Group.Outcome == trial.BestInside
	v.Text, v.Outcome, v.Next = d.Say, "cannot_tell", "keep the tiller you have, or shoot the plan once more on another day"
	switch {
	case d.Agreement == HoldDisputed:
		v.Next = "keep the tiller you have, and shoot the whole plan once more on another day: hold and groups do not agree"
	case d.Steadiest >= 0:
		v.Outcome, v.Decided, v.Next = "held_steadiest", true, "set that tiller, make it the next set-up, and confirm it against the present one with a trial of its own"
	case inside:
		v.Outcome, v.Decided, v.Next = "best_inside", true, "confirm that tiller against the present one with a trial of its own"
	}
	switch {
	case !v.Decided:
	case d.Steadiest >= 0 && len(d.Group.Levels) > 1:
		best, half := float64(d.Hold[d.Steadiest].Tiller), math.Inf(1)
		for i, h := range d.Hold {
			if i != d.Steadiest {
				half = min(half, math.Abs(float64(h.Tiller)-best)/2)
			}
		}
		j.decideSetting(v, "tiller", "m", num.Estimate[float64]{Value: best, Low: best - half, High: best + half, Level: Share}, "half the way to the next tiller tried")
	case inside:
		mm := float64(unit.Millimetre)
		j.decideSetting(v, "tiller", "m", num.Estimate[float64]{Value: mm * d.Group.BestValue, Low: mm * d.Group.Best.Low, High: mm * d.Group.Best.High, Level: d.Group.Best.Level}, ownInterval)
	}
	for _, h := range d.Hold {
		note := Ranged{Value: finite(h.Mean), Low: finite(h.Mean - h.Half), High: finite(h.Mean + h.Half)}
		text := fmt.Sprintf("%.1f of 5 in %s", h.Mean, counted(h.Notes, "note"))
		if h.Notes == 0 {
			note, text = Ranged{}, "not noted"
		}
		v.effect("hold", "how it held at "+h.Tiller.Format(unit.MM, 1, unit.Point), "1", note, text)
	}
	for _, l := range d.Group.Levels {
		v.effect("sigma", fmt.Sprintf("spread at %.1f mm", l.At), "m", ranged(l.Sigma), j.lengthText(l.Sigma))
	}
	v.Assumptions = append(d.Group.Assumptions, "brace height and nocking point were the same at every tiller", "the hold was noted before the target was looked at")
	v.Warnings, v.WouldChange = append(v.Warnings, d.Group.Warnings...), d.Group.WouldChange
}
