package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/num"
)

// SettingLevel is what was shot at one value of a setting.
type SettingLevel struct {
	At   float64 // the setting, in whatever unit it is turned or measured
	Ends Sample  // ends at this level
}

// FiellerSet is a confidence set for a ratio or an optimum: an interval, or,
// where the data do not bound it, everything outside an interval, or all.
type FiellerSet struct {
	Kind      FiellerKind
	Low, High float64 // ends of the interval, or of the gap when Kind is Outside
	Level     float64
}

// FiellerKind is the shape of a FiellerSet.
type FiellerKind string

const (
	Between    FiellerKind = "between"    // Low … High
	Outside    FiellerKind = "outside"    // below Low or above High: not bounded
	Everything FiellerKind = "everything" // the data exclude nothing
	Nothing    FiellerKind = "nothing"    // no value fits
)

// Bounded reports whether the set is an interval.
func (s FiellerSet) Bounded() bool { return s.Kind == Between }

// Holds reports whether x belongs to the set.
func (s FiellerSet) Holds(x float64) bool {
	switch s.Kind {
	case Between:
		return x >= s.Low && x <= s.High
	case Outside:
		return x <= s.Low || x >= s.High
	}
	return s.Kind == Everything
}

// quadraticSet is {x: a x² + b x + c ≤ 0}.
func quadraticSet(a, b, c, level float64) FiellerSet {
	disc := b*b - 4*a*c
	switch {
	case a == 0 && b == 0, disc < 0 && a < 0, disc <= 0 && a <= 0:
		if c <= 0 || a < 0 {
			return FiellerSet{Everything, math.Inf(-1), math.Inf(1), level}
		}
		return FiellerSet{Nothing, math.NaN(), math.NaN(), level}
	case disc < 0:
		return FiellerSet{Nothing, math.NaN(), math.NaN(), level}
	}
	// The stable pair of roots.
	q := -(b + math.Copysign(math.Sqrt(disc), b)) / 2
	x1, x2 := q/a, c/q
	if q == 0 {
		x1, x2 = 0, 0
	}
	low, high := min(x1, x2), max(x1, x2)
	if a > 0 {
		return FiellerSet{Between, low, high, level}
	}
	return FiellerSet{Outside, low, high, level}
}

// LevelsOutcome is the kind of answer a one-setting trial gives.
type LevelsOutcome string

const (
	BestInside   LevelsOutcome = "best_inside"   // the tightest setting lies inside the levels, with an interval
	BestBeyond   LevelsOutcome = "best_beyond"   // the spread falls toward one end: look further that way
	NoDifference LevelsOutcome = "no_difference" // the levels do not differ by more than their doubt
	Undecided    LevelsOutcome = "cannot_tell"   // they differ, but the best setting's interval leaves the levels
)

// LevelsVerdict is the answer of a one-setting trial.
type LevelsVerdict struct {
	Outcome     LevelsOutcome
	Text        string
	Best        FiellerSet // of the setting with the least spread; unbounded is a normal answer
	BestValue   float64    // −b1/(2 b2); NaN if the spread has no least value
	Levels      []LevelSpread
	Curve       [3]float64 // ln σ = c0 + c1 z + c2 z², z = (setting − Middle)/HalfRange
	Low, High   float64    // the levels shot reach from Low to High
	Middle      float64
	HalfRange   float64
	PFlat       float64 // that all levels have one spread
	Arrows      int
	More        int // further arrows a level to bound the best setting, if it bends as it seems; 0: no number is sensible
	Dispersion  float64
	Assumptions []string
	Warnings    []string
	WouldChange []string

	level float64 // of confidence
}

// LevelSpread is the spread at one level.
type LevelSpread struct {
	At     float64
	Sigma  Estimate[float64] // m
	Arrows int
}

// levelFit is the weighted quadratic on ln σ.
type levelFit struct {
	z, y, v []float64
	fit     fit
	crit    float64
}

// DecideLevels, at a level of confidence, fits a weighted quadratic to ln σ over three or more levels,
// with the known variance ψ′(ν/2)/4 ≈ 1/(2ν) of each (G7), and gives the best
// setting with Fieller's interval, which is unbounded where the bend is not
// plain (Fieller 1954, recalled; Box & Hunter 1954). Where ends of one level
// differ by more than normal shots would, the variances are enlarged to match.
// A best setting is claimed only where its whole interval lies within the levels
// shot: a parabola's bottom beyond them is drawn, not seen.
// It leaves out that settings interact: shoot two settings as a factorial.
func DecideLevels(levels []SettingLevel, level float64) (LevelsVerdict, error) {
	if err := checkLevel(level); err != nil {
		return LevelsVerdict{}, err
	}
	if len(levels) < 3 {
		return LevelsVerdict{}, bad("levels", "shoot at three settings, wide apart, 36 arrows each", "%d levels cannot show a best one", len(levels))
	}
	v := LevelsVerdict{BestValue: math.NaN(), level: level}
	low, high := math.Inf(1), math.Inf(-1)
	for i, l := range levels {
		if err := l.Ends.check(fmt.Sprintf("level %d", i+1)); err != nil {
			return v, err
		}
		if l.Ends.SumSquares() == 0 || math.IsNaN(l.At) || math.IsInf(l.At, 0) {
			return v, bad(fmt.Sprintf("level %d", i+1), "plot the arrows where they hit, and name the setting by a number", "it has no spread or no setting")
		}
		low, high = min(low, l.At), max(high, l.At)
		v.Arrows += l.Ends.Arrows()
	}
	v.Low, v.High, v.Middle, v.HalfRange = low, high, (low+high)/2, (high-low)/2
	f, ok := v.fitLevels(levels)
	if !ok {
		return v, bad("levels", "use three different settings, wide apart", "fewer than three different settings")
	}
	v.optimum(f)
	v.flat(f)
	v.decide(f)
	v.describe(levels)
	return v, nil
}

