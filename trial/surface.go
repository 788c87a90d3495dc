package trial

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Run is one set of shots at a combination of settings.
type Run struct {
	X     []float64 // coded settings: −1 low, 0 centre, +1 high
	Block int       // day or half-day; runs of one block share a level
	Y     float64   // response: ln σ (see LogSpread), or a score
	Var   float64   // variance of Y, up to a factor that all runs share; 0: equal for all runs
}

// LogSpread is ln σ of a sample, unbiased for circular groups, with the variance
// that normal shots would give it: the response of a Run.
func LogSpread(s Sample) (y, variance float64) { return logSpread(s.SumSquares(), s.DF()) }

// Order of a response surface.
type SurfaceOrder int

const (
	FirstOrder  SurfaceOrder = 1 // slopes and interactions: a two-level factorial
	SecondOrder SurfaceOrder = 2 // with squares: face-centred or central composite
)

// Term is one coefficient of a surface.
type Term struct {
	Name string            // "1", "block 2", "x1", "x1 x2", "x1²"
	Coef Estimate[float64] // of an effect, at the level of its share: without zero exactly when it is plain
	SE   float64
	P    float64 // two-sided, of zero
	// Shared is P when the effects share one error by Holm's rule: the share of
	// trials without any effect that show one as plain as this.
	Shared float64
	Plain  bool  // an effect that stands out although as many were looked at
	index  []int // factors multiplied
}

// effect reports whether the term is of settings: neither mean nor block.
func (t Term) effect() bool { return len(t.index) > 0 && t.index[0] >= 0 }

// Surface is a fitted response surface.
type Surface struct {
	Terms      []Term
	DF         int       // residual degrees of freedom
	RSE        float64   // residual standard error; √(χ²/df) where the runs have variances
	R2         float64   // share of the variance explained
	Stationary []float64 // coded; nil for a first-order fit
	Fitted     float64   // response there, mean of the blocks' first
	Eigen      []float64 // of the matrix of second-order coefficients, largest first
	Kind       string    // "minimum", "maximum", "saddle"
	Inside     bool      // is the stationary point inside the runs' range
	Warnings   []string

	factors int
	fit     fit
	scale   float64 // variance of one run in units of the fit's
	level   float64
	limit   float64
}

// FitSurface fits a polynomial of the given order with block effects (Myers &
// Montgomery, as in Lenth, J. Stat. Soft. 32(7), 2009). The runs' scatter about
// the surface is the yardstick (Student's t with the residual degrees of
// freedom): the variance that normal shots would have is too small for arrows
// that scatter more wildly and for settings that come out otherwise each time
// they are made. The effects share the error 1 − level by Holm's rule (Holm,
// Scand. J. Statist. 6, 65–70, 1979).
func FitSurface(runs []Run, order SurfaceOrder, level float64) (Surface, error) {
	s := Surface{level: level}
	if err := checkLevel(level); err != nil {
		return s, err
	}
	if err := s.check(runs); err != nil {
		return s, err
	}
	terms, columns := surfaceColumns(runs, order, s.factors)
	y, v := make([]float64, len(runs)), make([]float64, len(runs))
	for i, r := range runs {
		y[i], v[i] = r.Y, r.Var
		if r.Var == 0 {
			v[i] = 1
		}
	}
	var ok bool
	if s.fit, ok = leastSquares(columns, y, v); !ok {
		return s, bad("runs", "shoot the whole plan: corners, centre and, for a second-order fit, the faces", "%d runs do not fix %d coefficients", len(runs), len(columns))
	}
	s.DF = s.fit.df
	s.summarise(y, v, terms)
	if order == SecondOrder {
		s.stationary()
	}
	return s, nil
}

// farthestCoded is how far a setting may lie from the middle, in coded units.
const farthestCoded = 1000

func (s *Surface) check(runs []Run) error {
	if len(runs) == 0 || len(runs[0].X) == 0 {
		return bad("runs", "plan a factorial first", "there are none")
	}
	s.factors = len(runs[0].X)
	withVar := 0
	for i, r := range runs {
		if len(r.X) != s.factors {
			return bad(fmt.Sprintf("run %d", i+1), "code every setting as −1, 0 or +1", "%d settings instead of %d", len(r.X), s.factors)
		}
		if !(math.Abs(r.Y) <= largestValue) || !(r.Var == 0 || r.Var >= 1/largestValue && r.Var <= largestValue) {
			return bad(fmt.Sprintf("run %d", i+1), "use LogSpread of its arrows", "the response is not a number, or its variance none")
		}
		if r.Var > 0 {
			withVar++
		}
		for _, x := range r.X {
			if !(math.Abs(x) <= farthestCoded) {
				return bad(fmt.Sprintf("run %d", i+1), "code every setting as −1, 0 or +1", "%g is no coded setting", x)
			}
			s.limit = max(s.limit, math.Abs(x))
		}
	}
	if withVar > 0 && withVar < len(runs) {
		return bad("runs", "give every run's variance, or none", "%d of %d runs have one", withVar, len(runs))
	}
	return nil
}

