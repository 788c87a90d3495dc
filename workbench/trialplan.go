package workbench

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"strings"

	"tautline/notebook"
	"tautline/trial"
	"tautline/unit"
)

// The kinds of trial, as a trial's record names them.
const (
	BraceTrial    = "brace height"
	BareTrial     = "bare shaft"
	WalkTrial     = "walk-back"
	TwoTrial      = "two set-ups"
	ShamTrial     = "sham"
	LevelsTrial   = "one setting"
	SettingsTrial = "settings"
	ConfirmTrial  = "confirm"
	NockingTrial  = "nocking point by bare shaft"
	TillerTrial   = "tiller by hold and group"
)

// ShootingTrials lists the kinds that are judged by where arrows hit or by
// feel, which this file plans.
var ShootingTrials = []string{BareTrial, WalkTrial, TwoTrial, ShamTrial, LevelsTrial, SettingsTrial, ConfirmTrial, NockingTrial, TillerTrial}

// TrialAsk is what a person decides of a trial. Zero fields take the defaults
// stated; fields that a kind does not use are ignored.
type TrialAsk struct {
	What    string `json:"what"`
	Setting string `json:"setting,omitempty"` // what differs, a key of trial.SettingKinds; default button
	A       string `json:"a,omitempty"`       // of two set-ups, in words or as typed: "3 turns"
	B       string `json:"b,omitempty"`
	// Levels of one setting, as typed: three, wide apart. Of a nocking-point trial
	// two, 2 mm apart, of a tiller trial three; both default to around the set-up's.
	Levels []string `json:"levels,omitempty"`
	// Settings are two or three at once, each with a low and a high end.
	Settings    []FactorAsk `json:"settings,omitempty"`
	FaceCentred bool        `json:"face_centred,omitempty"` // the second day's points too
	Centres     int         `json:"centres,omitempty"`      // default 3
	// Rounds are pairs of ends (default 12), cycles of four visits for slow
	// settings (3), blocks of a one-setting trial (6), repeats of a sham (8),
	// or ends of a bare-shaft test (4).
	Rounds       int      `json:"rounds,omitempty"`
	Arrows       int      `json:"arrows,omitempty"`         // per end; default 6, bare shaft, walk-back and sham 3
	ArrowMinutes float64  `json:"arrow_minutes,omitempty"`  // with walking and scoring; default 1
	Shafts       int      `json:"bare_shafts,omitempty"`    // numbered bare shafts; default 3, at least 3
	Taped        bool     `json:"taped,omitempty"`          // their tails taped to equal mass
	BareLow      bool     `json:"bare_low,omitempty"`       // nocking point: the bare shaft lands low now, so the second stop is lower
	First        []string `json:"look_first,omitempty"`     // nocking point: settings to look at first; as the set-up has them
	Distance     string   `json:"distance,omitempty"`       // as typed; bare shaft 18 m, else as you shoot
	Distances    []string `json:"distances,omitempty"`      // of a walk-back; default 10 to 30 m
	Reduction    float64  `json:"reduction_seen,omitempty"` // the smallest change worth seeing; default 0.2
	Seed         uint64   `json:"seed,omitempty"`           // of the random order
}

// FactorAsk is one of two or three settings.
type FactorAsk struct {
	Setting string `json:"setting"`
	Low     string `json:"low"`
	High    string `json:"high"`
}

// TrialPlan is a plan a person can follow at the range. It is stored with the
// trial, whole, so that the plan followed is the plan judged.
type TrialPlan struct {
	Version  int         `json:"version"` // 1
	What     string      `json:"what"`
	Kind     string      `json:"kind"` // pairs, visits, levels, factorial, face_centred, sham, bare_shaft, walk_back, nocking, tiller
	Ask      TrialAsk    `json:"ask"`
	Title    string      `json:"title"`
	Needed   string      `json:"arrows_needed"` // before shooting: what it would take
	Steps    []TrialStep `json:"steps"`         // in shooting order
	Arrows   int         `json:"arrows"`        // all shots, settling ones included
	Minutes  float64     `json:"minutes"`
	Why      string      `json:"why"`     // why in this order
	CanSee   string      `json:"can_see"` // what it can and cannot show
	Record   string      `json:"record"`  // what to write down
	Hidden   bool        `json:"hidden,omitempty"`
	Warnings []string    `json:"warnings"`
	Cautions []string    `json:"cautions"`
}

