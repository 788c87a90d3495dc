package shot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tautline/bow"
	"tautline/unit"
)

// undamped is the generic bow as the other engines' clamped case has it.
func undamped() bow.Design {
	d := bow.Generic()
	d.Riser.Clamped = true
	d.Limb.JointDamping, d.Limb.MassDamping, d.String.Damping = 0, 0, 0
	return d
}

func checkLaws(t *testing.T) (rows []row) {
	for _, b := range []struct {
		name string
		d    bow.Design
	}{{"generic bow", bow.Generic()}, {"clamped, undamped", undamped()}} {
		for _, model := range []Model{Resolved, Lumped} {
			worst, after := 0.0, 0.0
			for _, brace := range []unit.Length{0.2, 0.22, 0.245} {
				r := shoot(t, b.d, brace, Config{ArrowMass: 0.022, Model: model, After: 0.150})
				worst, after = math.Max(worst, r.Audit), math.Max(after, r.Ringing.Audit)
			}
			name := fmt.Sprintf("%s, %v, energy lost by the integration", b.name, model)
			rows = append(rows, below(name+", to separation", worst, 1e-6, "of W", "model.md section 9"),
				below(name+", 150 ms on", after, AuditLimit, "of W", "model.md section 9"))
		}
	}
	for _, model := range []Model{Resolved, Lumped, PlainNodes} {
		r := shoot(t, bow.Generic(), 0.22, Config{ArrowMass: 0.022, ClipForce: 5, Model: model, History: true})
		rows = append(rows,
			below(fmt.Sprintf("%v, ∫F dt/m − v over v", model), math.Abs(impulse(r.History)/0.022/float64(r.Speed)-1), 1e-4, "", "model.md section 9"),
			below(fmt.Sprintf("%v, Stored − (Arrow + Residual + Riser + Hand + Lost)", model), math.Abs(float64(r.Stored-r.Arrow-r.Residual-r.Riser-r.Hand-r.Lost)), 1e-4, "J", "1e-6 of W, and W's own rounding"))
	}
	return append(rows,
		below("momentum of bow and arrow against the hand's force × time, relative", momentumError(t), 1e-6, "", "Newton's law for the whole; as the energy"),
		below("M a + ∂V/∂q at rest in contact, over the largest force", forceError(t), 1e-6, "", "model.md section 9, gradient against differences"),
		below("four times the masses, twice the time: speed × 2 − 1", scalingError(t), 1e-9, "", "dimensions; rounding"))
}

// impulse is ∫F dt up to separation by the trapezoid rule on the history.
func impulse(h *History) (sum float64) {
	for i := range h.Separation {
		sum += float64(h.Force[i]+h.Force[i+1]) / 2 * float64(h.Time[i+1]-h.Time[i])
	}
	return sum
}

// momentumError looses an arrow with a hand that pushes with constant force:
// then the whole momentum is that force times the time.
func momentumError(t *testing.T) (worst float64) {
	d := bow.Generic()
	d.Riser.HandStiffness, d.Riser.HandDamping, d.Limb.MassDamping = 0, 0, 0
	s := simulator(t, d, 0.21, Config{ArrowMass: 0.022})
	r := s.eng.(*resolved)
	for i := range 250 {
		r.advance(s.dt)
		// whole bow: the derivative of the kinetic energy along x_r, with every
		// x moving
		x := make(motion, r.dof())
		x[r.n], x[r.n+1] = 1, 1
		for k := range r.k {
			x[r.n+2+k] = 1
		}
		both := make(motion, r.dof())
		for j := range both {
			both[j] = r.v[j] + x[j]
		}
		p := 2*(r.kinetic(both)-r.kinetic(r.v)-r.kinetic(x)) + 0.022*r.v[r.n]
		want := -s.set.hold * s.dt * float64(i+1)
		worst = math.Max(worst, math.Abs(p/want-1))
	}
	return worst
}

// simulator prepares a shot or fails the test.
func simulator(t testing.TB, d bow.Design, brace unit.Length, cfg Config) *Simulator {
	t.Helper()
	m, err := NewModel(d, cfg)
	if err != nil {
		t.Fatal(err)
	}
	state, err := m.Brace(brace)
	if err != nil {
		t.Fatal(err)
	}
	s, err := NewSimulator(m, state, cfg)
	if err != nil {
		t.Fatal(err)
	}
	s.begin()
	return s
}

