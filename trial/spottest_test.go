package trial

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// spotBench plays many trials of one design against one prepared test.
type spotBench struct {
	test *spotTest
	k, n int
	rng  *rand.Rand
}

func newSpotBench(k, n int) *spotBench {
	x, v := make([]float64, k), make([]float64, k)
	for i := range x {
		x[i], v[i] = 0.205+0.0025*float64(i), 1/float64(n)
	}
	b := &spotBench{newSpotTest(x, v, float64(k*(n-1)), nil), k, n, rand.New(rand.NewPCG(11, uint64(k)))}
	b.test.simulate(4000, 5)
	return b
}

// play returns the most remarkable window of one trial with 0.7 dB scatter.
func (b *spotBench) play(truth func(u float64) float64) found {
	const scatter = 0.7
	means := make([]float64, b.k)
	for i := range means {
		means[i] = truth(float64(i)/float64(b.k-1)) + scatter/math.Sqrt(float64(b.n))*b.rng.NormFloat64()
	}
	s := scatter * math.Sqrt(distuv.ChiSquared{K: b.test.nu, Src: b.rng}.Rand()/b.test.nu)
	return b.test.judge(means, s, 0.05)[0]
}

func (b *spotBench) share(n int, truth func(u float64) float64, hit func(found) bool) float64 {
	hits := 0
	b.rng = rand.New(rand.NewPCG(11, uint64(b.k))) // anew: truths come from maps
	for range n {
		if f := b.play(truth); f.p <= 0.05 && hit(f) {
			hits++
		}
	}
	return float64(hits) / float64(n)
}

func anySpot(found) bool { return true }

// measuring.md, Sound, item 4: monotone truths, a spot claimed in ≤ 5 % of
// trials. 1500 trials a truth, sampling error 0.6 % at 5 %; the limit is 5 % and
// 2.5 standard errors. The shapes here are not those of the
// test's own bank.
func TestSmoothTrendsAreNotSpots(t *testing.T) {
	limit := 0.05 + 2.5*math.Sqrt(0.0475/float64(runs(1500)))
	truths := map[string]func(u float64) float64{
		"flat":               func(u float64) float64 { return 0 },
		"straight, 1 dB":     func(u float64) float64 { return -u },
		"straight, 4 dB":     func(u float64) float64 { return -4 * u },
		"curved":             func(u float64) float64 { return -2 * u * u },
		"square root":        func(u float64) float64 { return -2 * math.Sqrt(u) },
		"saturating":         func(u float64) float64 { return -3 * (1 - math.Exp(-3*u)) },
		"saturating early":   func(u float64) float64 { return -4 * (1 - math.Exp(-9*u)) },
		"arctangent":         func(u float64) float64 { return -2 * math.Atan(5*u) },
		"corner off a stop":  func(u float64) float64 { return -3 * min(u, 0.43) },
		"gentle S":           func(u float64) float64 { return -1.5 * math.Tanh(3*(u-0.5)) },
		"broad hollow":       func(u float64) float64 { return 4 * (u - 0.4) * (u - 0.4) },
		"rising, saturating": func(u float64) float64 { return 2 * (1 - math.Exp(-3*u)) },
	}
	for _, k := range []int{5, 6, 8, 11} {
		b := newSpotBench(k, 6)
		for name, truth := range truths {
			if got := b.share(runs(1500), truth, anySpot); got > limit {
				t.Errorf("%d stops, %s: a spot claimed in %.1f %% of trials, want at most 5", k, name, 100*got)
			} else {
				t.Logf("%d stops, %-20s %.1f %%", k, name, 100*got)
			}
		}
	}
}

// measuring.md, Sound, item 4: a planted 1.5 dB dip, 0.7 dB scatter, 6 shots a
// stop, found in ≥ 90 % of trials: asked from the fourth stop on (flat and
// straight trends) and in the middle (saturating). Reached in 10 000 trials:
// 91 to 97 % there. At the second and third stop a dip is nearer to a bend of
// the trend's end: 88 to 95 % on flat and straight trends, and 59 to 80 % on the
// steep end of a saturating one (2 dB, most of it in the first stops), where a
// dip cannot be told from a steeper fall; those are guarded, not asked.
// 1000 trials, sampling error 0.9 %.
func TestPlantedDipIsFound(t *testing.T) {
	n := runs(1000)
	slack := 2.5 * math.Sqrt(0.09/float64(n))
	for _, k := range []int{8, 10, 12} {
		b := newSpotBench(k, 6)
		for name, trend := range plantedOn {
			for _, at := range []int{1, 2, 3, k / 2} {
				limit := 0.90
				switch {
				case name == "saturating" && at < k/2:
					limit = 0.55
				case at < 3:
					limit = 0.88
				}
				got := b.share(n, dip(k, at, 1, trend), nearDip(at))
				t.Logf("%2d stops, %-10s at stop %d: %.1f %%", k, name, at+1, 100*got)
				if got < limit-slack {
					t.Errorf("%d stops, %s, stop %d: found in %.1f %%, want %g", k, name, at+1, 100*got, 100*limit)
				}
			}
		}
	}
}

// A dip three stops wide is found less often, for with few stops it is nearly a
// broad hollow, which is no spot: 74-78 % with 8 stops, 87-92 % with 10, 92 %
// and more with 12. No source; the limit guards what was reached.
func TestWideDip(t *testing.T) {
	for k, limit := range map[int]float64{8: 0.70, 10: 0.84, 12: 0.88} {
		b := newSpotBench(k, 6)
		for name, trend := range plantedOn {
			got := b.share(runs(1000), dip(k, k/2, 2, trend), nearDip(k/2))
			t.Logf("%2d stops, %-10s: %.1f %%", k, name, 100*got)
			if got < limit {
				t.Errorf("%d stops, %s: found in %.1f %%", k, name, 100*got)
			}
		}
	}
}

var plantedOn = map[string]func(u float64) float64{
	"flat":       func(u float64) float64 { return 0 },
	"straight":   func(u float64) float64 { return -u },
	"saturating": func(u float64) float64 { return -2 * (1 - math.Exp(-3*u)) },
}

// dip of 1.5 dB, gone at `reach` stops from its middle.
func dip(k, at int, reach float64, trend func(u float64) float64) func(u float64) float64 {
	return func(u float64) float64 {
		d := math.Abs(u*float64(k-1) - float64(at))
		return trend(u) - 1.5*max(0, 1-d/reach)
	}
}

func nearDip(at int) func(found) bool {
	return func(f found) bool { return f.window.sign < 0 && abs(f.window.centre-at) <= 1 }
}
