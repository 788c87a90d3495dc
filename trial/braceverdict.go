package trial

import (
	"slices"

	"tautline/unit"
)

// Outcome is the kind of answer a brace-height trial gives.
type Outcome string

const (
	SpotFound  Outcome = "spot"        // a lively or settled spot stands out
	NoSpot     Outcome = "no_spot"     // no spot stands out; the trend is the answer
	Repeat     Outcome = "repeat"      // something may be there: repeat these stops
	Differ     Outcome = "difference"  // two brace heights were compared and told apart
	CannotTell Outcome = "cannot_tell" // the readings cannot answer, and it says why
)

// SpotKind is one of the two kinds of brace-height spot.
type SpotKind string

const (
	Lively  SpotKind = "lively"  // louder, rings on, or faster than the trend
	Settled SpotKind = "settled" // quieter, rings on less, or softer than the trend
)

// BraceVerdict is the answer of a brace-height trial with its doubt.
type BraceVerdict struct {
	Outcome     Outcome
	Text        string      // the answer in a sentence or two, lengths in mm
	Candidates  []Candidate // lively and settled spots, only if claimed
	Contrasts   []Contrast  // two brace heights compared, A being the first visited
	Trends      []Trend     // every measure taken, in a fixed order
	Repeats     []RepeatStop
	Stops       int // distinct brace heights
	Arrows      int // counted shots; settling shots are not counted
	Settling    int
	Assumptions []string
	Warnings    []string
	WouldChange []string // what would change the verdict

	judged []*judged // behind Sentence
	pair   []stop    // A and B, where two are compared
}

// Candidate is a spot, with the measures that show it.
type Candidate struct {
	Kind     SpotKind
	Stop     int                   // the stop nearest to it
	Brace    Estimate[unit.Length] // where; the interval spans the stops that fit about as well
	Evidence []SpotEvidence        // claimed evidence, strongest first
}

// SpotEvidence is the departure of one measure from its smooth trend.
type SpotEvidence struct {
	Measure Measure
	Size    Estimate[float64] // departure from the trend, in the measure's unit; negative: below it. Interval corrected for the stops looked at
	P       float64           // adjusted for stops looked at, both directions and the measures tested
	Shots   int
}

// RepeatStop is a stop worth another visit.
type RepeatStop struct {
	Stop   int
	Brace  unit.Length
	Arrows int // more arrows, counted
	Reason string
}

// Trend is one measure against brace height.
type Trend struct {
	Measure    Measure
	Points     []TrendPoint
	Order      int               // of the polynomial drawn: 0, 1 or 2
	SlopePerCM Estimate[float64] // straight-line change per +1 cm of brace height
	Direction  string            // "falls", "rises" or "" when the interval holds zero
	Scatter    Estimate[float64] // one shot's standard deviation
	DF         float64           // degrees of freedom of the scatter
	Shots      int
	P          float64           // adjusted p of the most remarkable departure, of two stops of their difference; NaN: not tested
	Detectable float64           // size of a one-stop spot found in 4 of 5 trials like this; +Inf: none
	Drift      Estimate[float64] // per visit, where a stop was visited twice
	Uneven     bool              // stops scatter more than shots explain, spots aside
	// Broad is the bottom (Hollow) or top of a plainly bent trend, if it lies
	// inside the range: a broad optimum, not a spot. Not Known otherwise.
	Broad  Estimate[unit.Length]
	Hollow bool
	Note   string // why it was not tested
}

// TrendPoint is one stop of a trend.
type TrendPoint struct {
	Stop   int
	Brace  Estimate[unit.Length]
	Shots  int
	Mean   Estimate[float64] // interval from the pooled scatter; unbounded with one shot and no scatter
	Smooth Estimate[float64] // the smooth trend there, spots left out
}

// DecideBrace judges a brace-height trial. Few data are no error: it says what
// they cannot tell. It assumes shots at a stop are independent and roughly
// normal and that nothing but the brace height differed from stop to stop; it
// cannot see a phone that was moved, except as a step or as uneven stops.
func DecideBrace(r BraceReadings) (BraceVerdict, error) {
	return decideBrace(r, &bench{seed: r.Seed})
}

