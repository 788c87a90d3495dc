package workbench

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/num"
	"tautline/trial"
	"tautline/unit"
)

// TrialVerdict is the answer of a trial that is judged by where arrows hit or
// by feel. One of its parts is filled, by the kind.
type TrialVerdict struct {
	What    string `json:"what"`
	Outcome string `json:"outcome"` // machine-readable, by the kind
	Decided bool   `json:"decided"`
	Text    string `json:"text"` // the answer in a sentence or two
	// More is the arrows still to shoot before it can be told, a set-up, level
	// or visit; null: decided, or no number is sensible.
	More        *int          `json:"arrows_more"`
	Steps       int           `json:"steps_shot"`
	StepsOf     int           `json:"steps_planned"`
	Arrows      int           `json:"n_arrows"` // with a place, counted
	Next        string        `json:"next"`     // what to do
	Effects     []TrialEffect `json:"effects"`  // every size with its interval
	Curve       []CurveAt     `json:"curve"`    // spread against the setting, for a picture
	Assumptions []string      `json:"assumptions"`
	Warnings    []string      `json:"warnings"`
	WouldChange []string      `json:"would_change"`
	Cautions    []string      `json:"cautions"`
	// Inputs is the SHA-256 of everything the verdict was computed from.
	Inputs string `json:"inputs"`

	Comparison *CompareView `json:"comparison"` // of two set-ups shot in pairs
	// Decides says in numbers what was settled, for its standing; none while
	// it cannot be told.
	Decides []Decided `json:"decides,omitempty"`

	shots []NockingShot // of a nocking-point trial, for JudgeNocking
}

// TrialEffect is a size with its interval.
type TrialEffect struct {
	Name  string `json:"name"`  // machine-readable
	Label string `json:"label"` // in words
	Unit  string `json:"unit"`  // SI, or 1
	Text  string `json:"text"`
	Ranged
}

// CurveAt is a point of a picture: the spread at a setting.
type CurveAt struct {
	At    float64 `json:"at"`
	Label string  `json:"label"`
	Sigma Ranged  `json:"sigma_m"`
}

// JudgeAsk is what a verdict needs beside the plan.
type JudgeAsk struct {
	Ends       []notebook.End
	Readings   []notebook.Reading
	LeftHanded bool
	Style      unit.Style[unit.Length] // of places, for the sentences
	// SetUp is what was shot with; a bare shaft's lightness is predicted from
	// its arrow and taken off. Nil: nothing is taken off, and a warning says so.
	SetUp *notebook.Settings
}

// JudgeTrial gives the verdict on what has been shot so far. Few arrows are no
// error: the verdict then says what they cannot tell, and how many more it
// takes.
func JudgeTrial(p TrialPlan, ask JudgeAsk) (TrialVerdict, error) {
	j := judging{plan: p, ask: ask, at: make([]trial.Sample, len(p.Steps))}
	v := TrialVerdict{What: p.What, StepsOf: len(p.Steps), Effects: []TrialEffect{}, Curve: []CurveAt{}, Cautions: p.Cautions}
	var err error
	if v.Inputs, err = hashOf(p, ask.Ends, ask.Readings); err != nil {
		return v, err
	}
	j.gather(&v)
	switch p.What {
	case TwoTrial, ConfirmTrial:
		err = j.two(&v)
	case LevelsTrial:
		err = j.atWholePlans(&v, j.levels)
	case SettingsTrial:
		err = j.atWholePlans(&v, j.settings)
	case ShamTrial:
		err = j.sham(&v)
	case BareTrial:
		err = j.bare(&v)
	case WalkTrial:
		err = j.walk(&v)
	case NockingTrial:
		v.shots, err = j.nocking(&v)
	case TillerTrial:
		err = j.atWholePlans(&v, j.tiller)
	default:
		return v, &notebook.Error{Code: notebook.Damaged, Message: fmt.Sprintf("the plan is of an unknown kind, %q", p.What), Hint: "use a newer program"}
	}
	for _, list := range []*[]string{&v.Assumptions, &v.Warnings, &v.WouldChange, &v.Cautions} {
		*list = append([]string{}, *list...)
	}
	return v, understandGroup(err)
}

