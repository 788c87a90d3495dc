package bow

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// shortestByEnumeration tries every chain of points and keeps the shortest
// that leaves all points on the far side from the archer: the definition, for
// a handful of points.
func shortestByEnumeration(hx, hy float64, px, py []float64) (best []int, length float64) {
	n := len(px) - 1
	length = math.Inf(1)
	for set := range 1 << n {
		var path []int
		for i := range n {
			if set&(1<<i) != 0 {
				path = append(path, i)
			}
		}
		path = append(path, n)
		if l, ok := clearPath(hx, hy, px, py, path); ok && l < length {
			best, length = path, l
		}
	}
	return best, length
}

// clearPath measures a path and reports whether no point sticks out of it
// toward the archer.
func clearPath(hx, hy float64, px, py []float64, path []int) (length float64, ok bool) {
	x, y, from := hx, hy, -1
	for _, to := range path {
		dx, dy := px[to]-x, py[to]-y
		for j := from + 1; j < to; j++ {
			if (px[j]-x)*dy-(py[j]-y)*dx > 1e-12 {
				return 0, false
			}
		}
		length += math.Hypot(dx, dy)
		x, y, from = px[to], py[to], to
	}
	return length, true
}

func TestTraceIsTheShortestPath(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	w := NewWrap(7)
	bent := 0
	for range 2000 {
		px, py := make([]float64, 7), make([]float64, 7)
		x, y, th := 0.05, 0.3, 0.3*r.Float64()
		for i := range px {
			th += 0.5 * (r.Float64() - 0.7)
			x, y = x+0.08*math.Sin(th), y+0.08*math.Cos(th)
			px[i], py[i] = x, y
		}
		hx, hy := 0.1+0.5*r.Float64(), 0.29*r.Float64()
		w.Trace(hx, hy, px, py)
		want, length := shortestByEnumeration(hx, hy, px, py)
		if !slices.Equal(w.Touch, want) || math.Abs(w.Length-length) > 1e-12 || w.First != want[0] {
			t.Fatalf("traced %v of %.9f m, shortest is %v of %.9f m", w.Touch, w.Length, want, length)
		}
		if len(want) > 2 {
			bent++
		}
	}
	if bent < 200 {
		t.Errorf("only %d of 2000 paths touch more than one point before the tip", bent)
	}
}

// A string node may stand beside the limb, above some of its points: those
// are out of the path (string.md section 3).
func TestTraceIgnoresPointsBelowTheStart(t *testing.T) {
	px, py := []float64{0.5, 0.2, 0.1}, []float64{0.3, 0.5, 0.8}
	w := NewWrap(3)
	w.Trace(0.25, 0.4, px, py)
	// the straight line to the tip passes 12 mm clear of point 1; point 0, far
	// on the archer's side but below the start, must not count
	if !slices.Equal(w.Touch, []int{2}) {
		t.Errorf("touched %v", w.Touch)
	}
	w.Trace(0.6, 0.0, px, py)
	if w.First != 0 {
		t.Errorf("from below, first touch is %d", w.First)
	}
}

func TestTraceAllocatesNothing(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	b := mustBrace(t, m, 0.2)
	c := m.Chain()
	px, py := make([]float64, len(c.Contacts)), make([]float64, len(c.Contacts))
	w := NewWrap(len(c.Contacts))
	if n := testing.AllocsPerRun(100, func() {
		c.Points(b.Theta, c.X0, c.Y0, px, py)
		w.Trace(float64(b.Nock), 0, px, py)
	}); n != 0 {
		t.Errorf("%v allocations a path", n)
	}
	if math.Abs(w.Length-float64(b.HalfLength)) > 1e-12 {
		t.Errorf("traced %.12f, the state has %.12f", w.Length, float64(b.HalfLength))
	}
}
