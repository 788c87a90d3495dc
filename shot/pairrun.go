package shot

import (
	"fmt"
	"math"

	"tautline/bow"
	"tautline/unit"
)

// PairSimulator looses arrows from one drawn pair. It owns its working memory
// and is for one goroutine at a time; equal inputs give equal bits.
type PairSimulator struct {
	set pairSetting
	eng *pair
	dt  float64
	fin Simulator // for its search of the instant of separation
	res PairResult
	// progress of the tips, of their travel on the riser
	tip [2]progress
}

// NewPairSimulator prepares shots of the pair from its drawn state.
func NewPairSimulator(p *bow.Pair, full bow.PairState, cfg PairConfig) (*PairSimulator, error) {
	cfg = cfg.withDefaults()
	if err := cfg.validate(); err != nil {
		return nil, err
	}
	upper, lower := p.Chains()
	for _, c := range []*bow.Chain{upper, lower} {
		if err := belongs(c, cfg.Model); err != nil {
			return nil, err
		}
	}
	if full.NockX <= p.Brace().NockX || full.Energy <= p.Brace().Energy {
		return nil, &InputError{"full", "the drawn state holds no more energy than the braced one", "a draw of 692 mm from the pivot"}
	}
	s := &PairSimulator{set: newPairSetting(p, full, cfg)}
	s.eng = newPair(s.set)
	s.dt = s.stable(float64(cfg.Step))
	s.fin = Simulator{cfg: cfg.Config, set: s.set.side[0], dt: s.dt, quiet: true}
	return s, nil
}

// stable is the longest step that is safe (as eq. 21): for the stiffer limb
// with its part of the string, as if both were like it, since the fast motions
// stay within one limb; and for the one that does not, the string sliding up and
// down past the middle with little more than the nocking point's mass there.
func (s *PairSimulator) stable(step float64) float64 {
	stiffer, k := 0, [2]float64{}
	for i, side := range s.set.side {
		for _, x := range side.chain.K {
			k[i] += x
		}
	}
	if k[1] > k[0] {
		stiffer = 1
	}
	side := s.set.side[stiffer]
	c := s.set.cfg
	e := newResolved(side, c.Nodes, math.Min(c.Fraction, 1-side.wrapped-nodeMargin), c.Softening)
	e.load(side.theta)
	step = stableStep(e, &side, step)
	s.eng.load()
	w := s.eng.fastestString()
	return math.Min(step, stepMargin*stableAt(e.linearStep, side.tauS*w/2)/w)
}

// fastestString is the largest angular frequency of the whole string between
// tips that stand, nock included, by the power method.
func (r *pair) fastestString() float64 {
	const rounds, small = 40, 1e-8
	dim := r.dof()
	still, base, x, at, a := make(motion, dim), make(motion, dim), make(motion, dim), make(motion, dim), make(motion, dim)
	r.place(r.q, 0)
	r.move(r.q, still, base, 0)
	var own []int
	for i := range r.half {
		for k := range 2 * r.half[0].k {
			own = append(own, i*r.d+r.n+2+k)
		}
	}
	own = append(own, 2*r.d+atNockY)
	for i, k := range own {
		x[k] = small * (1 - 2*float64(i%2) + 0.3*math.Sin(float64(7*i*i)))
	}
	square := 0.0
	for range rounds {
		for i := range at {
			at[i] = r.q[i] + x[i]
		}
		r.place(at, 0)
		r.move(at, still, a, 0)
		before, after := 0.0, 0.0
		for _, k := range own {
			d := a[k] - base[k]
			before, after = before+x[k]*x[k], after+d*d
			x[k] = d
		}
		square = math.Sqrt(after / before)
		for _, k := range own {
			x[k] *= small / math.Sqrt(after)
		}
	}
	return math.Sqrt(square)
}

