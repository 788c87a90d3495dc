package trial

import (
	"fmt"
	"math"
	"slices"
)

// SpreadMeasure says how the spread of an end enters the paired comparison.
type SpreadMeasure string

const (
	// SquareSum uses the end's sum of squares: sharpest on normal shots.
	SquareSum SpreadMeasure = "sum of squares"
	// MedianDistance uses the mean distance to the end's spatial median:
	// sharper when a few arrows are wild. Default.
	MedianDistance SpreadMeasure = "spatial median"
)

// Pair is one end with each set-up, shot one after the other in an order
// decided by a coin.
type Pair struct{ A, B End }

// EnoughEvidence is the e-value at which a comparison is decided: 1/α for
// α = 0.05 (Ville's inequality), whenever one looks.
const EnoughEvidence = 20

// coinBet is the running product of the bet's factors for every ratio of the
// prior: u = ln(σ_A/σ_B) on 81 points from −1.6 to 1.6, w ∝ N(0, (ln 1.5)²).
type coinBet struct{ theta, w, product []float64 }

func newCoinBet() coinBet {
	const points, reach = 81, 1.6
	b := coinBet{}
	sum := 0.0
	for i := range points {
		u := reach * (2*float64(i)/(points-1) - 1)
		w := math.Exp(-u * u / (2 * math.Log(1.5) * math.Log(1.5)))
		b.theta, b.w, b.product, sum = append(b.theta, math.Exp(2*u)), append(b.w, w), append(b.product, 1), sum+w
	}
	for i := range b.w {
		b.w[i] /= sum
	}
	return b
}

// next takes one pair and returns the evidence so far. With l_θ(d) =
// (ν/2)(d − ln θ) − ν ln(1 + e^(d − ln θ)) the factor 2/(1 + e^(l_θ(−d) − l_θ(d)))
// is 2/(1 + ((θ + x)/(1 + θx))^ν), x = e^d.
func (b coinBet) next(d, nu float64) float64 {
	x, sum := math.Exp(bounded(d)), 0.0
	for i, theta := range b.theta {
		b.product[i] *= 2 / (1 + math.Pow((theta+x)/(1+theta*x), nu))
		sum += b.w[i] * b.product[i]
	}
	return sum
}

// Evidence returns the e-value after every pair: d_i = ln(S_A/S_B) of the
// ends' spreads as variances, ν_i = 2(k−1). If the set-ups are equal, the sign
// of d_i given |d_i| is a fair coin, whatever the shape of the shots, so the
// sequence is a martingale that starts at 1; it may be looked at, and stopped,
// at any time (G7, own construction).
func Evidence(d, nu []float64) []float64 {
	bet := newCoinBet()
	out := make([]float64, len(d))
	for i := range d {
		out[i] = bet.next(d[i], nu[i])
	}
	return out
}

// bounded keeps an end without any spread from making infinities; the factor
// has reached its limit long before.
func bounded(d float64) float64 { return min(max(d, -50), 50) }

// ComparePairs compares two set-ups end by end, looking as you go. The verdict
// stands once the evidence has reached 20, even if it falls back later. The
// ratio's interval holds the ratios whose own evidence has never reached 20, so
// it holds 1 exactly while there is no verdict.
func ComparePairs(pairs []Pair, measure SpreadMeasure, seed uint32) (Comparison, error) {
	if measure == "" {
		measure = MedianDistance
	}
	d, nu, err := logRatios(pairs, measure)
	if err != nil {
		return Comparison{}, err
	}
	c := Comparison{Verdict: CannotTellYet, P: math.NaN(), Method: "paired ends, order by coin, " + string(measure) + "; may be stopped at any time"}
	var a, b Sample
	for _, p := range pairs {
		a, b = append(a, p.A), append(b, p.B)
	}
	c.ArrowsA, c.ArrowsB = a.Arrows(), b.Arrows()
	c.ratioOfVariances(a, b)
	e := Evidence(d, nu)
	c.Evidence = e[len(e)-1]
	c.Ratio = coinInterval(d, nu)
	if at := slices.IndexFunc(e, func(x float64) bool { return x >= EnoughEvidence }); at >= 0 {
		c.Evidence = slices.Max(e)
		c.Verdict = BTighter
		if likeliestRatio(d[:at+1], nu[:at+1]) < 0 {
			c.Verdict = ATighter
		}
	} else {
		c.More = morePairs(d, nu, math.Log(c.Ratio.Value), seed) * len(pairs[len(pairs)-1].A)
	}
	c.describePairs()
	return c, nil
}

// PairStep is where a paired comparison stood after one of its pairs.
type PairStep struct {
	Pairs    int
	Evidence float64           // e-value after this pair
	Ratio    Estimate[float64] // σ_A/σ_B from the pairs so far
}

// MostPairs is how many pairs a comparison takes: a season of them.
const MostPairs = 400

// stepsTold is about how many steps of a long comparison are told.
const stepsTold = 24

// FollowPairs tells a paired comparison as it was looked at, after every pair,
// or after every few of a long one.
func FollowPairs(pairs []Pair, measure SpreadMeasure) ([]PairStep, error) {
	if measure == "" {
		measure = MedianDistance
	}
	d, nu, err := logRatios(pairs, measure)
	if err != nil {
		return nil, err
	}
	stride := (len(d) + stepsTold - 1) / stepsTold
	var steps []PairStep
	for i, e := range Evidence(d, nu) {
		if n := i + 1; n%stride == 0 || n == len(d) {
			steps = append(steps, PairStep{n, e, coinInterval(d[:n], nu[:n])})
		}
	}
	return steps, nil
}

