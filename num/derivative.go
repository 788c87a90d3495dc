package num

import "math"

// Differences says how derivatives are approximated. The zero value suits
// functions computed to rounding error.
type Differences struct {
	// Typical is the size of each variable over which the function changes; nil
	// or zero: its present size (1 at zero).
	Typical []float64
	// Noise is the relative error of the function's values: 1e-9 if it steps
	// equations to that accuracy. Default 2e-16. The step is Typical·Noise^(1/3),
	// which balances the truncation error h² against Noise/h; the derivative is
	// then good to about Noise^(2/3).
	Noise float64
}

// Jacobian fills j (len(f) by len(x)) with central differences of the vector
// function, two evaluations per column. x is changed during the call and
// restored. scratch holds 2·len(f) numbers or is nil. It returns the
// evaluations used, and NotFinite if a difference is not finite even with a
// sixteenth of the step (the function may be undefined on one side).
func Jacobian(f func(x, out []float64), x []float64, d Differences, j Matrix, scratch []float64) (evaluations int, status Status) {
	m, n := j.Rows, j.Cols
	if f == nil || !j.fits() || len(x) != n || !allFinite(x) || !d.valid(n) {
		return 0, BadInput
	}
	if len(scratch) < 2*m {
		scratch = make([]float64, 2*m)
	}
	up, down := scratch[:m], scratch[m:2*m]
	for k := range x {
		h := d.step(x[k], k)
		ok := false
		for try := 0; try < 3 && !ok; try++ {
			ok = column(f, x, k, h, up, down, j)
			evaluations += 2
			h /= 4
		}
		if !ok {
			return evaluations, NotFinite
		}
	}
	return evaluations, Done
}

// valid checks sizes and ranges.
func (d *Differences) valid(n int) bool {
	return (d.Typical == nil || len(d.Typical) == n && allFinite(d.Typical)) && d.Noise >= 0 && d.Noise < 1
}

// step is the difference step of variable k.
func (d *Differences) step(x float64, k int) float64 {
	size := math.Abs(x)
	if d.Typical != nil && d.Typical[k] != 0 {
		size = math.Abs(d.Typical[k])
	} else if size == 0 {
		size = 1
	}
	return math.Cbrt(math.Max(d.Noise, Epsilon)) * size
}

// column fills column k; x is restored.
func column(f func(x, out []float64), x []float64, k int, h float64, up, down []float64, j Matrix) bool {
	at := x[k]
	x[k] = at + h
	right := x[k]
	f(x, up)
	x[k] = at - h
	left := x[k]
	f(x, down)
	x[k] = at
	// The step as it was rounded, not as it was meant.
	width := right - left
	good := width > 0
	for i := range up {
		d := (up[i] - down[i]) / width
		good = good && finite(d)
		j.Set(i, k, d)
	}
	return good
}

// Gradient fills g with central differences of a scalar function; see
// Jacobian.
func Gradient(f func(x []float64) float64, x []float64, d Differences, g []float64) (evaluations int, status Status) {
	if f == nil || len(g) != len(x) {
		return 0, BadInput
	}
	one := func(x, out []float64) { out[0] = f(x) }
	return Jacobian(one, x, d, Matrix{Rows: 1, Cols: len(x), Data: g}, nil)
}