func decideBrace(r BraceReadings, b *bench) (BraceVerdict, error) {
	if err := r.check(); err != nil {
		return BraceVerdict{}, err
	}
	if r.Alpha == 0 {
		r.Alpha = 0.05
	}
	stops := r.stops()
	v := BraceVerdict{Stops: len(stops)}
	for _, visit := range r.Visits {
		v.Arrows += visit.counted()
		v.Settling += visit.settling()
	}
	pair := r.compares(stops)
	var list []*judged
	for _, m := range measures {
		switch se, ok := seriesOf(r, m, stops); {
		case ok && pair:
			list = append(list, pairSeries(r, se))
		case ok:
			list = append(list, judgeSeries(se, b))
		}
	}
	if pair {
		v.pair = byVisit(stops)
		holmPairs(list, r.Alpha)
	} else {
		holm(list, r.Alpha)
	}
	for _, j := range list {
		v.Trends = append(v.Trends, j.trend())
		v.Warnings = append(v.Warnings, j.warnings...)
	}
	if pair {
		v.answerPair(v.pair, list)
	} else {
		v.collect(list)
		v.answer(list)
	}
	v.say(r, list)
	return v, nil
}

// collect joins claimed departures of the same kind at neighbouring stops.
func (v *BraceVerdict) collect(list []*judged) {
	for _, j := range list {
		for _, s := range j.claims {
			kind, ok := kindOf(j.measure, s.window.sign)
			if !ok {
				continue
			}
			e := SpotEvidence{j.measure, signed(s.size, s.window.sign), s.p, j.shots}
			at := slices.IndexFunc(v.Candidates, func(c Candidate) bool {
				return c.Kind == kind && abs(stopAt(j, c.Stop)-s.window.centre) <= 1
			})
			if at < 0 {
				low, high := j.location(s)
				st := j.stops[s.window.centre]
				v.Candidates = append(v.Candidates, Candidate{
					Kind: kind, Stop: st.number,
					Brace: Estimate[unit.Length]{Value: st.brace.Value, Low: low, High: high, Level: Confidence},
				})
				at = len(v.Candidates) - 1
			}
			v.Candidates[at].Evidence = append(v.Candidates[at].Evidence, e)
		}
	}
	for i := range v.Candidates {
		slices.SortStableFunc(v.Candidates[i].Evidence, func(a, b SpotEvidence) int { return compare(a.P, b.P) })
	}
}

// kindOf says which kind of spot a departure with this sign is, if any.
func kindOf(m Measure, sign float64) (SpotKind, bool) {
	switch info := infoOf[m]; sign {
	case info.settled:
		return Settled, true
	case info.lively:
		return Lively, true
	}
	return "", false
}

func stopAt(j *judged, number int) int {
	return slices.IndexFunc(j.stops, func(s stop) bool { return s.number == number })
}

func signed(e Estimate[float64], sign float64) Estimate[float64] {
	if sign > 0 {
		return e
	}
	return Estimate[float64]{Value: -e.Value, Low: -e.High, High: -e.Low, Level: e.Level}
}

// answer picks the outcome from what was claimed, suspected or not testable.
func (v *BraceVerdict) answer(list []*judged) {
	tested := false
	for _, j := range list {
		tested = tested || j.test != nil
		if len(v.Candidates) == 0 {
			v.Repeats = append(v.Repeats, j.repeats()...)
		}
	}
	v.Repeats = mergeRepeats(v.Repeats)
	switch {
	case len(v.Candidates) > 0:
		v.Outcome = SpotFound
	case len(v.Repeats) > 0:
		v.Outcome = Repeat
	case tested:
		v.Outcome = NoSpot
	default:
		v.Outcome = CannotTell
	}
}

// mergeRepeats keeps one line per stop, with the larger number of arrows.
func mergeRepeats(list []RepeatStop) []RepeatStop {
	var out []RepeatStop
	for _, r := range list {
		at := slices.IndexFunc(out, func(o RepeatStop) bool { return o.Stop == r.Stop })
		if at < 0 {
			out = append(out, r)
		} else if r.Arrows > out[at].Arrows {
			out[at] = r
		}
	}
	slices.SortStableFunc(out, func(a, b RepeatStop) int { return compare(float64(a.Brace), float64(b.Brace)) })
	return out
}

// location is the span of brace heights whose windows of the same sign fit
// about as well as the best (statistic² within 3.84), widened by half a step.
func (j *judged) location(s claim) (low, high unit.Length) {
	first, last := s.window.centre, s.window.centre
	for _, f := range s.rivals {
		if f.window.sign == s.window.sign && f.stat > 0 && s.stat*s.stat-f.stat*f.stat <= 3.84 {
			first, last = min(first, f.window.centre), max(last, f.window.centre)
		}
	}
	k := len(j.x)
	half := func(a, b int) float64 { return (j.x[min(max(b, 0), k-1)] - j.x[min(max(a, 0), k-1)]) / 2 }
	return unit.Length(j.x[first] - half(first-1, first)), unit.Length(j.x[last] + half(last, last+1))
}
