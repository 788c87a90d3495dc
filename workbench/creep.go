package workbench

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/mat"

	"tautline/notebook"
)

// Creep is what the brace-height readings on one string say of it: a string
// under tension lengthens with the logarithm of time, fast at first and ever
// more slowly, while a change (turns lost, a loop slipped, another string) is a
// step from one reading to the next. Three descriptions are fitted by least
// squares, a constant, a line in log time and a step at the best place, and
// compared by Schwarz's criterion (Schwarz 1978, Annals of Statistics 6, 461)
// in the form for small samples with Gaussian errors, n ln(RSS/n) + k ln n; a
// step pays for its place too. One says more than the others only when it is
// ahead by six (about twenty to one).
//
// It leaves out temperature and shooting as clocks of their own, and a string
// that is shot in and moved at once reads as either.
type Creep struct {
	What string // nothing, creep, step, cannot tell
	Text string
	// PerTen is the change of brace height for ten times the time on the bow,
	// m; negative: it sinks, the string grows longer. Only for creep.
	PerTen Estimate[float64]
	// Step is the change at a step, m, and At the reading after it.
	Step Estimate[float64]
	At   notebook.ID
	// Line is the description that won, at the points of the chart.
	Line   []float64
	Points int
}

// The answers.
const (
	CreepNothing    = "nothing"
	CreepTrend      = "creep"
	CreepStep       = "step"
	CreepCannotTell = "cannot tell"
)

const (
	leastForCreep = 6
	clearlyAhead  = 6.0 // of Schwarz's criterion
	// creepClock is the time after bracing from which the logarithm counts: the
	// first readings after an hour or so of shooting-in (assumed).
	creepClock = time.Hour
	// squareSD keeps readings that happen to agree to the last half millimetre
	// from looking like none could differ.
	squareSD = 0.00025
)

// StringCreep looks at the brace heights read since the present string was put
// on, or set anew.
func (b BowRecords) StringCreep() Creep {
	all := b.series(notebook.ReadBrace)
	if len(all) == 0 {
		return Creep{What: CreepCannotTell, Text: "No brace height was checked on this string yet."}
	}
	last := all[len(all)-1].stretch
	now := slices.DeleteFunc(slices.Clone(all), func(r reference) bool { return r.stretch != last })
	begin := b.began(now)
	hours, values := make([]float64, len(now)), make([]float64, len(now))
	for i, r := range now {
		hours[i], values[i] = r.at.Sub(begin).Hours(), r.value
	}
	c := creep(hours, values)
	if c.What == CreepStep {
		c.At = now[c.stepAt()].id
	}
	return c
}

// began is when the stretch of the readings began: its first set-up.
func (b BowRecords) began(now []reference) time.Time {
	begin := now[0].at
	at := b.setUp(now[0].setup)
	for at > 0 && b.stretch(notebook.ReadBrace, at-1) == now[0].stretch {
		at--
	}
	if s := b.SetUps[at].At; s.Before(begin) {
		return s
	}
	return begin
}

// stepAt is the first place where the line has its second level.
func (c Creep) stepAt() int {
	for i := 1; i < len(c.Line); i++ {
		if c.Line[i] != c.Line[i-1] {
			return i
		}
	}
	return 0
}

// creep compares the three descriptions of brace heights at hours after the
// string was set.
func creep(hours, values []float64) Creep {
	n := len(values)
	if n < leastForCreep {
		return Creep{What: CreepCannotTell, Points: n, Text: fmt.Sprintf("%d readings on this string are too few to tell creep from a change; %d are enough.", n, leastForCreep)}
	}
	log := make([]float64, n)
	for i, h := range hours {
		log[i] = math.Log10(1 + max(0, h)/creepClock.Hours())
	}
	flat := describe(values, nil)
	trend := describe(values, log)
	step := bestStep(values)
	bic := [3]float64{flat.score(1), trend.score(2), step.score(3)}
	best := 0
	for i := range bic {
		if bic[i] < bic[best] {
			best = i
		}
	}
	return answer(best, bic, flat, trend, step)
}

func answer(best int, bic [3]float64, flat, trend, step described) Creep {
	c := Creep{Points: len(flat.line), Line: [][]float64{flat.line, trend.line, step.line}[best]}
	ahead := math.Inf(1)
	for i := range bic {
		if i != best {
			ahead = min(ahead, bic[i]-bic[best])
		}
	}
	switch {
	case best == 0:
		c.What, c.Text = CreepNothing, "The brace height has held still on this string, as far as its readings can tell."
	case ahead < clearlyAhead:
		c.What, c.Line = CreepCannotTell, flat.line
		c.Text = "Something moved, but creep and a single change fit the readings about as well: read it again after the next session."
	case best == 1:
		c.What, c.PerTen = CreepTrend, trend.effect
		c.Text = fmt.Sprintf("The string creeps: %+.1f mm of brace height (%+.1f to %+.1f) for every ten times as long on the bow. It slows down by itself.", 1e3*trend.effect.Value, 1e3*trend.effect.Low, 1e3*trend.effect.High)
	default:
		c.What, c.Step = CreepStep, step.effect
		c.Text = fmt.Sprintf("The brace height changed at one moment, by %+.1f mm (%+.1f to %+.1f): look for turns lost, a loop that moved, or another string.", 1e3*step.effect.Value, 1e3*step.effect.Low, 1e3*step.effect.High)
	}
	return c
}

// described is one least-squares description.
type described struct {
	line   []float64
	rss    float64
	effect Estimate[float64] // of its regressor, 90 %
}

// score is n ln(RSS/n) + k ln n, the residual kept above what a square shows.
func (d described) score(k int) float64 {
	n := float64(len(d.line))
	return n*math.Log(max(d.rss/n, squareSD*squareSD)) + float64(k)*math.Log(n)
}

// describe fits a constant and one regressor, nil for the constant alone.
func describe(y, x []float64) described {
	n := len(y)
	columns := 1
	if x != nil {
		columns = 2
	}
	a := mat.NewDense(n, columns, nil)
	for i := range y {
		a.Set(i, 0, 1)
		if x != nil {
			a.Set(i, 1, x[i])
		}
	}
	var beta mat.VecDense
	if beta.SolveVec(a, mat.NewVecDense(n, slices.Clone(y))) != nil {
		return describe(y, nil) // all at one time: nothing to regress on
	}
	d := described{line: make([]float64, n)}
	for i := range y {
		d.line[i] = beta.AtVec(0)
		if x != nil {
			d.line[i] += beta.AtVec(1) * x[i]
		}
		d.rss += (y[i] - d.line[i]) * (y[i] - d.line[i])
	}
	if x == nil {
		return d
	}
	_, sd := meanSD(x)
	s := math.Sqrt(max(d.rss/float64(n-2), squareSD*squareSD))
	half := student90(n-2) * s / (sd * math.Sqrt(float64(n-1)))
	d.effect = Estimate[float64]{beta.AtVec(1), beta.AtVec(1) - half, beta.AtVec(1) + half}
	return d
}

// bestStep tries a step before every reading that leaves two on either side.
func bestStep(y []float64) (best described) {
	best.rss = math.Inf(1)
	for at := 2; at <= len(y)-2; at++ {
		x := make([]float64, len(y))
		for i := at; i < len(y); i++ {
			x[i] = 1
		}
		if d := describe(y, x); d.rss < best.rss {
			best = d
		}
	}
	return best
}
