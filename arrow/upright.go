package arrow

import (
	"math"

	"tautline/unit"
)

// Upright is an arrow bending in the vertical plane over a rest, as modal
// amplitudes (docs/theory/vertical.md, eqs V16 to V19). Heights are of its axis.
// It is what shot.Rider asks for: the bow drives its nock, its rest moves with
// the riser. It owns working memory and is for one goroutine at a time.
type Upright struct {
	arrow      *Arrow
	eq         equations // for the thrust's part
	wire       wire
	weight     float64 // of the shift mode: g √M
	phi, slope []float64
	pp         float64 // p·p

	pen, force, beyond, share float64 // of the last Push
}

// Weightless and stiff variants for checks.
type UprightCheck struct {
	// NoGravity leaves the weight out, NoCompression the thrust's softening,
	// NoRest the rest, Rigid the bending.
	NoGravity, NoCompression, NoRest, Rigid bool
}

// NewUpright makes the vertical beam of an arrow over a wire. aside is the same
// shot's sideways history; nil where the gate does not need it.
func NewUpright(a *Arrow, w Wire, aside *History, check UprightCheck) *Upright {
	u := &Upright{arrow: a, wire: w.ready(aside), phi: make([]float64, a.n), slope: make([]float64, a.n)}
	n := a.n
	if check.Rigid {
		n = 2
	}
	u.eq = equations{n: n, g: a.g, nock: a.nock[:n], stiff: make([]float64, n), damp: make([]float64, n)}
	if check.Rigid || check.NoCompression {
		u.eq.g = make([]float64, n*n)
		if check.Rigid && !check.NoCompression {
			for i := range n {
				copy(u.eq.g[i*n:(i+1)*n], a.g[i*a.n:])
			}
		}
	}
	for j := range n {
		w := a.omega[j]
		u.eq.stiff[j], u.eq.damp[j] = w*w, 2*a.zeta*w
	}
	u.pp = inner(u.eq.nock, u.eq.nock)
	if !check.NoGravity {
		u.weight = unit.StandardGravity * math.Sqrt(a.mass)
	}
	if check.NoRest {
		u.wire.gate, u.wire.until = GateUntil, -1
	}
	return u
}

// Modes is the number of amplitudes: shift, turn, then bending.
func (u *Upright) Modes() int { return u.eq.n }

// Nock is the amplitudes' share in the nock's height.
func (u *Upright) Nock() []float64 { return u.eq.nock }

// Line writes the amplitudes of the straight arrow through nock and rest.
func (u *Upright) Line(nockX, nockY, restX, restY float64, q []float64) {
	clear(q)
	slope := (restY - nockY) / (nockX - restX)
	q[0] = math.Sqrt(u.arrow.mass) * (nockY + slope*u.arrow.cg)
	q[1] = math.Sqrt(u.arrow.inertia) * slope
}

// Lie is Line with the sag of the arrow at rest on both (eq. V19): forces at
// nock and rest that carry the weight, and the bending they make.
func (u *Upright) Lie(nockX, nockY, restX, restY float64, q []float64) {
	u.Line(nockX, nockY, restX, restY, q)
	share, _ := u.wire.share(0)
	if u.weight == 0 || share == 0 {
		return
	}
	p := u.eq.nock
	u.arrow.fill(nockX-restX, u.phi, u.slope)
	phi := u.phi[:u.eq.n]
	det := p[0]*phi[1] - p[1]*phi[0]
	atNock, atRest := u.weight*phi[1]/det, -u.weight*p[1]/det
	for j := 2; j < u.eq.n; j++ {
		q[j] = (p[j]*atNock + phi[j]*atRest) / u.eq.stiff[j]
	}
	// shift and turn so that nock and rest stay where they are
	lowNock, lowRest := inner(p[2:], q[2:u.eq.n]), inner(phi[2:], q[2:u.eq.n])+atRest/u.wire.k
	q[0] -= (lowNock*phi[1] - p[1]*lowRest) / det
	q[1] -= (p[0]*lowRest - lowNock*phi[0]) / det
}

// Push writes the accelerations without the string's force on the nock, and
// returns the rest's force and the power that leaves arrow and riser.
func (u *Upright) Push(t float64, nock [3]float64, rest [4]float64, q, v, acc []float64) (push, lost float64) {
	n := u.eq.n
	q, v, acc = q[:n], v[:n], acc[:n]
	s := nock[0] - rest[0]
	phi := u.phi[:n]
	u.force, u.pen = 0, -1
	rate := 0.0
	u.share, u.beyond = u.wire.share(t)
	if s >= 0 && s <= u.arrow.beam.length {
		u.arrow.fill(s, u.phi, u.slope)
		var place, lean float64
		for j, x := range q {
			place += phi[j] * x
			rate += phi[j] * v[j]
			lean += u.slope[j] * x
		}
		u.pen = rest[1] - place
		u.force = u.wire.push(u.share, u.pen, rest[3]-rate-lean*(nock[1]-rest[2]))
	}
	stiff, damp := u.eq.stiff[:n], u.eq.damp[:n]
	for j := range acc {
		acc[j] = -stiff[j]*q[j] - damp[j]*v[j]
		lost += damp[j] * v[j] * v[j]
	}
	if nock[2] != 0 {
		before := inner(v, acc)
		u.eq.thrust(nock[2], q, acc)
		lost -= inner(v, acc) - before
	}
	if u.force > 0 {
		for j := range acc {
			acc[j] += phi[j] * u.force
		}
		lost += u.force * (rest[3] - rate)
	}
	acc[0] -= u.weight
	return u.force, lost + u.weight*v[0]
}

// Energy of bending and vertical motion.
func (u *Upright) Energy(q, v []float64) (e float64) {
	for j, w := range u.eq.stiff {
		e += v[j]*v[j] + w*q[j]*q[j]
	}
	return e / 2
}