// judging holds what was shot, stop by stop.
type judging struct {
	plan TrialPlan
	ask  JudgeAsk
	at   []trial.Sample // fletched, placed, beside the plan's steps
	ends []notebook.End // standing, with a stop of the plan, oldest first

	// of a trial that is decided at its whole plan only, see atWholePlans
	whole   int              // times the plan is whole
	times   [][]trial.Sample // beside the steps: what was shot, time by time
	missing int              // arrows until the plan is whole for the first time
}

// gather sorts the ends by their stops.
func (j *judging) gather(v *TrialVerdict) {
	rings := 0
	for _, e := range StandingEnds(j.ask.Ends) {
		if e.Stop == nil || *e.Stop < 0 || *e.Stop >= len(j.at) {
			continue
		}
		j.ends = append(j.ends, e)
		var end trial.End
		for _, p := range e.Impacts {
			switch {
			case !p.Placed():
				rings++
			case p.Bare && j.plan.What != BareTrial && j.plan.What != NockingTrial:
			default:
				v.Arrows++
				if !p.Bare {
					end = append(end, trial.Point{Right: unit.Length(*p.X), Up: unit.Length(*p.Y)})
				}
			}
		}
		if len(end) > 0 {
			j.at[*e.Stop] = append(j.at[*e.Stop], end)
		}
	}
	for _, s := range j.at {
		if len(s) > 0 {
			v.Steps++
		}
	}
	if rings > 0 && j.plan.What != ShamTrial {
		v.Warnings = append(v.Warnings, fmt.Sprintf("%s without a place: a trial is judged by places", counted(rings, "arrow is", "arrows are")))
	}
}

// waiting is the verdict before anything can be judged.
func (v *TrialVerdict) waiting(text string, more int) {
	v.Outcome, v.Text = "cannot_tell", "Cannot tell yet: "+text
	if more > 0 {
		v.More = &more
	}
	v.Next = "shoot the next step of the plan"
}

// hasSpread reports whether a sample has a spread.
func hasSpread(s trial.Sample) bool { return s.DF() >= 2 && s.SumSquares() > 0 }

// two judges set-ups A and B: in pairs by the bet on the sign, in visits by
// the visits' own scatter.
func (j *judging) two(v *TrialVerdict) error {
	if j.plan.Kind == "visits" {
		return j.atWholePlans(v, j.visits)
	}
	var pairs []trial.Pair
	blocks := map[int][2]trial.Sample{}
	for i, s := range j.plan.Steps {
		b := blocks[s.Block]
		b[strings.Index("AB", s.Label)] = j.at[i]
		blocks[s.Block] = b
	}
	for _, b := range sortedInts(blocks) {
		pairs = append(pairs, pairsOf(blocks[b][0], blocks[b][1])...)
	}
	if len(pairs) == 0 {
		v.waiting("no pair of ends is complete.", j.plan.Ask.Arrows)
		return nil
	}
	c, err := comparePairs(pairs, "")
	if err != nil {
		return err
	}
	v.Comparison, v.Text, v.More = &c, c.Text, c.More
	v.decide(c.Verdict)
	v.Assumptions, v.Warnings, v.WouldChange = c.Assumptions, append(v.Warnings, c.Warnings...), c.WouldChange
	v.effect("sigma_ratio", "spread of A over spread of B", "1", c.Ratio, ratioText(c.Ratio))
	j.decideTwo(v, c.Ratio)
	return nil
}

// decide turns a winner into outcome and what to do.
func (v *TrialVerdict) decide(w trial.Winner) {
	switch w {
	case trial.ATighter:
		v.Outcome, v.Decided, v.Next = "a_tighter", true, "set the bow as A"
	case trial.BTighter:
		v.Outcome, v.Decided, v.Next = "b_tighter", true, "set the bow as B"
	default:
		v.Outcome, v.Next = "cannot_tell", "shoot more of the plan, today or another day; or keep what you have: no difference worth seeing may be there"
	}
}

