package arrow

import (
	"fmt"
	"math"

	"tautline/num"
	"tautline/unit"
)

// Path is what a bow does to nock and rest in the vertical plane, step by step
// from release to separation, in SI: x toward the archer and y up from the
// pressure point, level with the arrow's line (see shot.PairPath).
type Path struct {
	Time, NockX, NockV, Thrust   []float64 // Thrust: acceleration of the arrow toward the target
	NockY, NockVY, NockAY        []float64
	RestX, RestY, RestVX, RestVY []float64
}

func (p *Path) check() error {
	n := len(p.Time)
	if n < 4 {
		return &InputError{"Path.Time", fmt.Sprintf("%d rows are too few", n), "a shot's path with at least 4 times"}
	}
	for _, c := range [][]float64{p.NockX, p.NockV, p.Thrust, p.NockY, p.NockVY, p.NockAY, p.RestX, p.RestY, p.RestVX, p.RestVY} {
		if len(c) != n {
			return &InputError{"Path", fmt.Sprintf("%d rows for %d times", len(c), n), "one row for each time"}
		}
	}
	return nil
}

// RiseResult is one shot in the vertical plane.
type RiseResult struct {
	Speed        unit.Speed
	TimeOnString unit.Duration
	// Separation is the arrow as it leaves the string, Clear as its tail
	// passes the rest, from where it flies.
	Separation, Clear Rising
	// NockSpeed is the nock's upward speed as it leaves.
	NockSpeed unit.Speed
	// LastContact is when the shaft last touched the rest, PeakPush the rest's
	// greatest force after release.
	LastContact unit.Duration
	PeakPush    unit.Force
	// TailGap is the smallest gap between shaft and wire while the last
	// TailLength pass it, negative when they press on it; past the wire's end
	// it is the larger of the gaps upward and sideways. SharesTail: the wire
	// was under the tail at least in part.
	TailGap    unit.Length
	SharesTail bool
	// Aside is when the wire's end was last half under the shaft: before, the
	// shaft lay over it.
	Aside unit.Duration

	Ringing []Vibration
}

// Rising is the arrow as a rigid body in the vertical plane.
type Rising struct {
	Time      unit.Duration
	Ahead     unit.Length // centre of mass ahead of the pressure point
	Up        unit.Length // centre of mass above the level through the arrow's line at full draw
	Climb     unit.Speed  // of the centre of mass
	PitchUp   unit.Angle  // nose up
	PitchRate float64     // rad/s, positive when the nose rises
}

// RiseSimulator computes shots in the vertical plane on given paths. It reuses its
// memory; for one goroutine at a time.
type RiseSimulator struct {
	step       float64
	q, v, a    []float64
	sq, sv     []float64
	k2, k3, k4 []float64
	row        int
	at         [3]pose // start, middle and end of a step
}

// NewRiseSimulator makes one; step is the longest time step, 0 takes 50 µs.
func NewRiseSimulator(step unit.Duration) (*RiseSimulator, error) {
	if step == 0 {
		step = 50 * unit.Microsecond
	}
	err := checkAll([]limit{{"Config.Step", float64(step), 1e-7, 1e-4, 1e6, "µs", "50 µs"}})
	return &RiseSimulator{step: float64(step)}, err
}

// pose is nock and rest at one time.
type pose struct {
	nock      [3]float64
	rest      [4]float64
	y, vy, ay float64 // of the nock
	onString  bool
	t         float64
}

// nockHold ties the nock to its path: the constraint's own error decays at
// this rate, 1/s.
const nockHold = 2500

