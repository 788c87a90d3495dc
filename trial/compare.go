package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"tautline/num"
)

// Winner is the verdict of a comparison of two set-ups.
type Winner string

const (
	ATighter      Winner = "A tighter"
	BTighter      Winner = "B tighter"
	CannotTellYet Winner = "cannot tell yet"
)

// Comparison of the spreads of two set-ups.
type Comparison struct {
	Verdict     Winner
	Text        string
	Ratio       Estimate[float64] // σ_A/σ_B with the interval that inverts the verdict's own test
	P           float64           // of equal spreads, two-sided; NaN when looking as you go
	Evidence    float64           // e-value against equal spreads: 1 none, 20 decides; see Method
	FRatio      Estimate[float64] // s_A/s_B with the F interval: right for normal, circular groups only
	ProbATight  float64           // P(σ_A < σ_B) under normal groups and a reference prior (recalled)
	ArrowsA     int
	ArrowsB     int
	More        int // further arrows a set-up to see a difference as large as the one seen, four times in five; 0: decided, or no number is sensible
	Method      string
	Assumptions []string
	Warnings    []string
	WouldChange []string
}

// CompareFixed compares two set-ups when the number of arrows was fixed
// beforehand: a Welch test on the arrows' distances to their ends' spatial
// medians (Anderson, Biometrics 62, 245–253, 2006), which a few wild arrows do
// not mislead. The ratio's interval is the set of ratios the same test does
// not reject. It leaves out that the set-ups were shot at different times:
// shoot them in pairs, in random order.
func CompareFixed(a, b Sample) (Comparison, error) {
	if err := a.check("set-up A"); err != nil {
		return Comparison{}, err
	}
	if err := b.check("set-up B"); err != nil {
		return Comparison{}, err
	}
	c := Comparison{ArrowsA: a.Arrows(), ArrowsB: b.Arrows(), Verdict: CannotTellYet, Method: "distances to the spatial median, Welch test"}
	if min(a.SumSquares(), b.SumSquares()) < finest*finest {
		return Comparison{}, bad("set-ups", "plot the arrows where they hit", "all arrows of an end lie on one point")
	}
	w, ok := newWelch(units(a, b))
	if !ok {
		return Comparison{}, bad("set-ups", "shoot ends of three arrows or more", "all arrows lie equally far from their end's middle, which says nothing of their scatter")
	}
	c.P = w.p(1)
	c.Ratio = w.interval(Confidence)
	c.ratioOfVariances(a, b)
	c.Evidence = FEvidence(a.SumSquares()/a.DF()/(b.SumSquares()/b.DF()), a.DF(), b.DF())
	if c.P < 1-Confidence {
		c.Verdict = BTighter
		if c.Ratio.Value < 1 {
			c.Verdict = ATighter
		}
	}
	c.More = c.moreArrows()
	c.describeFixed()
	return c, nil
}

// units are what the Welch test counts. Distances within a small end depend on
// each other through its median, so with enough ends the end's mean distance is
// the unit: from six ends on, or four if they are small. With fewer, arrows are.
func units(a, b Sample) (ua, ub []float64) {
	a, b = a.counted(), b.counted()
	ends := min(len(a), len(b))
	small := float64(a.Arrows()+b.Arrows()) < 5*float64(len(a)+len(b))
	if ends >= 6 || ends >= 4 && small {
		return a.endDistances(), b.endDistances()
	}
	return a.medianDistances(), b.medianDistances()
}

// welch holds the distances' moments.
type welch struct{ meanA, varA, nA, meanB, varB, nB float64 }

func newWelch(a, b []float64) (welch, bool) {
	ma, va := stat.MeanVariance(a, nil)
	mb, vb := stat.MeanVariance(b, nil)
	w := welch{ma, va, float64(len(a)), mb, vb, float64(len(b))}
	return w, ma > 0 && mb > 0 && va+vb > 0
}

// t is the statistic of the hypothesis σ_A = θσ_B, with Welch's degrees of
// freedom.
func (w welch) t(theta float64) (t, nu float64) {
	va, vb := w.varA/(theta*theta)/w.nA, w.varB/w.nB
	nu = (va + vb) * (va + vb) / (va*va/(w.nA-1) + vb*vb/(w.nB-1))
	return (w.meanA/theta - w.meanB) / math.Sqrt(va+vb), nu
}

func (w welch) p(theta float64) float64 {
	t, nu := w.t(theta)
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Survival(math.Abs(t))
}

// interval inverts the test by bisection in ln θ on both sides of the
// estimate; an end beyond a factor of 1000 is not bounded.
func (w welch) interval(level float64) Estimate[float64] {
	best := w.meanA / w.meanB
	edge := func(sign float64) float64 {
		in, out := 0.0, 0.0
		for step := 0.05; ; step *= 1.5 {
			out = in + step
			if out > math.Log(1000) {
				return math.Inf(1)
			}
			if w.p(best*math.Exp(sign*out)) < 1-level {
				break
			}
			in = out
		}
		for range 50 {
			if mid := (in + out) / 2; w.p(best*math.Exp(sign*mid)) < 1-level {
				out = mid
			} else {
				in = mid
			}
		}
		return in
	}
	return Estimate[float64]{Value: best, Low: best * math.Exp(-edge(-1)), High: best * math.Exp(edge(1)), Level: level}
}

