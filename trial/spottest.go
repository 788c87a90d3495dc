package trial

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
)

// The test for a spot. A trend over the stops is called smooth if it is
//
//	monotone and bent one way at most (four cones: falling or rising, convex
//	or concave; straight lines and saturating curves belong to them), or
//	a polynomial of low order (gentle S-shapes and broad hollows).
//
// A spot is a departure, one to three stops wide, that no smooth trend can
// show. For every class of trends C and every window j the contrast
// w = ∓δ_j − Π_C(∓δ_j) lies in the polar cone of C (Moreau), so E(w·y) ≤ 0
// whatever the trend. The statistic is
//
//	S = max over windows of min over classes of w·y/(s|w|),
//
// large only where one and the same window is remarkable under every class
// (an intersection-union test). Its null distribution is simulated under the
// flat trend and under a bank of trends chosen to be unfavourable (corners at
// every stop, saturating curves, hollows, all in several heights); the p-value
// is the largest over the bank. theory: docs/theory/trials.md.
type spotTest struct {
	x       []float64 // brace height of the stops, ascending
	root    []float64 // 1/√(variance of a stop's mean in shots' variances)
	nu      float64   // degrees of freedom of the scatter, +Inf if known
	known   []window  // spots already found, taken out
	windows []window
	// classes holds two cones for every bent class, in a row: the class, and
	// the class with straight lines set free, whose contrasts stay sharp on
	// steep trends; both are valid for the class and the sharper counts.
	classes [][]cone
	// contrasts holds one row for every cone, in that order, one entry a window.
	contrasts [][]contrast
	null      [][]float64            // per trend of the bank: simulated S, ascending
	sizes     map[[2]float64]float64 // detectable sizes by α and power
}

// window is a possible spot: a dip (sign −1) or a bump (+1) over some stops.
type window struct {
	centre int
	shape  []float64 // height per unit of size, 1 at the centre
	sign   float64
}

// contrast is a unit vector in scaled space that no trend of its class can
// raise above zero. gain 0: the class can imitate the window, no test.
type contrast struct {
	w    []float64
	gain float64 // w·(a spot of size 1)
}

const (
	minSpotStops = 5    // with fewer, a spot cannot be told from a bend
	spotDraws    = 8000 // p-values down to 1.2e-4, error 0.0024 at 0.05
)

// newSpotTest prepares the test for stops at x with relative variances v of
// their means and nu degrees of freedom; spots already found are taken out.
func newSpotTest(x, v []float64, nu float64, known []window) *spotTest {
	t := &spotTest{x: x, nu: nu, known: known, root: make([]float64, len(x)), sizes: map[[2]float64]float64{}}
	for i := range v {
		t.root[i] = 1 / math.Sqrt(v[i])
	}
	t.windows = spotWindows(len(x), known)
	line := powers(centred(x), 1)[1]
	for _, c := range smoothClasses(x, t.root) {
		for _, k := range known {
			c = c.with(t.root, k.shape)
		}
		class := []cone{c}
		if len(c.half) > 0 {
			class = append(class, c.with(t.root, line))
		}
		t.classes = append(t.classes, class)
		for _, c := range class {
			t.contrasts = append(t.contrasts, t.contrastsOf(c))
		}
	}
	return t
}

// sameAs reports whether two tests have the same null distribution.
func (t *spotTest) sameAs(o *spotTest) bool {
	return t.nu == o.nu && slices.Equal(t.x, o.x) && slices.Equal(t.root, o.root) &&
		slices.EqualFunc(t.known, o.known, func(a, b window) bool { return slices.Equal(a.shape, b.shape) })
}

// top is the statistic of the most remarkable window.
func (t *spotTest) top(means []float64, s float64) float64 {
	dots := t.table()
	t.dots(scaled(means, t.root), dots)
	return t.largest(dots, t.table()) / s
}

// spotWindows lists dips and bumps at every interior stop, one stop wide and
// three stops wide (½, 1, ½), away from spots already known.
func spotWindows(k int, known []window) []window {
	var list []window
	for c := 1; c < k-1; c++ {
		if slices.ContainsFunc(known, func(w window) bool { return abs(w.centre-c) <= 1 }) {
			continue
		}
		single := make([]float64, k)
		single[c] = 1
		list = append(list, window{c, single, -1}, window{c, single, +1})
		if c > 1 && c < k-2 {
			triple := append([]float64(nil), single...)
			triple[c-1], triple[c+1] = 0.5, 0.5
			list = append(list, window{c, triple, -1}, window{c, triple, +1})
		}
	}
	return list
}

func abs(i int) int { return max(i, -i) }

// contrastsOf finds the polar contrast of every window for one class. A window
// of which less than 15 % survives the class is not testable under it.
func (t *spotTest) contrastsOf(c cone) []contrast {
	list := make([]contrast, len(t.windows))
	for j, w := range t.windows {
		d := scaled(w.shape, t.root)
		floats.Scale(w.sign, d)
		p := c.polar(d)
		gain := floats.Norm(p, 2) // p·d = |p|², since d − p is orthogonal to p
		if gain > 0.15*floats.Norm(d, 2) {
			floats.Scale(1/gain, p)
			list[j] = contrast{p, gain}
		}
	}
	return list
}

// simulate fills the null distribution of S for every trend of the bank from
// common random numbers.
func (t *spotTest) simulate(draws int, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 0x5b07))
	bank := t.bank()
	t.null = make([][]float64, len(bank))
	noise, z := t.table(), make([]float64, len(t.x))
	for range draws {
		for i := range z {
			z[i] = rng.NormFloat64()
		}
		t.dots(z, noise)
		s := t.drawScatter(rng)
		for b := range bank {
			t.null[b] = append(t.null[b], t.largest(noise, bank[b])/s)
		}
	}
	for b := range t.null {
		slices.Sort(t.null[b])
	}
}