func (v *LevelsVerdict) fitLevels(levels []SettingLevel) (levelFit, bool) {
	f := levelFit{crit: distuv.UnitNormal.Quantile(0.5 + v.level/2)}
	v.Dispersion = dispersion(levels)
	scale := v.Dispersion
	if scale > 1 {
		v.Warnings = append(v.Warnings, fmt.Sprintf("the arrows scatter more wildly than normal shots (wild arrows, or a long group): the intervals are widened by %.0f %%", 100*(math.Sqrt(scale)-1)))
	}
	for _, l := range levels {
		y, variance := logSpread(l.Ends.SumSquares(), l.Ends.DF())
		f.z, f.y, f.v = append(f.z, (l.At-v.Middle)/v.HalfRange), append(f.y, y), append(f.v, variance*scale)
		half := f.crit * math.Sqrt(variance*scale)
		v.Levels = append(v.Levels, LevelSpread{l.At, Estimate[float64]{Value: math.Exp(y), Low: math.Exp(y - half), High: math.Exp(y + half), Level: v.level}, l.Ends.Arrows()})
	}
	var ok bool
	f.fit, ok = leastSquares(powers(f.z, 2), f.y, f.v)
	return f, ok
}

// dispersion is how much larger Var(ln s) is than for normal, circular shots:
// Var(r²)/E(r²)² of the arrows about their ends' centres, which is 1 there (r²
// is exponential) and sets Var(ln s) = that/(4n) for any shape. Within one
// standard error of 1, √(8/N), it counts as 1.
func dispersion(levels []SettingLevel) float64 {
	var sum, square, n float64
	for _, l := range levels {
		mean := l.Ends.SumSquares() / (l.Ends.DF() / 2)
		for _, e := range l.Ends.counted() {
			for _, r2 := range e.squares() {
				u := r2 / mean
				sum, square, n = sum+u, square+u*u, n+1
			}
		}
	}
	m := sum / n
	phi := (square/n - m*m) / (m * m) * n / (n - 1)
	if phi < 1+math.Sqrt(8/n) {
		return 1
	}
	return phi
}

// optimum inverts the test of a zero slope at x: (b1 + 2 b2 x)² ≤ c²·variance.
func (v *LevelsVerdict) optimum(f levelFit) {
	b, s, c := f.fit.coef, f.fit.cov, f.crit*f.crit
	copy(v.Curve[:], b)
	set := quadraticSet(
		4*(b[2]*b[2]-c*s.At(2, 2)),
		4*(b[1]*b[2]-c*s.At(1, 2)),
		b[1]*b[1]-c*s.At(1, 1), v.level)
	set.Low, set.High = v.Middle+v.HalfRange*set.Low, v.Middle+v.HalfRange*set.High
	v.Best = set
	if b[2] > 0 {
		v.BestValue = v.Middle - v.HalfRange*b[1]/(2*b[2])
	}
	if t := b[2] / math.Sqrt(s.At(2, 2)); t > 0 {
		need := f.crit + distuv.UnitNormal.Quantile(0.8)
		if factor := need * need / (t * t); factor > 1 && factor < 10 {
			v.More = int(math.Ceil(float64(v.Arrows) / float64(len(f.z)) * (factor - 1)))
		}
	}
}

// flat tests one spread for all levels: Σ (y − ȳ)²/v ~ χ²(k−1).
func (v *LevelsVerdict) flat(f levelFit) {
	var w, wy float64
	for i := range f.y {
		w, wy = w+1/f.v[i], wy+f.y[i]/f.v[i]
	}
	sum := 0.0
	for i := range f.y {
		sum += (f.y[i] - wy/w) * (f.y[i] - wy/w) / f.v[i]
	}
	v.PFlat = distuv.ChiSquared{K: float64(len(f.y) - 1)}.Survival(sum)
}

