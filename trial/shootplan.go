package trial

import (
	"fmt"
	"math"
	"math/rand/v2"

	"tautline/unit"
)

// SettingKind says what changing a setting costs. Common practice, editable.
type SettingKind struct {
	Key      string        // "button"
	Name     string        // as in a sentence
	Change   unit.Duration // per change
	Settling int           // shots before any counts
}

// SettingKinds lists the settings with their usual costs (common practice, no
// source). The button's spring and the rest settle at once; string and limbs
// need three shots.
func SettingKinds() []SettingKind {
	return []SettingKind{
		{"button", "button", 0.5 * unit.Minute, 1},
		{"rest_height", "rest height", 2 * unit.Minute, 1},
		{"centre_shot", "centre shot", 2 * unit.Minute, 1},
		{"nocking_point", "nocking point", 3 * unit.Minute, 3},
		{"brace_height", "brace height", 5 * unit.Minute, 3},
		{"tiller", "tiller", 10 * unit.Minute, 3},
	}
}

// SettingByKey finds one of SettingKinds.
func SettingByKey(key string) (SettingKind, error) {
	for _, k := range SettingKinds() {
		if k.Key == key {
			return k, nil
		}
	}
	return SettingKind{}, bad("setting", "button, rest_height, centre_shot, nocking_point, brace_height or tiller", "%q is not a setting with a known cost", key)
}

// Slow reports whether a change is too slow for coin tosses end by end: such
// settings are shot as A-B-B-A visits, and the visit is the unit.
func (k SettingKind) Slow() bool { return k.Change >= 3*unit.Minute }

// PlanStep is one line of a plan: set, settle, shoot.
type PlanStep struct {
	Number   int
	Block    int
	Label    string    // "A", "B", or the level's name
	Coded    []float64 // coded settings of a factorial; nil otherwise
	Set      bool      // the setting is made anew here
	Settling int
	Arrows   int
	Time     unit.Duration
}

// ShootingPlan is a plan a person can follow at the range.
type ShootingPlan struct {
	Kind     string // "pairs", "visits", "levels", "factorial", "face_centred", "confirm"
	Steps    []PlanStep
	Time     unit.Duration
	Arrows   int
	Why      string // why in this order
	CanSee   string // what so many arrows can and cannot show
	Warnings []string
	Cautions []Caution
}

// PlanCost is what shooting costs beside the changes.
type PlanCost struct {
	Arrows    int           // counted arrows per end or visit, default 6
	ArrowTime unit.Duration // per arrow with walking and scoring, default 1 min (common practice)
}

func (c PlanCost) withDefaults() PlanCost {
	if c.Arrows == 0 {
		c.Arrows = 6
	}
	if c.ArrowTime == 0 {
		c.ArrowTime = unit.Minute
	}
	return c
}

func (c PlanCost) check() error {
	if c.Arrows < 2 || c.Arrows > 24 {
		return bad("arrows", "3 or 6 arrows an end are usual", "%d arrows an end have no use here", c.Arrows)
	}
	if !(c.ArrowTime > 0 && c.ArrowTime <= longestWait) {
		return bad("arrow time", "one minute with walking and scoring is usual", "%g s for an arrow cannot be planned", c.ArrowTime.Seconds())
	}
	return nil
}

// longestWait is the most time that one arrow or one change may take: a day.
const longestWait = 24 * 60 * unit.Minute

// check refuses a cost that no plan can add up.
func (k SettingKind) check() error {
	if !(k.Change >= 0 && k.Change <= longestWait) || k.Settling < 0 || k.Settling > 100 {
		return bad("setting", "between half a minute and ten minutes, and one to three settling shots, are usual", "a change of %g s with %d settling shots cannot be planned", k.Change.Seconds(), k.Settling)
	}
	return nil
}

// canPlan checks what every plan takes.
func canPlan(cost PlanCost, kinds ...SettingKind) error {
	for _, k := range kinds {
		if err := k.check(); err != nil {
			return err
		}
	}
	return cost.check()
}

// add appends a step and its time.
func (p *ShootingPlan) add(block int, label string, coded []float64, k SettingKind, set bool, c PlanCost) {
	s := PlanStep{Number: len(p.Steps) + 1, Block: block, Label: label, Coded: coded, Set: set, Arrows: c.Arrows}
	if set {
		s.Settling, s.Time = k.Settling, k.Change
	}
	s.Time += unit.Duration(s.Settling+s.Arrows) * c.ArrowTime
	p.Steps, p.Time, p.Arrows = append(p.Steps, s), p.Time+s.Time, p.Arrows+s.Settling+s.Arrows
}

