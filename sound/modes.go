package sound

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"

	"gonum.org/v1/gonum/mat"
)

// Mode is one vibration that rings on after a shot.
type Mode struct {
	Frequency Measure `json:"-"`         // undamped
	Damping   Measure `json:"-"`         // ζ; withheld if fewer than 8 cycles were heard
	Level     Measure `json:"-"`         // amplitude 60 ms after the release, dB re full scale
	Cycles    float64 `json:"cycles"`    // heard in the window
	Agreement float64 `json:"agreement"` // share of the fits that found it
}

// The ring-down is fitted in two frequency ranges, each at a sample rate that
// leaves some 200 samples. A mode counts if most fits of several orders and
// of two neighbouring windows find it, and if it holds a fair part of the
// energy the fits leave unexplained.
var ringBands = []ringBand{
	{low: 25, high: 240, rate: 640, longest: 0.30},
	{low: 110, high: 950, rate: 2560, longest: 0.09},
}

type ringBand struct {
	low, high float64 // Hz
	rate      float64 // least sample rate, Hz
	longest   float64 // s
}

var ringOrders = []int{6, 10, 14, 18}

const (
	ringStart   = 0.020 // s after the release at the earliest, and
	ringAfter   = 0.015 // s after the loudest 5 ms: the burst is over
	ringShift   = 0.2   // of the window, between the two windows
	leastRing   = 48    // samples
	leastCycles = 8.0   // heard, for a damping
	ringAgree   = 0.75  // share of the fits
	ringEnergy  = 8.0   // energy of a mode against what its fit leaves over
	ringLevel   = 2.5   // dB: largest spread of a mode's strength over the fits
	maxDamping  = 0.25
)

// ringDown finds the modes of the ring-down, or says why there are none.
func (m measurer) ringDown(o moment) ([]Mode, string) {
	var modes []Mode
	why := "no vibration came out the same in all fits"
	for _, b := range ringBands {
		found, reason := m.ringBand(o, b)
		if reason != "" {
			why = reason
		}
		for _, f := range found {
			if !alreadyThere(modes, f) {
				modes = append(modes, f)
			}
		}
	}
	if len(modes) > 0 {
		why = ""
	}
	sort.Slice(modes, func(i, j int) bool { return modes[i].Frequency.Value < modes[j].Frequency.Value })
	return modes, why
}

func alreadyThere(modes []Mode, f Mode) bool {
	for _, m := range modes {
		if math.Abs(m.Frequency.Value-f.Frequency.Value) < 0.02*f.Frequency.Value {
			return true
		}
	}
	return false
}

// fitted is one pole pair of one fit.
type fitted struct {
	frequency, damping float64
	amplitude          float64 // half-way through the fitted stretch
	ratio              float64 // energy against the fit's residual
	sdF, sdZ           float64
	fit                int // number of the fit, and
	window             int // of its window
}

func (m measurer) ringBand(o moment, b ringBand) ([]Mode, string) {
	y, rate, at := m.decimated(o, b)
	from := at + int(math.Ceil(o.quietDown()*rate))
	to := min(len(y), from+int(b.longest*rate))
	shift := int(ringShift * float64(to-from) / (1 + ringShift))
	n := to - from - shift
	if n < leastRing {
		return nil, "the ring-down before the impact is too short"
	}
	noise := bandNoise(y, at, rate)
	if meanSquare(y[from:from+n]) < 4*noise {
		return nil, "what rings on does not stand out of the background noise"
	}
	var all []fitted
	fits, middle := 0, from+(n+shift)/2
	for w := range 2 {
		start := from + w*shift
		got, k := fitWindow(y[start:start+n], rate, b, noise)
		for _, f := range got {
			// the strength is compared where both windows know it best
			f.amplitude *= math.Exp(-2 * math.Pi * f.frequency * f.damping * float64(middle-start) / rate)
			f.window = w
			f.fit += w * len(ringOrders)
			all = append(all, f)
		}
		fits += k
	}
	return stable(all, fits, float64(n)/rate, float64(middle-at)/rate), ""
}