func (v *TrialVerdict) effect(name, label, si string, r Ranged, text string) {
	v.Effects = append(v.Effects, TrialEffect{name, label, si, text, r})
}

func ratioText(r Ranged) string {
	switch {
	case r.Value == nil:
		return "not known"
	case r.Low == nil || r.High == nil:
		return fmt.Sprintf("%.2f, not bounded", *r.Value)
	}
	return fmt.Sprintf("%.2f (%.2f to %.2f)", *r.Value, *r.Low, *r.High)
}

func sortedInts[V any](m map[int]V) (keys []int) {
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// visits judges a setting that is slow to change.
func (j *judging) visits(v *TrialVerdict) error {
	var visits []trial.Visit
	for i, s := range j.plan.Steps {
		if hasSpread(j.at[i]) {
			y, _ := trial.LogSpread(j.at[i])
			visits = append(visits, trial.Visit{Setting: s.Label, Y: y})
		}
	}
	isA := func(x trial.Visit) bool { return x.Setting == "A" }
	if len(visits) < 4 || !slices.ContainsFunc(visits, isA) || !slices.ContainsFunc(visits, func(x trial.Visit) bool { return !isA(x) }) {
		v.waiting(fmt.Sprintf("%s of at least four are shot.", counted(len(visits), "visit")), max(1, j.missing))
		return nil
	}
	c, err := trial.CompareVisits(visits, j.confidence())
	if err != nil {
		return err
	}
	// B minus A in ln σ is the ratio A over B, turned round
	ratio := num.Estimate[float64]{Value: math.Exp(-c.Difference.Value), Low: math.Exp(-c.Difference.High), High: math.Exp(-c.Difference.Low)}
	winner := trial.CannotTellYet
	switch c.Verdict {
	case "B higher":
		winner = trial.ATighter
	case "B lower":
		winner = trial.BTighter
	}
	v.decide(winner)
	v.effect("sigma_ratio", "spread of A over spread of B", "1", ranged(ratio), ratioText(ranged(ratio)))
	j.decideTwo(v, ranged(ratio))
	v.effect("drift", "drift of the spread's logarithm per visit", "1", ranged(c.Drift), ratioText(ranged(c.Drift)))
	size := fmt.Sprintf("σ of A is %s times that of B", ratioText(ranged(ratio)))
	v.Text = winnerText(winner) + ": " + size + "."
	if !v.Decided {
		v.Text = j.withMore(v, v.Text, j.morePlans(c.Difference.Value, c.SE))
	}
	v.Assumptions = []string{"visits in turns A-B-B-A, the setting made anew at each; a steady drift is taken out", "the visits scatter normally; the arrows within a visit are no repeats of the setting"}
	v.Warnings = append(v.Warnings, c.Warnings...)
	v.WouldChange = []string{"more cycles of visits: with few the interval is wide whatever the arrows do"}
	j.atTheWhole(v, size)
	return nil
}

func winnerText(w trial.Winner) string {
	if w == trial.CannotTellYet {
		return "Cannot tell yet"
	}
	return string(w)
}

// withMore says how often the plan must be shot again to see a difference as
// large as the one seen.
func (j *judging) withMore(v *TrialVerdict, text string, plans int) string {
	if plans == 0 {
		return text
	}
	more := plans * *j.planAgain()
	v.More = &more
	return strings.TrimSuffix(text, ".") + fmt.Sprintf("; about %d more arrows, the plan shot %s, would show a difference of this size.", more, counted(plans, "more time"))
}

// levels judges one setting at several levels.
func (j *judging) levels(v *TrialVerdict) error {
	scale, err := readLevels(j.plan.Ask.Levels)
	if err != nil {
		return err
	}
	var list []trial.SettingLevel
	for k, text := range j.plan.Ask.Levels {
		var ends trial.Sample
		for i, s := range j.plan.Steps {
			if s.Label == text {
				ends = append(ends, j.at[i]...)
			}
		}
		if hasSpread(ends) {
			list = append(list, trial.SettingLevel{At: scale.at[k], Ends: ends})
		}
	}
	if len(list) < 3 {
		v.waiting(fmt.Sprintf("%s of at least three are shot.", counted(len(list), "level")), max(1, j.missing))
		return nil
	}
	d, err := trial.DecideLevels(list, j.confidence())
	if err != nil {
		return err
	}
	v.Outcome, v.Decided, v.Arrows = string(d.Outcome), d.Outcome == trial.BestInside || d.Outcome == trial.BestBeyond, d.Arrows
	if !v.Decided && d.More > 0 {
		v.More = j.levelsMore(d)
	}
	v.Text, v.Assumptions, v.Warnings, v.WouldChange = levelsText(d, scale, v.More), d.Assumptions, append(v.Warnings, d.Warnings...), d.WouldChange
	for _, l := range d.Levels {
		v.Curve = append(v.Curve, CurveAt{l.At, scale.print(l.At), ranged(l.Sigma)})
		v.effect("sigma", "spread at "+scale.print(l.At), "m", ranged(l.Sigma), j.lengthText(l.Sigma))
	}
	inside, best := d.Outcome == trial.BestInside, Ranged{}
	if inside { // what lies beyond the levels is not read off a parabola
		best = Ranged{finite(d.BestValue), finite(d.Best.Low), finite(d.Best.High)}
	}
	if key := cmp.Or(j.plan.Ask.Setting, "button"); inside {
		if _, in, ok := typedIn(key, j.plan.Ask.Levels); ok {
			j.decideSetting(v, key, in, num.Estimate[float64]{Value: d.BestValue, Low: d.Best.Low, High: d.Best.High, Level: d.Best.Level}, ownInterval)
		}
	}
	v.effect("best_setting", "setting with the least spread", "", best, d.Where(scale.print))
	v.Next = levelsNext(d)
	j.atTheWhole(v, "the best setting is "+d.Where(scale.print))
	return nil
}

func (j *judging) lengthText(m num.Estimate[float64]) string {
	e := num.Estimate[unit.Length]{Value: unit.Length(m.Value), Low: unit.Length(m.Low), High: unit.Length(m.High)}
	return fmt.Sprintf("%s (%s)", j.ask.Style.Print(e.Value), rangeOf(e, j.ask.Style))
}

// levelsMore is the arrows a level of whole further plans that would bound the
// best setting, at the level of the look after them.
func (j *judging) levelsMore(d trial.LevelsVerdict) *int {
	have := d.Arrows / len(d.Levels)
	plans := j.morePlans(need80(j.confidence())*math.Sqrt(float64(have)/float64(have+d.More)), 1)
	if plans == 0 {
		return nil
	}
	more := plans * j.plan.Ask.Rounds * j.plan.Ask.Arrows
	return &more
}

// levelsText says the verdict with the levels as they were typed.
func levelsText(d trial.LevelsVerdict, s levelScale, more *int) string {
	where := d.Where(s.print)
	switch d.Outcome {
	case trial.BestInside:
		return "The least spread lies inside the levels: " + where + "."
	case trial.BestBeyond:
		towards := d.High
		if d.Curve[1] > 0 {
			towards = d.Low
		}
		return "The spread falls toward " + s.print(towards) + ": look further that way. Best setting " + where + "."
	case trial.NoDifference:
		if d.PFlat < 1-num.Confidence {
			return fmt.Sprintf("Cannot tell yet: the levels differ with p %.3f, and this look, beyond the plan, decides at %.3g. Best setting %s.", d.PFlat, 1-d.Best.Level, where)
		}
		return fmt.Sprintf("No difference is seen between the levels (p %.2f): keep the setting that is easiest to repeat. Best setting %s.", d.PFlat, where)
	}
	text := "Cannot tell yet: the levels differ, and the best setting is " + where
	if more != nil {
		text += fmt.Sprintf("; about %d more arrows a level would bound it, if it bends as it seems", *more)
	}
	return text + "."
}

func levelsNext(d trial.LevelsVerdict) string {
	switch d.Outcome {
	case trial.BestInside:
		return "confirm the best setting against the present one, with a trial of its own"
	case trial.BestBeyond:
		return "plan three levels further that way"
	case trial.NoDifference:
		return "keep the setting, or look at another one"
	}
	return "shoot the whole plan once more, today or another day; or a plan whose levels reach further to the side that is not bounded"
}

// sham judges what is felt: pairs of equal settings, and the others.
func (j *judging) sham(v *TrialVerdict) error {
	feel := map[int]float64{}
	for _, r := range standing(j.ask.Readings) {
		if r.Kind == notebook.ReadFeel && r.Stop != nil {
			feel[*r.Stop] = r.Value
		}
	}
	var equal, other trial.Sham
	for i := 0; i+1 < len(j.plan.Steps); i += 2 {
		a, okA := feel[i]
		b, okB := feel[i+1]
		if !okA || !okB {
			continue
		}
		into := &other
		if j.plan.Steps[i].Label == j.plan.Steps[i+1].Label {
			into = &equal
		}
		into.Trials++
		if a != b {
			into.Differed++
		}
	}
	v.Steps = 2 * (equal.Trials + other.Trials)
	if equal.Trials == 0 {
		v.waiting("no equal pair has been felt yet; note a feel from 1 to 5 after each setting.", 0)
		return nil
	}
	e, err := trial.FalsePreference(equal)
	if err != nil {
		return err
	}
	v.Text, err = trial.FeelText(equal)
	v.effect("false_preference", "share of equal pairs felt to differ", "1", ranged(e), ratioText(ranged(e)))
	if other.Trials > 0 && err == nil {
		o, err := trial.FalsePreference(other)
		if err != nil {
			return err
		}
		v.effect("true_preference", "share of different pairs felt to differ", "1", ranged(o), ratioText(ranged(o)))
		p := fisherGreater(other, equal)
		if v.Decided = p < 0.05; v.Decided {
			v.Outcome, v.Next = "felt", "the change is felt; whether it groups better is another trial"
			v.Text += fmt.Sprintf(" Of %d different pairs %d were felt to differ: the change itself is felt (by chance alone in %s such trials, p %.3f).", other.Trials, other.Differed, num.InFifty(p), p)
		} else {
			v.Text += fmt.Sprintf(" Of %d different pairs %d were felt to differ: cannot tell yet whether the change is felt at all (by chance alone as many in %s such trials, p %.2f).", other.Trials, other.Differed, num.InFifty(p), p)
		}
	}
	if !v.Decided {
		v.Outcome, v.Next = "cannot_tell", "shoot more pairs, or take the feel for what it is: no evidence"
	}
	v.Assumptions = []string{"the archer did not see, hear or guess what was set", "every setting took equally long"}
	return err
}

// fisherGreater is Fisher's exact one-sided p that the different pairs are
// felt more often than the equal ones (hypergeometric tail).
func fisherGreater(other, equal trial.Sham) float64 {
	n1, n2, k := other.Trials, equal.Trials, other.Differed+equal.Differed
	ln := func(n, k int) float64 {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(k + 1))
		c, _ := math.Lgamma(float64(n - k + 1))
		return a - b - c
	}
	p := 0.0
	for x := other.Differed; x <= min(n1, k); x++ {
		if k-x <= n2 {
			p += math.Exp(ln(n1, x) + ln(n2, k-x) - ln(n1+n2, k))
		}
	}
	return min(p, 1)
}