// PlanTwo plans a comparison of two set-ups: paired ends in coin-tossed order
// for quick settings; for slow ones A-B-B-A or B-A-A-B visits, by coin, the
// setting made anew at every visit. pairs counts pairs of ends, or cycles of
// four visits.
func PlanTwo(k SettingKind, pairs int, cost PlanCost, seed uint64) (ShootingPlan, error) {
	cost = cost.withDefaults()
	if err := canPlan(cost, k); err != nil {
		return ShootingPlan{}, err
	}
	if pairs < 1 || pairs > 200 {
		return ShootingPlan{}, bad("pairs", "6 to 24 pairs, or 2 to 4 cycles of visits, are usual", "%d cannot be planned", pairs)
	}
	rng := rand.New(rand.NewPCG(seed, 0x9a12))
	p := ShootingPlan{Kind: "pairs", Cautions: cautionsFor(k)}
	p.Why = "The order within every pair is a coin toss: if the two set-ups are equal, so is the chance of either being tighter, whatever wind and form do."
	orders := [2]string{"AB", "BA"}
	if k.Slow() {
		p.Kind, orders = "visits", [2]string{"ABBA", "BAAB"}
		p.Why = fmt.Sprintf("Changing the %s takes %.0f min, too long for coin tosses end by end. Visits in the order A-B-B-A cancel a steady drift; the visit is the unit, so the setting is made anew each time.", k.Name, k.Change.Minutes())
		if pairs < 2 {
			p.Warnings = append(p.Warnings, "four visits leave one degree of freedom: two cycles are the least that can tell anything")
		}
	}
	last := ""
	for b := range pairs {
		for _, label := range orders[rng.IntN(2)] {
			set := string(label) != last || k.Slow()
			p.add(b+1, string(label), nil, k, set, cost)
			last = string(label)
		}
	}
	per := pairs * cost.Arrows
	if k.Slow() {
		per *= 2
	}
	p.CanSee = CanSeeText(per, cost.Arrows)
	return p, nil
}

// CanSeeText says before shooting what n arrows a set-up can and cannot show.
func CanSeeText(n, endSize int) string {
	need, err := ArrowsNeeded(SizeQuestion{Reduction: 0.2, Power: 0.8, EndSize: endSize})
	if err != nil {
		return ""
	}
	counted := n
	if endSize > 1 { // an end's own centre costs one arrow
		counted = n/endSize*(endSize-1) + 1
	}
	return fmt.Sprintf("To see a 20 %% tighter group you need about %d arrows a set-up; with %d you can only see %.0f %%.", need, n, 100*SmallestReduction(max(counted, 2), 0.8))
}

// PlanLevels plans a trial of one setting at several levels: every block
// visits every level once, in random order.
func PlanLevels(k SettingKind, levels []string, blocks int, cost PlanCost, seed uint64) (ShootingPlan, error) {
	cost = cost.withDefaults()
	if err := canPlan(cost, k); err != nil {
		return ShootingPlan{}, err
	}
	if len(levels) < 3 || len(levels) > 9 || blocks < 1 || blocks > 200 {
		return ShootingPlan{}, bad("levels", "three levels, wide apart, in six blocks of six arrows are usual", "%d levels in %d blocks cannot be planned", len(levels), blocks)
	}
	rng := rand.New(rand.NewPCG(seed, 0x1e7e))
	p := ShootingPlan{Kind: "levels", Cautions: cautionsFor(k), Why: "Every block visits every level once in random order, so that day, wind and tiredness fall on all levels alike. Few wide levels beat many close ones."}
	last := -1
	for b := range blocks {
		for _, i := range rng.Perm(len(levels)) {
			p.add(b+1, levels[i], nil, k, i != last || k.Slow(), cost)
			last = i
		}
	}
	n := blocks * cost.Arrows
	p.CanSee = fmt.Sprintf("With %d arrows at each of %d levels the best setting is usually bounded only if the spread grows by about a half from the middle to the ends; \"not bounded\" is a normal answer.", n, len(levels))
	if n < 36 {
		p.Warnings = append(p.Warnings, fmt.Sprintf("%d arrows a level; 36 are the least that usually tell anything", n))
	}
	if k.Slow() {
		p.Warnings = append(p.Warnings, fmt.Sprintf("the %s is slow to change: %d changes take %.0f min; shoot larger blocks on several days", k.Name, len(p.Steps), float64(len(p.Steps))*k.Change.Minutes()))
	}
	return p, nil
}

