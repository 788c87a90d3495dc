package bow

import (
	"fmt"
	"math"
)

// Scheme chooses how a limb is turned into a chain.
type Scheme int

const (
	// Refined has third-order joint weights and contact points on the
	// rounded belly; it is what production runs use.
	Refined Scheme = iota
	// Plain is the readable reference: second-order weights, contact at the
	// nodes only.
	Plain
)

func (s Scheme) String() string {
	if s == Plain {
		return "plain"
	}
	return "refined"
}

// Options says how finely a limb is divided. The zero value means the
// defaults.
type Options struct {
	// N is the number of links, default 12; 8 to 200 for Refined, 2 to 200
	// for Plain.
	N int
	// G crowds the nodes toward the tip, where the string touches; default
	// 0.4, usual 0 to 0.6. A negative value means evenly spaced.
	G float64
	// Scheme is Refined unless stated.
	Scheme Scheme
}

func (o Options) withDefaults() Options {
	if o.N == 0 {
		o.N = 12
	}
	switch {
	case o.G == 0:
		o.G = 0.4
	case o.G < 0:
		o.G = 0
	}
	return o
}

func (o Options) validate() error {
	low := 2
	if o.Scheme == Refined {
		low = 8
	}
	if o.Scheme != Refined && o.Scheme != Plain {
		return &InputError{"Options.Scheme", fmt.Sprintf("%d is not a scheme", o.Scheme), "Refined or Plain"}
	}
	if o.N < low || o.N > 200 {
		return &InputError{"Options.N", fmt.Sprintf("%d links are outside %d to 200 for the %v scheme", o.N, low, o.Scheme), "12"}
	}
	if !(o.G < 0.95) {
		return &InputError{"Options.G", fmt.Sprintf("%g leaves no length at the tip", o.G), "0.4"}
	}
	return nil
}

// Contact is a point fixed to a link that the string may touch: at fraction F
// of the link from its inner end, set off by O metres along the link's normal
// toward the archer.
type Contact struct {
	Link int // index of the link, 0 is the one at the root
	F, O float64
}

// Chain is a limb cut into N rigid links with joint springs, in bare SI units.
// Link i (from 0) runs from node i to node i+1; node 0 is the root. A Chain is
// never changed after it is made: read its slices, never write them, and share
// it freely between goroutines. One can also be written out from given arrays;
// Validate then checks that they belong together.
type Chain struct {
	N      int
	G      float64
	Scheme Scheme

	S       []float64 // arc position of the nodes, N+1
	Len     []float64 // link lengths, N
	Natural []float64 // unstressed link angles from +y, N
	Beta    []float64 // natural turning at each joint, Natural[i]-Natural[i-1]; the first from Phi0
	K       []float64 // joint springs, N m/rad; joint i is at node i, the inner end of link i

	X0, Y0, Phi0 float64 // root and pocket angle

	// Lumped masses: node k+1 carries NodeMass[k], the limb's own mass only;
	// RootMass is the first half cell, which moves with the riser (eq. 5a).
	NodeMass []float64
	RootMass float64

	// Bar masses per link: ∫μ(1-x)², ∫μx(1-x), ∫μx² with x the fraction along
	// the link (eq. 5b).
	P, Q, R []float64

	TipMass float64 // lumped at the last node, not in NodeMass

	// Contacts from root to tip; the last one is the tip itself.
	Contacts []Contact
}

// Discretize cuts the design's limb into a chain. The design is validated
// first.
func Discretize(d Design, o Options) (*Chain, error) {
	if err := d.Validate(); err != nil {
		return nil, err
	}
	o = o.withDefaults()
	if err := o.validate(); err != nil {
		return nil, err
	}
	p := newProfile(d)
	c := newChain(o)
	c.X0, c.Y0, c.Phi0 = float64(d.Riser.PocketX), float64(d.Riser.PocketY), float64(d.Riser.PocketAngle)
	c.TipMass = float64(d.Limb.TipMass)
	c.placeNodes(&p)
	c.measureLinks(&p)
	c.lumpMasses(&p)
	c.springs(&p)
	c.contacts()
	return c, nil
}

func newChain(o Options) *Chain {
	n := o.N
	block := make([]float64, 9*n+1)
	take := func(k int) []float64 {
		s := block[:k:k]
		block = block[k:]
		return s
	}
	return &Chain{
		N: n, G: o.G, Scheme: o.Scheme,
		S: take(n + 1), Len: take(n), Natural: take(n), Beta: take(n), K: take(n),
		NodeMass: take(n), P: take(n), Q: take(n), R: take(n),
	}
}

// placeNodes sets s_i = L[u + g·u(1−u)] with u = i/N (eq. 4).
func (c *Chain) placeNodes(p *profile) {
	for i := range c.S {
		c.S[i] = c.at(p, float64(i)/float64(c.N))
	}
}

func (c *Chain) at(p *profile, u float64) float64 { return p.l * (u + c.G*u*(1-u)) }

// stretch is ds/du.
func (c *Chain) stretch(p *profile, u float64) float64 { return p.l * (1 + c.G*(1-2*u)) }

// measureLinks takes each link's length and angle from the chord of the
// unstressed curve, and its bar masses from the mass along it.
func (c *Chain) measureLinks(p *profile) {
	before := c.Phi0
	for i := range c.Len {
		s0, s1 := c.S[i], c.S[i+1]
		var dx, dy float64
		p.integrate(s0, s1, func(s, w float64) {
			sin, cos := math.Sincos(p.angle(s))
			x, m := (s-s0)/(s1-s0), w*p.density(s)
			dx, dy = dx+w*sin, dy+w*cos
			c.P[i] += m * (1 - x) * (1 - x)
			c.Q[i] += m * x * (1 - x)
			c.R[i] += m * x * x
		})
		c.Len[i], c.Natural[i] = math.Hypot(dx, dy), math.Atan2(dx, dy)
		c.Beta[i] = c.Natural[i] - before
		before = c.Natural[i]
	}
}

// lumpMasses gives each node the mass between the mid-points, in u, of its
// two cells; the last one reaches to the tip.
func (c *Chain) lumpMasses(p *profile) {
	mass := func(a, b float64) (m float64) {
		p.integrate(a, b, func(s, w float64) { m += w * p.density(s) })
		return m
	}
	n := float64(c.N)
	from := c.at(p, 0.5/n)
	c.RootMass = mass(0, from)
	for k := range c.NodeMass {
		to := p.l
		if k < c.N-1 {
			to = c.at(p, (float64(k)+1.5)/n)
		}
		c.NodeMass[k] = mass(from, to)
		from = to
	}
}
