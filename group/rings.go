package group

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// RingCounts are arrows per zone of a face, in the face's order, and last the
// misses.
type RingCounts struct {
	Face   Face
	Shaft  unit.Length // diameter
	Counts []int
}

// CountRings counts scored shots on a face. Shots that carry a place and no
// ring are scored by the face's rule.
func CountRings(f Face, shaft unit.Length, shots []Shot) (RingCounts, error) {
	c := RingCounts{f, shaft, make([]int, len(f.Zones)+1)}
	if len(f.Zones) == 0 {
		return c, bad("face", "choose the face the rings were read from", "blank paper has no rings")
	}
	if !(shaft >= 0 && shaft <= 0.02) {
		return c, bad("shaft diameter", "it is 5 to 9.3 mm", "%g mm is not a shaft", shaft.Millimetres())
	}
	for i, s := range shots {
		if !s.Placed && s.Ring == "" {
			return c, bad(shotField(i), "give a place or a ring", "it has neither")
		}
		z := f.Score(s.Point, shaft)
		if s.Ring != "" {
			var known bool
			if z, known = f.ZoneByLabel(s.Ring); !known {
				return c, bad(shotField(i), "write X, 10 … 1 or M", "the %s face has no ring %q", f.Name, s.Ring)
			}
		}
		c.Counts[f.zoneIndex(z)]++
	}
	return c, nil
}

// zoneIndex is the place of a zone in Zones; misses come last.
func (f Face) zoneIndex(z Zone) int {
	for i := range f.Zones {
		if f.Zones[i] == z {
			return i
		}
	}
	return len(f.Zones)
}

// Arrows is the number of arrows counted.
func (c RingCounts) Arrows() int {
	n := 0
	for _, k := range c.Counts {
		n += k
	}
	return n
}

// RingFit is what rings alone tell of a circular group.
type RingFit struct {
	Arrows int
	Sigma  Estimate[unit.Length] // profile likelihood; Low 0 when all arrows share the innermost zone
	Offset Estimate[unit.Length] // distance of the group's centre from the face's; its direction is not in the rings
	// Kept is the share of the information on σ that the rings keep, against
	// knowing every arrow's place (G11).
	Kept     float64
	Warnings []string
}

// FitRings fits a circular normal group with an offset of unknown direction by
// maximum likelihood over the rings' counts (multinomial); the intervals are
// those of the profile likelihood. It leaves out the shape of the group, which
// concentric rings hardly show, and a miss is only "further out than the face".
func FitRings(c RingCounts) (RingFit, error) {
	n := c.Arrows()
	if len(c.Face.Zones) == 0 || len(c.Counts) != len(c.Face.Zones)+1 {
		return RingFit{}, bad("rings", "count the arrows of every zone and the misses", "%d counts for a face of %d zones", len(c.Counts), len(c.Face.Zones))
	}
	if n < 3 {
		return RingFit{}, bad("rings", "three arrows are the least, six or more are useful", "%d arrows", n)
	}
	r := ringLikelihood{c, float64(c.Face.RingWidth())}
	out := RingFit{Arrows: n, Sigma: Unknown[unit.Length](), Offset: Unknown[unit.Length]()}
	best := r.maximum()
	drop := distuv.ChiSquared{K: 1}.Quantile(Confidence) / 2
	out.Sigma = r.profileSigma(best, drop)
	out.Offset = r.profileOffset(best, drop)
	if c.onlyZone() {
		out.Sigma.Value, out.Offset.Value = unit.Length(math.NaN()), unit.Length(math.NaN())
		out.Sigma.Low = 0
		out.Warnings = append(out.Warnings, "all arrows share one zone: the rings give only an upper limit")
		return out, nil
	}
	out.Kept = InformationKept(c.Face, c.Shaft, Spread{SigmaRight: out.Sigma.Value, SigmaUp: out.Sigma.Value, Offset: Point{out.Offset.Value, 0}})
	out.Warnings = append(out.Warnings, "rings tell how far the centre is off, not in which direction")
	if out.Kept < 0.5 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("the rings keep %.0f %% of what the places would tell: plot the arrows", 100*out.Kept))
	}
	return out, nil
}

func (c RingCounts) onlyZone() bool {
	for _, k := range c.Counts {
		if k > 0 {
			return k == c.Arrows()
		}
	}
	return true
}

// ringLikelihood is the multinomial log-likelihood in ln(σ/w) and δ/w.
type ringLikelihood struct {
	c RingCounts
	w float64 // ring width, m
}

type ringPoint struct{ lnSigma, offset, value float64 }

func (r ringLikelihood) log(lnSigma, offset float64) float64 {
	s := unit.Length(r.w * math.Exp(lnSigma))
	p := Spread{SigmaRight: s, SigmaUp: s, Offset: Point{unit.Length(r.w * math.Abs(offset)), 0}}.ZoneProbabilities(r.c.Face, r.c.Shaft)
	sum := 0.0
	for i, k := range r.c.Counts {
		if k > 0 {
			sum += float64(k) * math.Log(max(p[i], 1e-300))
		}
	}
	return sum
}

