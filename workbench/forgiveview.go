package workbench

import (
	"context"
	"fmt"
	"math"
	"strings"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/shot"
	"tautline/unit"
)

// ForgiveRow is the spread at 70 m at one brace height with nothing else
// changed.
type ForgiveRow struct {
	BraceHeight float64 `json:"brace_height_m"`
	// Sideways is the standard deviation at the target, sideways, with the
	// resolved string; Lumped the same with the other model of the string.
	Sideways float64 `json:"sigma_horizontal_m"`
	Lumped   float64 `json:"sigma_horizontal_lumped_string_m"`
	// Vertical is null, for the reason given.
	Vertical       *float64 `json:"sigma_vertical_m"`
	VerticalReason string   `json:"sigma_vertical_reason"`
	// BySource adds up in squares to Sideways.
	BySource map[string]float64 `json:"by_source"`
}

// verticalReason says why no height is given.
const verticalReason = "not modelled yet: the string's vertical plane, two different limbs and the nocking point are not in the shot"

// ForgiveChange compares two brace heights under one treatment, over plausible
// bows, buttons and releases, without the aim, which a brace height cannot
// change.
type ForgiveChange struct {
	Treatment Treatment `json:"treatment"`
	// Change of the spread in per cent, by string model.
	Resolved Estimate[float64] `json:"change_resolved_percent"`
	Lumped   Estimate[float64] `json:"change_lumped_percent"`
	// Retuned is the share of plausible set-ups that could be re-tuned with
	// both string models. Below half nothing else is given.
	Retuned float64 `json:"retuned_ratio"`
	// Sign is +1 or −1 where both models agree on it in 80 % of the set-ups
	// that could be re-tuned, else 0: cannot tell.
	Sign     int     `json:"sign"`
	Agree    float64 `json:"agree_ratio"`
	Sentence string  `json:"sentence"`
	// BySource is the same for each source but the aim; nil where nothing was
	// given.
	BySource map[string]SourceChange `json:"by_source_change"`
}

// SourceChange is how much more or less one source moves the arrow.
type SourceChange struct {
	Resolved float64 `json:"resolved_percent"` // of the middle set-up
	Lumped   float64 `json:"lumped_percent"`
	Sign     int     `json:"sign"` // as in ForgiveChange
}

// Forgiveness answers what a brace height forgives.
type Forgiveness struct {
	Rows    []ForgiveRow    `json:"heights"`
	From    float64         `json:"from_m"`
	To      float64         `json:"to_m"`
	Changes []ForgiveChange `json:"changes"`
	// Ghosts is the spread of shots with all errors at once over that of the
	// linear map on the same errors, at From: near 1 where the map is smooth.
	Ghosts float64 `json:"ghosts_over_linear_ratio"`
	// ShownBy is the least change, in per cent, that 72 arrows at either
	// height tell from none with 90 % confidence.
	ShownBy float64 `json:"shown_by_72_arrows_percent"`
	// Unexplained is what the archer's measured group has beyond the model, m;
	// null without a group.
	Unexplained *float64 `json:"unexplained_m"`
	// Summary is one plain answer.
	Summary string   `json:"summary"`
	Notes   []string `json:"notes"`
}

// ForgiveQuestion is what Forgive is asked. Zero values take the defaults.
type ForgiveQuestion struct {
	Hand arrow.Hand
	// Heights of the table; none takes seven from 2 cm below to 1 cm above.
	Heights []unit.Length
	// From and To are compared; zero takes the first and the last height.
	From, To unit.Length
	// Repeat is the archer's repeatability; the zero value is assumed usual.
	Repeat Repeatability
	// Group is the standard deviation, sideways at 70 m, of the archer's
	// measured group at the bow's present brace height; 0 if there is none.
	Group unit.Length
}

// forgiveDraws is how many plausible set-ups are compared; a share of 80 % in
// 12 is known to ±12 %.
const forgiveDraws = 12

// agreement is the share of draws in which both models must show a sign.
const agreement = 0.8

