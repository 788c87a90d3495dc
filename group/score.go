package group

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"tautline/unit"
)

// Spread is a normal distribution of impacts: what a set-up does in the long
// run, as against the arrows actually shot.
type Spread struct {
	SigmaRight, SigmaUp unit.Length // standard deviations; 0 is allowed: no spread on that axis
	Corr                float64     // correlation of the axes, −1 < Corr < 1
	Offset              Point       // of the centre from the face's centre
}

// Circle is a circular spread about the face's centre.
func Circle(sigma unit.Length) Spread { return Spread{SigmaRight: sigma, SigmaUp: sigma} }

// SpreadOf takes the group's covariance and centre for the long run.
func (m Moments) SpreadOf() Spread {
	xx, xy, yy := m.Covariance()
	s := Spread{SigmaRight: unit.Length(math.Sqrt(xx)), SigmaUp: unit.Length(math.Sqrt(yy)), Offset: m.Centre}
	if xx > 0 && yy > 0 {
		s.Corr = xy / math.Sqrt(xx*yy)
	}
	return s
}

func (s Spread) check() error {
	ok := s.SigmaRight >= 0 && s.SigmaRight <= farthest && s.SigmaUp >= 0 && s.SigmaUp <= farthest && math.Abs(s.Corr) < 1 && s.Offset.Radius() <= farthest
	if !ok {
		return bad("spread", "give a standard deviation such as 8 cm and a correlation between −1 and 1", "%v is not a spread", s)
	}
	return nil
}

// Within is the probability that an arrow lands within r of the face's centre.
// Principal axes first; then ∫ φ_u(u) [Φ_v(√(r²−u²)) − Φ_v(−√(r²−u²))] du with
// u = r sin t, which removes the root's ends (G10: 1-D quadrature).
func (s Spread) Within(r unit.Length) float64 {
	if r <= 0 {
		return 0
	}
	xx, yy := float64(s.SigmaRight*s.SigmaRight), float64(s.SigmaUp*s.SigmaUp)
	e := principal(xx, s.Corr*math.Sqrt(xx*yy), yy)
	sin, cos := math.Sincos(float64(e.Angle))
	mu := [2]float64{
		cos*float64(s.Offset.Right) + sin*float64(s.Offset.Up),
		-sin*float64(s.Offset.Right) + cos*float64(s.Offset.Up),
	}
	return diskProbability(float64(r), float64(e.Major), float64(e.Minor), mu[0], mu[1])
}

// diskProbability integrates along the major axis, where the integrand is
// widest; a spread below 1e-9 of the radius counts as a point.
func diskProbability(r, su, sv, mu, mv float64) float64 {
	if su <= 1e-9*r { // also where both are 0 by underflow
		if math.Hypot(mu, mv) <= r {
			return 1
		}
		return 0
	}
	if sv <= 1e-9*r {
		if math.Abs(mv) >= r {
			return 0
		}
		half := math.Sqrt(r*r - mv*mv)
		return normalBetween(-half, half, mu, su)
	}
	f := func(t float64) float64 {
		sin, cos := math.Sincos(t)
		z := (r*sin - mu) / su
		return math.Exp(-z*z/2) * r * cos * normalBetween(-r*cos, r*cos, mv, sv)
	}
	// Panels of at most σ/2 where the density lives (9σ about its mean), in t.
	low, high := asin((mu-9*su)/r), asin((mu+9*su)/r)
	if high <= low {
		return 0
	}
	panels := int(min(400, 4+math.Ceil((high-low)*r/min(su, sv))))
	return min(1, integrate(f, low, high, panels)/(su*math.Sqrt(2*math.Pi)))
}

// nodes and weights of the 12-point Gauss-Legendre rule on −1 … 1.
var nodes, weights = func() (x, w []float64) {
	x, w = make([]float64, 12), make([]float64, 12)
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	return x, w
}()