// PairResult is one shot of a pair. Heights are up from the level of the
// arrow's line at full draw; the pressure point stays where it was but for the
// bow's recoil.
type PairResult struct {
	Speed        unit.Speed
	Efficiency   float64
	TimeOnString unit.Duration
	// NockX is the nock's distance from where the pressure point was, at
	// separation.
	NockX unit.Length

	// NockRise is the nock's height against the arrow's line at full draw as
	// it leaves, NockSpeed its rate; NockLow and NockHigh the extremes on the
	// way: the dynamic nock travel.
	NockRise          unit.Length
	NockSpeed         unit.Speed
	NockLow, NockHigh unit.Length

	// Pitch of the riser since release as the arrow leaves, and its rate in
	// rad/s, positive top toward the archer.
	Pitch     unit.Angle
	PitchRate float64

	// LowerFirst is how much earlier the lower limb's tip has made 95 % of its
	// travel than the upper one's; negative when the upper limb leads. A tip
	// that has not made it when the arrow leaves counts as arriving then.
	LowerFirst unit.Duration
	// PeakDifference is the greatest difference between the two parts' tension.
	PeakDifference unit.Force

	Stored unit.Energy
	// Audit is as in Result; above AuditLimit there is no result.
	Audit float64
	Step  unit.Duration
	Steps int

	// RestPush is the greatest force of the rest, with a Rider.
	RestPush unit.Force

	// Path is the shot step by step to separation.
	Path PairPath
}

// PairPath is what the bow does to arrow and rest, step by step from release to
// separation: what arrow's two runs need. SI; heights as in PairResult, places
// along the shot from where the pressure point was.
type PairPath struct {
	Time, NockX, NockV, Thrust []float64 // Thrust is the arrow's acceleration, m/s²
	NockY, NockVY, NockAY      []float64
	Tension, Half, TipX        []float64 // mean of both parts and limbs
	RestX, RestY, RestVX       []float64
	RestVY                     []float64
	// Draw is the force at full draw.
	Draw float64
	// Amplitudes of the Rider at the end, and their rates.
	Amplitudes, Rates []float64
}

// Run looses one arrow.
func (s *PairSimulator) Run() (PairResult, error) {
	e := s.eng
	e.load()
	start := e.energies().total()
	s.res = PairResult{Path: newPairPath(int(0.025/s.dt), s.set.pull[0])}
	for i := range s.tip {
		s.tip[i] = newProgress(s.set.tipDrawn[i], s.set.tipBrace[i])
	}
	t, err := s.loose()
	if err != nil {
		return PairResult{}, err
	}
	r := s.report(t, start)
	if !(r.Audit <= AuditLimit) {
		return PairResult{}, &ShotError{t, fmt.Sprintf("the energy balance is off by %.2g of the stored energy, so the speed cannot be believed", r.Audit), "a shorter Step"}
	}
	return r, nil
}

// loose runs from full draw until the arrow leaves.
func (s *PairSimulator) loose() (t float64, err error) {
	e := s.eng
	clip := s.set.side[0].clip
	before := e.push()
	s.record(0)
	for t < longest {
		e.advance(s.dt)
		s.res.Steps++
		force := e.push()
		switch {
		case !(math.Abs(force) < 1e6):
			return t, &ShotError{t, "the motion ran away: the step is unstable", "a shorter Step"}
		case e.clearance() < -deepest:
			return t, &ShotError{t, fmt.Sprintf("the string has passed %.1f mm through the limb", -1e3*e.clearance()), "a smaller Fraction or a shorter Step"}
		case force < -clip:
			t += s.fin.pinpoint(e, before+clip, force+clip)
			s.record(t)
			return t, nil
		}
		t += s.dt
		before = force
		s.record(t)
	}
	return t, &ShotError{t, "the arrow is still on the string", "an ArrowMass of 15 to 40 g, a ClipForce of 0 to 10 N"}
}