// ratioOfVariances fills the F ratio's interval and P(A tighter) (G5).
func (c *Comparison) ratioOfVariances(a, b Sample) {
	va, vb := a.DF(), b.DF()
	r := math.Sqrt(a.SumSquares() / va / (b.SumSquares() / vb))
	upper := func(d1, d2 float64) float64 { return distuv.F{D1: d1, D2: d2}.Quantile(0.5 + Confidence/2) }
	c.FRatio = Estimate[float64]{Value: r, Low: r / math.Sqrt(upper(va, vb)), High: r * math.Sqrt(upper(vb, va)), Level: Confidence}
	c.ProbATight = distuv.F{D1: vb, D2: va}.CDF(1 / (r * r))
}

// FTest is the plain F test of equal spreads: two-sided p and cdf. It is kept
// for comparison with tables; it cries wolf in 20–30 % of cases when a few
// arrows are wild (G6), so no verdict rests on it.
func FTest(f, nuA, nuB float64) (p, cdf float64) {
	d := distuv.F{D1: nuA, D2: nuB}
	cdf = d.CDF(f)
	return 2 * min(cdf, d.Survival(f)), cdf
}

// FEvidence is the e-value of an F ratio against equal spreads: the
// scale-invariant likelihood ratio averaged over ln(σ_A/σ_B) ~ N(0, (ln 1.5)²)
// on 161 points from −1.6 to 1.6 (G7). Right for normal, circular groups.
func FEvidence(f, nuA, nuB float64) float64 {
	const points, reach = 161, 1.6
	sum, weights := 0.0, 0.0
	for i := range points {
		u := reach * (2*float64(i)/(points-1) - 1)
		w := math.Exp(-u * u / (2 * math.Log(1.5) * math.Log(1.5)))
		k := nuA / nuB * f
		ln := -nuA*u + (nuA+nuB)/2*(math.Log1p(k)-math.Log1p(k*math.Exp(-2*u)))
		sum, weights = sum+w*math.Exp(ln), weights+w
	}
	return sum / weights
}

// moreArrows is how many further arrows a set-up would show a difference as
// large as the one seen, a tenth more than the F test needs (the price of the
// spatial median on normal shots: 4(4/π−1) = 1.093).
func (c Comparison) moreArrows() int {
	seen := math.Abs(math.Log(c.Ratio.Value))
	if c.Verdict != CannotTellYet || seen < math.Log(1.03) {
		return 0
	}
	need, err := ArrowsNeeded(SizeQuestion{Reduction: 1 - math.Exp(-seen), Power: 0.8})
	if err != nil {
		return 0
	}
	return max(1, int(math.Ceil(1.1*float64(need)))-min(c.ArrowsA, c.ArrowsB))
}

func (c *Comparison) describeFixed() {
	c.Assumptions = []string{
		"the number of arrows was fixed before shooting, not stopped when it looked good",
		"arrows of one set-up scatter independently about their ends' centres, in any one shape",
		"day, wind and archer were the same for both: shot in turns, order by coin",
	}
	c.Text = c.sentence() + ByChance(c.P)
	if n := min(c.ArrowsA, c.ArrowsB); n < 12 {
		c.Warnings = append(c.Warnings, fmt.Sprintf("with %d arrows a set-up only a difference of about %.0f %% would be seen four times in five", n, 100*SmallestReduction(n, 0.8)))
	}
	if c.Ratio.Holds(1) && !c.FRatio.Holds(1) {
		c.Warnings = append(c.Warnings, "the plain ratio of variances would claim a difference; a few wide arrows make it cry wolf, so the verdict does not follow it")
	}
	c.WouldChange = append(c.WouldChange, "more ends of both, in turns; one wide arrow more or less does not change it much")
}

func (c Comparison) sentence() string {
	size := fmt.Sprintf("σ of A is %.2f times that of B (%s)", c.Ratio.Value, rangeText(c.Ratio))
	switch c.Verdict {
	case CannotTellYet:
		more := ""
		if c.More > 0 {
			more = fmt.Sprintf("; about %d more arrows a set-up would show a difference of this size", c.More)
		}
		return "Cannot tell yet: " + size + more + "."
	}
	return string(c.Verdict) + ": " + size + "."
}

// ByChance is a sentence that says a comparison's p-value as a count; "" for
// none.
func ByChance(p float64) string {
	said := num.InFifty(p)
	if said == "" {
		return ""
	}
	return " Were both alike, a difference as large would show in " + said + " such comparisons."
}

func rangeText(e Estimate[float64]) string {
	if math.IsInf(e.High, 1) {
		return fmt.Sprintf("%.2f to no upper limit", max(e.Low, 0))
	}
	return fmt.Sprintf("%.2f to %.2f", e.Low, e.High)
}