// bare judges bare shafts against fletched arrows.
func (j *judging) bare(v *TrialVerdict) error {
	in := trial.BareShaftInput{Taped: j.plan.Ask.Taped, LeftHanded: j.ask.LeftHanded}
	for _, e := range j.ends {
		in.Distance = cmp.Or(e.Distance.Value, unit.Length(j.plan.Steps[*e.Stop].Distance))
		end := endWithBare(e)
		if len(end.Bare) > 0 && len(end.Fletched) > 0 {
			in.Ends = append(in.Ends, end)
		}
	}
	if len(in.Ends) == 0 {
		v.waiting("no end holds fletched and numbered bare arrows.", 6)
		return nil
	}
	if err := j.lighten(&in, v); err != nil {
		return err
	}
	d, err := trial.DecideBareShaft(in)
	if err != nil {
		return err
	}
	v.Outcome, v.Text, v.Next, v.Arrows = strings.ReplaceAll(d.Next, " ", "_"), d.Text, bareNext(d), d.Arrows
	v.Decided = d.Next == "height" || d.Next == "side" || d.Next == "nothing"
	v.effect("bare_minus_fletched_right", "bare less fletched, right positive", "m", ranged(d.Right), j.sideText(d.Right))
	v.decideQuantity(OfBare, "bare shafts against the fletched", in.Distance, num.Estimate[float64]{Value: float64(d.Right.Value), Low: float64(d.Right.Low), High: float64(d.Right.High), Level: d.Right.Level})
	v.effect("bare_minus_fletched_up", "bare less fletched, up positive", "m", ranged(d.Up), j.sideText(d.Up))
	for _, s := range d.Shafts {
		v.effect("shaft_right", fmt.Sprintf("shaft %s, right positive, %s", s.Shaft, counted(s.Shots, "shot")), "m", Ranged{Value: finite(float64(s.Right))}, j.ask.Style.Difference(s.Right))
		v.effect("shaft_up", fmt.Sprintf("shaft %s, up positive", s.Shaft), "m", Ranged{Value: finite(float64(s.Up))}, j.ask.Style.Difference(s.Up))
	}
	if !v.Decided {
		more := max(3-len(d.Shafts), 1) * (j.plan.Ask.Arrows + 1)
		v.More = &more
	}
	v.Assumptions, v.Warnings, v.WouldChange = d.Assumptions, append(v.Warnings, d.Warnings...), d.WouldChange
	return nil
}

