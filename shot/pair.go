package shot

import "math"

// sigmas mirrors a limb's own frame into the bow's.
var sigmas = [2]float64{1, -1}

// pair is the shot of a bow with two limbs of its own on a riser that can
// pitch, the nock free in x and y (docs/theory/vertical.md). Each limb with its
// part of the string is one resolved model in its own mirrored frame; what they
// share is the nock and the riser.
//
// Coordinates: the upper limb's block as in resolved (link angles, nock X,
// riser x, string nodes), the lower limb's, then nock Y, riser y, pitch, and
// the rider's amplitudes. Nock X and riser x stand in both blocks and move
// alike.
type pair struct {
	set   pairSetting
	half  [2]*resolved
	inner [2]inward
	n, d  int // links; size of one block
	rider Rider
	modes int
	p     []float64 // the rider's share in the nock's height
	soft  float64   // p·p: one over the rider's mass at the nock

	q, v, a        motion
	t              float64
	lostEnd, spent float64
	touched        [2]contactSet
	flown          bool
	arrowX, arrowV float64 // of the nock's groove once flown
	flownAt        float64
	restPush       float64 // of the rest on the shaft, last evaluation

	arm     [2][2]float64 // roots from the pressure point, each limb's frame
	balance [2]float64
	restArm [2]float64
	hookLen float64
	hookVel float64

	last, kept pairSnapshot
	stage      stages
}

type pairSnapshot struct {
	q, v, a                   motion
	t, lostEnd, spent         float64
	touched                   [2]contactSet
	flown                     bool
	arrowX, arrowV, flownTime float64
}

// places in the shared tail
const (
	atNockY = iota
	atRiserY
	atPitch
	shared
)

func newPair(set pairSetting) *pair {
	cfg := set.cfg
	r := &pair{set: set, n: set.side[0].chain.N, rider: cfg.Rider}
	for i := range r.half {
		s := set.side[i]
		fraction := math.Min(cfg.Fraction, 1-s.wrapped-nodeMargin)
		h := newResolved(s, cfg.Nodes, fraction, cfg.Softening)
		h.paired = true
		r.half[i] = h
		r.inner[i] = newInward(&h.cable)
	}
	r.d = r.half[0].dof()
	if r.rider != nil {
		r.modes, r.p = r.rider.Modes(), r.rider.Nock()
		for _, x := range r.p {
			r.soft += x * x
		}
	}
	dim := r.dof()
	for _, m := range []*motion{&r.q, &r.v, &r.a, &r.last.q, &r.last.v, &r.last.a, &r.kept.q, &r.kept.v, &r.kept.a,
		&r.stage.q, &r.stage.v, &r.stage.k2, &r.stage.k3, &r.stage.k4} {
		*m = make(motion, dim)
	}
	for i, h := range r.half {
		h.q, h.v, h.a = r.block(r.q, i), r.block(r.v, i), r.block(r.a, i)
	}
	return r
}

func (r *pair) dof() int { return 2*r.d + shared + r.modes }

// block is one limb's part of a vector.
func (r *pair) block(m motion, i int) motion { return m[i*r.d : (i+1)*r.d : (i+1)*r.d] }

// tail is the shared part of a vector.
func (r *pair) tail(m motion) motion { return m[2*r.d : 2*r.d+shared] }

// amplitudes is the rider's part of a vector.
func (r *pair) amplitudes(m motion) motion { return m[2*r.d+shared:] }

// load puts the bow at rest at full draw, its arm turning if it does.
func (r *pair) load() {
	clear(r.q)
	clear(r.v)
	s := &r.set
	r.t, r.spent, r.flown = 0, 0, false
	tail := r.tail(r.q)
	tail[atNockY], tail[atPitch] = s.nockY, s.phi
	for i, h := range r.half {
		h.gap = math.Inf(1)
		copy(h.q, s.side[i].theta)
		h.q[r.n] = s.nockX
	}
	r.stand(r.q, 0)
	for i, h := range r.half {
		h.placeLimb(h.q)
		r.layString(i)
	}
	if r.rider != nil {
		r.rider.Lie(s.nockX, s.nockY, r.restArm[0], r.restArm[1], r.amplitudes(r.q))
	}
	r.turnAll(s.cfg.PitchRate)
	r.carry(s.side[0].arrow)
	r.evaluate()
	for i, h := range r.half {
		r.touched[i] = h.cable.touched()
	}
}

