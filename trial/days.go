package trial

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"tautline/num"
)

// DayEnd is one ordinary scored end, or a group of them, shot with a set-up on
// a day: ln σ (LogSpread), or mean points an arrow, with the variance that so
// many arrows give it. That must not be the end's own sample variance of
// points: where bad ends scatter more, they would hardly count.
type DayEnd struct {
	Setup string
	Day   string  // date, or any name of a day
	Y     float64 // response
	Var   float64 // > 0
}

// SetupMean is one set-up's mean over days.
type SetupMean struct {
	Setup      string
	Mean       Estimate[float64]
	Difference Estimate[float64] // from the reference; zero for the reference itself
	P          float64
	Ends, Days int
}

// Observed is evidence from ordinary shooting. It was not randomised: days,
// archers' form and wind may differ between set-ups for reasons the model does
// not know, so it stands beside the trials and is never called a verdict.
type Observed struct {
	Label     string // "observed, not randomised"
	Setups    []SetupMean
	Reference string
	DaySD     float64 // standard deviation between days
	EndFactor float64 // how much wider ends scatter than their arrows say, as a factor on the variance, ≥ 1
	DF        int
	Ends      int
	Days      int
	Warnings  []string
}

// mixed is y = set-up + day + end, days random: V = φ(diag v + λ ZZᵀ).
type mixed struct {
	days   [][]DayEnd
	setups map[string]int
	n, p   int
}

// ObserveSetups fits set-ups as fixed and days as random effects by restricted
// maximum likelihood (Patterson & Thompson 1971; one-dimensional in the ratio
// λ of day to end variance) and compares every set-up with the reference. The
// intervals count days: Student's t with days − set-ups, at least 1.
func ObserveSetups(ends []DayEnd, reference string) (Observed, error) {
	o := Observed{Label: "observed, not randomised", Reference: reference, Ends: len(ends)}
	m := mixed{setups: map[string]int{}, n: len(ends)}
	if err := m.gather(ends, reference); err != nil {
		return o, err
	}
	o.Days = len(m.days)
	if m.n <= m.p || m.p < 2 {
		return o, bad("ends", "join ordinary ends of at least two set-ups, several of each", "%d ends of %d set-ups", m.n, m.p)
	}
	lambda := m.bestLambda()
	beta, cov, phi, err := m.solve(lambda)
	if err != nil {
		return o, err
	}
	o.EndFactor, o.DaySD = phi, math.Sqrt(phi*lambda)
	o.DF = max(1, o.Days-m.p)
	o.compare(m, beta, cov)
	o.warn(m)
	return o, nil
}

func (m *mixed) gather(ends []DayEnd, reference string) error {
	at := map[string]int{}
	m.setups[reference] = 0
	seen := false
	for i, e := range ends {
		if !(math.Abs(e.Y) <= 1e6) || !(e.Var > 0) || math.IsInf(e.Var, 0) {
			return bad(fmt.Sprintf("end %d", i+1), "give its value and the variance its arrows give it", "value %g with variance %g", e.Y, e.Var)
		}
		seen = seen || e.Setup == reference
		if _, known := m.setups[e.Setup]; !known {
			m.setups[e.Setup] = len(m.setups)
		}
		d, known := at[e.Day]
		if !known {
			d = len(m.days)
			at[e.Day] = d
			m.days = append(m.days, nil)
		}
		m.days[d] = append(m.days[d], e)
	}
	if !seen {
		return bad("reference", "name a set-up that was shot", "no end was shot with %q", reference)
	}
	m.p = len(m.setups)
	return nil
}

// normal builds XᵀV⁻¹X and XᵀV⁻¹y for φ = 1, and ln|V|, day by day:
// (D + λ11ᵀ)⁻¹ = W − λ W11ᵀW/(1 + λ Σw).
func (m *mixed) normal(lambda float64) (xx *mat.SymDense, xy []float64, yy, logDet float64) {
	xx, xy = mat.NewSymDense(m.p, nil), make([]float64, m.p)
	for _, day := range m.days {
		var w, wy float64
		share := make([]float64, m.p)
		for _, e := range day {
			k, u := m.setups[e.Setup], 1/e.Var
			w, wy, share[k] = w+u, wy+u*e.Y, share[k]+u
			xx.SetSym(k, k, xx.At(k, k)+u)
			xy[k] += u * e.Y
			yy += u * e.Y * e.Y
			logDet += math.Log(e.Var)
		}
		c := lambda / (1 + lambda*w)
		for a := range m.p {
			for b := a; b < m.p; b++ {
				xx.SetSym(a, b, xx.At(a, b)-c*share[a]*share[b])
			}
			xy[a] -= c * share[a] * wy
		}
		yy -= c * wy * wy
		logDet += math.Log1p(lambda * w)
	}
	return xx, xy, yy, logDet
}

