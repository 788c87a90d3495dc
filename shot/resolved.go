package shot

import "math"

// resolved is the production model: limb links are bars, the string has mass
// and shape, and its equalising springs are softened (string.md). Everything
// is half a bow. With no string nodes it is the lumped string on the same
// limb.
//
// Coordinates: link angles θ, nock X, riser x_r, string nodes' x, then y. An
// evaluation has two halves, so that two stages of a step that share their
// position share its cost: place (what depends on the coordinates) and move
// (what depends on the rates too).
type resolved struct {
	set  setting
	n, k int // links, string nodes

	link   []link
	joint  []joint
	point  []point
	cable  cable
	tip    float64 // tip mass of the limb
	root   float64 // half the riser's mass
	flown  bool
	hand   spring
	x0, y0 float64

	rootInertia float64 // A_xx at the root, set by place
	rootX       float64 // contact force that reaches the root directly, set by move
	tipX, tipY  float64 // force on the limb's tip, set by move

	q, v, a motion  // state at the end of the last step
	lostEnd float64 // power lost there
	spent   float64 // energy lost so far

	touched contactSet // contact points under the string at the end of the last step
	depth   float64    // worst gap between string and limb seen, negative inside

	last, kept snapshot
	stage      stages
}

// link holds the constants of one bar and what an evaluation knows about it.
type link struct {
	len, inv float64 // length and its reciprocal
	p, q, r  float64 // ∫μ(1−x)², ∫μx(1−x), ∫μx² along the bar
	pq       float64 // p + 2q

	// set by place
	sin, cos float64
	x, y     float64 // outer end
	wx, wy   float64 // l (A' + qI) e
	ux, uy   float64 // u = (A' + qI) n
	invD     float64 // 1/(n·A'n)

	// set by move
	vx, vy float64 // velocity of the outer end
	t      float64 // g/D
	fx, fy float64 // string contact forces on the outer end
	torque float64 // and torque on the link
}

// joint is the spring at a link's inner end.
type joint struct {
	k, beta float64
	kTau    float64 // k τ_L
	moment  float64 // k (θ_i − θ_{i−1} − β_i), set by place
}

// point is a place on a link that the string may touch: f l along it and o
// toward the archer.
type point struct {
	link  int
	f     float64
	along float64 // f l
	off   float64
	x, y  float64
}

// spring is the bow hand on the riser, half of it.
type spring struct {
	hold, stiffness, damping float64
	clamped                  bool
	force                    float64 // hold + stiffness·x_r, set by place
}

// motion is one vector over the coordinates.
type motion []float64

// snapshot is a state to come back to.
type snapshot struct {
	q, v, a        motion
	lostEnd, spent float64
	touched        contactSet
}

// stages is the working memory of one step.
type stages struct {
	q, v       motion
	k2, k3, k4 motion
}

func newResolved(s setting, nodes int, fraction, softening float64) *resolved {
	c := s.chain
	r := &resolved{set: s, n: c.N, k: nodes, tip: c.TipMass, root: s.riser / 2, x0: c.X0, y0: c.Y0}
	r.hand = spring{hold: s.hold / 2, stiffness: s.handStiffness / 2, damping: s.handDamping / 2, clamped: s.clamped}
	r.link, r.joint = make([]link, c.N), make([]joint, c.N)
	for i := range r.link {
		p, q := c.P[i], c.Q[i]
		r.link[i] = link{len: c.Len[i], inv: 1 / c.Len[i], p: p, q: q, r: c.R[i], pq: p + 2*q}
		r.joint[i] = joint{k: c.K[i], beta: c.Beta[i], kTau: c.K[i] * s.tauL}
	}
	for _, at := range c.Contacts {
		r.point = append(r.point, point{link: at.Link, f: at.F, along: at.F * c.Len[at.Link], off: at.O})
	}
	r.cable = newCable(s, nodes, fraction, softening, len(r.point))
	dim := r.dof()
	for _, m := range []*motion{&r.q, &r.v, &r.a, &r.last.q, &r.last.v, &r.last.a, &r.kept.q, &r.kept.v, &r.kept.a,
		&r.stage.q, &r.stage.v, &r.stage.k2, &r.stage.k3, &r.stage.k4} {
		*m = make(motion, dim)
	}
	return r
}

func (r *resolved) dof() int { return r.n + 2 + 2*r.k }

// load puts the bow at rest at full draw: the string's nodes on the straight
// line from nock to tip, evenly stretched.
func (r *resolved) load(theta []float64) {
	clear(r.q)
	clear(r.v)
	copy(r.q, theta)
	x, y := r.x0, r.y0
	for i, th := range theta {
		s, c := math.Sincos(th)
		x, y = x+r.link[i].len*s, y+r.link[i].len*c
	}
	r.q[r.n] = r.set.nock
	for k := range r.k {
		r.q[r.n+2+k] = r.set.nock + r.cable.sigma[k+1]*(x-r.set.nock)
		r.q[r.n+2+r.k+k] = r.cable.sigma[k+1] * y
	}
	r.flown, r.spent, r.depth = false, 0, math.Inf(1)
	r.cable.carry(r.set.arrow)
	r.evaluate()
	r.touched = r.cable.touched()
}

// evaluate brings accelerations and losses in line with the state.
func (r *resolved) evaluate() {
	r.place(r.q)
	r.lostEnd = r.move(r.v, r.a)
}

func (r *resolved) mark()   { r.save(&r.kept) }
func (r *resolved) rewind() { r.restore(&r.kept) }

func (r *resolved) save(s *snapshot) {
	copy(s.q, r.q)
	copy(s.v, r.v)
	copy(s.a, r.a)
	s.lostEnd, s.spent, s.touched = r.lostEnd, r.spent, r.touched
}

func (r *resolved) restore(s *snapshot) {
	copy(r.q, s.q)
	copy(r.v, s.v)
	copy(r.a, s.a)
	r.lostEnd, r.spent, r.touched = s.lostEnd, s.spent, s.touched
}

// drop lets the arrow go.
func (r *resolved) drop() {
	r.flown = true
	r.cable.carry(0)
	r.evaluate()
}

// push is the force of the string on the arrow, toward the target.
func (r *resolved) push() float64 {
	if r.flown {
		return 0
	}
	return -r.set.arrow * r.a[r.n]
}

func (r *resolved) coordinates(q []float64) { copy(q, r.q) }

func (r *resolved) accelerations(q, v, a []float64) {
	r.place(q)
	r.move(v, a)
}
