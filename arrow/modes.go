package arrow

import (
	"fmt"
	"math"

	"tautline/num"
	"tautline/unit"
)

// Resolution of the beam. The zero value takes the defaults, which are
// converged (docs/theory/arrow.md): 16 elements with 6 modes miss the yaw rate
// by 0.02 rad/s, half a centimetre at 30 m.
type Resolution struct {
	Elements int // default 32; 4 to 128
	Bending  int // bending modes kept, default 12; 1 to Elements
}

// Arrow is a Design made ready for shooting: mass, modes and what the thrust
// does to them. Making one costs a few milliseconds (the eigenproblem);
// WithSpine shares it. An Arrow is never changed and may be used by many
// Simulators at once.
type Arrow struct {
	design  Design
	beam    *beam
	n       int       // modes: 2 rigid, then bending
	omega   []float64 // circular frequencies, rad/s; 0 for the rigid modes
	zeta    float64
	shape   []float64 // mode shapes at the nodes: rows deflection, slope, …; n columns
	nock    []float64 // mode shapes at s = 0
	g       []float64 // n by n: geometric matrix per unit of acceleration
	mass    float64
	cg      float64
	inertia float64
	buckle  float64
}

// New solves the arrow's free-free modes.
func New(d Design, r Resolution) (*Arrow, error) {
	if err := d.Validate(); err != nil {
		return nil, err
	}
	if r.Elements == 0 {
		r.Elements = 32
	}
	if r.Bending == 0 {
		r.Bending = min(12, r.Elements)
	}
	if err := checkAll([]limit{
		{"Resolution.Elements", float64(r.Elements), 4, 128, 1, "", "32"},
		{"Resolution.Bending", float64(r.Bending), 1, float64(r.Elements), 1, "modes", "12"},
	}); err != nil {
		return nil, err
	}
	d.Extras = append([]Lump(nil), d.Extras...)
	a := &Arrow{design: d, beam: newBeam(d, r.Elements), n: 2 + r.Bending, zeta: d.Damping}
	a.mass, a.cg, a.inertia = d.rigid()
	if err := a.solve(); err != nil {
		return nil, err
	}
	return a, nil
}

// solve finds modes, geometric matrix and buckling load.
func (a *Arrow) solve() error {
	k, m, g := a.beam.stiffness(), a.beam.inertia(), a.beam.geometric()
	values, vectors, status := num.Modes(k, m)
	if err := status.Err("modes of the arrow"); err != nil {
		return fmt.Errorf("arrow: %w", err)
	}
	a.omega = make([]float64, a.n)
	a.shape = make([]float64, a.beam.size()*a.n)
	a.rigidModes()
	for j := 2; j < a.n; j++ {
		a.omega[j] = math.Sqrt(math.Max(0, values[j]))
		// The nock moves outward in every mode.
		sign := math.Copysign(1, vectors.At(0, j))
		for i := range a.beam.size() {
			a.shape[i*a.n+j] = sign * vectors.At(i, j)
		}
	}
	a.purify(m)
	a.nock = a.shape[:a.n:a.n]
	a.g = a.project(g)
	var err error
	a.buckle, err = a.beam.bucklingForce(k, g)
	return err
}

// rigidModes writes the two rigid modes (eq. 3): shift and turn about the
// centre of mass, scaled to unit modal mass as all others.
func (a *Arrow) rigidModes() {
	shift, turn := 1/math.Sqrt(a.mass), 1/math.Sqrt(a.inertia)
	for node := range a.beam.elements + 1 {
		deflection, slope := a.shape[2*node*a.n:], a.shape[(2*node+1)*a.n:]
		deflection[0], slope[0] = shift, 0
		deflection[1], slope[1] = (float64(node)*a.beam.h-a.cg)*turn, turn
	}
}

// purify takes out of the bending modes what rounding has left in them of the
// rigid ones, so that momentum is kept to the last digits.
func (a *Arrow) purify(m num.Matrix) {
	size, n := a.beam.size(), a.n
	weighted := make([]float64, size)
	for r := range 2 {
		for i := range size {
			weighted[i] = 0
			for l := max(0, i-3); l < min(size, i+4); l++ {
				weighted[i] += m.At(i, l) * a.shape[l*n+r]
			}
		}
		for j := 2; j < n; j++ {
			share := 0.0
			for i, w := range weighted {
				share += w * a.shape[i*n+j]
			}
			for i := range size {
				a.shape[i*n+j] -= share * a.shape[i*n+r]
			}
		}
	}
}

