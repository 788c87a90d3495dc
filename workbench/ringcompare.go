package workbench

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/group"
	"tautline/notebook"
	"tautline/num"
	"tautline/trial"
)

// rings reports whether rings are all that is known of a group.
func rings(v Volley) bool {
	placed, _ := v.Placed()
	return len(placed) == 0
}

// compareRings compares two set-ups of which only rings are known: each
// spread's logarithm from its multinomial likelihood, taken as normal with the
// width of its profile interval. Verdict, p and interval come from the same
// normal, so they cannot disagree. It assumes circular groups, which rings
// cannot check.
func compareRings(a, b Volley) (CompareView, error) {
	lnA, sdA, err := lnSpreadByRings(a, "A")
	if err != nil {
		return CompareView{}, err
	}
	lnB, sdB, err := lnSpreadByRings(b, "B")
	if err != nil {
		return CompareView{}, err
	}
	d, sd := lnA-lnB, math.Hypot(sdA, sdB)
	nu := sd * sd * sd * sd / (2*math.Pow(sdA, 6) + 2*math.Pow(sdB, 6)) // Welch, with ν = 1/2w each
	student := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}
	half := student.Quantile(0.5+num.Confidence/2) * sd
	c := trial.Comparison{
		Verdict: trial.CannotTellYet, Ratio: trial.Estimate[float64]{Value: math.Exp(d), Low: math.Exp(d - half), High: math.Exp(d + half), Level: num.Confidence},
		P: 2 * student.Survival(math.Abs(d)/sd), Evidence: math.NaN(), FRatio: trial.Unknown[float64](), ProbATight: student.CDF(-d / sd),
		ArrowsA: len(a.Shots), ArrowsB: len(b.Shots), Method: "likelihood of the ring counts, circular groups",
		Assumptions: []string{"the number of arrows was fixed before shooting", "both groups are circular and normal, which rings cannot check", "day, wind and archer were the same for both"},
		WouldChange: []string{"plotting where the arrows hit: rings keep only a part of what places tell"},
	}
	if c.P < 1-num.Confidence {
		c.Verdict = trial.BTighter
		if d < 0 {
			c.Verdict = trial.ATighter
		}
	}
	c.Text = ringText(c) + trial.ByChance(c.P)
	out := viewCompare(c)
	out.Evidence = nil
	return out, nil
}

func ringText(c trial.Comparison) string {
	size := fmt.Sprintf("by the rings σ of A is %.2f times that of B (%.2f to %.2f)", c.Ratio.Value, c.Ratio.Low, c.Ratio.High)
	if c.Verdict == trial.CannotTellYet {
		return "Cannot tell yet: " + size + "."
	}
	return string(c.Verdict) + ": " + size + "."
}

// lnSpreadByRings is ln σ and its standard deviation.
func lnSpreadByRings(v Volley, name string) (ln, sd float64, err error) {
	counts, err := group.CountRings(v.Face, v.Shaft, v.Shots)
	if err != nil {
		return 0, 0, understandGroup(err)
	}
	fit, err := group.FitRings(counts)
	if err != nil {
		return 0, 0, understandGroup(err)
	}
	if !(fit.Sigma.Low > 0) || !fit.Sigma.Bounded() {
		return 0, 0, &notebook.Error{Code: notebook.Invalid, Message: "the rings of " + name + " do not bound its spread", Hint: "shoot more arrows, at a face on which they fall into several rings, or plot where they hit"}
	}
	z := distuv.UnitNormal.Quantile(0.5 + num.Confidence/2)
	return math.Log(float64(fit.Sigma.Value)), math.Log(float64(fit.Sigma.High/fit.Sigma.Low)) / (2 * z), nil
}