// surfaceColumns lists intercept, blocks, slopes, interactions and squares.
func surfaceColumns(runs []Run, order SurfaceOrder, k int) (terms []Term, columns [][]float64) {
	add := func(name string, index []int, f func(r Run) float64) {
		c := make([]float64, len(runs))
		for i, r := range runs {
			c[i] = f(r)
		}
		terms, columns = append(terms, Term{Name: name, index: index}), append(columns, c)
	}
	add("1", nil, func(Run) float64 { return 1 })
	seen := map[int]bool{runs[0].Block: true}
	for _, r := range runs {
		if b := r.Block; !seen[b] {
			seen[b] = true
			add(fmt.Sprintf("block %d", b), []int{-1}, func(r Run) float64 {
				if r.Block == b {
					return 1
				}
				return 0
			})
		}
	}
	for i := range k {
		add(fmt.Sprintf("x%d", i+1), []int{i}, func(r Run) float64 { return r.X[i] })
	}
	for i := range k {
		for j := i + 1; j < k; j++ {
			add(fmt.Sprintf("x%d x%d", i+1, j+1), []int{i, j}, func(r Run) float64 { return r.X[i] * r.X[j] })
		}
	}
	if order == SecondOrder {
		for i := range k {
			add(fmt.Sprintf("x%d²", i+1), []int{i, i}, func(r Run) float64 { return r.X[i] * r.X[i] })
		}
	}
	return terms, columns
}

// summarise fills the coefficients' table, RSE and R².
func (s *Surface) summarise(y, v []float64, terms []Term) {
	var w, wy, total float64
	for i := range y {
		w, wy = w+1/v[i], wy+y[i]/v[i]
	}
	for i := range y {
		total += (y[i] - wy/w) * (y[i] - wy/w) / v[i]
	}
	s.R2 = 1 - s.fit.rss/total
	if s.DF > 0 {
		s.RSE = math.Sqrt(s.fit.rss / float64(s.DF))
	}
	s.scale = s.RSE * s.RSE
	for i, t := range terms {
		t.SE, t.P, t.Shared = math.Sqrt(s.scale*s.fit.cov.At(i, i)), 1, 1
		if t.Coef = s.interval(s.fit.coef[i], t.SE, s.level); s.DF > 0 {
			t.P = chanceOf(s.fit.coef[i], t.SE, float64(s.DF))
		}
		s.Terms = append(s.Terms, t)
	}
	s.share()
}

// interval is a coefficient's, unbounded where no run is left to judge it by.
func (s *Surface) interval(coef, se, level float64) Estimate[float64] {
	half := math.Inf(1)
	if s.DF > 0 {
		half = quantileT(float64(s.DF), 0.5+level/2) * se
	}
	return Estimate[float64]{Value: coef, Low: coef - half, High: coef + half, Level: level}
}

// share lets the effects share the error: the most remarkable of m is judged at
// α/m, the next at α/(m−1), and so on until one fails, with which all others
// do.
func (s *Surface) share() {
	var list []*Term
	for i := range s.Terms {
		if s.Terms[i].effect() {
			list = append(list, &s.Terms[i])
		}
	}
	slices.SortStableFunc(list, func(a, b *Term) int { return cmp.Compare(a.P, b.P) })
	alpha, left, shared, plain := 1-s.level, len(list), 0.0, true
	for i, t := range list {
		shared = max(shared, min(1, float64(len(list)-i)*t.P))
		if plain = plain && shared < alpha; plain {
			left = len(list) - i
		} else if i > 0 && list[i-1].Plain {
			left = len(list) - i
		}
		t.Shared, t.Plain = shared, plain
		t.Coef = s.interval(t.Coef.Value, t.SE, 1-alpha/float64(left))
	}
}

// Needed is how many of its standard errors the first of so many effects must
// have to stand out.
func (s *Surface) Needed(effects int) float64 {
	if s.DF == 0 {
		return math.Inf(1)
	}
	return quantileT(float64(s.DF), 1-(1-s.level)/2/float64(max(effects, 1)))
}

// gradient returns, for a point, the rows g_i of the slopes: slope_i = g_i·coef.
func (s *Surface) gradient(x []float64) *mat.Dense {
	g := mat.NewDense(s.factors, len(s.Terms), nil)
	for c, t := range s.Terms {
		switch {
		case len(t.index) == 1 && t.index[0] >= 0:
			g.Set(t.index[0], c, 1)
		case len(t.index) == 2:
			i, j := t.index[0], t.index[1]
			g.Set(i, c, g.At(i, c)+x[j])
			g.Set(j, c, g.At(j, c)+x[i])
		}
	}
	return g
}

