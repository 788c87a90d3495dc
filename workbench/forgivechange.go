package workbench

import (
	"context"
	"math"

	"tautline/arrow"
	"tautline/shot"
)

// ForgiveChange compares two brace heights, button settings or arrows under one
// treatment, over plausible bows, buttons and releases, without the aim, which
// none of them can change.
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

// forgiveDraws is how many plausible set-ups are compared; a share of 80 % in
// 12 is known to ±12 %.
const forgiveDraws = 12

// agreement is the share of draws in which both models must show a sign.
const agreement = 0.8

// stringModels are always shown together.
var stringModels = [2]shot.Model{shot.Resolved, shot.Lumped}

// compared is one plausible set-up's change between two stands.
type compared struct {
	from, to [sources]float64
	ok       bool // re-tuned
	err      error
}

func (c compared) percent() float64 { return percentOf(total(c.from, ArmRate), total(c.to, ArmRate)) }

// percentOf is the change from one size to another; none where an archer makes
// no such error.
func percentOf(from, to float64) float64 {
	if from == 0 {
		return 0
	}
	return 100 * (math.Abs(to/from) - 1)
}

// forgiveChanges compares From and To over plausible set-ups, treatment by
// treatment.
func (b *BowModel) forgiveChanges(ctx context.Context, from, to forgiveStand, side *Sideways, q ForgiveQuestion, shown float64) ([]ForgiveChange, error) {
	n := min(forgiveDraws+1, len(b.members))
	unknown := draws(n, side.CentreKnown)
	var out []ForgiveChange
	for _, how := range q.Over.treatments() {
		all := make([]compared, 2*n)
		err := each(ctx, 2*n, func(i int) {
			all[i] = b.compare(b.members[i/2], stringModels[i%2], [2]forgiveStand{from, to}, unknown[i/2].apply(side.Setup), side, q.Repeat, how)
		})
		if err != nil {
			return nil, err
		}
		if err := all[0].err; err != nil {
			return nil, err
		}
		change := judgeChange(how, all)
		change.speak(q.Over, from, to, shown)
		out = append(out, change)
	}
	return out, nil
}

// compare is one set-up at both stands.
func (b *BowModel) compare(m member, model shot.Model, at [2]forgiveStand, set arrow.Setup, side *Sideways, sd Repeatability, how Treatment) (c compared) {
	from, err := b.laneAt(m, at[0], model, set, side)
	if err != nil {
		return compared{err: err}
	}
	to, err := b.laneAt(m, at[1], model, set, side)
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
	if c.from, c.err = from.effects(sd); c.err == nil {
		c.to, c.err = to.effects(sd)
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
		of := func(c compared) float64 { return percentOf(c.from[s], c.to[s]) }
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
