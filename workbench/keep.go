package workbench

import (
	"cmp"
	"math"
	"slices"
	"time"

	"tautline/notebook"
)

// CheckChart is an individuals control chart with an exponentially weighted
// moving average over it: periodic readings of one setting against their own
// scatter. The limits are those of the NIST/SEMATECH e-Handbook of Statistical
// Methods, 6.3.2.2 (individuals: mean ± 3 MR̄/d₂, d₂ = 1.128) and 6.3.2.4
// (EWMA: mean ± 3 s √(λ/(2−λ))).
//
// It finds that something moved, not why; and it takes readings to be
// independent, which two readings in one minute are not.
type CheckChart struct {
	Kind   notebook.Kind
	Points []CheckPoint
	// Centre and limits hold for the present stretch: since the setting was
	// last changed on purpose.
	Centre, Low, High float64
	AverageLow        float64 // limits of the moving average
	AverageHigh       float64
	SD                float64 // of one reading, from the moving ranges
	Ranges            int     // moving ranges behind SD
	Provisional       bool    // fewer than ten readings: the limits are rough
	State             string  // in control, shifted, drifting, too few
	// From is the first of the points that Signal is about.
	From int
}

// CheckPoint is one reading on the chart.
type CheckPoint struct {
	Reading notebook.ID
	SetUp   notebook.ID
	At      time.Time
	Value   float64
	Average float64 // EWMA, started anew with each stretch
	Stretch int     // counted from 0; the setting was changed on purpose between two
	Out     bool    // outside the limits of its chart
	Drifts  bool    // the average is outside its limits
}

// The answers of a chart.
const (
	InControl = "in control"
	Shifted   = "shifted"
	Drifting  = "drifting"
	TooFew    = "too few readings"
)

// Constants of the charts.
const (
	rangeToSD   = 1.128 // d₂ for ranges of two (e-Handbook 6.3.2.2)
	weightOfNow = 0.3   // λ, as in the e-Handbook's example 6.3.2.4
	limitsAt    = 3.0   // standard deviations
	leastPoints = 4     // in the present stretch, or with earlier ranges to lean on
	settled     = 10    // readings from which limits are not provisional
	baseline    = 5     // the first readings of a stretch that set its centre
)

// reference is one value of a check series.
type reference struct {
	id, setup notebook.ID
	at        time.Time
	value     float64
	stretch   int
}

// Chart makes the chart of one kind of check reading. Readings of a trial are
// no checks; several at one sitting count as their mean. Changed on purpose,
// by a set-up that moves the setting itself, a new stretch begins.
func (b BowRecords) Chart(kind notebook.Kind) CheckChart {
	series := b.series(kind)
	values := make([]float64, len(series))
	stretches := make([]int, len(series))
	for i, p := range series {
		values[i], stretches[i] = p.value, p.stretch
	}
	c := chart(values, stretches)
	c.Kind = kind
	for i, p := range series {
		c.Points[i].Reading, c.Points[i].SetUp, c.Points[i].At = p.id, p.setup, p.at
	}
	return c
}

// series are the check readings of a kind in the order of time.
func (b BowRecords) series(kind notebook.Kind) []reference {
	var out []reference
	for _, r := range b.valid() {
		at := b.setUp(r.SetUp)
		if r.Kind != kind || r.Trial != "" || at < 0 || r.Shaft != (notebook.Arrow{}) {
			continue
		}
		value := r.Value
		if r.Kind == notebook.ReadBrace && r.Edge == notebook.EdgeButton {
			value -= float64(b.SetUps[at].Settings.BraceHeight.ButtonBehind.Value)
		}
		out = append(out, reference{r.ID, r.SetUp, r.At, value, b.stretch(kind, at)})
	}
	slices.SortStableFunc(out, func(a, c reference) int { return cmp.Or(cmp.Compare(a.stretch, c.stretch), a.at.Compare(c.at)) })
	return sittings(out)
}

// sitting is how close readings stand that were taken at one sitting.
const sitting = 30 * time.Minute

// sittings puts readings of one sitting together.
func sittings(in []reference) (out []reference) {
	n := 0
	for _, r := range in {
		if k := len(out) - 1; k >= 0 && r.stretch == out[k].stretch && r.at.Sub(out[k].at) < sitting {
			n++
			out[k].value += (r.value - out[k].value) / float64(n)
			continue
		}
		out, n = append(out, r), 1
	}
	return out
}