// decide reads the set against the range that was shot.
func (v *LevelsVerdict) decide(f levelFit) {
	// Slope of the fitted curve at both ends, with its doubt.
	plain := func(z float64) float64 { // slope over its standard error
		_, se := f.fit.at([]float64{0, 1, 2 * z})
		return (f.fit.coef[1] + 2*f.fit.coef[2]*z) / se
	}
	switch falls, rises := plain(1) < -f.crit && plain(-1) < 0, plain(-1) > f.crit && plain(1) > 0; {
	case v.Best.Bounded() && f.fit.coef[2] > 0 && v.Best.Low > v.Low && v.Best.High < v.High:
		v.Outcome = BestInside
	case v.PFlat >= 1-v.level:
		v.Outcome = NoDifference
	case falls, rises:
		v.Outcome = BestBeyond
	default:
		v.Outcome = Undecided
	}
}

// Where says in words where the best setting lies, as far as the levels shot can
// tell: what lies beyond them is not read off a parabola. show writes a setting.
func (v *LevelsVerdict) Where(show func(float64) string) string {
	b, bowl := v.Best, v.Curve[2] > 0
	switch inside := b.Low > v.Low && b.High < v.High; {
	case v.Outcome == BestBeyond && v.Curve[1] < 0:
		return fmt.Sprintf("%s or above, how far is not told by the levels shot", show(v.High))
	case v.Outcome == BestBeyond:
		return fmt.Sprintf("%s or below, how far is not told by the levels shot", show(v.Low))
	case b.Bounded() && !bowl: // the set is of the widest groups then
		return fmt.Sprintf("not bounded: the groups are no tighter between %s and %s than at the ends", show(v.Low), show(v.High))
	case b.Bounded() && inside:
		return fmt.Sprintf("%s (%s to %s)", show(v.BestValue), show(b.Low), show(b.High))
	case b.Kind == Outside && inside:
		return fmt.Sprintf("not bounded: below %s or above %s", show(b.Low), show(b.High))
	}
	return v.oneSided(show)
}

// oneSided is where the best setting lies when the levels shot bound it on one
// side, or on none.
func (v *LevelsVerdict) oneSided(show func(float64) string) string {
	low, high := v.Best.Low, v.Best.High
	if v.Best.Kind == Outside { // what is left between the levels, if anything is
		low, high = high, low
	}
	switch {
	case low > v.Low && low < v.High:
		return fmt.Sprintf("from %s up, not bounded above by the levels shot", show(low))
	case high > v.Low && high < v.High:
		return fmt.Sprintf("up to %s, not bounded below by the levels shot", show(high))
	case v.Best.Bounded() && low >= v.High:
		return fmt.Sprintf("%s or above, how far is not told by the levels shot", show(v.High))
	case v.Best.Bounded() && high <= v.Low:
		return fmt.Sprintf("%s or below, how far is not told by the levels shot", show(v.Low))
	case v.Best.Kind == Everything:
		return "not bounded: the arrows exclude no setting"
	}
	return "not bounded by the levels shot"
}

// SpeaksAgainst reports whether the groups are plainly no tightest at a setting:
// the levels differ by more than their doubt, and the best one is elsewhere.
func (v *LevelsVerdict) SpeaksAgainst(x float64) bool {
	switch v.Outcome {
	case NoDifference:
		return false
	case BestBeyond:
		return v.Curve[1] < 0 && x != v.High || v.Curve[1] > 0 && x != v.Low
	}
	widest := v.Best.Bounded() && v.Curve[2] <= 0
	return v.Best.Holds(x) == widest
}

func (v *LevelsVerdict) describe(levels []SettingLevel) {
	v.Assumptions = []string{
		"levels were shot in random order within blocks, one end each, so that day, wind and tiredness fall on all alike",
		"ln σ is a parabola over the levels; every end has its own centre",
		"no other setting moved",
	}
	switch v.Outcome {
	case BestInside:
		v.Text = "The tightest groups are near " + v.Where(four) + "."
	case BestBeyond:
		side := "above"
		if v.Curve[1] > 0 {
			side = "below"
		}
		v.Text = fmt.Sprintf("The groups tighten toward one end: the best setting lies %s the levels shot, or at that end.", side)
	case NoDifference:
		v.Text = fmt.Sprintf("Cannot tell yet: the levels do not differ by more than their doubt: were they alike, they would differ as much in %s such trials (p %.2f). Which setting is best is not bounded by these arrows.", num.InFifty(v.PFlat), v.PFlat)
	default:
		v.Text = "Cannot tell yet: the levels differ, but where the best one lies is not bounded by the levels shot and their arrows: " + v.Where(four) + "."
	}
	if v.Outcome != BestInside && v.More > 0 {
		v.Text += fmt.Sprintf(" About %d more arrows a level would bound it, if the bend is as it seems.", v.More)
	}
	least := levels[0].Ends.Arrows()
	for _, l := range levels {
		least = min(least, l.Ends.Arrows())
	}
	if least < 36 {
		v.Warnings = append(v.Warnings, fmt.Sprintf("%d arrows at a level: 36 are the least that usually bound a best setting, and only if σ rises by a third across the range", least))
	}
	v.WouldChange = []string{"levels wider apart tell more than more levels", "a confirming pair: the best setting against the old one, order by coin"}
}

// four writes a setting to four digits.
func four(x float64) string { return fmt.Sprintf("%.4g", x) }