func (t *spotTest) drawScatter(rng *rand.Rand) float64 {
	if math.IsInf(t.nu, 1) {
		return 1
	}
	return math.Sqrt(distuv.ChiSquared{K: t.nu, Src: rng}.Rand() / t.nu)
}

// table holds one number for every class and window, row by row.
func (t *spotTest) table() []float64 {
	return make([]float64, len(t.contrasts)*len(t.windows))
}

// dots writes w·z for every class and window; untestable ones get −∞.
func (t *spotTest) dots(z, out []float64) {
	n := len(t.windows)
	for c := range t.contrasts {
		for j := range t.contrasts[c] {
			out[c*n+j] = math.Inf(-1)
			if k := t.contrasts[c][j]; k.gain > 0 {
				out[c*n+j] = floats.Dot(k.w, z)
			}
		}
	}
}

// largest is max over windows of min over classes of noise + shift.
func (t *spotTest) largest(noise, shift []float64) float64 {
	best, n := math.Inf(-1), len(t.windows)
	for j := range n {
		least, at := math.Inf(1), j
		for _, class := range t.classes {
			sharpest := math.Inf(-1)
			for range class {
				sharpest = max(sharpest, noise[at]+shift[at])
				at += n
			}
			least = min(least, sharpest)
		}
		best = max(best, least)
	}
	return best
}

// tail is the p-value of a statistic: the largest share of simulated values
// at or above it over the bank, (1 + #)/(1 + draws).
func (t *spotTest) tail(stat float64) float64 {
	worst := 0
	for _, null := range t.null {
		at, _ := slices.BinarySearch(null, stat)
		worst = max(worst, len(null)-at)
	}
	return float64(1+worst) / float64(1+len(t.null[0]))
}

// critical is the statistic at which the p-value falls to alpha.
func (t *spotTest) critical(alpha float64) float64 {
	worst := math.Inf(-1)
	for _, null := range t.null {
		at := int(math.Ceil((1 - alpha) * float64(len(null)+1)))
		worst = max(worst, null[min(at, len(null)-1)])
	}
	return worst
}

// found is one window judged. Its size is the least over the classes of
// trends, so that size.Low > 0 exactly when p ≤ α.
type found struct {
	window window
	stat   float64 // min over classes of w·y/(s|w|)
	p      float64
	size   Estimate[float64]
	class  string // the class of trends that explains the readings best
}

// judge returns the windows, the most remarkable first. means are the stops'
// means, s the scatter of one shot.
func (t *spotTest) judge(means []float64, s, alpha float64) []found {
	critical := t.critical(alpha)
	dots := t.table()
	t.dots(scaled(means, t.root), dots)
	var list []found
	for j, w := range t.windows {
		f := found{window: w, stat: math.Inf(1)}
		row := 0
		for _, class := range t.classes {
			stat, gain := math.Inf(-1), 0.0
			for range class {
				if v := dots[row*len(t.windows)+j] / s; v > stat {
					stat, gain = v, t.contrasts[row][j].gain
				}
				row++
			}
			if stat < f.stat {
				size, half := stat*s/gain, critical*s/gain
				f.stat, f.class = stat, class[0].name
				f.size = Estimate[float64]{Value: size, Low: size - half, High: size + half, Level: 1 - alpha}
			}
		}
		if !math.IsInf(f.stat, -1) {
			f.p = t.tail(f.stat)
			list = append(list, f)
		}
	}
	slices.SortStableFunc(list, func(a, b found) int { return compare(b.stat, a.stat) })
	return list
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// leastGain is the gain of window j on a steep trend, under the class least
// favourable to it.
func (t *spotTest) leastGain(j int) float64 {
	least := math.Inf(1)
	for c := range t.contrasts {
		least = min(least, t.contrasts[c][j].gain)
	}
	return least
}

// detectable is the size of a one-stop dip in the middle of the range that is
// found with the given power on a flat trend, by simulation (500 trials).
func (t *spotTest) detectable(s, alpha, power float64) float64 {
	key := [2]float64{alpha, power}
	if _, known := t.sizes[key]; !known {
		t.sizes[key] = t.simulateDetectable(alpha, power)
	}
	return t.sizes[key] * s
}

func (t *spotTest) simulateDetectable(alpha, power float64) float64 {
	const trials = 500
	spot := make([]float64, len(t.x))
	spot[len(spot)/2] = -1
	effect, critical := t.table(), t.critical(alpha)
	t.dots(scaled(spot, t.root), effect)
	rng := rand.New(rand.NewPCG(1, 0xde7))
	noise, scatter, z := make([][]float64, trials), make([]float64, trials), make([]float64, len(t.x))
	for i := range noise {
		for k := range z {
			z[k] = rng.NormFloat64()
		}
		noise[i] = t.table()
		t.dots(z, noise[i])
		scatter[i] = t.drawScatter(rng)
	}
	shift := t.table()
	found := func(size float64) float64 {
		hits := 0.0
		for k, e := range effect {
			shift[k] = size * max(e, -1e300) // −∞ stays out of 0·∞; the noise has it
		}
		for i := range noise {
			if t.largest(noise[i], shift) >= critical*scatter[i] {
				hits++
			}
		}
		return hits / trials
	}
	low, high := 0.0, 1.0
	for found(high) < power {
		if high *= 2; high > 1e4 {
			return math.Inf(1)
		}
	}
	for range 12 {
		if mid := (low + high) / 2; found(mid) < power {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}