// TrialStep is one line of a plan. Its position, from 0, goes into ends,
// readings and events as stop.
type TrialStep struct {
	Position int       `json:"position"`
	Block    int       `json:"block"`
	Label    string    `json:"label"` // "A", "8 mm", "18 m"
	Set      string    `json:"set"`   // what to set, in words
	Shoot    string    `json:"shoot"` // what to shoot, in words
	Changed  bool      `json:"changed"`
	Settling int       `json:"settling_shots"`
	Arrows   int       `json:"arrows"` // counted
	Distance float64   `json:"distance_m,omitempty"`
	Coded    []float64 `json:"coded,omitempty"` // −1 low, 0 middle, +1 high
	Minutes  float64   `json:"minutes"`
}

// check refuses a number that is none, also where this kind of trial does not
// use it: the ask is kept with the plan.
func (a TrialAsk) check() error {
	for _, n := range []struct {
		field string
		value float64
	}{{"/arrow_minutes", a.ArrowMinutes}, {"/reduction_seen", a.Reduction}} {
		if math.IsNaN(n.value) || math.IsInf(n.value, 0) {
			return &notebook.Error{Code: notebook.Invalid, Field: n.field, Message: "it is not a number", Hint: "write a plain number, or leave it out"}
		}
	}
	return nil
}

// PlanTrial plans any trial but the brace height's, which needs the bow.
func PlanTrial(ask TrialAsk) (TrialPlan, error) {
	if err := ask.check(); err != nil {
		return TrialPlan{}, err
	}
	p := TrialPlan{Version: 1, What: ask.What, Ask: ask, Warnings: []string{}, Cautions: []string{}}
	var err error
	switch ask.What {
	case TwoTrial, ConfirmTrial:
		err = p.planTwo()
	case LevelsTrial:
		err = p.planLevels()
	case SettingsTrial:
		err = p.planSettings()
	case ShamTrial:
		err = p.planSham()
	case BareTrial:
		err = p.planBare()
	case WalkTrial:
		err = p.planWalk()
	case NockingTrial:
		err = p.planNocking()
	case TillerTrial:
		err = p.planTiller()
	default:
		return p, &notebook.Error{Code: notebook.Invalid, Field: "/what", Message: fmt.Sprintf("%q is not a kind of trial", ask.What), Hint: "one of " + BraceTrial + ", " + strings.Join(ShootingTrials, ", ")}
	}
	return p, understandGroup(err)
}

// setting gives the kind of setting asked for.
func (p *TrialPlan) setting() (trial.SettingKind, error) {
	k, err := trial.SettingByKey(cmp.Or(p.Ask.Setting, "button"))
	if err != nil {
		return k, fieldProblem("/setting", err)
	}
	return k, nil
}

// fieldProblem moves a refusal to a field of the ask.
func fieldProblem(field string, err error) error {
	err = understandGroup(err)
	for _, e := range problemsIn(err) {
		e.Field = field
		return &e
	}
	return err
}

func problemsIn(err error) notebook.Problems {
	switch e := err.(type) {
	case *notebook.Error:
		return notebook.Problems{*e}
	case notebook.Problems:
		return e
	}
	return nil
}

func (p *TrialPlan) cost(arrows int) trial.PlanCost {
	p.Ask.Arrows = cmp.Or(p.Ask.Arrows, arrows)
	return trial.PlanCost{Arrows: p.Ask.Arrows, ArrowTime: p.arrowTime()}
}

func (p *TrialPlan) arrowTime() unit.Duration {
	if !(p.Ask.ArrowMinutes > 0 && p.Ask.ArrowMinutes <= 30) {
		p.Ask.ArrowMinutes = 1
	}
	return unit.Duration(p.Ask.ArrowMinutes) * unit.Minute
}

