package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Sham is what an archer said when a helper set the same setting twice unseen.
type Sham struct {
	Trials   int // A/A repeats felt
	Differed int // times the archer preferred one of two equal settings
}

// FalsePreference is the archer's rate of preferring one of two equal
// settings, with Clopper and Pearson's exact interval (1934). It is printed
// beside every "feel".
func FalsePreference(s Sham) (Estimate[float64], error) {
	if s.Trials < 1 || s.Differed < 0 || s.Differed > s.Trials {
		return Unknown[float64](), bad("sham", "count the repeats and how often a difference was felt, such as 6 and 4", "%d of %d", s.Differed, s.Trials)
	}
	n, k, a := float64(s.Trials), float64(s.Differed), (1-Confidence)/2
	e := Estimate[float64]{Value: k / n, Low: 0, High: 1, Level: Confidence}
	if k > 0 {
		e.Low = distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile(a)
	}
	if k < n {
		e.High = distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile(1 - a)
	}
	return e, nil
}

// FeelText says what a felt difference is worth, given the sham.
func FeelText(s Sham) (string, error) {
	e, err := FalsePreference(s)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("Of %d equal pairs set unseen, %d were felt to differ (%.0f %%, %.0f to %.0f %%): a felt difference is worth no more than that.",
		s.Trials, s.Differed, 100*e.Value, 100*e.Low, 100*e.High), nil
}

// Visit is one visit to a setting that is slow to change: the unit of an
// A-B-B-A comparison.
type Visit struct {
	Setting string // "A" or "B"
	Y       float64
}

// VisitsVerdict compares two settings visited in turn.
type VisitsVerdict struct {
	Difference Estimate[float64] // B minus A in the unit of Y, a steady drift taken out
	SE         float64           // standard error of Difference; 0 while it has none
	Drift      Estimate[float64] // per visit
	P          float64           // of no difference; 1 while none can be told
	Verdict    string            // "B higher", "B lower" or "cannot tell yet"
	Text       string
	DF         int
	Warnings   []string
}

// largestValue is more than anything that a visit measures.
const largestValue = 1e12

// chanceOf is the two-sided chance of an estimate so many standard errors from
// nothing, by Student's t; of nothing without a doubt it is 1.
func chanceOf(estimate, se, nu float64) float64 {
	if estimate == 0 {
		return 1
	}
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Survival(math.Abs(estimate)/se)
}

// CompareVisits compares A and B from visits in shooting order, such as
// A-B-B-A: the difference and a steady drift are fitted to the visits' values
// (mean level, speed, or ln σ), and the visits' own scatter gives the interval
// (Student's t with visits − 3) at the level of confidence asked for. The arrows
// within a visit do not count as repeats, for the setting was made once. Y is
// whatever the trial measures. The number of visits must have been fixed
// beforehand: looked at after every visit until it looks good, equal settings
// are told apart in far more than 1 − level of the trials.
func CompareVisits(visits []Visit, level float64) (VisitsVerdict, error) {
	if err := checkLevel(level); err != nil {
		return VisitsVerdict{}, err
	}
	v := VisitsVerdict{Difference: Unknown[float64](), Drift: Unknown[float64](), P: 1, Verdict: "cannot tell yet"}
	var one, isB, at, y, rel []float64
	a := 0
	for i, s := range visits {
		if (s.Setting != "A" && s.Setting != "B") || !(math.Abs(s.Y) <= largestValue) {
			return v, bad(fmt.Sprintf("visit %d", i+1), "name it A or B and give its value", "setting %q with value %g", s.Setting, s.Y)
		}
		b := 0.0
		if s.Setting == "B" {
			b = 1
		} else {
			a++
		}
		one, isB, at, y, rel = append(one, 1), append(isB, b), append(at, float64(i)-float64(len(visits)-1)/2), append(y, s.Y), append(rel, 1)
	}
	if a == 0 || a == len(visits) {
		return v, bad("visits", "shoot A-B-B-A", "only one setting was visited")
	}
	f, ok := leastSquares([][]float64{one, isB, at}, y, rel)
	if !ok {
		v.Text = "Cannot tell: a drift could not be told from the difference; shoot A-B-B-A."
		return v, nil
	}
	v.DF, v.Difference.Value, v.Drift.Value = f.df, f.coef[1], f.coef[2]
	if f.df == 0 {
		v.Text = "Cannot tell yet: three visits give a difference and no doubt to judge it by."
		return v, nil
	}
	s, t := math.Sqrt(f.rss/float64(f.df)), quantileT(float64(f.df), 0.5+level/2)
	_, se := f.at([]float64{0, 1, 0})
	_, sd := f.at([]float64{0, 0, 1})
	v.Difference, v.SE = around(f.coef[1], t*s*se), s*se
	v.Drift = around(f.coef[2], t*s*sd)
	v.Difference.Level, v.Drift.Level = level, level
	v.P = chanceOf(f.coef[1], s*se, float64(f.df))
	if !v.Difference.Holds(0) {
		v.Verdict = "B higher"
		if v.Difference.Value < 0 {
			v.Verdict = "B lower"
		}
	}
	if f.df < 4 {
		v.Warnings = append(v.Warnings, fmt.Sprintf("%d visits: with so few the interval is wide by nature (t factor %.1f); eight visits bring it to %.1f", len(visits), t, quantileT(5, 0.5+level/2)))
	}
	v.Text = fmt.Sprintf("%s: B minus A is %.3g (%.3g to %.3g) over %d visits, a steady drift taken out.", v.Verdict, v.Difference.Value, v.Difference.Low, v.Difference.High, len(visits))
	return v, nil
}