// integrate applies the rule to equal panels.
func integrate(f func(float64) float64, low, high float64, panels int) float64 {
	half := (high - low) / float64(2*panels)
	sum := 0.0
	for i := range panels {
		mid := low + half*float64(2*i+1)
		for k, x := range nodes {
			sum += weights[k] * f(mid+half*x)
		}
	}
	return sum * half
}

func asin(x float64) float64 { return math.Asin(min(max(x, -1), 1)) }

// normalBetween is P(a < N(mu, s²) < b) by the complementary error function on
// the side that keeps its digits.
func normalBetween(a, b, mu, s float64) float64 {
	za, zb := (a-mu)/(s*math.Sqrt2), (b-mu)/(s*math.Sqrt2)
	if za > 0 {
		return (math.Erfc(za) - math.Erfc(zb)) / 2
	}
	return (math.Erfc(-zb) - math.Erfc(-za)) / 2
}

// ZoneProbabilities are the chances of each zone of the face, in the face's
// order, and last of a miss. shaft is the diameter of the shaft.
func (s Spread) ZoneProbabilities(f Face, shaft unit.Length) []float64 {
	if s.SigmaRight == s.SigmaUp && s.Corr == 0 && s.SigmaRight > 1e-6*f.Radius() {
		return s.circleZones(f, shaft)
	}
	p := make([]float64, 0, len(f.Zones)+1)
	inside := 0.0
	for _, z := range f.Zones {
		within := max(s.Within(z.Radius+shaft/2), inside)
		p = append(p, within-inside)
		inside = within
	}
	return append(p, 1-inside)
}

// circleZones integrates the distance's density, r/σ² exp(−(r²+δ²)/2σ²)
// I₀(rδ/σ²) (Rice 1945), once over all zones.
func (s Spread) circleZones(f Face, shaft unit.Length) []float64 {
	sigma, offset := float64(s.SigmaRight), float64(s.Offset.Radius())/float64(s.SigmaRight)
	density := func(r float64) float64 {
		d := r - offset
		return r * math.Exp(-d*d/2) * besselI0e(r*offset)
	}
	p := make([]float64, 0, len(f.Zones)+1)
	inside, from := 0.0, max(0, offset-9)
	for _, z := range f.Zones {
		to := min(float64(z.Radius+shaft/2)/sigma, offset+9)
		share := 0.0
		if to > from {
			share = integrate(density, from, to, 1+int(to-from))
			from = to
		}
		p = append(p, share)
		inside += share
	}
	return append(p, max(0, 1-inside))
}

// besselI0e is e^(−x) I₀(x) for x ≥ 0: the power series up to 30, then the
// asymptotic one (Abramowitz & Stegun 9.6.12 and 9.7.1), both to 1e-11.
func besselI0e(x float64) float64 {
	if x > 30 {
		sum, term := 1.0, 1.0
		for k := 1.0; k < 12; k++ {
			term *= (2*k - 1) * (2*k - 1) / (8 * k * x)
			sum += term
		}
		return sum / math.Sqrt(2*math.Pi*x)
	}
	sum, term, q := 1.0, 1.0, x*x/4
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= q / (k * k)
		sum += term
	}
	return sum * math.Exp(-x)
}

// ScoreForecast is what a spread scores in the long run.
type ScoreForecast struct {
	PerArrow float64 // expected points an arrow
	SD       float64 // standard deviation of one arrow's points
	Zones    []float64
}

// ExpectedScore is the expected score per arrow on a face. It leaves out
// arrows that glance off others and the archer's bad days.
func ExpectedScore(f Face, shaft unit.Length, s Spread) (ScoreForecast, error) {
	if err := s.check(); err != nil {
		return ScoreForecast{}, err
	}
	if !(shaft >= 0 && shaft <= 0.02) {
		return ScoreForecast{}, bad("shaft diameter", "it is 5 to 9.3 mm", "%g mm is not a shaft", shaft.Millimetres())
	}
	out := ScoreForecast{Zones: s.ZoneProbabilities(f, shaft)}
	square := 0.0
	for i, z := range f.Zones {
		out.PerArrow += out.Zones[i] * float64(z.Points)
		square += out.Zones[i] * float64(z.Points*z.Points)
	}
	best := float64(f.Best()) // beyond it by rounding where nearly all hit
	out.PerArrow, square = min(out.PerArrow, best), min(square, best*best)
	out.SD = math.Sqrt(max(square-out.PerArrow*out.PerArrow, 0))
	return out, nil
}

