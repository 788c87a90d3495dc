package trial

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// judged is a measure with its test.
type judged struct {
	series
	bench      *bench
	test       *spotTest // nil: not testable, note says why
	first      []found   // windows judged at the first look, best first
	claims     []claim
	suspicion  *found  // a departure that is remarkable but not claimed
	alpha      float64 // this measure's share of the trial's
	times      float64 // its p-value times this is on the trial's scale
	p          float64 // adjusted p of the first look
	detectable float64
	uneven     bool
	stepAt     int          // >0: the readings look like a step before this stop
	again      []RepeatStop // stops whose claim was withdrawn
	note       string
	pair       *pairing // where two stops are compared instead
}

// claim is a found spot with the windows it was chosen from.
type claim struct {
	found
	rivals []found
}

// bench keeps prepared tests, so that measures taken with the same shots at the
// same stops share one simulation.
type bench struct {
	seed  uint64
	tests []*spotTest
}

func (b *bench) prepare(t *spotTest) *spotTest {
	for _, old := range b.tests {
		if old.sameAs(t) {
			return old
		}
	}
	t.simulate(spotDraws, b.seed)
	b.tests = append(b.tests, t)
	return t
}

func judgeSeries(se series, b *bench) *judged {
	j := &judged{series: se, bench: b, detectable: math.Inf(1)}
	switch k := len(se.x); {
	case !infoOf[se.measure].tested:
		j.note = "shown only"
	case k < minSpotStops:
		j.note = fmt.Sprintf("%s cannot tell a spot from a bend in the trend, %d are the least", counted(k, "stop"), minSpotStops)
	case se.nu == 0:
		j.note = "one shot a stop has no scatter to judge a departure by"
	default:
		j.test = b.prepare(newSpotTest(se.x, se.rel, se.nu, nil))
		j.first = j.test.judge(se.mean, se.s, 0.05)
	}
	return j
}

func (j *judged) remedy() string {
	if len(j.x) < minSpotStops {
		return counted(minSpotStops-len(j.x), "more stop")
	}
	return "two or more shots a stop"
}

// holm shares α over the measures tested (Holm 1979): the most remarkable is
// judged at α/m, the next at α/(m−1), and so on until one fails.
func holm(list []*judged, alpha float64) {
	var tested []*judged
	for _, j := range list {
		if j.test != nil && len(j.first) > 0 {
			tested = append(tested, j)
		}
	}
	slices.SortStableFunc(tested, func(a, b *judged) int { return compare(a.first[0].p, b.first[0].p) })
	open, least := true, 0.0
	for i, j := range tested {
		j.times = float64(len(tested) - i)
		j.alpha = alpha / j.times
		least = max(least, min(1, j.first[0].p*j.times))
		j.p = least
		j.decide(open)
		open = open && j.first[0].p <= j.alpha
	}
}

// suspicionAt is the adjusted p up to which an unclaimed departure is worth a
// second visit: one trial in ten without any spot proposes one.
const suspicionAt = 0.1

// decide claims the spots of one measure: one by one, each taken out of the
// trend before the next is looked for, two at the most.
func (j *judged) decide(open bool) {
	j.first = j.test.judge(j.mean, j.s, j.alpha)
	j.detectable = j.test.detectable(j.s, j.alpha, 0.8)
	looks := j.first
	var known []window
	for open && len(looks) > 0 && looks[0].p <= j.alpha && len(j.claims) < 2 {
		best := looks[0]
		best.p = min(1, best.p*j.times) // on the scale of the whole trial
		j.claims = append(j.claims, claim{best, looks})
		known = append(known, best.window)
		next := newSpotTest(j.x, j.rel, j.nu, known)
		// A departure far below what the first look asked for needs no simulation.
		if len(j.x)-len(known) < minSpotStops || next.top(j.mean, j.s) < 0.85*j.test.critical(j.alpha) {
			break
		}
		looks = j.bench.prepare(next).judge(j.mean, j.s, j.alpha)
	}
	j.distrust(known)
	if len(j.claims) == 0 && j.p <= suspicionAt {
		j.suspicion = &j.first[0]
	}
}

// distrust withdraws claims that a step explains better, or that stand among
// stops which scatter more than the shots do.
func (j *judged) distrust(known []window) {
	square, df := j.lackOfFit(known)
	if df > 0 {
		j.uneven = survivalF(square/(j.s*j.s), float64(df), j.nu) < 0.01
	}
	drowned := len(j.claims) > 0 && j.drowned()
	j.stepAt = j.step(known)
	switch {
	case len(j.claims) > 0 && j.stepAt > 0:
		j.warnings = append(j.warnings, fmt.Sprintf("%s jumps between %s and %s and stays there: a step, not a spot. Was the phone moved, or something else changed?",
			j.measure.Name(), mm(unit.Length(j.x[j.stepAt-1])), mm(unit.Length(j.x[j.stepAt]))))
		j.doubt("a step, not a spot: see whether it comes back", j.stepAt-1, j.stepAt)
	case drowned:
		j.warnings = append(j.warnings, j.measure.Name()+" differs from stop to stop by about as much as this one stop stands out, and by more than its shots explain: something else changes between stops")
		c := j.claims[0].window.centre
		j.doubt("stops scatter more than shots: see whether it comes back", c-1, c, c+1)
	case j.uneven:
		j.warnings = append(j.warnings, j.measure.Name()+" differs from stop to stop by more than its shots do: something else changed between stops, or the trend is not smooth")
	}
}

