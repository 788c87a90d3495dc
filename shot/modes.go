package shot

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"tautline/bow"
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
// K φ = ω² M φ (eq. 20). Where the string lies on the limb, the motion is
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
	return solveModes(r, mass, stiff, damp, count)
}

// atBrace is a resolved model resting at brace, the hand at ease.
func atBrace(m *bow.Model, brace bow.State, cfg Config) *resolved {
	s := newSetting(m, brace, brace, cfg)
	s.hold = 0
	r := newResolved(s, cfg.Nodes, cfg.Fraction, cfg.Softening)
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
func (r *resolved) linearise() (mass *mat.SymDense, stiff, damp *mat.SymDense) {
	free := r.free()
	n, dim := len(free), r.dof()
	mass = mat.NewSymDense(n, nil)
	x := make(motion, dim)
	single := make([]float64, n)
	for i, ci := range free {
		x[ci] = 1
		single[i] = r.kinetic(x)
		for j, cj := range free[:i] {
			x[cj] = 1
			mass.SetSym(i, j, r.kinetic(x)-single[i]-single[j])
			x[cj] = 0
		}
		x[ci] = 0
		mass.SetSym(i, i, 2*single[i])
	}
	const dq, dv = 1e-6, 1e-4
	q := append(motion(nil), r.q...)
	rest := make(motion, dim)
	return mass, r.slope(mass, free, q, dq, func(a motion) { r.accelerations(q, rest, a) }),
		r.slope(mass, free, rest, dv, func(a motion) { r.accelerations(r.q, rest, a) })
}

// slope is −M ∂a/∂x, made symmetric; x is moved and put back.
func (r *resolved) slope(mass *mat.SymDense, free []int, x motion, dx float64, acc func(a motion)) *mat.SymDense {
	n := len(free)
	up, down := make(motion, r.dof()), make(motion, r.dof())
	jac := mat.NewDense(n, n, nil)
	for j, c := range free {
		at := x[c]
		x[c] = at + dx
		acc(up)
		x[c] = at - dx
		acc(down)
		x[c] = at
		for i, d := range free {
			jac.Set(i, j, -(up[d]-down[d])/(2*dx))
		}
	}
	var full mat.Dense
	full.Mul(mass, jac)
	out := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			out.SetSym(i, j, (full.At(i, j)+full.At(j, i))/2)
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

// solveModes solves K φ = ω² M φ by Cholesky M = L Lᵀ and the symmetric
// problem of L⁻¹ K L⁻ᵀ.
func solveModes(r *resolved, mass, stiff, damp *mat.SymDense, count int) ([]Mode, error) {
	n := mass.SymmetricDim()
	var chol mat.Cholesky
	if !chol.Factorize(mass) {
		return nil, fmt.Errorf("shot modes: a part of the bow has no mass; give string and limb their masses")
	}
	var lower mat.TriDense
	chol.LTo(&lower)
	var half, full mat.Dense
	if err := half.Solve(&lower, stiff); err != nil {
		return nil, fmt.Errorf("shot modes: %w", err)
	}
	if err := full.Solve(&lower, half.T()); err != nil {
		return nil, fmt.Errorf("shot modes: %w", err)
	}
	sym := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			sym.SetSym(i, j, (full.At(i, j)+full.At(j, i))/2)
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(sym, true) {
		return nil, fmt.Errorf("shot modes: the eigenvalue problem does not converge")
	}
	var vectors, shapes mat.Dense
	eigen.VectorsTo(&vectors)
	if err := shapes.Solve(lower.T(), &vectors); err != nil {
		return nil, fmt.Errorf("shot modes: %w", err)
	}
	values := eigen.Values(nil)
	modes := make([]Mode, min(count, n))
	for k := range modes {
		modes[k] = r.mode(values[k], shapes.ColView(k), damp)
	}
	return modes, nil
}

// mode turns one eigenvector, of unit modal mass, into what can be looked at.
func (r *resolved) mode(square float64, shape mat.Vector, damp *mat.SymDense) Mode {
	w := math.Sqrt(math.Max(0, square))
	x := make(motion, r.dof())
	for i, c := range r.free() {
		x[c] = shape.AtVec(i)
	}
	r.placeLimb(r.q)
	r.sweepOut(x)
	end := &r.link[r.n-1]
	m := Mode{
		Frequency: w / (2 * math.Pi), Nock: x[r.n], Riser: x[r.n+1], TipX: end.vx, TipY: end.vy,
		Theta: append([]float64(nil), x[:r.n]...), StringX: append([]float64(nil), x[r.n+2:r.n+2+r.k]...),
	}
	if w > 0 {
		m.Damping = mat.Inner(shape, damp, shape) / (2 * w)
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