// quietDown is when, after the release, the burst is over and the ring-down
// is left, s.
func (o moment) quietDown() float64 {
	w := max(1, o.rate/200)
	top := loudest(o.xa, o.release, o.at(0.06), w)
	return math.Max(ringStart, float64(top+w-o.release)/float64(o.rate)+ringAfter)
}

// bandNoise is the mean square before the release, in the band.
func bandNoise(y []float64, at int, rate float64) float64 {
	to := at - int(quietTo*rate)
	from := min(4, max(to, 0))
	if to-from < 16 {
		return 0
	}
	return meanSquare(y[from:to])
}

func meanSquare(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v * v
	}
	return sum / float64(max(len(y), 1))
}

// decimated returns the band at a lower rate, by cutting the spectrum with
// soft edges, and the index of the release in it. The last samples, on which
// the cut end of the window rings back, are left off.
func (m measurer) decimated(o moment, b ringBand) (y []float64, rate float64, at int) {
	n := paddedLength(len(o.x))
	factor := 1
	for float64(o.rate)/float64(2*factor) >= b.rate && n/(2*factor) >= 64 {
		factor *= 2
	}
	spectrum := m.plans.forward(o.x, n)
	small := n / factor
	rate = float64(o.rate) / float64(factor)
	df := float64(o.rate) / float64(n)
	kept := make([]complex128, small/2+1)
	for k := range kept {
		f := float64(k) * df
		kept[k] = spectrum[k] * complex(softEdge(f, b.low*0.6, b.low)*softEdge(-f, -0.49*rate, -b.high), 0)
	}
	y = m.plans.back(kept, small)
	for i := range y {
		y[i] /= float64(factor)
	}
	length := len(o.x)/factor - 3
	return y[:max(0, min(length, len(y)))], rate, o.release / factor
}

// softEdge rises from 0 at a to 1 at b.
func softEdge(f, a, b float64) float64 {
	switch {
	case f <= a:
		return 0
	case f >= b:
		return 1
	}
	return 0.5 - 0.5*math.Cos(math.Pi*(f-a)/(b-a))
}

// fitWindow fits one window at several orders.
func fitWindow(y []float64, rate float64, b ringBand, noise float64) (all []fitted, fits int) {
	pencil := len(y) / 3
	v, _, err := hankelBasis(y, pencil)
	if err != nil {
		return nil, 0
	}
	for i, order := range ringOrders {
		poles, err := shiftPoles(v, order, span(0, pencil), span(1, pencil+1))
		if err != nil {
			continue
		}
		fits++
		for _, f := range vibrations(y, poles, rate, noise) {
			if f.frequency >= b.low && f.frequency <= b.high && f.damping > 0 && f.damping < maxDamping {
				f.fit = i
				all = append(all, f)
			}
		}
	}
	return all, fits
}

// vibrations fits amplitudes to all pole pairs at once by least squares and
// returns each with its share and its Cramér–Rao doubt.
func vibrations(y []float64, poles []complex128, rate, noise float64) []fitted {
	var upper []complex128
	for _, z := range poles {
		if imag(z) > 1e-9 && cmplx.Abs(z) < 1.05 && cmplx.Abs(z) > 0.3 {
			upper = append(upper, cmplx.Log(z))
		}
	}
	if len(upper) == 0 || 2*len(upper) >= len(y) {
		return nil
	}
	base := mat.NewDense(len(y), 2*len(upper), nil)
	for k, s := range upper {
		for i := range y {
			e := cmplx.Exp(s * complex(float64(i), 0))
			base.Set(i, 2*k, real(e))
			base.Set(i, 2*k+1, -imag(e))
		}
	}
	var c, model mat.VecDense
	right := mat.NewVecDense(len(y), y)
	if err := c.SolveVec(base, right); err != nil {
		return nil
	}
	model.MulVec(base, &c)
	model.SubVec(right, &model)
	left := math.Max(meanSquare(model.RawVector().Data), noise)
	var out []fitted
	for k, s := range upper {
		out = append(out, describe(s, math.Hypot(c.AtVec(2*k), c.AtVec(2*k+1)), len(y), rate, left))
	}
	return out
}