// usualInertia of a riser with stabilisers about the grip, kg m² (assumed; 0.15
// to 0.35), and the hand on it. They change totals by less than a per cent.
const usualInertia, handStiffness, handDamping = 0.25, 10, 0.2

// Forgive answers from the settings. It takes about a second; ctx stops it,
// and progress, if not nil, is called with the share done.
func Forgive(ctx context.Context, s notebook.Settings, q ForgiveQuestion, progress func(float64)) (Forgiveness, error) {
	side, err := SidewaysFromSettings(s, q.Hand)
	if err != nil {
		return Forgiveness{}, err
	}
	in, err := FromSettings(s)
	if err != nil {
		return Forgiveness{}, err
	}
	b, err := NewBowModel(ctx, in)
	if err != nil {
		return Forgiveness{}, understand(err)
	}
	out, err := b.Forgive(ctx, side, q, progress)
	return out, understand(err)
}

// check names what cannot be asked.
func (q *ForgiveQuestion) check() error {
	var problems notebook.Problems
	for s, sd := range q.Repeat {
		if !(sd >= 0) || math.IsInf(sd, 0) {
			problems = append(problems, notebook.Error{
				Code: notebook.Invalid, Field: "/repeatability/" + sourceKeys[s], Message: fmt.Sprintf("a standard deviation of %g", sd),
				Hint: fmt.Sprintf("zero or more, like %g", UsualRepeatability()[s]),
			})
		}
	}
	height := func(field string, h unit.Length) {
		if r := unit.BraceHeight; !r.Holds(h) {
			problems = append(problems, notebook.Error{
				Code: notebook.Invalid, Field: field, Hint: "a brace height like 22 cm",
				Message: fmt.Sprintf("%.0f mm is outside %.0f to %.0f mm", h.Millimetres(), r.Low.Millimetres(), r.High.Millimetres()),
			})
		}
	}
	for i, h := range q.Heights {
		height(fmt.Sprintf("/heights/%d", i), h)
	}
	height("/from", q.From)
	height("/to", q.To)
	if !(q.Group >= 0) {
		problems = append(problems, notebook.Error{Code: notebook.Invalid, Field: "/group", Message: "a group of less than nothing", Hint: "the standard deviation sideways at 70 m, like 15 cm, or none"})
	}
	return problems.OrNil()
}

func (q *ForgiveQuestion) fill(at unit.Length) {
	if q.Repeat == (Repeatability{}) {
		q.Repeat = UsualRepeatability()
	}
	if len(q.Heights) == 0 {
		for i := range 7 {
			q.Heights = append(q.Heights, at+unit.Length(i-4)*5*unit.Millimetre)
		}
	}
	if q.From == 0 {
		q.From = q.Heights[0]
	}
	if q.To == 0 {
		q.To = q.Heights[len(q.Heights)-1]
	}
}

// Forgive answers for a bow. The bits do not depend on the number of cores.
func (b *BowModel) Forgive(ctx context.Context, side Sideways, q ForgiveQuestion, progress func(float64)) (Forgiveness, error) {
	q.fill(b.Now())
	if err := q.check(); err != nil {
		return Forgiveness{}, err
	}
	side.Setup.Riser = &arrow.Riser{Inertia: usualInertia, HandStiffness: handStiffness, HandDamping: handDamping}
	a, err := arrow.New(side.Arrow, arrow.Resolution{})
	if err != nil {
		return Forgiveness{}, err
	}
	out := Forgiveness{From: float64(q.From), To: float64(q.To)}
	// Two groups of n: the difference of ln s has a standard deviation of
	// √(2/(2(n−1))).
	out.ShownBy = 100 * z90 / math.Sqrt(72-1)
	if out.Rows, err = b.forgiveRows(ctx, a, &side, q); err != nil {
		return Forgiveness{}, err
	}
	if progress != nil {
		progress(0.3)
	}
	if out.Changes, err = b.forgiveChanges(ctx, a, &side, q, out.ShownBy); err != nil {
		return Forgiveness{}, err
	}
	if err := b.answer(a, &side, q, &out); err != nil {
		return Forgiveness{}, err
	}
	if out.Ghosts, err = b.ghostRatio(a, &side, q); err != nil {
		return Forgiveness{}, err
	}
	if err := b.anchor(a, &side, q, &out); err != nil {
		return Forgiveness{}, err
	}
	out.Notes = append(out.Notes, "Sideways only. Every repeatability is assumed until it is measured; the riser's inertia is taken as 0.25 kg m².")
	out.Notes = append(out.Notes, side.Assumed...)
	if progress != nil {
		progress(1)
	}
	return out, nil
}

