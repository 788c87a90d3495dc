package workbench

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/trial"
)

// Visits, levels, settings and tillers are tested at a number of arrows fixed
// beforehand. Looked at after every stop until it looks good, equal settings
// would be told apart far more often than the level says, so that these trials
// are decided when their plan is whole, and not in between.

// nearlyWhole is the share of a stop's arrows that makes it shot: one of three,
// or two of six, may have found no place on the face.
const nearlyWhole = 2.0 / 3

// timesShot sorts a stop's ends into the times it was shot: the end that makes
// its arrows whole closes a time. rest is what is not whole yet.
func timesShot(ends trial.Sample, arrows int) (out []trial.Sample, rest trial.Sample) {
	n := 0
	for _, e := range ends {
		rest, n = append(rest, e), n+len(e)
		if float64(n) >= nearlyWhole*float64(arrows)-1e-9 && hasSpread(rest) {
			out, rest, n = append(out, rest), nil, 0
		}
	}
	return out, rest
}

// sortTimes counts how many times the plan is whole, and sorts each stop's ends
// by them.
func (j *judging) sortTimes() (whole int) {
	j.times = make([][]trial.Sample, len(j.at))
	for i, s := range j.plan.Steps {
		list, rest := timesShot(j.at[i], s.Arrows)
		if i == 0 || len(list) < whole {
			whole = len(list)
		}
		if len(list) == 0 {
			j.missing += s.Arrows - rest.Arrows()
		}
		if hasSpread(rest) {
			list = append(list, rest)
		}
		j.times[i] = list
	}
	return whole
}

// atWholePlans judges each time the plan was whole, as it was looked at: the
// first look that decides stands, and what came after it is told beside it. Ends
// beyond the last whole plan wait until it is whole again. A plan that is not
// whole yet is judged by what there is, to show how it stands, and not decided.
func (j *judging) atWholePlans(v *TrialVerdict, judge func(*TrialVerdict) error) error {
	whole, all := j.sortTimes(), j.times
	if whole == 0 {
		return judge(v)
	}
	shot, kept := 0, 0
	for _, s := range j.at {
		shot += s.Arrows()
	}
	v.Warnings = slices.Clip(v.Warnings)
	var stands *TrialVerdict
	for j.whole = 1; j.whole <= whole; j.whole++ {
		kept = j.take(all)
		look := *v
		if err := judge(&look); err != nil {
			return err
		}
		switch {
		case stands != nil && j.whole == whole:
			stands.Warnings = append(stands.Warnings, fmt.Sprintf("what was shot after it was decided does not undo it; with all of it, judged at %.4g %%: %s", 100*j.confidence(), look.Text))
		case stands == nil && (look.Decided || j.whole == whole):
			stands = &look
		}
	}
	if shot > kept {
		stands.Warnings = append(stands.Warnings, fmt.Sprintf("%s beyond the plan: they count when the plan is whole once more", counted(shot-kept, "arrow was shot", "arrows were shot")))
	}
	*v = *stands
	return nil
}

// take keeps the ends of the first whole plans, and counts their arrows.
func (j *judging) take(all [][]trial.Sample) (arrows int) {
	j.times = make([][]trial.Sample, len(all))
	for i, list := range all {
		j.times[i], j.at[i] = list[:j.whole], nil
		for _, s := range j.times[i] {
			j.at[i] = append(j.at[i], s...)
		}
		arrows += j.at[i].Arrows()
	}
	return arrows
}

// confidence is the level of this look.
func (j *judging) confidence() float64 { return trial.LookConfidence(j.whole) }

// need80 is how many of its standard errors an effect must have to be seen four
// times in five (normal quantiles).
func need80(level float64) float64 {
	return distuv.UnitNormal.Quantile(0.5+level/2) + distuv.UnitNormal.Quantile(0.8)
}

// morePlans is how many further times the plan must be shot until an effect as
// large as the one seen would stand out four times in five; the standard error
// falls with the root of the times. 0: too small to be worth a number.
func (j *judging) morePlans(effect, se float64) int {
	if effect == 0 || !(se > 0) || j.whole == 0 {
		return 0
	}
	for n := j.whole + 1; n <= 12*j.whole; n++ {
		if math.Abs(effect) >= need80(trial.LookConfidence(n))*se*math.Sqrt(float64(j.whole)/float64(n)) {
			return n - j.whole
		}
	}
	return 0
}

// atTheWhole closes a verdict of a fixed number of arrows: before the plan is
// whole nothing is decided, and soFar says how it stands.
func (j *judging) atTheWhole(v *TrialVerdict, soFar string) {
	v.Assumptions = append(v.Assumptions, "it is told when the whole plan is shot, not stopped when it looked good: a look in between decides nothing")
	if j.whole > 1 {
		v.Assumptions = append(v.Assumptions, fmt.Sprintf("the plan was shot %d times and looked at each time: this look decides at %.2g %%, so that all looks together tell equal settings apart in six of a hundred trials at most", j.whole, 100*(1-j.confidence())))
		v.Warnings = append(v.Warnings, fmt.Sprintf("the intervals are widened to %.4g %%, for going on beyond the plan", 100*j.confidence()))
	}
	if j.whole > 0 {
		return
	}
	v.Outcome, v.Decided, v.Decides = "cannot_tell", false, nil
	v.Text = fmt.Sprintf("Cannot tell yet: %d of %d stops are shot. So far: %s. It is told when the plan is whole, not before: a look in between may show a difference by chance.", v.Steps, v.StepsOf, soFar)
	v.Next = "shoot the rest of the plan; whoever stops here has these intervals, and no decision"
	more := max(1, j.missing)
	v.More = &more
}
