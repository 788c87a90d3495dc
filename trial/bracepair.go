package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"tautline/num"
)

// Contrast is what one measure says of two brace heights, A (visited first)
// and B. The visit is the unit: a setting that was made once has no repeat of
// itself, however many arrows it was shot with.
type Contrast struct {
	Measure    Measure
	Difference Estimate[float64] // A minus B in the measure's unit, a steady drift taken out; Level is 1 − this measure's share of α
	P          float64           // of no difference, adjusted for the measures compared; NaN: no doubt to judge by
	Visits     int
	DF         int // visits − 3
	Shots      int
	Claimed    bool // told apart; exactly where Difference does not hold zero
}

// pairing is a measure's comparison of two stops before it is put in words.
type pairing struct {
	Contrast
	a, b     int // indices into the series' stops
	own      float64
	f        fit
	shotsSE  float64 // standard error of the difference from the shots' scatter alone
	visitSD  float64
	ofShots  float64   // degrees of freedom of the shots' scatter; 0: none
	perStop  [2]int    // visits at each
	perVisit []float64 // 1/shots
}

// compares says whether the readings ask which of two brace heights it is to
// be, rather than for a spot: planned as A-B-B-A, or two stops with a second
// visit.
func (r BraceReadings) compares(stops []stop) bool {
	return len(stops) <= 2 && r.Order == ABBA || len(stops) == 2 && r.revisited()
}

// leastVisits is the number of visits that leave a degree of freedom for the
// scatter of a visit beside both settings and a drift.
const leastVisits = 4

// pairSeries compares the two stops of a measure visit by visit: least squares
// on setting and steady drift, as CompareVisits does.
func pairSeries(r BraceReadings, se series) *judged {
	j := &judged{series: se, detectable: math.Inf(1)}
	if !infoOf[se.measure].tested {
		j.note = "shown only"
		return j
	}
	if len(se.stops) < 2 {
		j.note = "it was taken at one brace height only"
		return j
	}
	p := &pairing{Contrast: Contrast{Measure: se.measure, Shots: se.shots, P: math.NaN(), Difference: Unknown[float64]()}, own: math.NaN(), ofShots: se.shotNu}
	if slices.Min(se.stops[1].visits) < slices.Min(se.stops[0].visits) {
		p.a, p.b = 1, 0
	} else {
		p.a, p.b = 0, 1
	}
	one, isA, at, y := p.columns(r, se)
	p.Visits = len(y)
	f, ok := leastSquares([][]float64{one, isA, at}, y, one)
	if p.Visits < leastVisits || !ok {
		j.note = fmt.Sprintf("%s to the two brace heights; %d in turns, A-B-B-A, are the least", counted(p.Visits, "visit"), leastVisits)
		return j
	}
	p.f, p.DF, p.Difference.Value = f, f.df, f.coef[1]
	p.visitSD = math.Sqrt(f.rss / float64(f.df))
	if p.ofShots == 0 && p.visitSD <= 1e-9*(math.Abs(f.coef[0])+math.Abs(f.coef[1])) {
		j.note = "its visits agree to the last digit, which gives no scatter to judge by"
		return j
	}
	for i, v := range p.perVisit {
		w := f.cov.At(1, 0) + f.cov.At(1, 1)*isA[i] + f.cov.At(1, 2)*at[i]
		p.shotsSE += sq(w*se.s) * v
	}
	p.shotsSE = math.Sqrt(p.shotsSE)
	p.own = p.chance()
	j.pair = p
	return j
}

// columns are the regression's: one row a visit that has the measure, in
// shooting order.
func (p *pairing) columns(r BraceReadings, se series) (one, isA, at, y []float64) {
	for i, v := range r.Visits {
		values := v.values(se.measure)
		if len(values) == 0 {
			continue
		}
		a := 0.0
		if slices.Contains(se.stops[p.a].visits, i) {
			a = 1
			p.perStop[0]++
		} else {
			p.perStop[1]++
		}
		one, isA, y = append(one, 1), append(isA, a), append(y, stat.Mean(values, nil))
		p.perVisit = append(p.perVisit, 1/float64(len(values)))
	}
	for i := range y {
		at = append(at, float64(i)-float64(len(y)-1)/2)
	}
	return one, isA, at, y
}

// chance is the two-sided p of no difference: the larger of what the visits'
// own scatter gives (Student's t with visits − 3) and what the shots' does. Two
// visits that agree by luck are no better than their arrows.
func (p *pairing) chance() float64 {
	_, se := p.f.at([]float64{0, 1, 0})
	most := chanceOf(p.Difference.Value, p.visitSD*se, float64(p.DF))
	if p.ofShots > 0 {
		most = max(most, 2*survivalT(p.ofShots, math.Abs(p.Difference.Value)/p.shotsSE))
	}
	return most
}

// half is half the interval at 1 − alpha that inverts the same test.
func (p *pairing) half(alpha float64) float64 {
	_, se := p.f.at([]float64{0, 1, 0})
	return p.widest(p.visitSD*se, p.shotsSE, alpha)
}

func (p *pairing) widest(visits, shots, alpha float64) float64 {
	half := quantileT(float64(p.DF), 1-alpha/2) * visits
	if p.ofShots > 0 {
		half = max(half, quantileT(p.ofShots, 1-alpha/2)*shots)
	}
	return half
}

