package trial

import "math"

// smoothClasses builds the classes of smooth trends for the stops x.
func smoothClasses(x, root []float64) []cone {
	u := centred(x)
	one := powers(u, 0)
	var classes []cone
	for _, bend := range []struct {
		name        string
		rise, curve float64
	}{
		{"falling, flattening out", -1, +1},
		{"falling, ever steeper", -1, -1},
		{"rising, ever steeper", +1, +1},
		{"rising, flattening out", +1, -1},
	} {
		classes = append(classes, newCone(bend.name, root, one, hinges(u, bend.rise, bend.curve)))
	}
	return append(classes, newCone("a broad curve", root, powers(u, smoothOrder(len(x))), nil))
}

// centred maps the stops to −1 … 1.
func centred(x []float64) []float64 {
	k := len(x)
	mid, span := (x[0]+x[k-1])/2, (x[k-1]-x[0])/2
	u := make([]float64, k)
	for i := range x {
		u[i] = (x[i] - mid) / span
	}
	return u
}

// hinges generates the monotone functions that bend one way: for a rising
// convex trend (u − u_m)₊ at every stop m but the last, and its mirror images.
func hinges(u []float64, rise, curve float64) [][]float64 {
	k := len(u)
	var list [][]float64
	for m := range k - 1 {
		h := make([]float64, k)
		for i := range u {
			d := u[i] - u[m]
			if rise*curve < 0 {
				d = u[k-1-m] - u[i]
			}
			h[i] = curve * max(d, 0)
		}
		list = append(list, h)
	}
	return list
}

// smoothOrder is the order of the polynomial class: cubic where seven stops
// leave three directions to see a spot in, else quadratic.
func smoothOrder(k int) int {
	if k >= 7 {
		return 3
	}
	return 2
}

func powers(u []float64, order int) [][]float64 {
	var list [][]float64
	for p := 0; p <= order; p++ {
		v := make([]float64, len(u))
		for i := range u {
			v[i] = math.Pow(u[i], float64(p))
		}
		list = append(list, v)
	}
	return list
}

// bank lists the trends under which the null distribution is simulated, as
// shifts of every contrast. Heights are in standard errors of a stop's mean:
// the contrasts are linear, so only the trend's height against the noise
// matters.
func (t *spotTest) bank() [][]float64 {
	shifts := [][]float64{t.table()}
	for _, b := range unfavourable(centred(t.x)) {
		for _, height := range b.heights {
			shift := t.table()
			t.dots(scaled(b.trend, t.scaledTo(height)), shift)
			for i, v := range shift {
				if math.IsInf(v, -1) {
					shift[i] = 0 // the noise is −∞ there already
				}
			}
			shifts = append(shifts, shift)
		}
	}
	return shifts
}

// scaledTo returns root weights that make a unit trend `height` standard
// errors of a typical stop high.
func (t *spotTest) scaledTo(height float64) []float64 {
	mean := 0.0
	for _, r := range t.root {
		mean += r / float64(len(t.root))
	}
	out := make([]float64, len(t.root))
	for i, r := range t.root {
		out[i] = height * r / mean
	}
	return out
}

// unfavourableTrend is a trend of unit height and the heights to try it in.
type unfavourableTrend struct {
	trend   []float64
	heights []float64
}

// unfavourable lists trends, smooth in the sense of the test: corners at every
// stop (the extreme rays of the cones), a straight and a saturating line, a
// hollow and a cubic. Falling ones serve for rising ones, because dips and
// bumps change places with the sign.
func unfavourable(u []float64) []unfavourableTrend {
	var list []unfavourableTrend
	add := func(f func(u float64) float64, heights ...float64) {
		v := make([]float64, len(u))
		for i := range u {
			v[i] = f((u[i] + 1) / 2)
		}
		list = append(list, unfavourableTrend{v, heights})
	}
	for m := 1; m < len(u)-1; m++ {
		corner := (u[m] + 1) / 2
		add(func(x float64) float64 { return max(corner-x, 0) / corner }, 12)
		add(func(x float64) float64 { return -max(x-corner, 0) / (1 - corner) }, 12)
	}
	add(func(x float64) float64 { return -x }, 4)
	add(func(x float64) float64 { return math.Exp(-4 * x) }, 8)
	add(func(x float64) float64 { return (2*x - 1) * (2*x - 1) }, 4, 12, 32)
	if smoothOrder(len(u)) == 3 {
		add(func(x float64) float64 { return -(2*x - 1) * (2*x - 1) * (2*x - 1) }, 4, 12, 32)
	} else { // no class holds S-shapes: gentle ones are paid for here
		add(func(x float64) float64 { return -math.Tanh(3*x-1.5) / 1.81 }, 5, 10)
	}
	return list
}