// RoundForecast is an expected total with two doubts: of the arrows to come,
// and of the spread they come from.
type RoundForecast struct {
	Arrows int
	Total  Estimate[float64] // 95 % of rounds fall inside, spread's doubt included
	Spread Estimate[float64] // the expected total as far as the spread is known
	Chance float64           // half the 95 % interval that the arrows to come alone give
}

// ForecastRound forecasts a round of n arrows on a face at the given distance
// from a centred circular spread measured at another. Angles are kept: σ grows
// in proportion to distance. It leaves out wind, drag's growth of spread,
// sighting errors, a day unlike the measured one, and that arrows of one end
// share its centre.
func ForecastRound(f Face, shaft unit.Length, sigma Estimate[unit.Length], measuredAt, shotAt unit.Length, n int) (RoundForecast, error) {
	if measuredAt <= 0 || shotAt <= 0 || n < 1 {
		return RoundForecast{}, bad("distance", "give both distances, such as 30 m and 70 m, and the number of arrows", "%v to %v with %d arrows cannot be forecast", measuredAt, shotAt, n)
	}
	if !(sigma.Low <= sigma.Value && sigma.Value <= sigma.High && sigma.Level > 0 && sigma.Level <= 1) {
		return RoundForecast{}, bad("spread", "give the spread between the ends of its interval, such as 8 cm between 6 and 11 cm at 0.95", "a spread of %v between %v and %v at %g is none", sigma.Value, sigma.Low, sigma.High, sigma.Level)
	}
	k := shotAt / measuredAt
	mean, err := ExpectedScore(f, shaft, Circle(sigma.Value*k))
	if err != nil {
		return RoundForecast{}, err
	}
	best, err := ExpectedScore(f, shaft, Circle(max(sigma.Low, 0)*k))
	if err != nil {
		return RoundForecast{}, err
	}
	worst := ScoreForecast{}
	if !math.IsInf(float64(sigma.High), 1) {
		if worst, err = ExpectedScore(f, shaft, Circle(sigma.High*k)); err != nil {
			return RoundForecast{}, err
		}
	}
	N := float64(n)
	chance := 1.959964 * mean.SD * math.Sqrt(N)
	worst.PerArrow, best.PerArrow = min(worst.PerArrow, mean.PerArrow), max(best.PerArrow, mean.PerArrow) // they differ by rounding where nearly all hit or miss
	out := RoundForecast{Arrows: n, Chance: chance, Spread: Estimate[float64]{Value: N * mean.PerArrow, Low: N * worst.PerArrow, High: N * best.PerArrow, Level: sigma.Level}}
	out.Total = Estimate[float64]{
		Value: N * mean.PerArrow,
		Low:   max(0, N*mean.PerArrow-math.Hypot(chance, N*(mean.PerArrow-worst.PerArrow))),
		High:  min(N*float64(f.Best()), N*mean.PerArrow+math.Hypot(chance, N*(best.PerArrow-mean.PerArrow))),
		Level: Confidence,
	}
	return out, nil
}

// SigmaForScore is the reverse: the centred circular σ whose expected score is
// the given points per arrow.
func SigmaForScore(f Face, shaft unit.Length, perArrow float64) (unit.Length, error) {
	best := float64(f.Best())
	if !(perArrow > 0) || perArrow >= best {
		return 0, bad("score", fmt.Sprintf("give the mean points of an arrow, above 0 and below %g", best), "%g cannot be turned into a spread", perArrow)
	}
	low, high := unit.Length(0), 100*f.Radius()
	for range 80 {
		mid := (low + high) / 2
		if e, err := ExpectedScore(f, shaft, Circle(mid)); err != nil {
			return 0, err
		} else if e.PerArrow > perArrow {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2, nil
}
