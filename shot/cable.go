package shot

import "math"

// cable is half the string of the production model: its constants, and what an
// evaluation knows about it (eqs 7 to 13).
type cable struct {
	k             int // nodes
	l0, inv       float64
	ea, soft, tau float64   // EA, η EA, τ_S
	sigma         []float64 // material fractions 0..K+1
	seg           []segment // 0..K; the last lies around the limb

	strain  float64 // em
	base    float64 // EA max(0, em)
	tension float64 // at the nock
	end     float64 // of the last segment
	length  float64

	// path of the last segment: pieces of length and direction, and the
	// contact point at each piece's outer end; the last one is the tip
	path []piece
	from int // contact points from here on stood above the last node

	// the mass matrix after elimination toward the tip; x has the nock, y not
	diagX      []float64 // D_k, 0..K+1, without the arrow
	off        []float64 // o_k, segment k
	cx, cy     []float64 // c_k, 1..K+1
	ix, iy     []float64 // 1/p_k, 0..K
	tipX, tipY float64   // mass handed to the limb's tip
	rx, ry     []float64 // reduced forces
}

// segment is one straight part of the string.
type segment struct {
	h, inv float64 // rest length and its reciprocal
	ex, ey float64
	l      float64
	d      float64 // l/h − 1 − em
	rate   float64 // dl/dt
}

// piece is one straight piece of the segment that lies around the limb.
type piece struct {
	ex, ey, l float64
	to        int // contact point at the outer end
}

// contactSet is a set of contact points, one bit each.
type contactSet [2]uint64

func newCable(s setting, nodes int, fraction, softening float64, points int) cable {
	c := cable{k: nodes, l0: s.l0, inv: 1 / s.l0, ea: s.ea, soft: softening * s.ea, tau: s.tauS}
	c.sigma, c.seg = make([]float64, nodes+2), make([]segment, nodes+1)
	c.diagX, c.off = make([]float64, nodes+2), make([]float64, nodes+1)
	c.cx, c.cy = make([]float64, nodes+2), make([]float64, nodes+2)
	c.ix, c.iy = make([]float64, nodes+1), make([]float64, nodes+1)
	c.rx, c.ry = make([]float64, nodes+1), make([]float64, nodes+1)
	c.path = make([]piece, 0, points)
	c.sigma[nodes+1] = 1
	for k := 1; k <= nodes; k++ {
		c.sigma[k] = fraction * float64(k) / float64(nodes)
	}
	c.spread(s.stringMass / 2)
	c.diagX[0] += s.nockMass / 2
	return c
}

// nodeMargin is the share of the half string kept free between the last node
// and the limb at brace. With 0.05 some of 400 random bows had a node within
// 5 mm of it.
const nodeMargin = 0.06

// spread shares the string's mass: per segment m/12 [[5,1],[1,5]], the mean of
// the lumped and the consistent matrix, which carries transverse waves with a
// fourth-order error only (eq. 11). Without nodes: thirds.
func (c *cable) spread(half float64) {
	for k := range c.seg {
		share := c.sigma[k+1] - c.sigma[k]
		c.seg[k].h, c.seg[k].inv = c.l0*share, 1/(c.l0*share)
		m := half * share
		c.diagX[k] += 5 * m / 12
		c.diagX[k+1] += 5 * m / 12
		c.off[k] = m / 12
	}
	if c.k == 0 {
		c.diagX[0], c.diagX[1], c.off[0] = half/3, half*2/3, 0
	}
}

// carry eliminates the string's accelerations toward the tip (eq. 12) with an
// arrow of the given mass on the nock, or none.
func (c *cable) carry(arrow float64) {
	c.eliminate(c.diagX[0]+arrow/2, math.Inf(1))
}

// eliminate is carry for an inner end of the given masses.
func (c *cable) eliminate(px, py float64) {
	for k := 1; k <= c.k+1; k++ {
		c.ix[k-1], c.iy[k-1] = 1/px, 1/py
		c.cx[k], c.cy[k] = c.off[k-1]/px, c.off[k-1]/py
		px, py = c.diagX[k]-c.off[k-1]*c.cx[k], c.diagX[k]-c.off[k-1]*c.cy[k]
	}
	c.tipX, c.tipY = px, py
}

// touched is the set of contact points the string bears on, the tip apart.
func (c *cable) touched() (s contactSet) {
	for _, p := range c.path[:len(c.path)-1] {
		s[p.to>>6] |= 1 << (p.to & 63)
	}
	return s
}