// lighterDoubt is the doubt of what a bare shaft's lightness does, as a share
// of it: the vanes' mass is rarely weighed (± 20 %), and the bow's efficiency is
// known to ± 0.05, which moves its virtual mass by a quarter (both assumed).
const lighterDoubt = 0.35

// lighten has the effect of an untaped bare shaft's lightness taken off. An
// arrow that is not described well enough takes nothing off; the verdict then
// warns.
func (j *judging) lighten(in *trial.BareShaftInput, v *TrialVerdict) error {
	if in.Taped || j.ask.SetUp == nil {
		return nil
	}
	side, err := SidewaysFromSettings(*j.ask.SetUp, arrow.RightHanded) // the height is the same for either hand
	if err != nil {
		return nil // the arrow lacks a spine or a mass: no prediction, as the warning says
	}
	effect, err := lighter(side.Arrow, side.Air, in.Distance)
	if err != nil {
		return err
	}
	half := unit.Length(lighterDoubt * math.Abs(effect))
	at := unit.Length(effect)
	in.MassEffect = num.Estimate[unit.Length]{Value: at, Low: at - half, High: at + half, Level: trial.Confidence}
	v.Warnings = append(v.Warnings, fmt.Sprintf("the bare shafts were not taped: being lighter takes them about %s high at this distance, which is predicted and taken off with its doubt; tape their tails to equal mass and balance to be rid of it", j.ask.Style.Difference(at)))
	return nil
}

