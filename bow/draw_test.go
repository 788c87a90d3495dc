package bow

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tautline/unit"
)

// checkEnergy: the draw force is the slope of the stored energy, and W is the
// area under the curve.
func checkEnergy(t *testing.T) (rows []row) {
	r := rand.New(rand.NewPCG(55, 89))
	var worstSlope, worstArea float64
	for range 20 {
		d, height := randomBow(r)
		m := mustModel(t, d, Options{})
		b := mustBrace(t, m, height)
		const h = 1e-4
		for _, x := range []unit.Length{height + 0.01, 0.35, 0.5, d.FullDraw} {
			slope := float64(mustAt(t, m, b, x+h).Energy-mustAt(t, m, b, x-h).Energy) / (2 * h)
			f := float64(mustAt(t, m, b, x).Force)
			worstSlope = math.Max(worstSlope, math.Abs(slope-f)/f)
		}
		c, err := m.Curve(t.Context(), b, d.FullDraw, 2001)
		if err != nil {
			t.Fatal(err)
		}
		worstArea = math.Max(worstArea, math.Abs(area(c)/float64(c.Stored)-1))
	}
	return []row{
		below("F against dV/dx by central differences", worstSlope, 1e-5, "", "differences over 0.2 mm: truncation h²F''/6 and the kinks where a contact point lifts"),
		below("W against the area under 2000 steps", worstArea, 1e-6, "", "trapezoid error h²/12 of the slope's change over the stroke"),
	}
}

func area(c Curve) (sum float64) {
	for i := 1; i < len(c.Points); i++ {
		a, b := c.Points[i-1], c.Points[i]
		sum += float64(b.Nock-a.Nock) * float64(a.Force+b.Force) / 2
	}
	return sum
}

// model.md section 9: sweep 200–245 mm on the generic bow, string length only.
// Sizes per +1 cm of brace: stored energy −1.5 J, draw weight +0.02 lbf
// (section 2, prototype). B8 (read, informal) and B5 (computed) have the same
// signs.
func TestBraceSweepTrends(t *testing.T) {
	for _, o := range []Options{{}, {N: 24}} {
		m := mustModel(t, Generic(), o)
		var last Curve
		var first Curve
		for i := range 10 {
			c, err := m.Draw(unit.Length(0.200 + 0.005*float64(i)))
			if err != nil {
				t.Fatal(err)
			}
			if i == 0 {
				first, last = c, c
				continue
			}
			if !(c.Stored < last.Stored && c.Full.Force > last.Full.Force && c.Brace.HalfRest < last.Brace.HalfRest && c.Brace.Tension < last.Brace.Tension) {
				t.Errorf("N = %d, %.0f mm: W %.3f after %.3f J, F %.3f after %.3f N, string %.2f after %.2f mm, T %.1f after %.1f N", o.withDefaults().N, 1e3*c.Brace.Nock,
					float64(c.Stored), float64(last.Stored), float64(c.Full.Force), float64(last.Full.Force), 1e3*float64(c.Brace.HalfRest), 1e3*float64(last.Brace.HalfRest), float64(c.Brace.Tension), float64(last.Brace.Tension))
			}
			last = c
		}
		perCm := float64(last.Stored-first.Stored) / 4.5
		// −1.5 J per cm to one digit
		if perCm < -1.55 || perCm > -1.45 {
			t.Errorf("stored energy changes by %.3f J per cm, expected −1.5", perCm)
		}
		weight := float64(last.Full.Force-first.Full.Force) / 4.5 / 4.4482216
		// +0.02 lbf per cm to one digit
		if weight < 0.015 || weight > 0.025 {
			t.Errorf("draw weight changes by %.4f lbf per cm, expected +0.02", weight)
		}
	}
}