// Shoot follows the arrow u, its nock led along the path to separation, then
// free until its tail has passed the rest, which moves on evenly.
func (s *RiseSimulator) Shoot(u *Upright, p *Path) (RiseResult, error) {
	if err := p.check(); err != nil {
		return RiseResult{}, err
	}
	s.resize(u.eq.n)
	last := len(p.Time) - 1
	sep := p.Time[last]
	s.row = 0
	u.wire.at = 0
	at := &s.at
	s.along(p, 0, &at[0])
	u.Lie(p.NockX[0], p.NockY[0], p.RestX[0], p.RestY[0], s.q)
	u.Line(p.NockX[0], p.NockVY[0], p.RestX[0], p.RestVY[0], s.v)
	w := RiseResult{Speed: unit.Speed(-p.NockV[last]), TimeOnString: unit.Duration(sep), TailGap: unit.Length(math.Inf(1))}
	see := watcher{u: u, base: p.NockY[0], res: &w}
	h := s.stepFor(u)
	steps := int(math.Ceil(sep/h - 1e-9))
	h = sep / float64(steps)
	u.lead(&at[0], s.q, s.v, s.a)
	see.note(&at[0])
	for i := range steps {
		t := float64(i) * h
		s.along(p, t+h/2, &at[1])
		s.along(p, t+h, &at[2])
		s.advance(u, &at[1], &at[2], h)
		see.note(&at[2])
	}
	w.Separation = see.motion(&at[2], s.q, s.v)
	w.NockSpeed = unit.Speed(inner(u.eq.nock, s.v))
	at[0] = at[2]
	end := &at[0]
	run := (end.nock[0] - end.rest[0]) / (end.rest[2] - end.nock[1])
	steps = max(1, int(math.Ceil(run/s.stepFor(u)-1e-9)))
	h = run / float64(steps)
	end.coast(0, &at[2])
	u.lead(&at[2], s.q, s.v, s.a)
	for i := range steps {
		t := float64(i) * h
		end.coast(t+h/2, &at[1])
		end.coast(t+h, &at[2])
		s.advance(u, &at[1], &at[2], h)
		see.note(&at[2])
	}
	w.Clear = see.motion(&at[2], s.q, s.v)
	for _, x := range s.q {
		if x-x != 0 {
			return RiseResult{}, num.NotFinite.Err("arrow: vertical motion")
		}
	}
	w.Ringing = u.ringing(s.q, s.v)
	return w, nil
}

// stepFor is the longest stable step: 2.8 over the fastest mode is the
// method's limit.
func (s *RiseSimulator) stepFor(u *Upright) float64 {
	top := math.Sqrt(u.eq.stiff[u.eq.n-1] + u.wire.k*u.pp/4)
	return math.Min(s.step, 2.5/top)
}

func (s *RiseSimulator) resize(n int) {
	if len(s.q) == n {
		return
	}
	block := make([]float64, 8*n)
	for i, v := range []*[]float64{&s.q, &s.v, &s.a, &s.sq, &s.sv, &s.k2, &s.k3, &s.k4} {
		*v = block[i*n : (i+1)*n : (i+1)*n]
	}
}

// along interpolates the path: places with their rates, rates with their slopes.
func (s *RiseSimulator) along(p *Path, t float64, out *pose) {
	last := len(p.Time) - 1
	for s.row < last-1 && p.Time[s.row+1] < t {
		s.row++
	}
	i := s.row
	h := p.Time[i+1] - p.Time[i]
	n, _ := hermite((t-p.Time[i])/h, h)
	cubic := func(y, slope []float64, sign float64) float64 {
		return n[0]*y[i] + n[2]*y[i+1] + sign*(n[1]*slope[i]+n[3]*slope[i+1])
	}
	f := math.Min(1, (t-p.Time[i])/h)
	line := func(y []float64) float64 { return y[i] + f*(y[i+1]-y[i]) }
	out.t, out.onString = t, true
	out.nock = [3]float64{cubic(p.NockX, p.NockV, 1), cubic(p.NockV, p.Thrust, -1), line(p.Thrust)}
	out.rest = [4]float64{cubic(p.RestX, p.RestVX, 1), cubic(p.RestY, p.RestVY, 1), line(p.RestVX), line(p.RestVY)}
	out.y, out.vy, out.ay = cubic(p.NockY, p.NockVY, 1), cubic(p.NockVY, p.NockAY, 1), line(p.NockAY)
}

