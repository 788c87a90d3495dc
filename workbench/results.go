package workbench

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/notebook"
	"tautline/unit"
)

// BowRecords is everything a notebook holds of one bow that a standing, a
// ledger or a check chart is made from, each oldest first.
type BowRecords struct {
	SetUps    []notebook.SetUp
	Readings  []notebook.Reading
	Ends      []notebook.End
	Trials    []notebook.Trial
	Events    map[notebook.ID][]notebook.TrialEvent // by trial
	Verdicts  []notebook.Verdict
	Rulings   []notebook.Ruling
	Forecasts []notebook.Forecast
	Fits      []notebook.Fit
}

// setUp finds a set-up's place in the history, −1 if it is not there.
func (b BowRecords) setUp(id notebook.ID) int {
	return slices.IndexFunc(b.SetUps, func(s notebook.SetUp) bool { return s.ID == id })
}

// valid are the readings that were not replaced by a later one.
func (b BowRecords) valid() []notebook.Reading { return notebook.Standing(b.Readings) }

// validEnds are the ends that were not replaced by a later one.
func (b BowRecords) validEnds() []notebook.End { return notebook.Standing(b.Ends) }

// usualDoubt is one standard deviation of a reading whose doubt nobody gave
// (common practice, no source): a bow square shows half a millimetre, a
// chronograph and the archer a quarter of a metre per second, a hand scale a
// newton, the centre of a few arrows 1 mm for each metre of distance.
var usualDoubt = map[notebook.Kind]float64{
	notebook.ReadBrace: 0.0005, notebook.ReadNockingPoint: 0.0003, notebook.ReadTiller: 0.0005, notebook.ReadSpeed: 0.25, notebook.ReadDrawWeight: 1,
	notebook.ReadBareShaft: 0.001, notebook.ReadBareUp: 0.001, notebook.ReadGroupRight: 0.001, notebook.ReadSightMark: 0.0007,
	notebook.ReadButton: 0.1,
}

// Results lists what was found out on a bow, oldest first: its verdicts, its
// readings outside trials, and its groups, the ends of one day, distance and
// set-up together.
func (b BowRecords) Results() []Result {
	var out []Result
	for _, v := range b.Verdicts {
		out = append(out, b.verdict(v)...)
	}
	scatter := b.scatter()
	for _, r := range b.valid() {
		if result, ok := ofReading(r, scatter); ok {
			out = append(out, result)
		}
	}
	out = append(out, b.groups()...)
	slices.SortStableFunc(out, func(a, c Result) int { return a.At.Compare(c.At) })
	return out
}

// ofReading makes a result of a reading that is about the bow itself.
func ofReading(r notebook.Reading, scatter map[notebook.Kind]float64) (Result, bool) {
	sd, ok := usualDoubt[r.Kind]
	if !ok || r.Trial != "" || r.Shaft != (notebook.Arrow{}) {
		return Result{}, false
	}
	info, _ := r.Kind.Info()
	out := Result{
		ID: r.ID, Noun: notebook.ReadingNoun, Label: info.Label, SetUp: r.SetUp, At: r.At, Of: Quantity{Kind: string(r.Kind), Distance: r.Distance.Value},
		Value: r.Value, Unit: info.SI, HalfFrom: "usual for such a reading",
	}
	if r.Kind == notebook.ReadButton {
		out.Unit = "turns"
	}
	if r.Kind == notebook.ReadBareShaft || r.Kind == notebook.ReadBareUp || r.Kind == notebook.ReadGroupRight {
		sd *= float64(r.Distance.Value)
		out.Label += fmt.Sprintf(" at %g m", float64(r.Distance.Value))
	}
	if r.Kind == notebook.ReadSightMark {
		out.Label += fmt.Sprintf(" for %g m", float64(r.Distance.Value))
		out.Of.Kind, out.PerQuantity = OfUp, -float64(usualReach/r.Distance.Value)
	}
	switch {
	case r.Doubt > 0:
		sd, out.HalfFrom = r.Doubt, "as given with the reading"
	case scatter[r.Kind] > 0:
		sd, out.HalfFrom = scatter[r.Kind], "from the scatter of this bow's own check readings"
	}
	out.Half = z90 * sd
	return out, true
}

// session is what ends are put together by.
type session struct {
	setup    notebook.ID
	distance unit.Length
	day      string
}

// groups are the centres of what was shot at one distance, on one day, with
// one set-up.
func (b BowRecords) groups() []Result {
	byDay := map[session][]notebook.End{}
	var order []session
	ends := b.validEnds()
	sittings := sittingsOf(ends)
	for _, e := range ends {
		if e.Trial != "" || e.Distance.Value <= 0 {
			continue
		}
		key := session{e.SetUp, e.Distance.Value, sittings[e.ID]}
		if byDay[key] == nil {
			order = append(order, key)
		}
		byDay[key] = append(byDay[key], e)
	}
	var out []Result
	for _, key := range order {
		out = append(out, groupResults(key, byDay[key])...)
	}
	return out
}