// record notes the state at time t.
func (s *PairSimulator) record(t float64) {
	e, p := s.eng, &s.res.Path
	tq, tv, ta := e.tail(e.q), e.tail(e.v), e.tail(e.a)
	x, y := e.q[e.n], tq[atNockY]
	w := tv[atPitch]
	add := func(list *[]float64, v float64) { *list = append(*list, v) }
	add(&p.Time, t)
	add(&p.NockX, x)
	add(&p.NockV, e.v[e.n])
	add(&p.Thrust, -e.a[e.n])
	add(&p.NockY, y)
	add(&p.NockVY, tv[atNockY])
	add(&p.NockAY, ta[atNockY])
	add(&p.Tension, e.tension())
	up, low := e.half[0], e.half[1]
	add(&p.Half, (up.cable.length+low.cable.length)/2)
	add(&p.TipX, (up.link[e.n-1].x+low.link[e.n-1].x)/2)
	add(&p.RestX, e.q[e.n+1]+e.restArm[0])
	add(&p.RestY, tq[atRiserY]+e.restArm[1])
	add(&p.RestVX, e.v[e.n+1]+e.restArm[1]*w)
	add(&p.RestVY, tv[atRiserY]-e.restArm[0]*w)
	r := &s.res
	rise := unit.Length(y - s.set.nockY)
	r.NockLow, r.NockHigh = min(r.NockLow, rise), max(r.NockHigh, rise)
	r.PeakDifference = max(r.PeakDifference, unit.Force(math.Abs(up.cable.tension-low.cable.tension)))
	r.RestPush = max(r.RestPush, unit.Force(e.restPush))
	for i, h := range e.half {
		s.tip[i].see(t, h)
	}
}

func newPairPath(room int, draw float64) PairPath {
	const lists = 14
	block := make([]float64, lists*room)
	take := func(i int) []float64 { return block[i*room : i*room : (i+1)*room] }
	return PairPath{
		Time: take(0), NockX: take(1), NockV: take(2), Thrust: take(3), NockY: take(4), NockVY: take(5), NockAY: take(6),
		Tension: take(7), Half: take(8), TipX: take(9), RestX: take(10), RestY: take(11), RestVX: take(12), RestVY: take(13),
		Draw: draw,
	}
}

// report reads the results off the engine at separation.
func (s *PairSimulator) report(t, start float64) PairResult {
	e, w := s.eng, s.set.stored()
	en := e.energies()
	tq, tv := e.tail(e.q), e.tail(e.v)
	r := s.res
	r.Speed, r.Efficiency, r.TimeOnString = unit.Speed(-e.v[e.n]), en.arrow/w, unit.Duration(t)
	r.NockX = unit.Length(e.q[e.n])
	r.NockRise, r.NockSpeed = unit.Length(tq[atNockY]-s.set.nockY), unit.Speed(tv[atNockY])
	r.Pitch, r.PitchRate = unit.Angle(tq[atPitch]-s.set.phi), tv[atPitch]
	r.LowerFirst = unit.Duration(s.tip[0].arrival(t) - s.tip[1].arrival(t))
	r.Stored, r.Audit = unit.Energy(w), math.Abs(en.total()-start)/w
	r.Step = unit.Duration(s.dt)
	r.Path.Amplitudes = append([]float64(nil), e.amplitudes(e.q)...)
	r.Path.Rates = append([]float64(nil), e.amplitudes(e.v)...)
	return r
}

// progress watches one limb's tip on its way from full draw to brace.
type progress struct {
	from, along [2]float64 // along over its squared length
	last, time  float64
	at          float64 // when 95 % of the travel was made
}

const tipTravel = 0.95

func newProgress(from, to [2]float64) progress {
	dx, dy := to[0]-from[0], to[1]-from[1]
	l := dx*dx + dy*dy
	return progress{from: from, along: [2]float64{dx / l, dy / l}, at: math.NaN()}
}

// arrival is when the travel was made; the end of the shot for a tip that had
// not made it by then.
func (p *progress) arrival(end float64) float64 {
	if math.IsNaN(p.at) {
		return end
	}
	return p.at
}

// see notes where the tip is on the riser.
func (p *progress) see(t float64, h *resolved) {
	end := &h.link[h.n-1]
	sin, cos := math.Sincos(h.foot.turn)
	x, y := end.x-h.foot.x, end.y-h.foot.y
	x, y = x*cos-y*sin, y*cos+x*sin
	share := (x-p.from[0])*p.along[0] + (y-p.from[1])*p.along[1]
	if share >= tipTravel && math.IsNaN(p.at) {
		p.at = t
		if share > p.last && t > 0 {
			p.at = p.time + (t-p.time)*(tipTravel-p.last)/(share-p.last)
		}
	}
	p.last, p.time = share, t
}