// holmPairs shares α over the measures by Holm's rule. Where one fails, all
// after it are told at the level it failed at, so that an interval leaves zero
// out exactly where a difference is claimed.
func holmPairs(list []*judged, alpha float64) {
	var told []*judged
	for _, j := range list {
		if j.pair != nil {
			told = append(told, j)
		}
	}
	slices.SortStableFunc(told, func(a, b *judged) int { return compare(a.pair.own, b.pair.own) })
	open, least, failed := true, 0.0, 0.0
	for i, j := range told {
		times := float64(len(told) - i)
		share := alpha / times
		least = max(least, min(1, j.pair.own*times))
		if open = open && j.pair.own <= share; !open {
			if failed == 0 {
				failed = share
			}
			share = failed
		}
		j.p, j.pair.P, j.pair.Claimed = least, least, open
		j.pair.Difference = around(j.pair.Difference.Value, j.pair.half(share))
		j.pair.Difference.Level = 1 - share
	}
}

// answerPair takes the outcome of two brace heights from what was told apart.
func (v *BraceVerdict) answerPair(stops []stop, list []*judged) {
	v.Outcome = CannotTell
	for _, j := range list {
		if j.pair == nil {
			continue
		}
		v.Contrasts = append(v.Contrasts, j.pair.Contrast)
		if j.pair.Claimed {
			v.Outcome = Differ
		}
	}
	if v.Outcome == Differ || len(v.Contrasts) == 0 {
		return
	}
	for _, st := range stops {
		arrows := 3
		for _, j := range list {
			for i, own := range j.stops {
				if own.number == st.number {
					arrows = max(arrows, (j.n[i]+len(own.visits)-1)/len(own.visits))
				}
			}
		}
		v.Repeats = append(v.Repeats, RepeatStop{st.number, st.brace.Value, arrows, "the visit is the unit: one more to each brace height tells far more than more arrows now"})
	}
}

// contrastWords says a comparison in a sentence's part: "A is 6.0 dB (5.1 to
// 6.9) louder than B".
func contrastWords(w wording, c Contrast, a, b string) string {
	info := infoOf[c.Measure]
	size := func(x float64) string { return w.number(x, 1) }
	d := c.Difference
	if !c.Claimed {
		return fmt.Sprintf("%s of A minus B %s %s (%s to %s)", info.name, size(d.Value), info.unit, size(d.Low), size(d.High))
	}
	word, low, high := info.more, d.Low, d.High
	if d.Value < 0 {
		word, low, high = info.less, -d.High, -d.Low
	}
	return fmt.Sprintf("%s %s %s %s (%s to %s) %s than %s, p %s", a, info.verb, size(math.Abs(d.Value)), info.unit, size(low), size(high), word, b, w.chance(c.P))
}

// pairSentence is the answer for two brace heights.
func (v *BraceVerdict) pairSentence(w wording, list []*judged) string {
	a, b := v.pairNames(w)
	var told, open []string
	least := 1.0
	for _, c := range v.Contrasts {
		if !c.Claimed {
			open = append(open, contrastWords(w, c, a, b))
			continue
		}
		told = append(told, contrastWords(w, c, a, b))
		least = min(least, c.P)
		a, b = "A", "B"
	}
	switch {
	case len(told) > 0:
		text := strings.Join(told, "; ") + "."
		if said := num.InFifty(least); said != "" {
			text += " Were both alike, a difference as plain would show in " + said + " such trials."
		}
		if len(open) > 0 {
			text += " Cannot tell yet: " + strings.Join(open, "; ") + "."
		}
		return text
	case len(open) > 0:
		return fmt.Sprintf("Cannot tell %s from %s yet: %s.", a, b, strings.Join(open, "; "))
	}
	return "Cannot tell yet: " + whyNot(list, v.Stops) + "."
}

// pairNames are the two brace heights as a sentence first names them.
func (v *BraceVerdict) pairNames(w wording) (a, b string) {
	if len(v.pair) < 2 {
		return "A", "B"
	}
	return "A at " + w.length(v.pair[0].brace.Value), "B at " + w.length(v.pair[1].brace.Value)
}

// pairChanges says what would change the answer for two brace heights.
func (v *BraceVerdict) pairChanges(list []*judged) (out []string) {
	for _, j := range list {
		if j.pair == nil && j.note != "" && j.measure != Feel {
			out = append(out, fmt.Sprintf("%s: visits in turns, A-B-B-A, the setting made anew at each", j.measure.Name()))
		}
	}
	for _, c := range v.Contrasts {
		if c.DF < 3 {
			return append(out, fmt.Sprintf("two more visits, one to each: with %d the doubt is wide by nature, with %d it is about a third of that or less", c.Visits, c.Visits+2))
		}
	}
	if len(v.Contrasts) > 0 {
		out = append(out, "more visits to both; more arrows a visit change little")
	}
	return out
}

// pairSlope is a comparison as a straight line over brace height, per +1 cm.
func (j *judged) pairSlope() Estimate[float64] {
	d, cm := j.pair.Difference, 100*(j.x[j.pair.a]-j.x[j.pair.b])
	low, high := d.Low/cm, d.High/cm
	return Estimate[float64]{Value: d.Value / cm, Low: min(low, high), High: max(low, high), Level: d.Level}
}

// pairMean is the mean of one of the two brace heights, with the doubt of a
// setting made so many times.
func (j *judged) pairMean(i int) Estimate[float64] {
	visits := j.pair.perStop[0]
	if i == j.pair.b {
		visits = j.pair.perStop[1]
	}
	return around(j.mean[i], j.pair.widest(j.pair.visitSD/math.Sqrt(float64(visits)), j.s/math.Sqrt(float64(j.n[i])), 1-Confidence))
}

// counted writes a number with its noun: "1 stop", "2 stops".
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// byVisit puts the stops in the order in which they were first shot.
func byVisit(stops []stop) []stop {
	out := slices.Clone(stops)
	slices.SortStableFunc(out, func(a, b stop) int { return slices.Min(a.visits) - slices.Min(b.visits) })
	return out
}
