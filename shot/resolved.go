package shot

import "math"

// resolved is the production model: limb links are bars, the string has mass
// and shape, and its equalising springs are softened (eqs 7 to 19). Everything
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
	point  []point
	cable  cable
	tip    float64 // tip mass of the limb
	root   float64 // half the riser's mass
	flown  bool
	hand   spring
	x0, y0 float64

	foot   footing
	paired bool // two of these share nock and riser; a pair sets foot

	// what hangs on the root resists it with, set by place
	rootInertia, rootXY, rootYY float64
	rootX, rootY                float64 // contact force that reaches the root directly, set by move
	rootMoment                  float64 // of the limb on its pocket, set by move
	tipX, tipY                  float64 // force on the limb's tip, set by move

	q, v, a motion  // state at the end of the last step
	lostEnd float64 // power lost there
	spent   float64 // energy lost so far

	touched contactSet // contact points under the string at the end of the last step
	gap     float64    // smallest gap between string and limb seen, negative inside

	last, kept snapshot
	stage      stages
}

// footing is where one limb and its part of the string start, in the limb's own
// frame: the root with the riser's turn ψ, and the string's inner end against
// the nock's place in q. In the symmetric bow only the root's x moves.
type footing struct {
	x, y, turn    float64
	vx, vy, rate  float64
	sx, sy        float64
	svx, svy      float64
	growth        float64 // of the string's rest length, m/s
	nockY, nockVY float64
}

// link holds the constants of one bar and what an evaluation knows about it.
// Its own frame is n = (cos θ, −sin θ), toward the archer, and e = (sin θ,
// cos θ), outward along the bar.
type link struct {
	len, inv   float64 // length and its reciprocal
	p, q, r    float64 // ∫μ(1−x)², ∫μx(1−x), ∫μx² along the bar
	mass       float64 // p + 2q + r
	qr         float64 // q + r
	k, beta    float64 // joint at the inner end
	kTau       float64 // k τ_L
	dp, dq, dr float64 // α times the bar masses; the root is not damped

	// set by place
	sin, cos float64
	c, s     float64 // cos, sin of the turn from the next link inward
	x, y     float64 // outer end
	moment   float64 // k (θ_i − θ_{i−1} − β_i)
	ane      float64 // A_ne of what hangs on the outer end
	invD     float64 // 1/(A_nn + r)
	tn, te   float64 // what g/D adds to b in the inner frame, per g
	wn, we   float64 // l (A' + qI) e
	on, oe   float64 // (1+q/D), A_ne/D: l θ'' = t − on a_n − oe a_e

	// set by move
	vx, vy float64 // velocity of the outer end
	t      float64 // g/D
	fx, fy float64 // string contact forces on the outer end
	torque float64 // and torque on the link
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
	r.foot = footing{x: c.X0, y: c.Y0}
	r.hand = spring{hold: s.hold / 2, stiffness: s.handStiffness / 2, damping: s.handDamping / 2, clamped: s.clamped}
	r.link = make([]link, c.N)
	for i := range r.link {
		p, q, m := c.P[i], c.Q[i], c.R[i]
		r.link[i] = link{
			len: c.Len[i], inv: 1 / c.Len[i],
			p: p, q: q, r: m, mass: p + 2*q + m, qr: q + m,
			k: c.K[i], beta: c.Beta[i], kTau: c.K[i] * s.tauL,
			dp: s.alpha * p, dq: s.alpha * q, dr: s.alpha * m,
		}
	}
	r.link[0].dp, r.link[0].dq = 0, 0
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

// load puts the bow at rest at full draw.
func (r *resolved) load(theta []float64) {
	clear(r.v)
	tip := r.pose(theta, r.set.nock)
	r.stringAlong(r.set.nock, tip.x, tip.y, 1)
	r.flown, r.spent, r.gap = false, 0, math.Inf(1)
	r.cable.carry(r.set.arrow)
	r.evaluate()
	r.touched = r.cable.touched()
}

// pose sets link angles and nock with the riser in place, and returns the last
// link as it then stands.
func (r *resolved) pose(theta []float64, nock float64) *link {
	clear(r.q)
	copy(r.q, theta)
	r.q[r.n] = nock
	r.placeLimb(r.q)
	return &r.link[r.n-1]
}

// stringAlong puts the string's nodes on the straight line from the nock to
// (x, y), where the given share of the string ends, evenly stretched.
func (r *resolved) stringAlong(nock, x, y, share float64) {
	for k := range r.k {
		along := r.cable.sigma[k+1] / share
		r.q[r.n+2+k] = nock + along*(x-nock)
		r.q[r.n+2+r.k+k] = along * y
	}
}

// evaluate brings accelerations and losses in line with the state.
func (r *resolved) evaluate() {
	r.place(r.q)
	r.lostEnd = r.move(r.v, r.a)
}

func (r *resolved) undo()            { r.restore(&r.last) }
func (r *resolved) tension() float64 { return r.cable.tension }
func (r *resolved) mark()            { r.save(&r.kept) }
func (r *resolved) rewind()          { r.restore(&r.kept) }

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