// forgiveRows is the middle bow at every height, both string models.
func (b *BowModel) forgiveRows(ctx context.Context, a *arrow.Arrow, side *Sideways, q ForgiveQuestion) ([]ForgiveRow, error) {
	n := len(q.Heights)
	effects, errs := make([][sources]float64, 2*n), make([]error, 2*n)
	err := each(ctx, 2*n, func(i int) {
		var l *lane
		if l, errs[i] = b.newLane(b.members[0], q.Heights[i/2], stringModels[i%2], a, side.Setup, side); errs[i] == nil {
			effects[i], errs[i] = l.effects(q.Repeat)
		}
	})
	if err != nil {
		return nil, err
	}
	var rows []ForgiveRow
	for i, h := range q.Heights {
		for _, err := range errs[2*i : 2*i+2] {
			if err != nil {
				return nil, fmt.Errorf("at a brace height of %v: %w", h, err)
			}
		}
		row := ForgiveRow{
			BraceHeight: float64(h), Sideways: total(effects[2*i], 0), Lumped: total(effects[2*i+1], 0),
			VerticalReason: verticalReason, BySource: map[string]float64{},
		}
		for s, e := range effects[2*i] {
			row.BySource[sourceKeys[s]] = math.Abs(e)
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// stringModels are always shown together.
var stringModels = [2]shot.Model{shot.Resolved, shot.Lumped}

// compared is one plausible set-up's change between the heights.
type compared struct {
	from, to [sources]float64
	ok       bool // re-tuned
	err      error
}

func (c compared) percent() float64 { return 100 * (total(c.to, ArmRate)/total(c.from, ArmRate) - 1) }

// forgiveChanges compares From and To over plausible set-ups, treatment by
// treatment.
func (b *BowModel) forgiveChanges(ctx context.Context, a *arrow.Arrow, side *Sideways, q ForgiveQuestion, shown float64) ([]ForgiveChange, error) {
	n := min(forgiveDraws+1, len(b.members))
	unknown := draws(n, side.CentreKnown)
	var out []ForgiveChange
	for _, how := range []Treatment{AllElseFixed, RetunedBySpine, RetunedByButton} {
		all := make([]compared, 2*n)
		err := each(ctx, 2*n, func(i int) {
			all[i] = b.compare(b.members[i/2], stringModels[i%2], a, unknown[i/2].apply(side.Setup), side, q, how)
		})
		if err != nil {
			return nil, err
		}
		if err := all[0].err; err != nil {
			return nil, err
		}
		change := judgeChange(how, all)
		change.speak(q, shown)
		out = append(out, change)
	}
	return out, nil
}

// compare is one set-up at both heights.
func (b *BowModel) compare(m member, model shot.Model, a *arrow.Arrow, set arrow.Setup, side *Sideways, q ForgiveQuestion, how Treatment) (c compared) {
	from, err := b.newLane(m, q.From, model, a, set, side)
	if err != nil {
		return compared{err: err}
	}
	to, err := b.newLane(m, q.To, model, a, set, side)
	if err != nil {
		return compared{err: err}
	}
	want, err := from.bare30(from.arrow, from.set)
	if err != nil {
		return compared{err: err}
	}
	if c.ok, c.err = to.retune(how, want); c.err != nil || !c.ok {
		return c
	}
	if c.from, c.err = from.effects(q.Repeat); c.err == nil {
		c.to, c.err = to.effects(q.Repeat)
	}
	return c
}

// judgeChange reads the signs off the draws; all holds the resolved and the
// lumped string's answers in turn, the middle set-up first.
func judgeChange(how Treatment, all []compared) ForgiveChange {
	out := ForgiveChange{Treatment: how}
	var pairs [][2]compared
	fine := 0
	for i := 2; i < len(all); i += 2 {
		one, two := all[i], all[i+1]
		if one.err != nil || two.err != nil {
			continue
		}
		fine++
		if one.ok && two.ok {
			pairs = append(pairs, [2]compared{one, two})
		}
	}
	if fine > 0 {
		out.Retuned = float64(len(pairs)) / float64(fine)
	}
	if out.Retuned < 0.5 || !all[0].ok || !all[1].ok {
		return out
	}
	one, two := percents(pairs, compared.percent)
	out.Resolved, out.Lumped = estimate(all[0].percent(), one), estimate(all[1].percent(), two)
	out.Sign, out.Agree = agreed(one, two)
	out.BySource = map[string]SourceChange{}
	for s := ArmRate; s < sources; s++ {
		of := func(c compared) float64 { return 100 * (math.Abs(c.to[s]/c.from[s]) - 1) }
		one, two := percents(pairs, of)
		sign, _ := agreed(one, two)
		out.BySource[s.String()] = SourceChange{Resolved: of(all[0]), Lumped: of(all[1]), Sign: sign}
	}
	return out
}

// percents takes one number of each model's answers.
func percents(pairs [][2]compared, of func(compared) float64) (one, two []float64) {
	for _, p := range pairs {
		one, two = append(one, of(p[0])), append(two, of(p[1]))
	}
	return one, two
}

// agreed is the sign that both models show in enough draws, else 0, and the
// larger share that agrees on one.
func agreed(one, two []float64) (sign int, share float64) {
	up, down := 0, 0
	for i := range one {
		switch {
		case one[i] > 0 && two[i] > 0:
			up++
		case one[i] < 0 && two[i] < 0:
			down++
		}
	}
	share = float64(max(up, down)) / float64(len(one))
	switch {
	case share < agreement:
		return 0, share
	case down > up:
		return -1, share
	}
	return 1, share
}

// sourceWords are the sources as an archer says them.
var sourceWords = [sources]string{
	"the aim", "a moving bow arm", "the hand's torque", "the size of the release", "the draw hand's side", "draw length", "nock fit", "arrow mass", "spine from arrow to arrow",
}

// named lists the sources whose change has a sign, in words.
func (c *ForgiveChange) named() string {
	var parts []string
	for s := ArmRate; s < sources; s++ {
		one, ok := c.BySource[s.String()]
		if !ok || one.Sign == 0 {
			continue
		}
		word := "more"
		if one.Sign < 0 {
			word = "less"
		}
		low, high := math.Abs(one.Resolved), math.Abs(one.Lumped)
		parts = append(parts, fmt.Sprintf("%s matters %s (%.0f to %.0f %%)", sourceWords[s], word, min(low, high), max(low, high)))
	}
	if len(parts) == 0 {
		return " For no single source do the models agree on more or less."
	}
	return " Agreed by both models: " + strings.Join(parts, ", ") + "."
}

// summarise is the plain sentence on the middle bow's group, aim included.
func (f *Forgiveness) summarise(from, to [2]float64) {
	change := 100 * max(math.Abs(to[0]/from[0]-1), math.Abs(to[1]/from[1]-1))
	word := "less than 72 arrows at either height can show"
	if change > f.ShownBy {
		word = "which 72 arrows at either height could show"
	}
	f.Summary = fmt.Sprintf("From %.1f to %.1f cm with nothing else changed, the sideways spread at 70 m would go from %.1f to %.1f cm with one model of the string and from %.1f to %.1f cm with the other: %s.%s",
		100*f.From, 100*f.To, 100*from[0], 100*to[0], 100*from[1], 100*to[1], word, f.Changes[0].named())
}

// speak says it in one plain sentence.
func (c *ForgiveChange) speak(q ForgiveQuestion, shown float64) {
	walk := fmt.Sprintf("From %.1f to %.1f cm, %s", 100*float64(q.From), 100*float64(q.To), c.Treatment)
	biggest := max(math.Abs(c.Resolved.Low), math.Abs(c.Resolved.High), math.Abs(c.Lumped.Low), math.Abs(c.Lumped.High))
	seen := fmt.Sprintf("72 arrows at either height show %.0f %%", shown)
	switch {
	case c.BySource == nil && c.Treatment == RetunedByButton:
		c.Sentence = walk + ": it cannot be re-tuned with the button."
	case c.BySource == nil:
		c.Sentence = walk + ": it cannot be re-tuned."
	case c.Sign == 0 && biggest < shown:
		c.Sentence = fmt.Sprintf("%s: the spread without the aim changes by less than %.0f %%, and the models do not agree which way; %s, so no group would tell.", walk, math.Ceil(biggest), seen)
	case c.Sign == 0:
		c.Sentence = fmt.Sprintf("%s: the models do not agree whether the spread grows or shrinks.", walk)
	default:
		word := "grows"
		if c.Sign < 0 {
			word = "shrinks"
		}
		c.Sentence = fmt.Sprintf("%s: the spread without the aim %s, by %.1f %% with one model of the string and %.1f %% with the other; %s.",
			walk, word, math.Abs(c.Resolved.Value), math.Abs(c.Lumped.Value), seen)
		if c.Treatment == RetunedByButton {
			c.Sentence += " Most of it is the button's doing, not the brace height's."
		}
	}
}

// answer is the middle bow's spread, aim included, at From and To.
func (b *BowModel) answer(a *arrow.Arrow, side *Sideways, q ForgiveQuestion, out *Forgiveness) error {
	var spreads [2][2]float64
	for i, h := range []unit.Length{q.From, q.To} {
		for j, model := range stringModels {
			l, err := b.newLane(b.members[0], h, model, a, side.Setup, side)
			if err != nil {
				return err
			}
			effects, err := l.effects(q.Repeat)
			if err != nil {
				return err
			}
			spreads[i][j] = total(effects, 0)
		}
	}
	out.summarise(spreads[0], spreads[1])
	return nil
}

// ghostShots is how many arrows check the linear answer; errors are common to
// both, so few do.
const ghostShots = 120

// ghostRatio checks the linear answer of the middle bow at From.
func (b *BowModel) ghostRatio(a *arrow.Arrow, side *Sideways, q ForgiveQuestion) (float64, error) {
	l, err := b.newLane(b.members[0], q.From, shot.Resolved, a, side.Setup, side)
	if err != nil {
		return 0, err
	}
	effects, err := l.effects(q.Repeat)
	if err != nil {
		return 0, err
	}
	whole, linear, err := l.ghosts(q.Repeat, effects, ghostShots)
	return whole / linear, err
}

// anchor compares the model's spread at the present brace height with the
// archer's own group. What the named sources do not make is called
// unexplained and is never spread over them.
func (b *BowModel) anchor(a *arrow.Arrow, side *Sideways, q ForgiveQuestion, out *Forgiveness) error {
	if q.Group <= 0 {
		return nil
	}
	l, err := b.newLane(b.members[0], b.Now(), shot.Resolved, a, side.Setup, side)
	if err != nil {
		return err
	}
	effects, err := l.effects(q.Repeat)
	if err != nil {
		return err
	}
	named, group := total(effects, 0), float64(q.Group)
	rest := math.Sqrt(max(0, group*group-named*named))
	out.Unexplained = &rest
	if named > group {
		out.Notes = append(out.Notes, fmt.Sprintf("The named sources make %.1f cm, more than the measured %.1f cm: some assumed repeatability is too large for this archer.", 100*named, 100*group))
	}
	return nil
}