var neededTwice = regexp.MustCompile(`To see a 20 % tighter group you need about [0-9]+ arrows a set-up; with`)

// adopt takes a plan of package trial over; set says in words what a label
// means.
func (p *TrialPlan) adopt(s trial.ShootingPlan, set func(trial.PlanStep) string) {
	p.Kind, p.Why, p.Arrows, p.Minutes = s.Kind, s.Why, s.Arrows, s.Time.Minutes()
	p.CanSee = neededTwice.ReplaceAllString(s.CanSee, "With") // Needed says it already
	p.Warnings = append(p.Warnings, s.Warnings...)
	for _, c := range s.Cautions {
		p.Cautions = append(p.Cautions, c.Text())
	}
	for i, step := range s.Steps {
		to := TrialStep{Position: i, Block: step.Block, Label: step.Label, Changed: step.Set, Settling: step.Settling, Arrows: step.Arrows, Coded: step.Coded,
			Minutes: step.Time.Minutes(), Set: "leave as it is", Shoot: shootText(step.Settling, step.Arrows)}
		if step.Set {
			to.Set = set(step)
		}
		p.Steps = append(p.Steps, to)
	}
	if !p.inPairs() {
		p.CanSee += toldWhole
	}
	p.Record = "plot every arrow of the end, or call its ring; settling shots are not plotted"
}

// toldWhole says of a plan of a fixed number of arrows when it is told.
const toldWhole = " It is told when the whole plan is shot: a look in between shows how it stands and decides nothing."

// inPairs reports whether two set-ups are quick to change, and so shot in pairs.
func (p *TrialPlan) inPairs() bool {
	k, err := p.setting()
	return err == nil && !k.Slow() && (p.What == TwoTrial || p.What == ConfirmTrial)
}

func shootText(settling, arrows int) string {
	text := fmt.Sprintf("an end of %d", arrows)
	if settling > 0 {
		return counted(settling, "settling shot") + ", then " + text
	}
	return text
}

// need says before shooting how many arrows a change worth seeing takes.
func (p *TrialPlan) need(unitOf string) error {
	p.Ask.Reduction = cmp.Or(p.Ask.Reduction, 0.2)
	n, err := trial.ArrowsNeeded(trial.SizeQuestion{Reduction: p.Ask.Reduction, Power: 0.8, EndSize: p.Ask.Arrows})
	if err != nil {
		return fieldProblem("/reduction_seen", err)
	}
	p.Needed = fmt.Sprintf("To see a %.0f %% tighter group four times in five you need about %d arrows %s, in ends of %d.", 100*p.Ask.Reduction, n, unitOf, p.Ask.Arrows)
	return nil
}

// names says what A and B are: "to 3 turns", or "as A".
func (p *TrialPlan) names() map[string]string {
	out := map[string]string{"A": "as A", "B": "as B"}
	for label, typed := range map[string]string{"A": p.Ask.A, "B": p.Ask.B} {
		if typed != "" {
			out[label] = "to " + typed
		}
	}
	return out
}

func (p *TrialPlan) planTwo() error {
	k, err := p.setting()
	if err != nil {
		return err
	}
	p.Ask.Setting = k.Key
	p.Ask.Rounds = cmp.Or(p.Ask.Rounds, map[bool]int{true: 3, false: 12}[k.Slow()])
	cost := p.cost(6)
	plan := trial.PlanTwo
	if p.What == ConfirmTrial {
		plan = trial.PlanConfirm
	}
	s, err := plan(k, p.Ask.Rounds, cost, p.Ask.Seed)
	if err != nil {
		return fieldProblem("/rounds", err)
	}
	names := p.names()
	p.adopt(s, func(step trial.PlanStep) string { return fmt.Sprintf("%s %s", k.Name, names[step.Label]) })
	if k.Slow() {
		p.Kind = "visits" // PlanConfirm calls itself confirm
	} else {
		p.Kind = "pairs"
	}
	p.Title = fmt.Sprintf("Two set-ups: %s %s against %s", k.Name, inTitle(names["A"], "A"), inTitle(names["B"], "B"))
	if p.What == ConfirmTrial {
		p.Title = fmt.Sprintf("Confirming: %s %s against %s", k.Name, inTitle(names["A"], "A, new"), inTitle(names["B"], "B, old"))
	}
	return p.need("a set-up")
}