// describe turns a pole's logarithm per sample into a vibration. Its doubt is
// the Cramér–Rao bound of a single damped sinusoid in white noise of the
// residual's power: 1/var = A²/(2σ²)·(S2 − S1²/S0), S_k = Σ n^k e^(−2αn).
func describe(s complex128, amplitude float64, n int, rate, left float64) fitted {
	alpha, w0 := -real(s), cmplx.Abs(s)
	f := fitted{frequency: w0 * rate / (2 * math.Pi), damping: alpha / w0, amplitude: amplitude}
	var s0, s1, s2 float64
	for i := range n {
		e, t := math.Exp(-2*alpha*float64(i)), float64(i)
		s0 += e
		s1 += t * e
		s2 += t * t * e
	}
	f.ratio = amplitude * amplitude / 2 * s0 / float64(n) / math.Max(left, 1e-30)
	sd := math.Sqrt(2 * left / (amplitude * amplitude * math.Max(s2-s1*s1/s0, 1e-30)))
	f.sdF, f.sdZ = sd*rate/(2*math.Pi), sd/w0
	return f
}

// levelTime is when, after the release, the strength of a mode is stated, s.
const levelTime = 0.060

// stable groups the fits by frequency and keeps what most of them agree on.
// The windows are seconds long and have their common middle at middle after
// the release.
func stable(all []fitted, fits int, seconds, middle float64) []Mode {
	sort.Slice(all, func(i, j int) bool { return all[i].frequency < all[j].frequency })
	var modes []Mode
	for len(all) > 0 {
		n := 1
		for n < len(all) && all[n].frequency-all[n-1].frequency < math.Max(0.01*all[n].frequency, 0.15/seconds) {
			n++
		}
		if m, ok := agreed(strongest(all[:n]), fits, seconds, middle); ok {
			modes = append(modes, m)
		}
		all = all[n:]
	}
	return modes
}

// strongest keeps one pole pair of each fit: a high order splits a line that
// is no pure exponential into several.
func strongest(group []fitted) []fitted {
	best := map[int]int{}
	for i, g := range group {
		if k, ok := best[g.fit]; !ok || g.ratio > group[k].ratio {
			best[g.fit] = i
		}
	}
	var kept []fitted
	for i, g := range group {
		if best[g.fit] == i {
			kept = append(kept, g)
		}
	}
	return kept
}

func agreed(group []fitted, fits int, seconds, middle float64) (Mode, bool) {
	var f, z, a, r, sdF, sdZ []float64
	windows := map[int]bool{}
	for _, g := range group {
		f, z, a, r = append(f, g.frequency), append(z, g.damping), append(a, g.amplitude), append(r, g.ratio)
		sdF, sdZ = append(sdF, g.sdF), append(sdZ, g.sdZ)
		windows[g.window] = true
	}
	m := Mode{Agreement: math.Min(1, float64(len(group))/float64(max(fits, 1))), Cycles: median(f) * seconds}
	if m.Agreement < ringAgree || len(windows) < 2 || median(r) < ringEnergy {
		return m, false
	}
	m.Frequency = measured(median(f), math.Max(spread(f), median(sdF)))
	toTime := 2 * dbPerUnit * 2 * math.Pi * median(f) * median(z) * (middle - levelTime)
	m.Level = measured(20*math.Log10(median(a))+toTime, 2*dbPerUnit*spread(a)/median(a))
	m.Damping = measured(median(z), math.Max(spread(z), median(sdZ)))
	// a line whose place or strength wanders is none
	if m.Frequency.SD > 0.03*m.Frequency.Value || m.Level.SD > ringLevel {
		return m, false
	}
	switch {
	case m.Cycles < leastCycles:
		m.Damping = unmeasured("only %.1f cycles were heard, %.0f are needed", m.Cycles, leastCycles)
	case m.Damping.SD > 0.4*m.Damping.Value:
		m.Damping = unmeasured("the fits disagree about it (%s)", fmt.Sprintf("%.2g ± %.1g", m.Damping.Value, m.Damping.SD))
	}
	return m, true
}

func median(v []float64) float64 {
	s := append([]float64(nil), v...)
	sort.Float64s(s)
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

// spread is the standard deviation by the median absolute deviation.
func spread(v []float64) float64 {
	m := median(v)
	d := make([]float64, len(v))
	for i, x := range v {
		d[i] = math.Abs(x - m)
	}
	return 1.4826 * median(d)
}
