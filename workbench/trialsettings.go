package workbench

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tautline/notebook"
	"tautline/num"
	"tautline/trial"
)

// settings judges two or three settings shot together, by the surface of ln σ
// over them.
func (j *judging) settings(v *TrialVerdict) error {
	runs, blocks, faces := j.runs()
	order := trial.FirstOrder
	if faces && j.plan.Ask.FaceCentred {
		order = trial.SecondOrder
	}
	least := terms(len(j.plan.Ask.Settings), order) + blocks + 1 // one to judge by
	if len(runs) < least {
		v.waiting(fmt.Sprintf("%s of at least %d are shot.", counted(len(runs), "combination"), least), max(1, j.missing))
		return nil
	}
	s, err := trial.FitSurface(runs, order, j.confidence())
	if err != nil && j.whole == 0 {
		v.waiting("the combinations shot so far do not tell the settings apart.", max(1, j.missing))
		return nil
	}
	if err != nil {
		return err
	}
	if err := j.surface(v, &s, order); err != nil {
		return err
	}
	if effects := terms(len(j.plan.Ask.Settings), order); s.DF < fewSpare && !v.Decided {
		v.Warnings = append(v.Warnings, fmt.Sprintf("%d combinations leave %d to tell chance from effect by, so only a large effect can stand out (%.1f of its standard errors): repeat the corners by shooting the plan once more", len(runs), s.DF, s.Needed(effects)))
	}
	j.atTheWhole(v, "the effects are as listed, each with its interval")
	return nil
}

// runs are the combinations shot. A combination that was shot again, when the
// plan was followed once more, is a run of its own in a block of its own: only
// runs made anew tell how settings scatter when they are made again.
func (j *judging) runs() (runs []trial.Run, blocks int, faces bool) {
	seen, last := map[int]bool{}, j.plan.Steps[len(j.plan.Steps)-1].Block
	for i, s := range j.plan.Steps {
		for time, shot := range j.times[i] {
			y, variance := trial.LogSpread(shot)
			block := s.Block + time*last
			runs = append(runs, trial.Run{X: s.Coded, Block: block, Y: y, Var: variance})
			seen[block], faces = true, faces || s.Block > 1
		}
	}
	return runs, len(seen), faces
}

// terms is the number of coefficients without the blocks'.
func terms(k int, order trial.SurfaceOrder) int {
	n := k + k*(k-1)/2
	if order == trial.SecondOrder {
		n += k
	}
	return n
}

// surface puts the fit into words.
func (j *judging) surface(v *TrialVerdict, s *trial.Surface, order trial.SurfaceOrder) error {
	names, err := j.factors()
	if err != nil {
		return err
	}
	var plain []string
	effects := 0
	for _, t := range s.Terms {
		label, ok := termLabel(t.Name, names)
		if !ok {
			continue
		}
		span := 2.0 // from one end to the other; a bend from the middle to an end
		if strings.HasSuffix(t.Name, "²") {
			span = 1
		}
		change := num.Estimate[float64]{Value: math.Expm1(span * t.Coef.Value), Low: math.Expm1(span * t.Coef.Low), High: math.Expm1(span * t.Coef.High)}
		v.effect(t.Name, label, "1", ranged(change), fmt.Sprintf("%s; were there no effect, one as plain in %s such trials, p %.2f", changeText(change), num.InFifty(t.Shared), t.Shared))
		if effects++; t.Plain {
			plain = append(plain, label)
		}
	}
	v.Warnings = append(v.Warnings, s.Warnings...)
	v.Assumptions = []string{"ends of one combination scatter alike on every day but for the day's own level", "the spread's logarithm is a smooth surface between the ends of the settings, and how the combinations scatter about it is the yardstick",
		fmt.Sprintf("the %d effects share the error by Holm's rule: without any effect, about one such trial in twenty calls some effect plain", effects)}
	v.WouldChange = []string{"the corners made and shot again, best the whole plan on another day; the face-centred points, if only the corners were shot"}
	switch {
	case order == trial.SecondOrder && s.Kind == "minimum" && s.Inside:
		return j.bestPoint(v, s, names)
	case len(plain) > 0:
		v.Outcome, v.Decided = "direction", true
		v.Text = "The spread changes with: " + strings.Join(plain, "; ") + ". No best point inside is shown."
		v.Next = "move toward the tighter side, or shoot the face-centred points to look for a best point inside; confirm with a pair"
	default:
		v.Outcome = "cannot_tell"
		v.Text = "Cannot tell yet: no setting's effect stands out of its doubt. Repeat the corners, or choose ends further apart."
		v.Next = "shoot the plan once more on another day, or choose ends further apart"
	}
	return nil
}

// fewSpare is how many combinations beyond the coefficients bring Student's
// factor within a quarter of what it is with any number.
const fewSpare = 8