// drownedAt is the level of the second hurdle: a departure must also stand out
// against the other stops' own scatter about the trend. It is lenient, because
// few stops say little about that scatter: 0.15 costs a planted 1.5 dB dip one
// or two points of power and halves the false spots of settings that do not
// come back the same (docs/theory/trials.md has the figures).
const drownedAt = 0.15

// drowned reports whether the strongest claim fails that hurdle.
func (j *judged) drowned() bool {
	square, df := j.lackOfFit([]window{j.claims[0].window})
	if df == 0 || square <= j.s*j.s {
		return false
	}
	hurdle := j.bench.prepare(newSpotTest(j.x, j.rel, float64(df), nil))
	return j.claims[0].stat*j.s/math.Sqrt(square) < hurdle.critical(drownedAt)
}

// doubt withdraws the claims and asks for the stops again.
func (j *judged) doubt(reason string, stops ...int) {
	j.claims = nil
	for _, i := range stops {
		j.again = append(j.again, RepeatStop{j.stops[i].number, j.stops[i].brace.Value, max(3, j.n[i]), reason})
	}
}

// lackOfFit is the mean square of the stops about the best smooth trend, spots
// taken out, in units of one shot's variance per relative variance, with its
// degrees of freedom; df 0 if the stops leave none.
func (j *judged) lackOfFit(known []window) (square float64, df int) {
	z := scaled(j.mean, j.test.root)
	square = math.Inf(1)
	for _, c := range smoothClasses(j.x, j.test.root) {
		for _, k := range known {
			c = c.with(j.test.root, k.shape)
		}
		rest, used := c.project(z)
		if left := len(z) - used; left > 0 {
			if ms := floats.Dot(rest, rest) / float64(left); ms < square {
				square, df = ms, left
			}
		}
	}
	return square, df
}

// step returns the stop before which a step explains the readings better than
// the claimed spot does (straight line plus either), 0 if the spot does.
func (j *judged) step(known []window) int {
	if len(known) == 0 {
		return 0
	}
	u := powers(centred(j.x), 1)
	spot, ok := leastSquares(append(u, known[0].shape), j.mean, j.rel)
	if !ok {
		return 0
	}
	best, at := spot.rss, 0
	for m := 2; m <= len(j.x)-2; m++ {
		jump := make([]float64, len(j.x))
		for i := m; i < len(jump); i++ {
			jump[i] = 1
		}
		if f, ok := leastSquares(append(powers(centred(j.x), 1), jump), j.mean, j.rel); ok && f.rss < best {
			best, at = f.rss, m
		}
	}
	return at
}

func survivalF(f, d1, d2 float64) float64 {
	if math.IsInf(d2, 1) {
		return distuv.ChiSquared{K: d1}.Survival(f * d1)
	}
	return distuv.F{D1: d1, D2: d2}.Survival(f)
}

// repeats proposes stops for a suspected departure, with the arrows that would
// settle it in four of five trials if it is as large as it looks.
func (j *judged) repeats() []RepeatStop {
	if j.suspicion == nil || len(j.again) > 0 {
		return j.again
	}
	if _, ok := kindOf(j.measure, j.suspicion.window.sign); !ok {
		return nil
	}
	more := j.arrowsToSettle(*j.suspicion)
	if more == 0 {
		return nil
	}
	var list []RepeatStop
	c := j.suspicion.window.centre
	for i := c - 1; i <= c+1; i++ {
		list = append(list, RepeatStop{
			j.stops[i].number, j.stops[i].brace.Value, more,
			fmt.Sprintf("%s looks %.1f %s %s its trend at %s, which chance gives in %.0f %% of such trials", j.measure.Name(),
				j.suspicion.size.Value, j.measure.Unit(), map[bool]string{true: "below", false: "above"}[j.suspicion.window.sign < 0],
				mm(unit.Length(j.x[c])), 100*j.p),
		})
	}
	return list
}

// arrowsToSettle finds the least number of further arrows at the window's stop
// and its neighbours; 0 if 60 would not do.
func (j *judged) arrowsToSettle(f found) int {
	need := j.test.critical(j.alpha) + distuv.UnitNormal.Quantile(0.8)
	at := slices.IndexFunc(j.test.windows, func(w window) bool {
		return w.centre == f.window.centre && w.sign == f.window.sign && slices.Equal(w.shape, f.window.shape)
	})
	for more := 3; more <= 60; more += 3 {
		rel := slices.Clone(j.rel)
		for i := f.window.centre - 1; i <= f.window.centre+1; i++ {
			rel[i] = rel[i] / (1 + float64(more)*rel[i])
		}
		if gain := newSpotTest(j.x, rel, j.nu, nil).leastGain(at); f.size.Value*gain >= need*j.s {
			return more
		}
	}
	return 0
}