// layString puts one part's nodes on the straight line to the tip, evenly
// stretched.
func (r *pair) layString(i int) {
	h := r.half[i]
	c, tip := &h.cable, &h.link[r.n-1]
	x, y := h.q[r.n]+h.foot.sx, h.foot.sy
	from := r.set.side[i].l0 - c.l0 // the piece between nock and hook
	for k := range h.k {
		along := (c.sigma[k+1]*r.set.side[i].l0 - from) / c.l0
		h.q[r.n+2+k] = x + along*(tip.x-x)
		h.q[r.n+2+h.k+k] = y + along*(tip.y-y)
	}
}

// turnAll gives everything the rates of a turn about the pressure point.
func (r *pair) turnAll(rate float64) {
	if rate == 0 {
		return
	}
	tail, v := r.tail(r.q), r.tail(r.v)
	v[atPitch], v[atNockY] = rate, -rate*r.half[0].q[r.n]
	for i, h := range r.half {
		psi := sigmas[i] * rate
		for j := range r.n {
			h.v[j] = psi
		}
		h.v[r.n] = rate * tail[atNockY]
		for k := range h.k {
			h.v[r.n+2+k] = psi * h.q[r.n+2+h.k+k]
			h.v[r.n+2+h.k+k] = -psi * h.q[r.n+2+k]
		}
	}
	if r.rider != nil {
		// the arrow turns as a whole: the rates of a line through nock and rest
		x, rest := r.half[0].q[r.n], r.restArm[0]
		r.rider.Line(x, -rate*x, rest, -rate*rest, r.amplitudes(r.v))
	}
}

// stand places roots, balance, rest and the string's inner ends.
func (r *pair) stand(q motion, t float64) {
	s := &r.set
	tail := r.tail(q)
	x, y := q[r.n+1], tail[atRiserY]
	sin, cos := math.Sincos(tail[atPitch])
	r.balance = turned(s.balance, sin, cos)
	r.restArm = turned(s.rest, sin, cos)
	r.hookLen, r.hookVel = s.transfer(t)
	for i, h := range r.half {
		sg := sigmas[i]
		arm := turned(s.root[i], sg*sin, cos)
		r.arm[i] = arm
		f := &h.foot
		f.turn = sg * tail[atPitch]
		f.x, f.y = x+arm[0], sg*y+arm[1]
		f.nockY = sg * tail[atNockY]
		f.sx, f.sy = 0, f.nockY
		if i == s.hookSide && s.hook > 0 {
			back := r.hookLen * s.stretched
			f.sx, f.sy = -back*s.away[0], f.nockY-sg*back*s.away[1]
			c := &h.cable
			c.l0 = s.side[i].l0 - r.hookLen
			c.inv = 1 / c.l0
			first := &c.seg[0]
			first.h = s.side[i].l0*c.sigma[1] - r.hookLen
			first.inv = 1 / first.h
		}
	}
}

// turned is a place on the riser turned by an angle, top toward the archer.
func turned(a [2]float64, sin, cos float64) [2]float64 {
	return [2]float64{a[0]*cos + a[1]*sin, a[1]*cos - a[0]*sin}
}

// place computes all that depends on the coordinates and the time.
func (r *pair) place(q motion, t float64) {
	r.stand(q, t)
	for i, h := range r.half {
		h.place(r.block(q, i))
	}
}

// tread sets the velocities of roots and string ends.
func (r *pair) tread(v motion) {
	s := &r.set
	tail := r.tail(v)
	x, y, w := v[r.n+1], tail[atRiserY], tail[atPitch]
	for i, h := range r.half {
		sg, f, arm := sigmas[i], &h.foot, &r.arm[i]
		f.rate = sg * w
		f.vx, f.vy = x+arm[1]*f.rate, sg*y-arm[0]*f.rate
		f.nockVY = sg * tail[atNockY]
		f.svx, f.svy, f.growth = 0, f.nockVY, 0
		if i == s.hookSide && r.hookVel != 0 {
			back := r.hookVel * s.stretched
			f.svx, f.svy = -back*s.away[0], f.nockVY-sg*back*s.away[1]
			f.growth = -r.hookVel
		}
	}
}

func (r *pair) evaluate() {
	r.place(r.q, r.t)
	r.lostEnd = r.move(r.q, r.v, r.a, r.t)
}