// solve returns the set-ups' means, their covariance and φ (at least 1: ends
// cannot scatter less than their arrows).
func (m *mixed) solve(lambda float64) (beta []float64, cov *mat.SymDense, phi float64, err error) {
	xx, xy, yy, _ := m.normal(lambda)
	var chol mat.Cholesky
	var b mat.VecDense
	cov = mat.NewSymDense(m.p, nil)
	if !chol.Factorize(xx) || chol.SolveVecTo(&b, mat.NewVecDense(m.p, xy)) != nil || chol.InverseTo(cov) != nil {
		return nil, nil, 0, bad("ends", "leave out set-ups with very few arrows", "the ends do not tell the set-ups apart")
	}
	rss := yy - mat.Dot(&b, mat.NewVecDense(m.p, xy))
	phi = max(1, rss/float64(m.n-m.p))
	cov.ScaleSym(phi, cov)
	return b.RawVector().Data, cov, phi, nil
}

// bestLambda maximises the restricted likelihood over λ ≥ 0.
func (m *mixed) bestLambda() float64 {
	like := func(lambda float64) float64 {
		xx, xy, yy, logDet := m.normal(lambda)
		var chol mat.Cholesky
		if !chol.Factorize(xx) {
			return math.Inf(-1)
		}
		var b mat.VecDense
		if err := chol.SolveVecTo(&b, mat.NewVecDense(m.p, xy)); err != nil {
			return math.Inf(-1)
		}
		rss, df := yy-mat.Dot(&b, mat.NewVecDense(m.p, xy)), float64(m.n-m.p)
		phi := max(1, rss/df)
		return -(df*math.Log(phi) + rss/phi + logDet + chol.LogDet()) / 2
	}
	none := like(0)
	best, at := none, 0.0
	for e := -16.0; e <= 10; e += 0.25 {
		if l := like(math.Exp(e)); l > best {
			best, at = l, e
		}
	}
	if best == none {
		return 0
	}
	// Values alone place the flat top to eight digits, its slope to all.
	top := num.FindRoot(func(e float64) float64 { return m.slope(math.Exp(e)) }, at-0.25, at+0.25, 1e-13, 0)
	if !top.Status.OK() {
		return math.Exp(at)
	}
	return math.Exp(top.X)
}

// slope is the derivative of −2 times the restricted log-likelihood by λ. φ at
// its best value, or at 1, adds nothing to it.
func (m *mixed) slope(lambda float64) (sum float64) {
	beta, cov, phi, err := m.solve(lambda)
	if err != nil {
		return math.NaN()
	}
	for _, day := range m.days {
		var w, rest float64
		share := mat.NewVecDense(m.p, nil)
		for _, e := range day {
			k, u := m.setups[e.Setup], 1/e.Var
			w, rest = w+u, rest+u*(e.Y-beta[k])
			share.SetVec(k, share.AtVec(k)+u)
		}
		r := 1 + lambda*w
		lever := mat.Inner(share, cov, share) / phi
		sum += w/r - (rest*rest/phi+lever)/(r*r)
	}
	return sum
}

func (o *Observed) compare(m mixed, beta []float64, cov *mat.SymDense) {
	t := quantileT(float64(o.DF), 0.5+Confidence/2)
	for name, k := range m.setups {
		s := SetupMean{Setup: name, Mean: around(beta[k], t*math.Sqrt(cov.At(k, k))), P: 1}
		days := map[string]bool{}
		for _, day := range m.days {
			for _, e := range day {
				if e.Setup == name {
					s.Ends++
					days[e.Day] = true
				}
			}
		}
		s.Days = len(days)
		if k != 0 {
			se := math.Sqrt(cov.At(k, k) + cov.At(0, 0) - 2*cov.At(0, k))
			s.Difference = around(beta[k]-beta[0], t*se)
			s.P = 2 * survivalT(float64(o.DF), math.Abs(beta[k]-beta[0])/se)
		}
		o.Setups = append(o.Setups, s)
	}
	slices.SortFunc(o.Setups, func(a, b SetupMean) int { return m.setups[a.Setup] - m.setups[b.Setup] })
}

func (o *Observed) warn(m mixed) {
	o.Warnings = append(o.Warnings, "the set-ups were not shot in random order: form, wind and season may explain a difference")
	shared := 0
	for _, day := range m.days {
		names := map[string]bool{}
		for _, e := range day {
			names[e.Setup] = true
		}
		if len(names) > 1 {
			shared++
		}
	}
	if shared == 0 {
		o.Warnings = append(o.Warnings, "no two set-ups were shot on one day: every difference is also a difference between days")
	}
	if o.DF < 4 {
		o.Warnings = append(o.Warnings, fmt.Sprintf("%d days: too few to know how much days differ", o.Days))
	}
}
