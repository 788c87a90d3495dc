package shot

import (
	"math"

	"tautline/bow"
)

// plain is the readable reference: the limb's mass sits in its nodes, the
// string is K masses joined by springs (or, with K = 0, one spring with thirds
// of its mass at the nock and at each tip), and time runs in classical
// Runge–Kutta steps. Everything is half a bow; the other half mirrors it.
//
// Coordinates q: link angles θ_1..N, nock X, riser x_r, then the string nodes'
// x_1..K and y_1..K. The state y holds q, then their rates, then the energy
// lost so far.
type plain struct {
	set     setting
	l, beta []float64 // links: length, natural turning at the inner joint
	k       []float64 // joint springs
	m       []float64 // node masses 0..N; m[0] is half the riser and the root cell
	h       []float64 // rest lengths of the string's segments 0..K
	ms      []float64 // string masses: nock's half, nodes 1..K, tip's
	nock    float64   // half the mass at the nock, with the arrow while it is on
	flown   bool      // the arrow has left

	y, last, keep []float64 // state, the one a step before, and one to come back to
	rk            [5][]float64

	// working memory of one evaluation
	rx, ry, vx, vy []float64 // limb nodes 0..N
	fx, fy         []float64
	sx, sy, ux, uy []float64 // string: nock, nodes 1..K
	px, py         []float64 // limb nodes 1..N for the wrap
	gx, gy         []float64 // forces on the string points
	ex, ey         []float64 // link directions
	wrap           *bow.Wrap
	lo, di, up     []float64 // tridiagonal system
	lambda         []float64
	nockAcc        float64
	pulling        float64 // tension of the segment at the nock
	length         float64 // of the half string
	elastic        float64 // string energy
	lost           float64 // power lost
}

// newPlain sets up the reference for a chain with masses in the nodes.
func newPlain(s setting, nodes int, fraction float64) *plain {
	c := s.chain
	n, kk := c.N, nodes
	p := &plain{set: s, l: c.Len, beta: c.Beta, k: c.K, wrap: bow.NewWrap(n)}
	p.m = append([]float64{s.riser/2 + c.RootMass}, c.NodeMass...)
	p.m[n] += c.TipMass
	p.cutString(kk, fraction)
	p.m[n] += p.ms[kk+1]
	dim := n + 2 + 2*kk
	p.y, p.last, p.keep = make([]float64, 2*dim+1), make([]float64, 2*dim+1), make([]float64, 2*dim+1)
	for i := range p.rk {
		p.rk[i] = make([]float64, 2*dim+1)
	}
	for _, v := range []*[]float64{&p.rx, &p.ry, &p.vx, &p.vy, &p.fx, &p.fy} {
		*v = make([]float64, n+1)
	}
	for _, v := range []*[]float64{&p.sx, &p.sy, &p.ux, &p.uy, &p.gx, &p.gy} {
		*v = make([]float64, kk+1)
	}
	for _, v := range []*[]float64{&p.px, &p.py, &p.ex, &p.ey, &p.lo, &p.di, &p.up, &p.lambda} {
		*v = make([]float64, n)
	}
	return p
}

// cutString places K nodes on the inner fraction φ of the half string and
// gives each half of the two segments it joins; without nodes the string is
// lumped in thirds: one at the nock, one at each tip.
func (p *plain) cutString(nodes int, fraction float64) {
	half := p.set.stringMass / 2
	if nodes == 0 {
		p.h = []float64{p.set.l0}
		p.ms = []float64{half / 3, half * 2 / 3}
		return
	}
	p.h = make([]float64, nodes+1)
	p.ms = make([]float64, nodes+2)
	for k := range p.h {
		share := fraction / float64(nodes)
		if k == nodes {
			share = 1 - fraction
		}
		p.h[k] = share * p.set.l0
		p.ms[k] += share * half / 2
		p.ms[k+1] += share * half / 2
	}
}

// dof is the number of coordinates.
func (p *plain) dof() int { return (len(p.y) - 1) / 2 }

// load puts the bow at rest at full draw, the string straight and evenly
// stretched.
func (p *plain) load(theta []float64) {
	clear(p.y)
	n, kk := len(p.l), len(p.h)-1
	copy(p.y, theta)
	p.y[n] = p.set.nock
	p.limb(p.y)
	dx, dy := p.rx[n]-p.set.nock, p.ry[n]
	along := 0.0
	for k := range kk {
		along += p.h[k] / p.set.l0
		p.y[n+2+k] = p.set.nock + along*dx
		p.y[n+2+kk+k] = along * dy
	}
	p.flown = false
	p.nock = p.ms[0] + p.set.nockMass/2 + p.set.arrow/2
	p.rate(p.y, p.rk[0])
}

func (p *plain) undo()            { copy(p.y, p.last) }
func (p *plain) tension() float64 { return p.pulling }
func (p *plain) mark()            { copy(p.keep, p.y) }
func (p *plain) rewind()          { copy(p.y, p.keep); p.rate(p.y, p.rk[0]) }

// drop lets the arrow go.
func (p *plain) drop() {
	p.nock -= p.attached() / 2
	p.flown = true
	p.rate(p.y, p.rk[0])
}

// push is the force of the string on the arrow, toward the target.
func (p *plain) push() float64 { return -p.attached() * p.nockAcc }

func (p *plain) coordinates(q []float64) { copy(q, p.y[:p.dof()]) }

func (p *plain) accelerations(q, v, a []float64) {
	d := p.dof()
	y, rate := p.rk[4], p.rk[1]
	copy(y, q)
	copy(y[d:], v)
	p.rate(y, rate)
	copy(a, rate[d:2*d])
}

// advance is one classical Runge–Kutta step. The rate at the start is at hand
// in rk[0]; the rate at the end is left there.
func (p *plain) advance(h float64) {
	copy(p.last, p.y)
	k1, k2, k3, k4, at := p.rk[0], p.rk[1], p.rk[2], p.rk[3], p.rk[4]
	p.rate(shifted(at, p.y, h/2, k1), k2)
	p.rate(shifted(at, p.y, h/2, k2), k3)
	p.rate(shifted(at, p.y, h, k3), k4)
	for i := range p.y {
		p.y[i] += h / 6 * (k1[i] + 2*k2[i] + 2*k3[i] + k4[i])
	}
	p.rate(p.y, k1)
}

func shifted(dst, y []float64, h float64, rate []float64) []float64 {
	for i := range dst {
		dst[i] = y[i] + h*rate[i]
	}
	return dst
}

func (p *plain) linearStep(y, v, w, zeta float64) (float64, float64) {
	a1 := oscillator(y, v, w, zeta)
	v2 := v + a1/2
	a2 := oscillator(y+v/2, v2, w, zeta)
	v3 := v + a2/2
	a3 := oscillator(y+v2/2, v3, w, zeta)
	v4 := v + a3
	a4 := oscillator(y+v3, v4, w, zeta)
	return y + (v+2*v2+2*v3+v4)/6, v + (a1+2*a2+2*a3+a4)/6
}

// clearance is not watched: the plain string's last node is placed by hand.
func (p *plain) clearance() float64 { return math.Inf(1) }