// stationary solves b + 2Bx = 0 and looks at B's eigenvalues.
func (s *Surface) stationary() {
	k := s.factors
	b, B := mat.NewVecDense(k, nil), mat.NewSymDense(k, nil)
	for c, t := range s.Terms {
		coef := s.fit.coef[c]
		switch {
		case len(t.index) == 1 && t.index[0] >= 0:
			b.SetVec(t.index[0], coef)
		case len(t.index) == 2 && t.index[0] == t.index[1]:
			B.SetSym(t.index[0], t.index[0], coef)
		case len(t.index) == 2:
			B.SetSym(t.index[0], t.index[1], coef/2)
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(B, false) {
		return
	}
	values := eigen.Values(nil)
	for i := len(values) - 1; i >= 0; i-- {
		s.Eigen = append(s.Eigen, values[i])
	}
	switch {
	case s.Eigen[k-1] > 0:
		s.Kind = "minimum"
	case s.Eigen[0] < 0:
		s.Kind = "maximum"
	default:
		s.Kind = "saddle"
	}
	var x mat.VecDense
	if err := x.SolveVec(B, b); err != nil {
		s.Warnings = append(s.Warnings, "the surface is flat in one direction: there is no single best point")
		return
	}
	x.ScaleVec(-0.5, &x)
	s.Stationary, s.Inside = x.RawVector().Data, true
	for _, v := range s.Stationary {
		s.Inside = s.Inside && math.Abs(v) <= s.limit
	}
	s.Fitted = s.At(s.Stationary)
	if !s.Inside {
		s.Warnings = append(s.Warnings, "the stationary point lies outside the settings that were shot: do not set it, shoot in its direction")
	}
}

// At is the fitted response at a coded point, in the first block.
func (s *Surface) At(x []float64) float64 {
	y := 0.0
	for c, t := range s.Terms {
		v := s.fit.coef[c]
		if len(t.index) == 1 && t.index[0] < 0 {
			continue
		}
		for _, i := range t.index {
			v *= x[i]
		}
		y += v
	}
	return y
}

// InRegion reports whether a point belongs to the confidence region of the
// stationary point: slopes δ there with δᵀV⁻¹δ ≤ k F(k, ν) (Box & Hunter,
// Biometrika 41, 190–199, 1954).
func (s *Surface) InRegion(x []float64) bool {
	k := s.factors
	g := s.gradient(x)
	var slope, inverse mat.VecDense
	slope.MulVec(g, mat.NewVecDense(len(s.fit.coef), s.fit.coef))
	var v, gc mat.Dense
	gc.Mul(g, s.fit.cov)
	v.Mul(&gc, g.T())
	v.Scale(s.scale, &v)
	if err := inverse.SolveVec(&v, &slope); err != nil {
		return true
	}
	if s.DF == 0 {
		return true
	}
	limit := float64(k) * distuv.F{D1: float64(k), D2: float64(s.DF)}.Quantile(s.level)
	return mat.Dot(&slope, &inverse) <= limit
}

// Region is the box around the confidence region of the stationary point.
type Region struct {
	Low, High []float64 // coded, clipped to the settings shot
	Area      float64   // of the region (volume), coded units
	Bounded   bool      // false: it reaches the edge of what was shot
}

// Region scans the settings that were shot on a grid of n points a side (two
// or three factors; n 201 is usual for two).
func (s *Surface) Region(n int) (Region, error) {
	if s.Stationary == nil || s.factors > 3 || n < 3 {
		return Region{}, bad("surface", "fit a second-order surface of one to three settings", "there is no stationary point to bound")
	}
	k := s.factors
	r := Region{Bounded: true}
	for range k {
		r.Low, r.High = append(r.Low, math.Inf(1)), append(r.High, math.Inf(-1))
	}
	step := 2 * s.limit / float64(n-1)
	total, x := int(math.Pow(float64(n), float64(k))), make([]float64, k)
	for at := range total {
		edge := false
		for i, rest := 0, at; i < k; i, rest = i+1, rest/n {
			x[i] = -s.limit + step*float64(rest%n)
			edge = edge || rest%n == 0 || rest%n == n-1
		}
		if !s.InRegion(x) {
			continue
		}
		r.Area += math.Pow(step, float64(k))
		r.Bounded = r.Bounded && !edge
		for i := range x {
			r.Low[i], r.High[i] = min(r.Low[i], x[i]), max(r.High[i], x[i])
		}
	}
	return r, nil
}