// logRatios are d_i and ν_i of the pairs.
func logRatios(pairs []Pair, measure SpreadMeasure) (d, nu []float64, err error) {
	if measure != SquareSum && measure != MedianDistance {
		return nil, nil, bad("measure", "sum of squares or spatial median", "%q is not a measure of spread", measure)
	}
	if len(pairs) == 0 {
		return nil, nil, bad("pairs", "shoot one end with each set-up, order by coin", "no pair is complete")
	}
	if len(pairs) > MostPairs {
		return nil, nil, bad("pairs", "so many arrows need no looking as you go: compare them as a fixed number", "%d pairs; %d are taken", len(pairs), MostPairs)
	}
	for i, p := range pairs {
		if len(p.A) < 2 || len(p.B) < 2 {
			return nil, nil, bad(fmt.Sprintf("pair %d", i+1), "an end needs two arrows, three or six are usual", "ends of %d and %d arrows", len(p.A), len(p.B))
		}
		for name, e := range map[string]End{"A": p.A, "B": p.B} {
			if err := (Sample{e}).check(fmt.Sprintf("pair %d, %s", i+1, name)); err != nil {
				return nil, nil, err
			}
		}
		d = append(d, p.logRatio(measure))
		nu = append(nu, float64(len(p.A)+len(p.B)-2))
	}
	return d, nu, nil
}

func (p Pair) logRatio(measure SpreadMeasure) float64 {
	spread := func(e End) float64 {
		if measure == SquareSum {
			return math.Log(e.sumSquares() / float64(len(e)-1))
		}
		sum := 0.0
		list := Sample{e}.medianDistances()
		for _, r := range list {
			sum += r
		}
		return 2 * math.Log(sum/float64(len(list)))
	}
	a, b := spread(p.A), spread(p.B)
	if a == b { // also two ends without any spread
		return 0
	}
	return a - b
}

// coinInterval inverts the sequential test over ratios: scaling A by 1/θ
// shifts every d by −2 ln θ. The value maximises the average likelihood of the
// d's over ratios (variance ratio of F form).
func coinInterval(d, nu []float64) Estimate[float64] {
	lost := func(ln float64) bool {
		shifted := make([]float64, len(d))
		for i := range d {
			shifted[i] = d[i] - 2*ln
		}
		return slices.Max(Evidence(shifted, nu)) >= EnoughEvidence
	}
	best := likeliestRatio(d, nu)
	edge := func(sign float64) float64 {
		in := 0.0
		for out := 0.03; out < math.Log(1000); out += 0.03 + out/10 {
			// The ratio 1 is looked at exactly, for it is what the verdict asks.
			if one := -best * sign; in < one && one < out && lost(0) {
				out = one
			}
			if !lost(best + sign*out) {
				in = out
				continue
			}
			for range 30 {
				if mid := (in + out) / 2; lost(best + sign*mid) {
					out = mid
				} else {
					in = mid
				}
			}
			return in
		}
		return math.Inf(1)
	}
	return Estimate[float64]{Value: math.Exp(best), Low: math.Exp(best - edge(-1)), High: math.Exp(best + edge(1)), Level: Confidence}
}

// likeliestRatio maximises Σ l_θ(d_i) over ln(σ_A/σ_B); the sum is concave.
func likeliestRatio(d, nu []float64) float64 {
	low, high := -5.0, 5.0
	slope := func(u float64) float64 { // d/du of Σ l, up to a factor
		s := 0.0
		for i := range d {
			s += nu[i] * math.Tanh((bounded(d[i])-2*u)/2)
		}
		return s
	}
	for range 60 {
		if mid := (low + high) / 2; slope(mid) > 0 {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// morePairs is the median number of further pairs after which the evidence
// reaches 20 if the ratio is the one seen (200 futures of normal shots, 60
// pairs at most; 0 if half of them do not get there). The pages work it out the
// same way without a network (web/src/trial/pairs.ts), so the futures come from
// numbers that any language makes alike.
func morePairs(d, nu []float64, lnRatio float64, seed uint32) int {
	const futures, horizon = 200, 60
	future := newFutures(seed)
	k, bet := nu[len(nu)-1], newCoinBet()
	for i := range d {
		bet.next(d[i], nu[i])
	}
	now := slices.Clone(bet.product)
	var stops []int
	for range futures {
		copy(bet.product, now)
		for n := 1; n <= horizon; n++ {
			if bet.next(2*lnRatio+future.logF(int(k)), k) >= EnoughEvidence {
				stops = append(stops, n)
				break
			}
		}
	}
	if len(stops) <= futures/2 {
		return 0
	}
	slices.Sort(stops)
	return stops[futures/2]
}

func (c *Comparison) describePairs() {
	c.Assumptions = []string{
		"the order within every pair was decided by a coin, and both ends were shot one after the other",
		"if the set-ups are equal, an end's spread does not depend on which of them shot it; no shape of scatter is assumed",
	}
	c.Text = c.sentence()
	if c.Verdict == CannotTellYet && c.More == 0 {
		c.WouldChange = append(c.WouldChange, "a larger difference: with one as small as that seen, 60 more pairs would often not decide")
	} else {
		c.WouldChange = append(c.WouldChange, "more pairs; you may stop at any time without spoiling the verdict")
	}
}