// PlanFactorial plans two or three settings at once: a two-level factorial with
// centre points in block 1 and, with faces, the face-centred points with the
// same centre points in block 2. Order is random within each block. A step's
// time is the sum of the settings that change.
func PlanFactorial(kinds []SettingKind, faces bool, centres int, cost PlanCost, seed uint64) (ShootingPlan, error) {
	cost = cost.withDefaults()
	if err := canPlan(cost, kinds...); err != nil {
		return ShootingPlan{}, err
	}
	if len(kinds) < 2 || len(kinds) > 3 || centres < 0 || centres > 12 {
		return ShootingPlan{}, bad("settings", "two or three settings with three centre points are usual", "%d settings with %d centre points cannot be planned", len(kinds), centres)
	}
	rng := rand.New(rand.NewPCG(seed, 0xfac7))
	p := ShootingPlan{Kind: "factorial", Why: "Corners show every setting's effect and whether they work on each other; the centre shows whether the surface bends. Order is random within a block."}
	if faces {
		p.Kind = "face_centred"
	}
	last := make([]float64, len(kinds))
	for i := range last {
		last[i] = math.NaN()
	}
	for b, points := range factorialBlocks(len(kinds), faces, centres) {
		for _, i := range rng.Perm(len(points)) {
			p.addPoint(b+1, points[i], last, kinds, cost)
			copy(last, points[i])
		}
	}
	for _, k := range kinds {
		for _, c := range cautionsFor(k) {
			p.caution(c)
		}
	}
	p.CanSee = factorialSees(len(kinds), len(p.Steps), faces, cost.Arrows)
	return p, nil
}

// addPoint appends a combination; only settings that differ are changed.
func (p *ShootingPlan) addPoint(block int, x, last []float64, kinds []SettingKind, cost PlanCost) {
	change, label := SettingKind{}, ""
	for i, k := range kinds {
		if x[i] != last[i] {
			change.Change += k.Change
			change.Settling = max(change.Settling, k.Settling)
		}
		if i > 0 {
			label += ", "
		}
		label += k.Name + " " + map[float64]string{-1: "low", 0: "middle", 1: "high"}[x[i]]
	}
	p.add(block, label, x, change, change.Change > 0, cost)
}

func factorialBlocks(k int, faces bool, centres int) [][][]float64 {
	var corners, face, centre [][]float64
	for at := range 1 << k {
		x := make([]float64, k)
		for i := range x {
			x[i] = float64(2*(at>>i&1) - 1)
		}
		corners = append(corners, x)
	}
	for i := range k {
		for _, side := range []float64{-1, 1} {
			x := make([]float64, k)
			x[i] = side
			face = append(face, x)
		}
	}
	for range centres {
		centre = append(centre, make([]float64, k))
	}
	blocks := [][][]float64{append(corners, centre...)}
	if faces {
		blocks = append(blocks, append(face, centre...))
	}
	return blocks
}

// PlanConfirm plans the pair that confirms a best setting against the old one:
// an estimated optimum is only an estimate (NIST e-Handbook 5.5.3.1).
func PlanConfirm(k SettingKind, pairs int, cost PlanCost, seed uint64) (ShootingPlan, error) {
	p, err := PlanTwo(k, pairs, cost, seed)
	p.Kind = "confirm"
	p.Why = "A is the new setting, B the old one. The best of several settings always looks better than it is; this pair was not used to choose it. " + p.Why
	return p, err
}

// PlanSham plans equal settings for a helper: half of the repeats are A/A. The
// archer does not see what was set.
func PlanSham(repeats int, seed uint64) ([]string, error) {
	if repeats < 2 || repeats > 60 {
		return nil, bad("repeats", "6 to 12 repeats are usual", "%d cannot be planned", repeats)
	}
	rng := rand.New(rand.NewPCG(seed, 0x5a4a))
	var list []string
	for i := range repeats {
		switch {
		case i%2 == 0:
			list = append(list, []string{"AA", "BB"}[rng.IntN(2)])
		default:
			list = append(list, []string{"AB", "BA"}[rng.IntN(2)])
		}
	}
	rng.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
	return list, nil
}

func cautionsFor(k SettingKind) []Caution {
	list := []Caution{NoDryLoose, InspectBow, RulesDecide}
	switch k.Key {
	case "brace_height", "tiller":
		list = append([]Caution{UseStringer, StayInRange}, list...)
	}
	return list
}

func (p *ShootingPlan) caution(c Caution) {
	for _, have := range p.Cautions {
		if have == c {
			return
		}
	}
	p.Cautions = append(p.Cautions, c)
}