// project returns Φᵀ G Φ.
func (a *Arrow) project(g num.Matrix) []float64 {
	size, n := a.beam.size(), a.n
	half := make([]float64, size*n)
	for i := range size {
		for l := max(0, i-3); l < min(size, i+4); l++ {
			for j := range n {
				half[i*n+j] += g.At(i, l) * a.shape[l*n+j]
			}
		}
	}
	out := make([]float64, n*n)
	for i := range size {
		for j := range n {
			for l := range n {
				out[j*n+l] += a.shape[i*n+j] * half[i*n+l]
			}
		}
	}
	return out
}

// WithSpine is the same arrow with another static spine. Because the bending
// stiffness is uniform, the mode shapes stay and the frequencies scale, so
// nothing has to be solved again.
func (a *Arrow) WithSpine(spine unit.Spine) (*Arrow, error) {
	d := a.design
	d.Spine = spine
	if err := d.Validate(); err != nil {
		return nil, err
	}
	ratio := Stiffness(spine) / a.beam.ei
	b, beam := *a, *a.beam
	beam.ei *= ratio
	b.design, b.beam, b.buckle = d, &beam, a.buckle*ratio
	b.omega = make([]float64, a.n)
	for j, w := range a.omega {
		b.omega[j] = w * math.Sqrt(ratio)
	}
	return &b, nil
}

// Design returns the description the arrow was made from.
func (a *Arrow) Design() Design {
	d := a.design
	d.Extras = append([]Lump(nil), d.Extras...)
	return d
}

// Frequencies of the bending modes in hertz, undamped, lowest first.
func (a *Arrow) Frequencies() []float64 {
	f := make([]float64, a.n-2)
	for j := range f {
		f[j] = a.omega[j+2] / (2 * math.Pi)
	}
	return f
}

// Modes is the number of modal amplitudes: shift, turn, then bending.
func (a *Arrow) Modes() int { return a.n }

// fill computes the mode shapes and their slopes at s.
func (a *Arrow) fill(s float64, phi, slope []float64) {
	e, t := a.beam.locate(s)
	n, dn := hermite(t, a.beam.h)
	m := a.n
	r := a.shape[2*e*m : (2*e+4)*m]
	r0, r1, r2, r3 := r[:m], r[m:2*m], r[2*m:3*m], r[3*m:4*m]
	phi, slope = phi[:m], slope[:m]
	for j := range phi {
		d0, d1, d2, d3 := r0[j], r1[j], r2[j], r3[j]
		phi[j] = n[0]*d0 + n[1]*d1 + n[2]*d2 + n[3]*d3
		slope[j] = dn[0]*d0 + dn[1]*d1 + dn[2]*d2 + dn[3]*d3
	}
}

// Shape returns deflection and slope of bending mode j (1 is the lowest) at s
// from the nock, per unit of modal amplitude (√kg·m), and false if there is no
// such mode or place.
func (a *Arrow) Shape(j int, s unit.Length) (deflection, slope float64, ok bool) {
	if j < 1 || j > a.n-2 || !(s >= 0) || s > a.design.Length {
		return 0, 0, false
	}
	phi, d := make([]float64, a.n), make([]float64, a.n)
	a.fill(float64(s), phi, d)
	return phi[j+1], d[j+1], true
}

// Nodes are the places where bending mode j (1 is the lowest) stands still,
// from the nock.
func (a *Arrow) Nodes(j int) []unit.Length {
	const pieces = 2048
	at := func(s float64) float64 {
		d, _, _ := a.Shape(j, unit.Length(s))
		return d
	}
	var nodes []unit.Length
	if j < 1 || j > a.n-2 {
		return nil
	}
	l := float64(a.design.Length)
	last, left := at(0), 0.0
	for i := 1; i <= pieces; i++ {
		s := l * float64(i) / pieces
		d := at(s)
		if last*d < 0 {
			nodes = append(nodes, unit.Length(num.FindRoot(at, left, s, 1e-9, 0).X))
		}
		last, left = d, s
	}
	return nodes
}