// forceError compares M a with −∂V/∂q, V by central differences, at rest in
// random states near brace, where the string touches the limb.
func forceError(t *testing.T) (worst float64) {
	d := bow.Generic()
	d.Riser.HandStiffness = 0
	s := simulator(t, d, 0.2, Config{ArrowMass: 0.022})
	r := s.eng.(*resolved)
	for range 280 {
		r.advance(s.dt)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	base := append(motion(nil), r.q...)
	rest, a := make(motion, r.dof()), make(motion, r.dof())
	all := make([]int, r.dof())
	for i := range all {
		all[i] = i
	}
	contacts := 0
	for range 20 {
		q := append(motion(nil), base...)
		for i := range q {
			q[i] += 3e-4 * (2*rng.Float64() - 1)
		}
		copy(r.q, q)
		r.accelerations(q, rest, a)
		contacts += len(r.cable.path) - 1
		mass := r.massMatrix(all)
		largest, off := 0.0, 0.0
		for i := range q {
			f := 0.0
			for j := range q {
				f += mass.At(i, j) * a[j]
			}
			if i == r.n {
				f += s.set.arrow / 2 * a[i]
			}
			g := slopeOfV(r, q, i)
			largest, off = math.Max(largest, math.Abs(g)), math.Max(off, math.Abs(f+g))
		}
		worst = math.Max(worst, off/largest)
	}
	if contacts == 0 {
		t.Error("no state had the string on the limb")
	}
	return worst
}

// slopeOfV is ∂V/∂q_i of half the bow by a four-point difference.
func slopeOfV(r *resolved, q motion, i int) float64 {
	const h = 2e-6
	at := func(step float64) float64 {
		x := q[i]
		q[i] = x + step
		r.place(q)
		copy(r.q, q)
		q[i] = x
		return r.bending() + r.stretching() + r.hand.hold*r.q[r.n+1]
	}
	return (8*(at(h)-at(-h)) - (at(2*h) - at(-2*h))) / (12 * h)
}

// scalingError: with every mass four times as large, every damping time twice
// as long and every damping rate half as high, all takes twice as long.
func scalingError(t *testing.T) float64 {
	d := bow.Generic()
	a := shoot(t, d, 0.22, Config{ArrowMass: 0.022, ClipForce: 5, Step: 40e-6})
	d.Limb.Density *= 4
	d.Limb.TipMass *= 4
	d.String.Mass *= 4
	d.String.NockMass *= 4
	d.Riser.Mass *= 4
	d.Riser.HandDamping *= 2
	d.Limb.JointDamping *= 2
	d.Limb.MassDamping /= 2
	d.String.Damping *= 2
	b := shoot(t, d, 0.22, Config{ArrowMass: 0.088, ClipForce: 5, Step: 80e-6})
	return math.Abs(2*float64(b.Speed/a.Speed) - 1)
}

func checkConvergence(t *testing.T) (rows []row) {
	d := bow.Generic()
	for _, model := range []Model{Resolved, Lumped, PlainNodes, PlainLumped} {
		cfg := Config{ArrowMass: 0.022, ClipForce: 5, Model: model}
		links, steps := 0.0, 0.0
		for _, brace := range []unit.Length{0.2, 0.22, 0.245} {
			coarse := shoot(t, d, brace, cfg)
			c := cfg
			c.Links = 24
			links = math.Max(links, math.Abs(float64(shoot(t, d, brace, c).Speed-coarse.Speed)))
			c = cfg
			c.Step = 40e-6
			coarse = shoot(t, d, brace, c)
			c.Step = 10e-6
			steps = math.Max(steps, math.Abs(float64(shoot(t, d, brace, c).Speed-coarse.Speed)))
		}
		rows = append(rows, below(fmt.Sprintf("%v, 12 against 24 links, speed", model), links, 0.2, "m/s", "model.md section 9"),
			below(fmt.Sprintf("%v, steps of 40 against 10 µs, speed", model), steps, 1e-3, "m/s", "model.md section 9"))
	}
	return append(rows, within("order of the Nyström step, from 38 and 19 µs against 5 µs, without contact", 3.5, 5.5, order(t), "", "fourth order, with the next term still in sight"))
}

// order is log2 of the error's fall when the step is halved, on a straight
// limb, where no contact disturbs.
func order(t *testing.T) float64 {
	d := undamped()
	d.Limb.Recurve = 0
	end := func(steps int) []float64 {
		s := simulator(t, d, 0.22, Config{ArrowMass: 0.022})
		r := s.eng.(*resolved)
		for range steps {
			r.advance(0.015 / float64(steps))
		}
		return r.q[:r.n+1]
	}
	exact, errs := end(3200), [2]float64{}
	for i, n := range []int{400, 800} {
		for j, q := range end(n) {
			errs[i] = math.Max(errs[i], math.Abs(q-exact[j]))
		}
	}
	return math.Log2(errs[0] / errs[1])
}

func checkSweep(t *testing.T) (rows []row) {
	const why = "model.md section 9: −0.2 … −0.9 m/s per cm"
	for _, model := range []Model{Resolved, Lumped} {
		var last Result
		rises := 0
		steep, flat := 0.0, math.Inf(-1)
		for mm := 200; mm <= 245; mm += 5 {
			r := shoot(t, bow.Generic(), unit.Length(mm)*unit.Millimetre, Config{ArrowMass: 0.022, ClipForce: 5, Model: model})
			if last.Steps > 0 {
				slope := float64(r.Speed-last.Speed) / 0.5
				steep, flat = math.Min(steep, slope), math.Max(flat, slope)
				for _, rose := range []bool{r.Speed >= last.Speed, r.TimeOnString >= last.TimeOnString, r.Stored >= last.Stored, r.Residual >= last.Residual} {
					if rose {
						rises++
					}
				}
			}
			last = r
		}
		name := fmt.Sprintf("%v, 200 to 245 mm by 5 mm, ", model)
		rows = append(rows, within(name+"steepest slope of speed", -0.9, -0.2, steep, "m/s per cm", why),
			within(name+"flattest slope of speed", -0.9, -0.2, flat, "m/s per cm", why),
			at(name+"rises of speed, time, stored energy or energy left behind", 0, float64(rises), 0, "", "all fall"))
	}
	return rows
}