// inTitle names one of two set-ups by what was typed, where something was.
func inTitle(name, which string) string {
	if to, typed := strings.CutPrefix(name, "to "); typed {
		return fmt.Sprintf("%s (%s)", to, which)
	}
	return which
}

func (p *TrialPlan) planLevels() error {
	k, err := p.setting()
	if err != nil {
		return err
	}
	p.Ask.Setting = k.Key
	if _, err := readLevels(p.Ask.Levels); err != nil {
		return err
	}
	p.Ask.Rounds = cmp.Or(p.Ask.Rounds, 6)
	s, err := trial.PlanLevels(k, p.Ask.Levels, p.Ask.Rounds, p.cost(6), p.Ask.Seed)
	if err != nil {
		return fieldProblem("/levels", err)
	}
	p.adopt(s, func(step trial.PlanStep) string { return fmt.Sprintf("%s to %s", k.Name, step.Label) })
	p.Title = fmt.Sprintf("One setting: %s at %s", k.Name, strings.Join(p.Ask.Levels, ", "))
	return p.need("a level")
}

func (p *TrialPlan) planSettings() error {
	var kinds []trial.SettingKind
	for i, f := range p.Ask.Settings {
		k, err := trial.SettingByKey(f.Setting)
		if err != nil {
			return fieldProblem(fmt.Sprintf("/settings/%d/setting", i), err)
		}
		if _, err := readLevels([]string{f.Low, f.High}); err != nil {
			return fieldProblem(fmt.Sprintf("/settings/%d", i), err)
		}
		kinds = append(kinds, k)
	}
	p.Ask.Centres = cmp.Or(p.Ask.Centres, 3)
	s, err := trial.PlanFactorial(kinds, p.Ask.FaceCentred, p.Ask.Centres, p.cost(6), p.Ask.Seed)
	if err != nil {
		return fieldProblem("/settings", err)
	}
	p.adopt(s, func(step trial.PlanStep) string { return p.factorText(kinds, step.Coded) })
	for i := range p.Steps {
		p.Steps[i].Label = p.factorText(kinds, p.Steps[i].Coded)
	}
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = k.Name
	}
	p.Title = "Settings together: " + strings.Join(names, ", ")
	p.Warnings = append(p.Warnings, "when the best point is found, confirm it against the present setting with a trial of its own: the best of several always looks better than it is")
	if err := p.need("at either end of a setting"); err != nil {
		return err
	}
	p.Needed += " That is with many combinations to judge by; shot once, a plan has few, and shows only larger effects."
	return nil
}

// factorText says a combination in words.
func (p *TrialPlan) factorText(kinds []trial.SettingKind, coded []float64) string {
	var parts []string
	for i, k := range kinds {
		f := p.Ask.Settings[i]
		to := f.Low
		switch coded[i] {
		case 0:
			to = f.middle()
		case 1:
			to = f.High
		}
		parts = append(parts, k.Name+" to "+to)
	}
	return strings.Join(parts, ", ")
}

// middle is halfway between the ends, in their unit.
func (f FactorAsk) middle() string {
	scale, err := readLevels([]string{f.Low, f.High})
	if err != nil {
		return "the middle"
	}
	return scale.print((scale.at[0] + scale.at[1]) / 2)
}

