package group

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// ExtremeSpread is the largest distance between two of the shots.
func ExtremeSpread(shots []Shot) unit.Length {
	hull := convexHull(shots)
	best := 0.0
	for i := range hull {
		for j := range i {
			best = max(best, math.Hypot(float64(hull[i].Right-hull[j].Right), float64(hull[i].Up-hull[j].Up)))
		}
	}
	return unit.Length(best)
}

// convexHull keeps the points among which the extreme spread is found, so that
// a page of 100 000 impacts costs a sort (Andrew's monotone chain, 1979).
func convexHull(shots []Shot) []Point {
	pts := make([]Point, len(shots))
	for i, s := range shots {
		pts[i] = s.Point
	}
	slices.SortFunc(pts, func(a, b Point) int {
		if a.Right != b.Right {
			return sign(a.Right - b.Right)
		}
		return sign(a.Up - b.Up)
	})
	if len(pts) < 4 {
		return pts
	}
	half := func(hull []Point, from int, p Point) []Point {
		for len(hull)-from >= 2 && turn(hull[len(hull)-2], hull[len(hull)-1], p) <= 0 {
			hull = hull[:len(hull)-1]
		}
		return append(hull, p)
	}
	var hull []Point
	for _, p := range pts {
		hull = half(hull, 0, p)
	}
	from := len(hull) - 1
	for i := len(pts) - 2; i >= 0; i-- {
		hull = half(hull, from, pts[i])
	}
	return hull
}

func turn(a, b, c Point) float64 {
	return float64(b.Right-a.Right)*float64(c.Up-a.Up) - float64(b.Up-a.Up)*float64(c.Right-a.Right)
}

func sign(x unit.Length) int {
	switch {
	case x < 0:
		return -1
	case x > 0:
		return 1
	}
	return 0
}

// Extent is the width and height of the group.
func Extent(shots []Shot) (width, height unit.Length) {
	if len(shots) == 0 {
		return 0, 0
	}
	low, high := shots[0].Point, shots[0].Point
	for _, s := range shots {
		low.Right, high.Right = min(low.Right, s.Right), max(high.Right, s.Right)
		low.Up, high.Up = min(low.Up, s.Up), max(high.Up, s.Up)
	}
	return high.Right - low.Right, high.Up - low.Up
}

// FigureOfMerit is the mean of width and height.
func FigureOfMerit(shots []Shot) unit.Length {
	w, h := Extent(shots)
	return (w + h) / 2
}

// Diagonal of the box around the group.
func Diagonal(shots []Shot) unit.Length {
	w, h := Extent(shots)
	return unit.Length(math.Hypot(float64(w), float64(h)))
}

// MeanRadius is the mean distance of the arrows from their ends' centres.
func (m Moments) MeanRadius() unit.Length {
	sum := 0.0
	for _, r := range m.residual {
		sum += math.Hypot(r.x, r.y)
	}
	return unit.Length(sum / float64(m.Arrows))
}

// Expected holds what n arrows of a circular group with σ = 1 give on average.
type Expected struct {
	N                                   int
	ExtremeSpread, ExtremeSpreadSD      float64 // simulated, see rangetable.go
	ExtremeLow, ExtremeMid, ExtremeHigh float64 // 5, 50, 95 % of its distribution
	Diagonal                            float64 // simulated
	FigureOfMerit, MeanRadius, RadialSD float64 // exact
	CEP, R90, R95                       float64 // exact, long run: 50, 90, 95 % of arrows fall inside
}

// ExpectedOf returns the expectations for n arrows about their own mean, n ≥ 2
// (beyond 144 the extreme spread is extrapolated in ln n).
func ExpectedOf(n int) (Expected, error) {
	if n < 2 {
		return Expected{}, bad("arrows", "two arrows are the least that have a spread", "%d arrows have none", n)
	}
	row := rangeRow(n)
	return Expected{
		N: n, ExtremeSpread: row[1], ExtremeSpreadSD: row[2], ExtremeLow: row[3], ExtremeMid: row[4], ExtremeHigh: row[5], Diagonal: row[6],
		FigureOfMerit: meanRange(n), MeanRadius: math.Sqrt(math.Pi * float64(n-1) / float64(2*n)), RadialSD: math.Sqrt2 * CG(float64(2*(n-1))),
		CEP: math.Sqrt(2 * math.Ln2), R90: math.Sqrt(2 * math.Ln10), R95: math.Sqrt(2 * math.Log(20)),
	}, nil
}

// meanRange is d2(n) of control charts: the mean range of n standard normals,
// ∫ 1 − Φⁿ − (1−Φ)ⁿ.
func meanRange(n int) float64 {
	f := func(x float64) float64 {
		p := distuv.UnitNormal.CDF(x)
		return 1 - math.Pow(p, float64(n)) - math.Pow(1-p, float64(n))
	}
	sum := 0.0
	for i := -9; i < 9; i++ {
		sum += quad.Fixed(f, float64(i), float64(i+1), 16, quad.Legendre{}, 0)
	}
	return sum
}

// rangeRow interpolates the simulated table: linear in ln n between its rows,
// which are every n up to 20 and then no further apart than a quarter.
func rangeRow(n int) [7]float64 {
	i := 1
	for i < len(rangeTable)-1 && rangeTable[i][0] < float64(n) {
		i++
	}
	a, b := rangeTable[i-1], rangeTable[i]
	f := math.Log(float64(n)/a[0]) / math.Log(b[0]/a[0])
	out := [7]float64{float64(n)}
	for k := 1; k < len(out); k++ {
		out[k] = a[k] + f*(b[k]-a[k])
	}
	return out
}
