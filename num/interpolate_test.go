package num_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tautline/num"
)

// A curve whose area would leave the numbers is refused (T26).
func TestCurveTooWide(t *testing.T) {
	x, y := []float64{0, 50.41182648626838, 1e200}, []float64{0.3336653828951744, 0.16027243261811835, 0.29301728725051196}
	if _, status := num.NewSpline(x, y); status != num.NotFinite {
		t.Errorf("a spline over 1e200 is %v", status)
	}
	if _, status := num.NewMonotone([]float64{0, 1e200}, []float64{1e150, 1e150}); status != num.NotFinite {
		t.Errorf("a level curve with an area of 1e350 is %v", status)
	}
	for _, high := range []float64{1e250, 1e298} {
		c, status := num.NewMonotone([]float64{0, 1, 2}, []float64{high, 0, high})
		if status != num.Done {
			t.Errorf("a curve between 0 and %g is %v", high, status)
			continue
		}
		if a := c.Area(-2, 4); math.IsInf(a, 0) || math.IsNaN(a) {
			t.Errorf("an area under %g is %g", high, a)
		}
	}
}

// samples evaluates f at n+1 places, unevenly spaced in [a, b].
func samples(f func(float64) float64, a, b float64, n int) (x, y []float64) {
	for i := range n + 1 {
		u := float64(i) / float64(n)
		u += 0.15 / float64(n) * math.Sin(7*u)
		x = append(x, a+(b-a)*u)
		y = append(y, f(x[i]))
	}
	return x, y
}

// The not-a-knot spline reproduces a cubic, its slope and its integral.
func TestSplineReproducesCubics(t *testing.T) {
	f := func(x float64) float64 { return 1 - 2*x + 3*x*x - 4*x*x*x }
	slope := func(x float64) float64 { return -2 + 6*x - 12*x*x }
	area := func(x float64) float64 { return x - x*x + x*x*x - x*x*x*x }
	x, y := samples(f, -1, 2, 7)
	c, status := num.NewSpline(x, y)
	if status != num.Done {
		t.Fatal(status)
	}
	low, high := c.Domain()
	for i := range 50 {
		v := low + (high-low)*float64(i)/49
		if math.Abs(c.At(v)-f(v)) > 1e-13*30 || math.Abs(c.Slope(v)-slope(v)) > 1e-12*50 {
			t.Errorf("at %v: %v, %v; want %v, %v", v, c.At(v), c.Slope(v), f(v), slope(v))
		}
		if got, want := c.Area(low, v), area(v)-area(low); math.Abs(got-want) > 1e-12*30 {
			t.Errorf("area to %v: %v, want %v", v, got, want)
		}
	}
	if c.Area(1, 0) != -c.Area(0, 1) {
		t.Error("the area has no sign")
	}
}

// Fourth order for smooth data; the monotone curve has second order at
// turning points and at least second elsewhere.
func TestSplineOrder(t *testing.T) {
	worst := func(n int, make func(x, y []float64) (*num.Curve, num.Status)) float64 {
		x, y := samples(math.Sin, 0, 6, n)
		c, _ := make(x, y)
		e := 0.0
		for i := range 600 {
			v := x[0] + (x[n]-x[0])*float64(i)/599
			e = math.Max(e, math.Abs(c.At(v)-math.Sin(v)))
		}
		return e
	}
	if order := math.Log2(worst(40, num.NewSpline) / worst(80, num.NewSpline)); order < 3.7 || order > 4.4 {
		t.Errorf("spline: order %.2f", order)
	}
	if order := math.Log2(worst(40, num.NewMonotone) / worst(80, num.NewMonotone)); order < 1.8 {
		t.Errorf("monotone: order %.2f", order)
	}
}

// The monotone curve never leaves the range of its two neighbours; both
// curves pass through the points and have no jumps there.
func TestCurvesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 9).Draw(t, "n")
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i] = float64(i)
			if i > 0 {
				x[i] = x[i-1] + rapid.Float64Range(1e-3, 2).Draw(t, "gap")
			}
			y[i] = rapid.Float64Range(-5, 5).Draw(t, "y")
		}
		mono, s1 := num.NewMonotone(x, y)
		spline, s2 := num.NewSpline(x, y)
		if s1 != num.Done || s2 != num.Done {
			t.Fatal(s1, s2)
		}
		for i := range x {
			for _, c := range []*num.Curve{mono, spline} {
				if math.Abs(c.At(x[i])-y[i]) > 1e-12 {
					t.Fatalf("misses point %d: %v, %v", i, c.At(x[i]), y[i])
				}
			}
		}
		for i := range n - 1 {
			low, high := math.Min(y[i], y[i+1]), math.Max(y[i], y[i+1])
			for k := range 11 {
				v := x[i] + (x[i+1]-x[i])*float64(k)/10
				if m := mono.At(v); m < low-1e-12 || m > high+1e-12 {
					t.Fatalf("overshoots between %d and %d: %v outside [%v, %v]", i, i+1, m, low, high)
				}
			}
		}
	})
}

func TestCurveRefusals(t *testing.T) {
	for _, c := range []struct{ x, y []float64 }{
		{nil, nil}, {[]float64{1}, []float64{1}}, {[]float64{1, 1}, []float64{1, 2}}, {[]float64{2, 1}, []float64{1, 2}},
		{[]float64{1, 2}, []float64{1}}, {[]float64{1, math.NaN()}, []float64{1, 2}}, {[]float64{1, 2}, []float64{math.Inf(1), 2}},
	} {
		if _, status := num.NewSpline(c.x, c.y); status != num.BadInput {
			t.Errorf("spline %v %v: %v", c.x, c.y, status)
		}
		if _, status := num.NewMonotone(c.x, c.y); status != num.BadInput {
			t.Errorf("monotone %v %v: %v", c.x, c.y, status)
		}
	}
	if _, status := num.NewSpline([]float64{0, 1e-300, 1}, []float64{0, 1e100, 0}); status != num.NotFinite {
		t.Errorf("an infinite slope: %v", status)
	}
	c, _ := num.NewSpline([]float64{0, 1, 2}, []float64{0, 1, 4})
	if c.At(-1) != 0 || c.Slope(0) != 0 || math.Abs(c.At(3)-8) > 1e-15 || c.Slope(9) != 4 {
		t.Errorf("outside it is not a line: %v %v", c.At(-1), c.At(3))
	}
}

func BenchmarkCurveAt(b *testing.B) {
	x, y := samples(math.Sin, 0, 6, 200)
	c, _ := num.NewSpline(x, y)
	b.ReportAllocs()
	for b.Loop() {
		_ = c.At(3.21)
	}
}