// groupResults are the height and the side of the fletched arrows' centre, and
// the bare shafts' place against it.
func groupResults(key session, ends []notebook.End) (out []Result) {
	var right, up, bare []float64
	for _, e := range ends {
		for _, i := range e.Impacts {
			switch {
			case !i.Placed():
			case i.Bare:
				bare = append(bare, *i.X)
			default:
				right, up = append(right, *i.X), append(up, *i.Y)
			}
		}
	}
	last := ends[len(ends)-1]
	make := func(of, label string, value, half float64, n int) {
		if half > 0 && !math.IsInf(half, 0) {
			out = append(out, Result{
				ID: last.ID, Noun: notebook.EndNoun, Label: fmt.Sprintf("%s at %g m", label, float64(key.distance)), SetUp: key.setup, At: last.At,
				Of: Quantity{Kind: of, Distance: key.distance}, Value: value, Half: half, Unit: "m", HalfFrom: fmt.Sprintf("from the scatter of %d arrows", n),
			})
		}
	}
	if n := len(right); n >= 3 {
		x, sx := meanSD(right)
		y, sy := meanSD(up)
		t := student90(n - 1)
		make(OfRight, "group centre sideways", x, t*sx/math.Sqrt(float64(n)), n)
		make(OfUp, "group centre in height", y, t*sy/math.Sqrt(float64(n)), n)
		if k := len(bare); k > 0 {
			// a few bare shafts have no scatter of their own to speak of: they
			// are taken to scatter like the fletched
			b, _ := meanSD(bare)
			make(OfBare, "bare shafts from the group", b-x, t*sx*math.Sqrt(1/float64(n)+1/float64(k)), n+k)
		}
	}
	return out
}

// meanSD are the mean and the sample standard deviation.
func meanSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(sd / float64(max(1, len(v)-1)))
}

// student90 is the 95th percentile of Student's t: half of a 90 % interval. It
// takes a tenth of a millisecond and is asked for often, so it is kept.
func student90(df int) float64 {
	if known, ok := students.Load(df); ok {
		return known.(float64)
	}
	t := distuv.StudentsT{Sigma: 1, Nu: float64(df)}.Quantile(0.95)
	students.Store(df, t)
	return t
}

var students sync.Map // by degrees of freedom

// verdictContent is what is read of a kept verdict.
type verdictContent struct {
	Candidates []struct {
		Brace number90 `json:"brace_height"`
		Kind  string   `json:"kind"`
	} `json:"candidates"`
	Choices []struct {
		Brace number90 `json:"brace_height"`
	} `json:"choices"`
	// Decides is what a verdict of a shooting trial settled.
	Decides []Decided `json:"decides"`
}

type number90 struct {
	SI   float64  `json:"si"`
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
}

// verdict reads what a kept verdict decided.
func (b BowRecords) verdict(v notebook.Verdict) []Result {
	at := slices.IndexFunc(b.Trials, func(t notebook.Trial) bool { return t.ID == v.Trial })
	var c verdictContent
	if at < 0 || json.Unmarshal(v.Content, &c) != nil {
		return nil
	}
	out := Result{ID: v.ID, Noun: notebook.VerdictNoun, Label: "verdict on the " + b.Trials[at].What, SetUp: b.Trials[at].SetUp, At: v.At}
	if len(c.Decides) > 0 {
		return out.decided(c.Decides)
	}
	if r, ok := out.brace(c); ok {
		return []Result{r}
	}
	return nil
}

// brace reads a verdict on the brace height. The time on the string is what
// ties a spot to the bow as far as the model goes; why a spot is where it is
// nobody has settled, which the floors allow for.
func (r Result) brace(c verdictContent) (Result, bool) {
	r.By, r.Of, r.Unit = "brace_height.value", Quantity{Kind: OfTime}, "m"
	for _, s := range c.Candidates {
		if s.Brace.Low != nil && s.Brace.High != nil && *s.Brace.High > *s.Brace.Low {
			r.Value, r.Half, r.HalfFrom = s.Brace.SI, (*s.Brace.High-*s.Brace.Low)/2, "the "+s.Kind+" spot's own interval"
			return r, true
		}
	}
	var heights []float64
	for _, s := range c.Choices {
		heights = append(heights, s.Brace.SI)
	}
	if len(heights) < 2 {
		return r, false
	}
	slices.Sort(heights)
	r.Value = heights[len(heights)/2]
	r.Half = (heights[len(heights)-1] - heights[0]) / float64(2*(len(heights)-1))
	r.HalfFrom = "half the way from stop to stop"
	return r, r.Half > 0
}

// newest names, for each result, the latest of the same subject, if it is
// another.
func newest(all []Result) superseding {
	last := map[subject]Result{}
	for _, r := range all {
		if w := r.subject(); r.At.After(last[w].At) {
			last[w] = r
		}
	}
	out := superseding{}
	for _, r := range all {
		if l := last[r.subject()]; l.ID != r.ID {
			if out[r.ID] == nil {
				out[r.ID] = map[subject]notebook.ID{}
			}
			out[r.ID][r.subject()] = l.ID
		}
	}
	return out
}