// planAgain is the arrows of the whole plan.
func (j *judging) planAgain() *int {
	more := 0
	for _, s := range j.plan.Steps {
		more += s.Arrows
	}
	return &more
}

// changeText says a change of the spread in per cent; beyond eleven times the
// spread an end says nothing more.
func changeText(c num.Estimate[float64]) string {
	high := fmt.Sprintf("%+.0f", 100*c.High)
	if c.High > 10 {
		high = "over +1000"
	}
	return fmt.Sprintf("%+.0f %% (%+.0f to %s)", 100*c.Value, 100*c.Low, high)
}

// bestPoint says where the fitted minimum lies, and how surely.
func (j *judging) bestPoint(v *TrialVerdict, s *trial.Surface, names []trialFactor) error {
	region, err := s.Region(map[bool]int{true: 101, false: 31}[len(names) == 2])
	if err != nil {
		return err
	}
	var at []string
	for i, f := range names {
		best := Ranged{Value: finite(f.decode(s.Stationary[i]))}
		text := f.print(f.decode(s.Stationary[i]))
		if region.Bounded && i < len(region.Low) {
			best.Low, best.High = finite(f.decode(region.Low[i])), finite(f.decode(region.High[i]))
			text += fmt.Sprintf(" (%s to %s)", f.print(f.decode(region.Low[i])), f.print(f.decode(region.High[i])))
		}
		v.effect("best_"+f.key, "best "+f.name, "", best, text)
		at = append(at, f.name+" "+text)
	}
	v.Decided, v.Outcome = region.Bounded, "best_inside"
	j.decideAll(v, s, region, names)
	v.Text = "The least spread is at " + strings.Join(at, ", ") + "."
	v.Next = "confirm this point against the present setting, with a trial of its own"
	if !region.Bounded {
		v.Outcome, v.Text = "cannot_tell", "Cannot tell yet: the fitted best point is at "+strings.Join(at, ", ")+", but its region reaches the ends that were shot."
		v.Next = "shoot the plan once more on another day; not bounded is a normal answer with few arrows"
		v.More = j.planAgain()
	}
	return nil
}

// decideAll notes the settings that were settled together.
func (j *judging) decideAll(v *TrialVerdict, s *trial.Surface, region trial.Region, names []trialFactor) {
	for i, f := range names {
		ask := j.plan.Ask.Settings[i]
		_, in, ok := typedIn(f.key, []string{ask.Low, ask.High})
		if !v.Decided || !ok || i >= len(region.Low) {
			continue
		}
		ends := []float64{f.decode(region.Low[i]), f.decode(region.High[i])}
		slices.Sort(ends) // the low end may be the larger number
		j.decideSetting(v, f.key, in, num.Estimate[float64]{Value: f.decode(s.Stationary[i]), Low: ends[0], High: ends[1], Level: j.confidence()}, ownInterval)
	}
}

// trialFactor is a setting with its two ends.
type trialFactor struct {
	key, name    string
	middle, half float64
	print        func(float64) string
}

func (f trialFactor) decode(coded float64) float64 { return f.middle + coded*f.half }

func (j *judging) factors() (out []trialFactor, err error) {
	for i, a := range j.plan.Ask.Settings {
		k, err := trial.SettingByKey(a.Setting)
		if err != nil {
			return nil, err
		}
		scale, err := readLevels([]string{a.Low, a.High})
		if err != nil {
			return nil, &notebook.Error{Code: notebook.Damaged, Field: fmt.Sprintf("/settings/%d", i), Message: "the plan's ends cannot be read", Hint: "run: tautline verify", Cause: err}
		}
		out = append(out, trialFactor{k.Key, k.Name, (scale.at[0] + scale.at[1]) / 2, (scale.at[1] - scale.at[0]) / 2, scale.print})
	}
	return out, nil
}

// termLabel says a coefficient's name in words; the mean and the blocks are no
// effects.
func termLabel(name string, factors []trialFactor) (string, bool) {
	if name == "1" || strings.HasPrefix(name, "block") {
		return "", false
	}
	parts := strings.Fields(name)
	for i, p := range parts {
		square := strings.HasSuffix(p, "²")
		var k int
		if _, err := fmt.Sscanf(strings.TrimSuffix(p, "²"), "x%d", &k); err != nil || k < 1 || k > len(factors) {
			return "", false
		}
		f := factors[k-1]
		parts[i] = f.name
		switch {
		case square:
			parts[i] = f.name + " from the middle to the ends"
		case len(parts) == 1:
			parts[i] = fmt.Sprintf("%s from %s to %s", f.name, f.print(f.decode(-1)), f.print(f.decode(1)))
		}
	}
	if len(parts) > 1 {
		return strings.Join(parts, " and ") + " together", true
	}
	return parts[0], true
}
