package shot

import (
	"fmt"
	"math"

	"tautline/bow"
	"tautline/num"
)

// Mode is one small free vibration of the braced bow, both halves alike.
type Mode struct {
	Frequency float64 // Hz, undamped
	Damping   float64 // share of critical

	// Shape, scaled so that the largest of the four places below moves by 1
	// (m per m): fore-and-aft motion of nock, riser and tip, and the tip's
	// motion along the string's direction.
	Nock, Riser, TipX, TipY float64

	// Theta is the turn of each link in the same scale, rad per m; StringX
	// the fore-and-aft motion of the string's nodes, from the nock outward.
	Theta, StringX []float64
}

// Modes returns the lowest count linear modes of the bow at brace without an
// arrow, for the model and the discretisation of cfg (Resolved or Lumped):
// K φ = ω² M φ (eq. 24). Where the string lies on the limb, the motion is
// linear about the contact points it touches at rest; a vibration large enough
// to lift it off, or to let the string go slack, has no modes.
func Modes(m *bow.Model, brace bow.State, cfg Config, count int) ([]Mode, error) {
	cfg = cfg.withDefaults()
	if cfg.ArrowMass == 0 {
		cfg.ArrowMass = 0.02 // leaves before anything vibrates
	}
	if err := cfg.validate(); err != nil {
		return nil, err
	}
	if cfg.Model.plain() {
		return nil, &InputError{"Model", "modes are those of the production models", "shot.Resolved"}
	}
	r := atBrace(m, brace, cfg)
	mass, stiff, damp := r.linearise()
	squares, shapes, status := num.Modes(stiff, mass)
	switch {
	case status == num.NotPositive:
		return nil, &InputError{"Limb", "a part of the limb or the string has no mass, so it has no frequency", "a density and a string mass above zero"}
	case status != num.Done:
		return nil, fmt.Errorf("modes at brace: %v", status)
	}
	modes := make([]Mode, min(count, len(squares)))
	shape := make([]float64, len(squares))
	for k := range modes {
		for i := range shape {
			shape[i] = shapes.At(i, k)
		}
		modes[k] = r.mode(squares[k], shape, damp)
	}
	return modes, nil
}

// atBrace is a resolved model resting at brace, the hand at ease.
func atBrace(m *bow.Model, brace bow.State, cfg Config) *resolved {
	s := newSetting(m, brace, brace, cfg)
	s.hold = 0
	r := newResolved(s, cfg.Nodes, math.Min(cfg.Fraction, 1-s.wrapped-nodeMargin), cfg.Softening)
	r.pose(brace.Theta, s.nock)
	at := r.spot(brace.First)
	r.stringAlong(s.nock, at.x, at.y, 1-float64(brace.Wrapped/brace.HalfLength))
	r.flown = true
	r.cable.carry(0)
	r.evaluate()
	return r
}

// spot is a contact point of the limb as last placed.
func (r *resolved) spot(index int) point {
	p := r.point[index]
	l := &r.link[p.link]
	back := l.len - p.along
	p.x, p.y = l.x-back*l.sin+p.off*l.cos, l.y-back*l.cos-p.off*l.sin
	return p
}

// linearise returns mass, stiffness and damping matrices over the free
// coordinates: M from the kinetic energy, K = −M ∂a/∂q and C = −M ∂a/∂v by
// central differences.
func (r *resolved) linearise() (mass, stiff, damp num.Matrix) {
	const dq, dv = 1e-6, 1e-4
	free, dim := r.free(), r.dof()
	mass = r.massMatrix(free)
	q, rest := append(motion(nil), r.q...), make(motion, dim)
	stiff = r.slope(mass, free, q, dq, func(a motion) { r.accelerations(q, rest, a) })
	damp = r.slope(mass, free, rest, dv, func(a motion) { r.accelerations(r.q, rest, a) })
	return mass, stiff, damp
}

// massMatrix reads M off the kinetic energy: T(e_i + e_j) − T(e_i) − T(e_j).
func (r *resolved) massMatrix(free []int) num.Matrix {
	n := len(free)
	mass := num.NewMatrix(n, n)
	x := make(motion, r.dof())
	single := make([]float64, n)
	for i, ci := range free {
		x[ci] = 1
		single[i] = r.kinetic(x)
		mass.Set(i, i, 2*single[i])
		for j, cj := range free[:i] {
			x[cj] = 1
			m := r.kinetic(x) - single[i] - single[j]
			mass.Set(i, j, m)
			mass.Set(j, i, m)
			x[cj] = 0
		}
		x[ci] = 0
	}
	return mass
}

// slope is −M ∂a/∂x, made symmetric; x is moved and put back.
func (r *resolved) slope(mass num.Matrix, free []int, x motion, dx float64, acc func(a motion)) num.Matrix {
	n := len(free)
	up, down := make(motion, r.dof()), make(motion, r.dof())
	full := num.NewMatrix(n, n)
	for j, c := range free {
		at := x[c]
		x[c] = at + dx
		acc(up)
		x[c] = at - dx
		acc(down)
		x[c] = at
		for i := range n {
			sum := 0.0
			for k, d := range free {
				sum -= mass.At(i, k) * (up[d] - down[d]) / (2 * dx)
			}
			full.Set(i, j, sum)
		}
	}
	out := num.NewMatrix(n, n)
	for i := range n {
		for j := range n {
			out.Set(i, j, (full.At(i, j)+full.At(j, i))/2)
		}
	}
	return out
}

// free lists the coordinates that move: all, or all but a clamped riser.
func (r *resolved) free() (free []int) {
	for i := range r.dof() {
		if i != r.n+1 || !r.hand.clamped {
			free = append(free, i)
		}
	}
	return free
}

// mode turns one eigenvector, of unit modal mass, into what can be looked at.
func (r *resolved) mode(square float64, shape []float64, damp num.Matrix) Mode {
	w := math.Sqrt(math.Max(0, square))
	x := make(motion, r.dof())
	loss := 0.0
	for i, c := range r.free() {
		x[c] = shape[i]
		for j := range shape {
			loss += shape[i] * damp.At(i, j) * shape[j]
		}
	}
	r.placeLimb(r.q)
	r.sweepOut(x)
	end := &r.link[r.n-1]
	m := Mode{
		Frequency: w / (2 * math.Pi), Nock: x[r.n], Riser: x[r.n+1], TipX: end.vx, TipY: end.vy,
		Theta: append([]float64(nil), x[:r.n]...), StringX: append([]float64(nil), x[r.n+2:r.n+2+r.k]...),
	}
	if w > 0 {
		m.Damping = loss / (2 * w)
	}
	m.scale()
	return m
}

func (m *Mode) scale() {
	largest := 0.0
	for _, x := range []float64{m.Nock, m.Riser, m.TipX, m.TipY} {
		if math.Abs(x) > math.Abs(largest) {
			largest = x
		}
	}
	for _, x := range []*float64{&m.Nock, &m.Riser, &m.TipX, &m.TipY} {
		*x /= largest
	}
	for i := range m.Theta {
		m.Theta[i] /= largest
	}
	for i := range m.StringX {
		m.StringX[i] /= largest
	}
}
