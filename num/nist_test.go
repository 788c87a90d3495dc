package num_test

import (
	"testing"

	"tautline/num"
	"tautline/num/numtest"
)

// NIST StRD, nonlinear regression: lower, average and higher difficulty, from
// both certified starting points, by differences. From the second the
// parameters come with 6 digits of the certified 11 and their standard
// deviations with 5, which is what central differences and the default
// tolerance leave of the worst conditioned; from the first, far one the fit
// either does the same or says that it is not done. Data and values recalled,
// consistent by their residual sums of squares to 10 digits.
func TestNISTNonlinear(t *testing.T) {
	grades := map[numtest.Difficulty]int{}
	for _, p := range numtest.StRDs() {
		grades[p.Grade]++
		r := make([]float64, len(p.Y))
		p.Residuals(p.B, r)
		rss := 0.0
		for _, v := range r {
			rss += v * v
		}
		if lre := numtest.LRE(rss, p.RSS); lre < 6 {
			t.Errorf("%s: the certified parameters give a residual sum of %.11g, certified %.11g: data and values do not belong together", p.Name, rss, p.RSS)
		}
		for i, start := range p.Starts {
			f := num.LevenbergMarquardt(num.FitProblem{Residuals: p.Residuals, Count: len(p.Y)}, start, num.FitControl{Evaluations: 20000})
			b, sd := numtest.WorstLRE(f.P, p.B), numtest.WorstLRE(f.StdErr, p.SD)
			t.Logf("%-8s (%s) start %d: %v, %.1f digits, sd %.1f, RSS %.1f, %d Jacobians", p.Name, p.Grade, i+1, f.Status, b, sd, numtest.LRE(f.RSS, p.RSS), f.Jacobians)
			good := f.Status == num.Done && b >= 6 && sd >= 5 && numtest.LRE(f.RSS, p.RSS) >= 9
			if i == 1 && !good {
				t.Errorf("%s from its second start: %v at %v ± %v, certified %v ± %v", p.Name, f.Status, f.P, f.StdErr, p.B, p.SD)
			}
			if i == 0 && !good && f.Status == num.Done {
				t.Errorf("%s from its first start claims to be done at %v, residual sum %v, certified %v", p.Name, f.P, f.RSS, p.RSS)
			}
		}
	}
	if grades[numtest.Lower] < 3 || grades[numtest.Average] < 3 || grades[numtest.Higher] < 2 {
		t.Errorf("too few problems of a grade: %v", grades)
	}
}
