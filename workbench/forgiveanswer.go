package workbench

import (
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/shot"
)

// middle is the middle bow's total with both models of the string.
func (b *BowModel) middle(st forgiveStand, set arrow.Setup, side *Sideways, sd Repeatability) (out spreads, err error) {
	for i, model := range stringModels {
		effects, _, err := b.spreadOf(b.members[0], st, model, set, side, sd)
		if err != nil {
			return out, err
		}
		out[i] = total(effects, 0)
	}
	return out, nil
}

// answer is the middle bow's spread, aim included, at both stands, anchored to
// the archer's own group where there is one. What the named sources do not
// make is called unexplained and is never spread over them.
func (b *BowModel) answer(from, to, now forgiveStand, side *Sideways, q ForgiveQuestion, out *Forgiveness) error {
	one, err := b.middle(from, side.Setup, side, q.Repeat)
	if err != nil {
		return err
	}
	two, err := b.middle(to, side.Setup, side, q.Repeat)
	if err != nil {
		return err
	}
	var rest spreads
	if q.Group > 0 {
		named, err := b.middle(now, side.Setup, side, q.Repeat)
		if err != nil {
			return err
		}
		rest = out.anchor(named, float64(q.Group))
	}
	out.summarise(q, one, two, rest)
	return nil
}

// anchor takes the named errors off the measured group.
func (f *Forgiveness) anchor(named spreads, group float64) (rest spreads) {
	for i, s := range named {
		rest[i] = math.Sqrt(max(0, group*group-s*s))
	}
	f.Unexplained = &rest[0]
	if named[0] > group {
		f.Notes = append(f.Notes, fmt.Sprintf("The named sources make %.1f cm, more than the measured %.1f cm: some assumed repeatability is too large for this archer.", 100*named[0], 100*group))
	}
	return rest
}

// ghostShots is how many arrows check the linear answer; errors are common to
// both, so few do.
const ghostShots = 120

// ghostRatio checks the linear answer of the middle bow at a stand.
func (b *BowModel) ghostRatio(from forgiveStand, side *Sideways, q ForgiveQuestion) (float64, error) {
	effects, l, err := b.spreadOf(b.members[0], from, shot.Resolved, side.Setup, side, q.Repeat)
	if err != nil {
		return 0, err
	}
	whole, linear, err := l.ghosts(q.Repeat, effects, ghostShots)
	if err != nil || linear == 0 {
		return 1, err
	}
	return whole / linear, nil
}
