package arrow

import (
	"fmt"
	"math"

	"tautline/num"
	"tautline/unit"
)

// recorder watches a shot and makes its Result.
type recorder struct {
	arrow *Arrow
	drive *Drive
	set   *Setup
	res   Result

	reach, proud       float64 // of the vanes toward the riser; of the button
	vaneLow, vaneHigh  float64 // s between which the vanes pass
	nockMax, nockTime  float64
	nockMin            float64
	push, travel, last float64
	tailGap, vaneGap   float64
	lastPen, lastTime  float64
}

func newRecorder(s *Simulator, a *Arrow, d *Drive, set *Setup) *recorder {
	r := &recorder{arrow: a, drive: d, set: set, tailGap: math.Inf(1), vaneGap: math.Inf(1), nockMax: math.Inf(-1)}
	f := a.design.Fletching
	radius := float64(a.design.Diameter) / 2
	if f.Count > 0 && set.Button.Proud > 0 {
		// One vane outward; the nearest others lean by π/n from straight in.
		r.reach = math.Max(radius, (radius+float64(f.Height))*math.Cos(math.Pi/float64(f.Count)))
		r.proud = float64(set.Button.Proud) + radius
		r.vaneLow, r.vaneHigh = float64(f.Place-f.Size/2), float64(f.Place+f.Size/2)
	}
	if s.cfg.History || s.cfg.Gaps {
		r.res.History = newHistory(2 * len(s.grid))
	}
	return r
}

func newHistory(room int) *History {
	return &History{Time: make([]unit.Duration, 0, room), Gap: make([]unit.Length, 0, room)}
}

// see notes the state at the start of a step; the button's force there has
// just been computed.
func (r *recorder) see(s *Simulator, at *instant) {
	e := &s.eq
	nock := inner(r.arrow.nock, s.y[:e.n])
	if e.attached && nock > r.nockMax {
		r.nockMax, r.nockTime = nock, at.t
	}
	r.nockMin = math.Min(r.nockMin, nock)
	r.push = math.Max(r.push, e.push)
	r.travel = math.Max(r.travel, e.pl.travel(e.pen))
	r.res.Bottomed = r.res.Bottomed || e.pen > e.pl.knee+e.pl.stop
	switch {
	case e.pen > 0:
		r.last = at.t
	case r.lastPen > 0:
		// Left between two steps.
		r.last = r.lastTime + (at.t-r.lastTime)*r.lastPen/(r.lastPen-e.pen)
	}
	r.lastPen, r.lastTime = e.pen, at.t
	r.clearance(at.x-e.xb, -e.pen)
	if h := r.res.History; h != nil {
		h.Time = append(h.Time, unit.Duration(at.t))
		h.Gap = append(h.Gap, unit.Length(-e.pen))
		if !s.cfg.History {
			return
		}
		h.Nock = append(h.Nock, unit.Length(nock))
		h.Push = append(h.Push, unit.Force(e.push))
		h.Amplitudes = append(h.Amplitudes, append([]float64(nil), s.y[:e.n]...))
	}
}

// clearance keeps the smallest gaps (eq. 13) when s is at the button.
func (r *recorder) clearance(s, gap float64) {
	if s <= float64(TailLength) {
		r.tailGap = math.Min(r.tailGap, gap)
	}
	if r.reach > 0 && s >= r.vaneLow && s <= r.vaneHigh {
		r.vaneGap = math.Min(r.vaneGap, gap+r.proud-r.reach)
	}
}

// separated notes the state at separation.
func (r *recorder) separated(s *Simulator) {
	e, at := &s.eq, &s.grid[len(s.grid)-1]
	n, m := e.n, e.n+2
	right := r.set.Hand.right
	r.res.Speed, r.res.TimeOnString = unit.Speed(-at.v), unit.Duration(at.t)
	r.res.Separation = r.motion(s, at)
	r.res.NockLeaves = unit.Length(inner(e.nock, s.y[:n]))
	r.res.NockLeavesSpeed = unit.Speed(inner(e.nock, s.y[m:m+n]))
	// The riser turns the other way round than the slope along s.
	r.res.RiserYawStart = unit.Angle(right(-e.turn0))
	r.res.RiserYawExit = unit.Angle(right(-s.y[n+1]))
	r.res.RiserYawRate = right(-s.y[m+n+1])
	if h := r.res.History; h != nil {
		h.Separation = len(h.Time)
	}
}

// motion reads the rigid amplitudes.
func (r *recorder) motion(s *Simulator, at *instant) Motion {
	m := s.eq.n + 2
	shift, turn := 1/math.Sqrt(r.arrow.mass), 1/math.Sqrt(r.arrow.inertia)
	right := r.set.Hand.right
	return Motion{
		Time:  unit.Duration(at.t),
		Ahead: unit.Length(r.arrow.cg - at.x),
		Right: unit.Length(right(s.y[0] * shift)), RightSpeed: unit.Speed(right(s.y[m] * shift)),
		YawRight: unit.Angle(right(s.y[1] * turn)), YawRate: right(s.y[m+1] * turn),
	}
}

// tooFar is the sideways motion of the nock beyond which slopes are no longer
// small: a seventh of the shaft's length.
const tooFar = 0.1

// CollapseError is a shaft that gives way under the thrust, bending farther
// than a model of small slopes can follow.
type CollapseError struct {
	Ratio float64 // thrust over buckling load
}

// Error says what happened and what to try.
func (e *CollapseError) Error() string {
	return fmt.Sprintf("the shaft collapses under the thrust, %.1f times its buckling load: no such arrow can be shot from this bow; try a stiffer shaft", e.Ratio)
}

// finish makes the Result from the state at the last instant.
func (r *recorder) finish(s *Simulator, at *instant) (Result, error) {
	for _, v := range s.y {
		if v-v != 0 {
			return Result{}, num.NotFinite.Err("arrow: sideways motion")
		}
	}
	res := &r.res
	res.PeakThrust = unit.Force(r.drive.thrust * r.arrow.mass)
	res.ThrustRatio = float64(res.PeakThrust) / r.arrow.buckle
	if math.Max(r.nockMax, -r.nockMin) > tooFar {
		return Result{}, &CollapseError{res.ThrustRatio}
	}
	res.Clear = r.motion(s, at)
	res.NockMax, res.NockMaxTime = unit.Length(r.nockMax), unit.Duration(r.nockTime)
	res.ButtonPeak, res.ButtonTravel = unit.Force(r.push), unit.Length(r.travel)
	res.LastContact = unit.Duration(r.last)
	res.TailGap, res.TailStrike = unit.Length(r.tailGap), r.tailGap < 0
	if r.reach > 0 {
		res.VaneRiserGap, res.HasVaneGap = unit.Length(r.vaneGap), true
	}
	res.Ringing = r.ringing(s)
	res.Step = unit.Duration(r.drive.separation / float64((len(s.grid)-1)/2))
	return *res, nil
}

// ringing lists the bending modes with their amplitudes (eq. 15).
func (r *recorder) ringing(s *Simulator) []Vibration {
	n, m := s.eq.n, s.eq.n+2
	all := make([]Vibration, 0, n-2)
	for j := 2; j < n; j++ {
		w := r.arrow.omega[j]
		all = append(all, Vibration{
			Mode: j - 1, Frequency: w / (2 * math.Pi), Decay: r.arrow.zeta * w,
			Amplitude: math.Hypot(s.y[j], s.y[m+j]/w),
		})
	}
	return all
}