func endWithBare(e notebook.End) (out trial.BareEnd) {
	for _, p := range e.Impacts {
		if !p.Placed() {
			continue
		}
		at := trial.Point{Right: unit.Length(*p.X), Up: unit.Length(*p.Y)}
		if p.Bare {
			out.Bare = append(out.Bare, trial.BareShot{Shaft: p.Arrow, Point: at})
		} else {
			out.Fletched = append(out.Fletched, at)
		}
	}
	return out
}

func (j *judging) sideText(e num.Estimate[unit.Length]) string {
	if !e.Bounded() {
		return j.ask.Style.Difference(e.Value) + ", not bounded"
	}
	return fmt.Sprintf("%s (%s to %s)", j.ask.Style.Difference(e.Value), j.ask.Style.Difference(e.Low), j.ask.Style.Difference(e.High))
}

func bareNext(d trial.BareShaftVerdict) string {
	switch d.Next {
	case "height":
		return "settle the height first: the nocking point, half a millimetre to a millimetre at a time, then shoot the bare shafts again"
	case "side":
		return "the height stands; now the side: the button first, since it can be turned back; the bow's page ranks the changes by what else they move"
	case "nothing":
		return "nothing to do: the bare shafts fly with the fletched ones"
	case "more shafts":
		return "number one or two more bare shafts and shoot again: the interval is over shafts"
	}
	return "shoot more ends of the plan"
}