// changedBy are the entries whose change begins a new stretch of a kind of check
// reading; what else was changed shows in the chart as it should.
var changedBy = map[notebook.Kind][]string{
	notebook.ReadBrace:        {"brace_height.value", "string.length", "string.strands", "string.material", "string.shots_on_it"},
	notebook.ReadNockingPoint: {"nocking_point.value", "string.length", "string.strands", "string.material", "string.shots_on_it"},
	notebook.ReadTiller:       {"tiller", "riser.bolts_upper_turns", "riser.bolts_lower_turns"},
	notebook.ReadSpeed:        {"brace_height.value", "draw.length", "draw.weight", "arrow.mass", "string.strands", "string.mass", "string.material", "string.shots_on_it", "riser.bolts_upper_turns", "riser.bolts_lower_turns"},
	notebook.ReadDrawWeight:   {"draw.length", "draw.weight", "riser.bolts_upper_turns", "riser.bolts_lower_turns"},
	notebook.ReadButton:       {"button.turns", "button.spring"},
}

// stretch counts how often the setting was changed on purpose up to a set-up.
func (b BowRecords) stretch(kind notebook.Kind, at int) (n int) {
	for i := 1; i <= at; i++ {
		for _, d := range differences(b.SetUps[i-1].Settings, b.SetUps[i].Settings) {
			if slices.Contains(changedBy[kind], d.Key) {
				n++
				break
			}
		}
	}
	return n
}

// chart computes limits and signals of a series in stretches.
func chart(values []float64, stretches []int) CheckChart {
	c := CheckChart{Points: make([]CheckPoint, len(values)), State: TooFew, From: -1}
	c.SD, c.Ranges = rangeSD(values, stretches)
	if len(values) == 0 {
		return c
	}
	begin := 0
	for i := range values {
		c.Points[i].Value, c.Points[i].Stretch = values[i], stretches[i]
		if i > 0 && stretches[i] != stretches[i-1] {
			begin = i
		}
	}
	now := values[begin:]
	c.Provisional = len(values) < settled
	c.Centre, _ = meanSD(now[:min(baseline, len(now))])
	if len(now) >= settled+baseline {
		c.Centre, _ = meanSD(now[:settled])
	}
	c.Low, c.High = c.Centre-limitsAt*c.SD, c.Centre+limitsAt*c.SD
	wide := limitsAt * c.SD * math.Sqrt(weightOfNow/(2-weightOfNow))
	c.AverageLow, c.AverageHigh = c.Centre-wide, c.Centre+wide
	if c.Ranges < leastPoints-1 || c.SD == 0 {
		return c
	}
	c.signals(begin)
	return c
}

// rangeSD is the standard deviation from the moving ranges inside stretches.
func rangeSD(values []float64, stretches []int) (sd float64, n int) {
	sum := 0.0
	for i := 1; i < len(values); i++ {
		if stretches[i] == stretches[i-1] {
			sum, n = sum+math.Abs(values[i]-values[i-1]), n+1
		}
	}
	if n == 0 {
		return 0, 0
	}
	return sum / float64(n) / rangeToSD, n
}

// signals marks the points of the present stretch and says what they show.
func (c *CheckChart) signals(begin int) {
	c.State = InControl
	average := c.Centre
	for i := begin; i < len(c.Points); i++ {
		p := &c.Points[i]
		average += weightOfNow * (p.Value - average)
		p.Average = average
		p.Out = p.Value < c.Low || p.Value > c.High
		p.Drifts = average < c.AverageLow || average > c.AverageHigh
		if (p.Out || p.Drifts) && c.From < 0 {
			c.From = i
		}
	}
	switch last := c.Points[len(c.Points)-1]; {
	case last.Out:
		c.State = Shifted
	case last.Drifts:
		c.State = Drifting
	default:
		c.From = -1 // it came back
	}
}

// scatter is the standard deviation of a check reading by kind, where ten or
// more say so.
func (b BowRecords) scatter() map[notebook.Kind]float64 {
	out := map[notebook.Kind]float64{}
	for kind := range changedBy {
		if c := b.Chart(kind); c.Ranges >= settled-1 && c.SD > 0 {
			out[kind] = c.SD
		}
	}
	return out
}