func (p *TrialPlan) planSham() error {
	k, err := p.setting()
	if err != nil {
		return err
	}
	p.Ask.Setting, p.Ask.Rounds = k.Key, cmp.Or(p.Ask.Rounds, 8)
	order, err := trial.PlanSham(p.Ask.Rounds, p.Ask.Seed)
	if err != nil {
		return fieldProblem("/rounds", err)
	}
	cost := p.cost(3)
	names := p.names()
	for i, pair := range order {
		for _, label := range pair {
			step := TrialStep{Position: len(p.Steps), Block: i + 1, Label: string(label), Changed: true, Settling: 0, Arrows: cost.Arrows,
				Set: fmt.Sprintf("helper, unseen: %s %s; handle the bow equally long each time", k.Name, names[string(label)]), Shoot: counted(cost.Arrows, "arrow"),
				Minutes: (k.Change + unit.Duration(cost.Arrows)*cost.ArrowTime).Minutes()}
			p.Steps = append(p.Steps, step)
			p.Arrows, p.Minutes = p.Arrows+step.Arrows, p.Minutes+step.Minutes
		}
	}
	p.Kind, p.Hidden, p.Title = "sham", true, fmt.Sprintf("Sham: is a change of the %s felt?", k.Name)
	equal := (p.Ask.Rounds + 1) / 2
	e, err := trial.FalsePreference(trial.Sham{Trials: equal, Differed: equal / 2})
	if err != nil {
		return err
	}
	p.Needed = fmt.Sprintf("Of %d pairs %d are equal. If half of these felt different, the rate would be known to lie between %.0f and %.0f %%; 20 equal pairs bring it to about ± 23 %%.", p.Ask.Rounds, equal, 100*e.Low, 100*e.High)
	p.Why = "A helper sets each pair, half of them twice the same, in random order, and the archer does not look: only then does a felt difference say anything."
	p.CanSee = "It shows how often you feel a difference where there is none. It does not show which setting groups better."
	p.Record = "after each setting the archer notes the feel, 1 harsh to 5 sweet; two different notes in a pair are a felt difference"
	p.cautions(trial.NoDryLoose, trial.InspectBow, trial.RulesDecide)
	return nil
}

func (p *TrialPlan) cautions(list ...trial.Caution) {
	for _, c := range list {
		p.Cautions = append(p.Cautions, c.Text())
	}
}

// distance reads a typed distance.
func distance(field, text string) (unit.Length, error) {
	d, err := unit.Read(text, unit.Reading[unit.Length]{Field: "distance", Bare: unit.M})
	if err != nil {
		return 0, &notebook.Error{Code: notebook.Invalid, Field: field, Message: err.Error()}
	}
	if !(d.Value >= 2 && d.Value <= 120) {
		return 0, &notebook.Error{Code: notebook.Invalid, Field: field, Message: text + " is outside 2 to 120 m", Hint: "18 m is usual"}
	}
	return d.Value, nil
}

func (p *TrialPlan) planBare() error {
	a := &p.Ask
	a.Shafts, a.Rounds, a.Distance = cmp.Or(a.Shafts, 3), cmp.Or(a.Rounds, 4), cmp.Or(a.Distance, "18 m")
	far, err := distance("/distance", a.Distance)
	if err != nil {
		return err
	}
	if a.Shafts < 3 || a.Shafts > 12 {
		return &notebook.Error{Code: notebook.Invalid, Field: "/bare_shafts", Message: fmt.Sprintf("%d bare shafts cannot be told from one odd shaft", a.Shafts), Hint: "at least 3, each with a number; 4 are better"}
	}
	if a.Rounds < 1 || a.Rounds > 60 {
		return &notebook.Error{Code: notebook.Invalid, Field: "/rounds", Message: fmt.Sprintf("%d ends cannot be planned", a.Rounds), Hint: "4 are usual"}
	}
	fletched := p.cost(3).Arrows
	for i := range a.Rounds {
		p.Steps = append(p.Steps, TrialStep{Position: i, Block: 1, Label: fmt.Sprintf("end %d", i+1), Set: "nothing", Arrows: fletched + a.Shafts, Distance: float64(far),
			Shoot: fmt.Sprintf("%d fletched and the %d bare shafts, in turns, one aim", fletched, a.Shafts), Minutes: (unit.Duration(fletched+a.Shafts) * p.arrowTime()).Minutes()})
		p.Arrows, p.Minutes = p.Arrows+fletched+a.Shafts, p.Minutes+p.Steps[i].Minutes
	}
	p.Kind, p.Title = "bare_shaft", fmt.Sprintf("Bare shaft at %s with %d numbered shafts", a.Distance, a.Shafts)
	t := trialT(float64(a.Shafts - 1))
	p.Needed = fmt.Sprintf("The interval is over shafts: with %d it reaches ± %.1f times what one shaft differs from the next; with 6 it would be ± %.1f times. More ends with the same shafts do not replace shafts.",
		a.Shafts, t/math.Sqrt(float64(a.Shafts)), trialT(5)/math.Sqrt(6))
	p.Why = "Fletched and bare arrows share each end, so that the archer's aim of that end cancels."
	p.CanSee = "Settle the height first (nocking point, a bare shaft that hits high or low), then the side. It shows that the arrow does not leave straight, not why."
	p.Record = "plot every arrow with the number on its shaft, and mark the bare ones"
	if !a.Taped {
		p.Warnings = append(p.Warnings, "a bare shaft is lighter than a fletched one and hits a little differently for that alone: tape its tail to equal mass; else the program predicts the difference from your arrow and takes it off, with more doubt")
	}
	p.cautions(trial.BareShaftWide, trial.ClearRange, trial.NoDryLoose, trial.InspectBow, trial.RulesDecide)
	return nil
}