// coast is the pose a time after separation: nock and rest move on evenly.
func (end *pose) coast(t float64, out *pose) {
	*out = *end
	out.t += t
	out.onString = false
	out.nock[0] += t * out.nock[1]
	out.nock[2] = 0
	out.rest[0] += t * out.rest[2]
	out.rest[1] += t * out.rest[3]
}

// lead is the right-hand side: Push and, on the string, the force that keeps
// the nock on its path (eq. V20).
func (u *Upright) lead(at *pose, q, v, acc []float64) {
	u.Push(at.t, at.nock, at.rest, q, v, acc)
	if !at.onString {
		return
	}
	p := u.eq.nock
	var y, vy, ay float64
	for j, x := range p {
		y += x * q[j]
		vy += x * v[j]
		ay += x * acc[j]
	}
	f := (at.ay + nockHold*(2*(at.vy-vy)+nockHold*(at.y-y)) - ay) / u.pp
	for j, x := range p {
		acc[j] += x * f
	}
}

// advance is one Runge–Kutta–Nyström step from the acceleration in a.
func (s *RiseSimulator) advance(u *Upright, mid, end *pose, h float64) {
	q, v, a := s.q, s.v[:len(s.q)], s.a[:len(s.q)]
	sq, sv := s.sq[:len(q)], s.sv[:len(q)]
	k2, k3, k4 := s.k2[:len(q)], s.k3[:len(q)], s.k4[:len(q)]
	half := h / 2
	for i := range q {
		sq[i] = q[i] + half*(v[i]+half/2*a[i])
		sv[i] = v[i] + half*a[i]
	}
	u.lead(mid, sq, sv, k2)
	for i := range q {
		sv[i] = v[i] + half*k2[i]
	}
	u.lead(mid, sq, sv, k3)
	for i := range q {
		sq[i] = q[i] + h*(v[i]+half*k2[i])
		sv[i] = v[i] + h*k3[i]
	}
	u.lead(end, sq, sv, k4)
	for i := range q {
		m := k2[i] + k3[i]
		q[i] += h * (v[i] + h/6*(a[i]+m))
		v[i] += h / 6 * (a[i] + 2*m + k4[i])
	}
	u.lead(end, q, v, a)
}

// watcher keeps what a shot showed.
type watcher struct {
	u    *Upright
	base float64
	res  *RiseResult
}

// note looks at the rest right after a step's last evaluation.
func (w *watcher) note(at *pose) {
	u, r := w.u, w.res
	if u.force > 0 {
		r.LastContact = unit.Duration(at.t)
		if at.t > 1e-3 {
			r.PeakPush = max(r.PeakPush, unit.Force(u.force))
		}
	}
	if u.share >= 0.5 {
		r.Aside = unit.Duration(at.t)
	}
	s := at.nock[0] - at.rest[0]
	if s > float64(TailLength) || s < 0 {
		return
	}
	gap := -u.pen
	if u.share <= 0 {
		gap = math.Max(gap, u.beyond)
	} else {
		r.SharesTail = true
	}
	r.TailGap = min(r.TailGap, unit.Length(gap))
}

// motion reads the rigid amplitudes.
func (w *watcher) motion(at *pose, q, v []float64) Rising {
	a := w.u.arrow
	shift, turn := 1/math.Sqrt(a.mass), 1/math.Sqrt(a.inertia)
	return Rising{
		Time: unit.Duration(at.t), Ahead: unit.Length(a.cg - at.nock[0]), Up: unit.Length(q[0]*shift - w.base),
		Climb: unit.Speed(v[0] * shift), PitchUp: unit.Angle(q[1] * turn), PitchRate: v[1] * turn,
	}
}

// ringing lists the bending modes with their amplitudes.
func (u *Upright) ringing(q, v []float64) []Vibration {
	all := make([]Vibration, 0, u.eq.n)
	for j := 2; j < u.eq.n; j++ {
		w := u.arrow.omega[j]
		all = append(all, Vibration{Mode: j - 1, Frequency: w / (2 * math.Pi), Decay: u.arrow.zeta * w, Amplitude: math.Hypot(q[j], v[j]/w)})
	}
	return all
}