// Finer chains converge on one answer, at about second order: an error halved
// or better by doubling N. The tolerance at N = 12 is what independent.json
// accepts of it.
func TestConvergence(t *testing.T) {
	for _, h := range []unit.Length{0.2, 0.22, 0.245} {
		at := func(n int) Curve {
			c, err := mustModel(t, Generic(), Options{N: n}).Draw(h)
			if err != nil {
				t.Fatal(err)
			}
			return c
		}
		limit := at(120)
		for _, q := range []struct {
			name string
			of   func(Curve) float64
			tol  float64
		}{
			{"F", func(c Curve) float64 { return float64(c.Full.Force) }, 1e-3},
			{"T", func(c Curve) float64 { return float64(c.Full.Tension) }, 2.5e-3},
			{"W", func(c Curve) float64 { return float64(c.Stored) }, 2e-3},
		} {
			e12 := math.Abs(q.of(at(12))/q.of(limit) - 1)
			e24 := math.Abs(q.of(at(24))/q.of(limit) - 1)
			if e12 > q.tol || e24 > e12/2 {
				t.Errorf("brace %.3f, %s: error %.1e with 12 links, %.1e with 24", float64(h), q.name, e12, e24)
			}
		}
	}
}

func TestCurveObeysItsContext(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := m.Curve(ctx, mustBrace(t, m, 0.22), 0.69, 25); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled curve gave %v", err)
	}
}

// 29 in standard draw is 27.25 in from the pivot: the two differ by 1.75 in
// (job.md; common practice).
func TestDrawLengthDefinition(t *testing.T) {
	if got := PivotDraw(29 * 0.0254); math.Abs(float64(got)-27.25*0.0254) > 1e-15 {
		t.Errorf("29 in standard is %v from the pivot", got)
	}
	if got := StandardDraw(PivotDraw(0.7)); math.Abs(float64(got)-0.7) > 1e-15 {
		t.Errorf("there and back: %v", got)
	}
}

// The points of a curve are equilibria like any other, whatever their number.
func TestCurveDoesNotDependOnItsPoints(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	b := mustBrace(t, m, 0.22)
	for _, n := range []int{2, 5, 25, 400} {
		c, err := m.Curve(t.Context(), b, 0.69, n)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range []Point{c.Points[0], c.Points[n/2], c.Points[n-1]} {
			s := mustAt(t, m, b, p.Nock)
			// solver's force tolerance 1e-9 N m over the string's geometry
			if math.Abs(float64(p.Force-s.Force)) > 1e-5 || math.Abs(float64(p.Stored-(s.Energy-b.Energy))) > 1e-9 {
				t.Errorf("%d points, nock %s: %v and %v", n, fmt.Sprint(p.Nock), p, s)
			}
		}
	}
}

// B1 (read, qualitative; Hickman, Graph 7A): at equal weight at 27.5 in, bows
// of 4, 5 and 6 ft with straight limbs store more energy and have a higher
// string tension the longer they are.
func TestLongerBowsStoreMore(t *testing.T) {
	const weight = 178.0 // 40 lbf
	var last Curve
	for i, feet := range []float64{4, 5, 6} {
		d := Generic()
		scale := unit.Length(feet * 12 / 70)
		d.Limb.Recurve, d.Limb.Preset = 0, 0
		d.Riser.PocketX, d.Riser.PocketAngle = 0, 0
		d.Riser.PocketY *= scale
		d.Limb.Length *= scale
		d.FullDraw = 27.5 * 0.0254
		var c Curve
		for range 8 {
			var err error
			if c, err = mustModel(t, d, Options{N: 24}).Draw(0.15); err != nil {
				t.Fatal(err)
			}
			d.Limb.StiffnessScale *= weight / float64(c.Full.Force)
		}
		if i > 0 && !(c.Stored > last.Stored && c.Full.Tension > last.Full.Tension) {
			t.Errorf("%g ft: %v and %v, a foot shorter %v and %v", feet, c.Stored, c.Full.Tension, last.Stored, last.Full.Tension)
		}
		last = c
	}
}