func (p *TrialPlan) planWalk() error {
	a := &p.Ask
	if len(a.Distances) == 0 {
		a.Distances = []string{"10 m", "15 m", "20 m", "25 m", "30 m"}
	}
	if len(a.Distances) < 3 || len(a.Distances) > 20 {
		return &notebook.Error{Code: notebook.Invalid, Field: "/distances", Message: fmt.Sprintf("%d distances do not show a line", len(a.Distances)), Hint: "4 to 6, from 10 to 30 m"}
	}
	cost := p.cost(3)
	var ones, inverse, squares float64
	for i, text := range a.Distances {
		d, err := distance(fmt.Sprintf("/distances/%d", i), text)
		if err != nil {
			return err
		}
		step := TrialStep{Position: i, Block: 1, Label: text, Set: "walk to " + text + "; sight, aim and bow unchanged", Shoot: counted(cost.Arrows, "arrow") + ", all at the same mark",
			Arrows: cost.Arrows, Distance: float64(d), Minutes: (unit.Minute + unit.Duration(cost.Arrows)*cost.ArrowTime).Minutes()}
		p.Steps = append(p.Steps, step)
		p.Arrows, p.Minutes = p.Arrows+step.Arrows, p.Minutes+step.Minutes
		n := float64(cost.Arrows)
		ones, inverse, squares = ones+n, inverse+n/float64(d), squares+n/float64(d*d)
	}
	spread := ones - inverse*inverse/squares
	if !(spread > 1e-6*ones) {
		return &notebook.Error{Code: notebook.Invalid, Field: "/distances", Message: "the distances are all the same", Hint: "4 to 6, from 10 to 30 m"}
	}
	p.Kind, p.Title = "walk_back", "Walk-back: "+strings.Join(a.Distances, ", ")
	// an archer's arrows scatter by about 1.5 mrad sideways (assumed)
	p.Needed = fmt.Sprintf("If your arrows scatter by 1.5 cm in 10 m, these %d show a slant of %.1f cm in 10 m four times in five.", p.Arrows, 2.8*1.5/math.Sqrt(spread))
	p.Why = "Aim at one mark near the top and keep the sight where it is: the arrows fall lower with distance and draw a line on the paper. Nearest first, so that no arrow is lost."
	p.CanSee = "Straight and upright: nothing to do. Slanted: centre shot, button, sight pin or a canted bow, which this test cannot separate. Curved: perhaps crosswind."
	p.Record = "plot each distance's arrows from the vertical line through the mark (x right); note wind and whether the bow was held upright"
	p.cautions(trial.ClearRange, trial.NoDryLoose, trial.InspectBow, trial.RulesDecide)
	return nil
}