// walk judges a walk-back.
func (j *judging) walk(v *TrialVerdict) error {
	var shots []trial.WalkBackShot
	distances := map[unit.Length]bool{}
	for _, e := range j.ends {
		d := cmp.Or(e.Distance.Value, unit.Length(j.plan.Steps[*e.Stop].Distance))
		for _, p := range e.Impacts {
			if p.Placed() && !p.Bare {
				distances[d] = true
				shots = append(shots, trial.WalkBackShot{Distance: d, Right: unit.Length(*p.X)})
			}
		}
	}
	if len(distances) < 3 {
		v.waiting(fmt.Sprintf("%s of at least three are shot.", counted(len(distances), "distance")), j.plan.Ask.Arrows)
		return nil
	}
	d, err := trial.DecideWalkBack(shots, 0)
	if err != nil {
		return err
	}
	v.Outcome, v.Decided, v.Text, v.Arrows = string(d.Outcome), d.Outcome != trial.NotYet, d.Text, d.Arrows
	slant := Ranged{finite(float64(d.Slant.Value)), finite(float64(d.Slant.Low)), finite(float64(d.Slant.High))}
	v.effect("slant", "sideways drift with distance, right positive", "rad", slant, fmt.Sprintf("%+.1f cm in 10 m (%+.1f to %+.1f)", 1e3*float64(d.Slant.Value), 1e3*float64(d.Slant.Low), 1e3*float64(d.Slant.High)))
	reach := float64(slices.Max(slices.Collect(maps.Keys(distances))))
	v.decideQuantity(OfRight, "its slant, as far as it drifts on the way to the farthest face", unit.Length(reach), num.Estimate[float64]{
		Value: reach * float64(d.Slant.Value), Low: reach * float64(d.Slant.Low), High: reach * float64(d.Slant.High), Level: d.Slant.Level,
	})
	v.effect("offset", "where the line meets the archer, right positive", "m", ranged(d.Offset), j.sideText(d.Offset))
	v.effect("bend", "bend in the middle, right positive", "m", ranged(d.Bend), j.sideText(d.Bend))
	v.Assumptions, v.Warnings, v.WouldChange = d.Assumptions, append(v.Warnings, d.Warnings...), d.WouldChange
	switch d.Outcome {
	case trial.Slanted:
		v.Next = "first ask whether the bow was canted and the wind blew; then shoot a bare-shaft trial: this test cannot separate centre shot, button, sight pin and cant"
	case trial.Curved:
		v.Next = "perhaps crosswind: shoot it again on a still day"
	case trial.Upright:
		v.Next = "nothing to do"
	default:
		more := j.plan.Ask.Arrows * len(j.plan.Steps)
		v.More, v.Next = &more, "shoot the plan once more: arrows of both days count together"
	}
	return nil
}