// maximum maximises over both parameters, from the mean radius outward. The
// likelihood is even in the offset, so no bound is needed there.
func (r ringLikelihood) maximum() ringPoint {
	best := ringPoint{value: math.Inf(-1)}
	problem := optimize.Problem{Func: func(x []float64) float64 { return -r.log(clamp(x[0]), x[1]) }}
	for _, offset := range []float64{0.2, 2} { // near the centre and well off it
		// Stopping at the iteration limit still leaves the best point found.
		result, _ := optimize.Minimize(problem, []float64{r.startSigma(), offset}, &optimize.Settings{MajorIterations: 200}, &optimize.NelderMead{SimplexSize: 0.4})
		if result != nil && -result.F > best.value {
			best = ringPoint{clamp(result.X[0]), math.Abs(result.X[1]), -result.F}
		}
	}
	return best
}

func clamp(lnSigma float64) float64 { return min(max(lnSigma, -7), 7) }

// along maximises a function of one variable by golden section about a start,
// widening the bracket while it climbs.
func along(f func(float64) float64, start, step, least float64) (at, value float64) {
	low, high := max(least, start-step), start+step
	for range 12 {
		if step *= 2; f(low) > f(start) && low > least {
			start, low = low, max(least, low-step)
		} else if f(high) > f(start) {
			start, high = high, high+step
		} else {
			break
		}
	}
	const golden = 0.6180339887498949
	a, b := high-golden*(high-low), low+golden*(high-low)
	fa, fb := f(a), f(b)
	for range 20 {
		if fa > fb {
			high, b, fb = b, a, fa
			a = high - golden*(high-low)
			fa = f(a)
		} else {
			low, a, fa = a, b, fb
			b = low + golden*(high-low)
			fb = f(b)
		}
	}
	if fa > fb {
		return a, fa
	}
	return b, fb
}

// startSigma inverts the mean points of the arrows.
func (r ringLikelihood) startSigma() float64 {
	sum, n := 0.0, 0.0
	for i, k := range r.c.Counts {
		radius := r.w * float64(len(r.c.Counts)+1)
		if i < len(r.c.Face.Zones) {
			radius = float64(r.c.Face.Zones[i].Radius)
		}
		sum, n = sum+float64(k)*radius, n+float64(k)
	}
	return math.Log(max(sum/n/r.w/math.Sqrt(math.Pi/2), 0.05))
}

func (r ringLikelihood) profileSigma(best ringPoint, drop float64) Estimate[unit.Length] {
	offset := best.offset // follows the profile
	f := func(x float64) float64 {
		var top float64
		offset, top = along(func(d float64) float64 { return r.log(clamp(x), d) }, offset, 0.3, 0)
		return best.value - drop - top
	}
	low := crossing(f, best.lnSigma, -1)
	offset = best.offset
	high := crossing(f, best.lnSigma, +1)
	return Estimate[unit.Length]{Value: unit.Length(r.w * math.Exp(best.lnSigma)), Low: unit.Length(r.w * math.Exp(low)), High: unit.Length(r.w * math.Exp(high)), Level: Confidence}
}

func (r ringLikelihood) profileOffset(best ringPoint, drop float64) Estimate[unit.Length] {
	sigma := best.lnSigma
	f := func(d float64) float64 {
		var top float64
		sigma, top = along(func(x float64) float64 { return r.log(clamp(x), d) }, sigma, 0.1, -7)
		return best.value - drop - top
	}
	e := Estimate[unit.Length]{Value: unit.Length(r.w * best.offset), Low: 0, High: 0, Level: Confidence}
	if f(0) > 0 {
		sigma = best.lnSigma
		e.Low = unit.Length(r.w * max(0, crossing(f, best.offset, -1)))
	}
	sigma = best.lnSigma
	e.High = unit.Length(r.w * crossing(f, best.offset, +1))
	return e
}

// crossing walks from x in the direction of sign until f > 0, then bisects;
// ±Inf if f stays negative within six units.
func crossing(f func(float64) float64, x, sign float64) float64 {
	step := 0.1
	in := x
	for out := x + sign*step; math.Abs(out-x) < 12; out += sign * step {
		if f(out) > 0 {
			for range 12 {
				if mid := (in + out) / 2; f(mid) > 0 {
					out = mid
				} else {
					in = mid
				}
			}
			return (in + out) / 2
		}
		in, step = out, step*1.6
	}
	return math.Inf(int(sign))
}

// InformationKept is the Fisher information on ln σ that the zones keep,
// Σ (∂p/∂ln σ)²/p, as a share of the 4 per arrow that exact places about a
// known centre give (G11).
func InformationKept(f Face, shaft unit.Length, s Spread) float64 {
	const h = 1e-4
	scaled := func(k float64) []float64 {
		t := s
		t.SigmaRight, t.SigmaUp = t.SigmaRight*unit.Length(k), t.SigmaUp*unit.Length(k)
		return t.ZoneProbabilities(f, shaft)
	}
	up, down, p := scaled(math.Exp(h)), scaled(math.Exp(-h)), s.ZoneProbabilities(f, shaft)
	sum := 0.0
	for i := range p {
		if d := (up[i] - down[i]) / (2 * h); p[i] > 1e-12 {
			sum += d * d / p[i]
		}
	}
	return sum / 4
}
