package shot

import "math"

// Sines and cosines are a tenth of a shot when computed from scratch, so they
// start from a table with 64 entries per radian: with |δ| ≤ 1/128 the series
// below stop at δ⁷ and δ⁸, below 1e-18. Angles beyond ±4 rad, which no limb
// reaches, go the long way.
const (
	tableRate  = 64
	tableReach = 4
	tableSize  = 2*tableReach*tableRate + 1
)

type sineCosine struct{ sin, cos float64 }

var trigTable = func() (t [tableSize]sineCosine) {
	for i := range t {
		t[i].sin, t[i].cos = math.Sincos(float64(i)/tableRate - tableReach)
	}
	return t
}()

// sincos returns sin x and cos x to within 3e-16.
func sincos(x float64) (sin, cos float64) {
	place := x*tableRate + (tableReach*tableRate + 0.5)
	if !(place >= 0 && place < tableSize) {
		return math.Sincos(x)
	}
	i := int(place)
	at := &trigTable[i]
	d := x - (float64(i)*(1.0/tableRate) - tableReach)
	d2 := d * d
	// sin δ and 1 − cos δ
	s := d - d*d2*(1.0/6-d2*(1.0/120))
	c := d2 * (0.5 - d2*(1.0/24-d2*(1.0/720)))
	return at.sin + (at.cos*s - at.sin*c), at.cos - (at.sin*s + at.cos*c)
}
