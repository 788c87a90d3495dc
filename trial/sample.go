package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"

	"tautline/unit"
)

// Point is a place on the face: right and up as seen from the shooting line.
type Point struct{ Right, Up unit.Length }

// End is the arrows of one end, which share a centre.
type End []Point

// Sample is the ends shot with one set-up.
type Sample []End

// Arrows is the number of arrows of the sample.
func (s Sample) Arrows() int {
	n := 0
	for _, e := range s {
		n += len(e)
	}
	return n
}

// DF is 2Σ(n_e − 1), the degrees of freedom of the pooled spread of circular
// ends, each about its own centre (G1).
func (s Sample) DF() float64 {
	df := 0
	for _, e := range s {
		df += 2 * max(0, len(e)-1)
	}
	return float64(df)
}

// SumSquares about the ends' own centres, m².
func (s Sample) SumSquares() float64 {
	sum := 0.0
	for _, e := range s {
		sum += e.sumSquares()
	}
	return sum
}

func (e End) sumSquares() float64 {
	x, y := e.mean()
	sum := 0.0
	for _, p := range e {
		dx, dy := float64(p.Right)-x, float64(p.Up)-y
		sum += dx*dx + dy*dy
	}
	return sum
}

func (e End) mean() (x, y float64) {
	n := float64(len(e))
	for _, p := range e {
		x, y = x+float64(p.Right)/n, y+float64(p.Up)/n
	}
	return x, y
}

// squares are the arrows' squared distances from the end's mean, each scaled
// by n/(n−1) for the mean taken from the same arrows.
func (e End) squares() []float64 {
	x, y := e.mean()
	n := float64(len(e))
	var out []float64
	for _, p := range e {
		dx, dy := float64(p.Right)-x, float64(p.Up)-y
		out = append(out, (dx*dx+dy*dy)*n/(n-1))
	}
	return out
}

// farthest is beyond any field: a place past it is a slip of the pen.
const farthest = 1e6 * unit.Metre

// onField refuses a place that is none.
func onField(field string, places ...unit.Length) error {
	for _, l := range places {
		if !(-farthest <= l && l <= farthest) {
			return bad(field, "give both coordinates, such as 3.2 cm and −1.5 cm", "the place is not a number, or beyond any field")
		}
	}
	return nil
}

// finest is the least spread, in metres, that is one: a nanometre is all arrows
// on one point.
const finest = 1e-9

// check refuses a sample that cannot be compared.
func (s Sample) check(name string) error {
	for i, e := range s {
		for j, p := range e {
			if err := onField(fmt.Sprintf("%s, end %d, arrow %d", name, i+1, j+1), p.Right, p.Up); err != nil {
				return err
			}
		}
	}
	if s.DF() < 2 {
		return bad(name, "shoot at least one end of two arrows; six or more arrows are useful", "no end holds two arrows")
	}
	return nil
}

// logSpread is the unbiased estimate of ln σ from a sum of squares with ν
// degrees of freedom, and its variance: E ln s² = ln σ² + ψ(ν/2) − ln(ν/2),
// Var ln s² = ψ′(ν/2); for large ν Var(ln s) → 1/(2ν) (Bartlett & Kendall
// 1946, recalled; G7).
func logSpread(ss, nu float64) (lnSigma, variance float64) {
	bias := mathext.Digamma(nu/2) - math.Log(nu/2)
	return (math.Log(ss/nu) - bias) / 2, mathext.Zeta(2, nu/2) / 4
}

// spatialMedian is the point with the least sum of distances (Weiszfeld's
// iteration with the step of Vardi and Zhang 2000 where it meets a point).
func spatialMedian(e End) (x, y float64) {
	x, y = e.mean()
	scale := math.Sqrt(e.sumSquares()/float64(len(e))) + 1e-300
	for range 200 {
		var w, wx, wy, rx, ry, at float64
		for _, p := range e {
			dx, dy := float64(p.Right)-x, float64(p.Up)-y
			d := math.Hypot(dx, dy)
			if d < 1e-12*scale {
				at++
				continue
			}
			w, wx, wy = w+1/d, wx+float64(p.Right)/d, wy+float64(p.Up)/d
			rx, ry = rx+dx/d, ry+dy/d
		}
		if w == 0 {
			return x, y
		}
		step := 1.0
		if at > 0 {
			step = max(0, 1-at/math.Hypot(rx, ry))
		}
		nx, ny := x+step*(wx/w-x), y+step*(wy/w-y)
		moved := math.Hypot(nx-x, ny-y)
		x, y = nx, ny
		if moved < 1e-9*scale {
			break
		}
	}
	return x, y
}

// medianDistances are the arrows' distances from their ends' spatial medians,
// each scaled by √(n/(n−1)) for the centre taken from the same arrows. Ends of
// one arrow give none.
func (s Sample) medianDistances() []float64 {
	var d []float64
	for _, e := range s {
		if len(e) < 2 {
			continue
		}
		x, y := spatialMedian(e)
		k := math.Sqrt(float64(len(e)) / float64(len(e)-1))
		for _, p := range e {
			d = append(d, k*math.Hypot(float64(p.Right)-x, float64(p.Up)-y))
		}
	}
	return d
}

// counted leaves out ends of one arrow, which have no spread.
func (s Sample) counted() Sample {
	var out Sample
	for _, e := range s {
		if len(e) > 1 {
			out = append(out, e)
		}
	}
	return out
}

// endDistances is each end's mean distance from its spatial median.
func (s Sample) endDistances() []float64 {
	var out []float64
	for _, e := range s.counted() {
		out = append(out, stat.Mean(Sample{e}.medianDistances(), nil))
	}
	return out
}
