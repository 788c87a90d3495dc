package arrow

import (
	"fmt"
	"math"

	"tautline/unit"
)

// Config says how a shot is computed. The zero value is good for all.
type Config struct {
	// Step is the longest time step; default 50 µs, shortened where the
	// shaft's highest mode kept would not be stable.
	Step unit.Duration
	// History keeps every step in Result.History.
	History bool
	// Gaps keeps only Time and Gap in Result.History.
	Gaps bool
	// WithoutCompression leaves out the thrust's softening of the shaft. No
	// real arrow: a check of what it does.
	WithoutCompression bool
}

// Simulator shoots arrows, one at a time. It reuses its memory between shots;
// a Result does not depend on what was shot before.
type Simulator struct {
	cfg  Config
	eq   equations
	grid []instant
	zero []float64 // G = 0, for WithoutCompression
	// State, stages and mode shapes at start, middle and end of a step.
	y, z, k1, k2, k3, k4 []float64
	phi, slope           [3][]float64
	gridFor              gridKey
	swing                swing
}

// gridKey names what the sampled drive depends on.
type gridKey struct {
	drive *Drive
	steps int
	mt    float64
}

// NewSimulator makes a Simulator.
func NewSimulator(cfg Config) (*Simulator, error) {
	if cfg.Step == 0 {
		cfg.Step = 50 * unit.Microsecond
	}
	err := checkAll([]limit{{"Config.Step", float64(cfg.Step), 1e-7, 1e-4, 1e6, "µs", "50 µs"}})
	return &Simulator{cfg: cfg}, err
}

// stable is the largest rate·step used: the method diverges at 2.78, and beyond
// about 2.5 it damps the mode by more than a tenth each step.
const stable = 2.6

// Shoot computes one shot up to the moment the tail has passed the button.
func (s *Simulator) Shoot(a *Arrow, d *Drive, set Setup) (Result, error) {
	if a == nil || d == nil {
		return Result{}, &InputError{"Arrow, Drive", "one of them is nil", "New and NewDrive"}
	}
	if err := set.Validate(); err != nil {
		return Result{}, err
	}
	if err := fits(a, d, &set); err != nil {
		return Result{}, err
	}
	s.prepare(a, d, &set)
	r := newRecorder(s, a, d, &set)
	s.onString(r)
	r.separated(s)
	last := s.offString(r)
	return r.finish(s, &last)
}

// fits reports an arrow, a bow and a set-up that do not belong together.
func fits(a *Arrow, d *Drive, set *Setup) error {
	button, reach := float64(set.Button.Place), d.start-float64(set.Button.Place)
	length := float64(a.design.Length)
	switch {
	case reach > length:
		return &InputError{"Length", fmt.Sprintf("the shaft ends %.0f mm short of the button at full draw", (reach-length)*1e3), "a longer shaft or a shorter draw"}
	case !(d.exit.x > button+0.01):
		return &InputError{"Button.Place", "the nock reaches the button before it leaves the string", "a place near the pivot"}
	case !(d.exit.v < -5):
		return &InputError{"Drive.Speed", fmt.Sprintf("the arrow leaves at %.1f m/s", -d.exit.v), "a drive that ends at separation, the speed negative toward the target"}
	case set.Riser == nil:
		return nil
	case !d.hasTip:
		return &InputError{"Drive.TipX", "a riser that turns needs the limb tips' places", "the tips' places from the shot, or no Riser"}
	}
	k := 2 * d.tension.y[0] / d.half.y[0]
	if tip := d.tip.y[0]; !(2*float64(set.Tips.Stiffness)*tip > k*(d.start-tip)) {
		return &InputError{"Tips.Stiffness", fmt.Sprintf("tips of %.0f N/m cannot hold the string in the riser's plane at full draw", float64(set.Tips.Stiffness)), "1000 N/m"}
	}
	return nil
}

// prepare sets sizes, constants and the state at release.
func (s *Simulator) prepare(a *Arrow, d *Drive, set *Setup) {
	n := a.n
	if len(s.y) != 2*(n+2) {
		s.resize(n)
	}
	e := &s.eq
	*e = equations{
		n: n, stiff: e.stiff[:n], damp: e.damp[:n], g: a.g, nock: a.nock,
		carried: float64(set.String.Carried), cNock: set.String.Damping,
		kt: float64(set.Tips.Stiffness), mt: float64(set.Tips.Mass), ct: set.Tips.damping(), rigidTips: set.Tips.Rigid,
		yb: float64(set.CentreShot), xb: float64(set.Button.Place), pl: newPlunger(set.Button),
		aside: float64(set.NockAside), riser: set.Riser, attached: true,
	}
	if s.cfg.WithoutCompression {
		e.g = s.zero
	}
	if set.Release != nil {
		e.release, e.reach = set.Release, float64(set.Release.Reach())
	}
	for j, w := range a.omega {
		e.stiff[j], e.damp[j] = w*w, 2*a.zeta*w
	}
	e.share = e.carried / (1 + e.carried*inner(a.nock, a.nock))
	s.sampleDrive(a, d)
	s.start(a, set)
}

// resize makes room for n modes.
func (s *Simulator) resize(n int) {
	size := 2 * (n + 2)
	cut := func(block []float64, i, w int) []float64 { return block[i*w : (i+1)*w : (i+1)*w] }
	block := make([]float64, 6*size)
	s.y, s.z, s.k1, s.k2, s.k3, s.k4 = cut(block, 0, size), cut(block, 1, size), cut(block, 2, size), cut(block, 3, size), cut(block, 4, size), cut(block, 5, size)
	modes := make([]float64, 8*n)
	for i := range 3 {
		s.phi[i], s.slope[i] = cut(modes, i, n), cut(modes, 3+i, n)
	}
	s.eq.stiff, s.eq.damp = cut(modes, 6, n), cut(modes, 7, n)
	s.zero = make([]float64, n*n)
	s.swing.resize(n + 2)
}

// sampleDrive lays the drive on half steps so that the last step ends exactly
// on separation.
func (s *Simulator) sampleDrive(a *Arrow, d *Drive) {
	h := s.step(a, d)
	steps := max(1, int(math.Ceil(d.separation/h-1e-9)))
	key := gridKey{d, steps, s.eq.mt}
	if key == s.gridFor {
		return
	}
	if cap(s.grid) < 2*steps+1 {
		s.grid = make([]instant, 2*steps+1)
	}
	s.grid = s.grid[:2*steps+1]
	d.sample(s.grid, s.eq.mt)
	s.gridFor = key
}

// step is the longest stable step: the fastest of the shaft's modes, stiffened
// by what holds nock and shaft, together with the dampers that act there.
func (s *Simulator) step(a *Arrow, d *Drive) float64 {
	e := &s.eq
	sum := inner(a.nock, a.nock)
	nock := sum / (1 + e.carried*sum)
	// Anywhere else on the shaft a mode moves at most half as far as at the
	// free nock.
	shaft := sum / 4
	top := a.omega[a.n-1]
	stiff := top*top + (d.stiffest+padStiffness)*nock + e.pl.contact*shaft
	damp := (e.cNock+padDamping)*nock + e.pl.c*shaft
	return math.Min(float64(s.cfg.Step), stable/math.Hypot(math.Sqrt(stiff), damp))
}

// start lays the arrow straight from nock to button, at rest (eq. 12).
func (s *Simulator) start(a *Arrow, set *Setup) {
	clear(s.y)
	n, e, at := s.eq.n, &s.eq, &s.grid[0]
	y0, yb := e.aside, e.yb
	if r := e.riser; r != nil {
		st := r.hold(at, e.kt, y0)
		e.turn0 = st.turn
		yb += e.xb * st.turn
		s.y[n], s.y[n+1] = st.tip+at.tip*st.turn, st.turn
		// The bow arm carries everything round the grip.
		s.y[n+2+n], s.y[n+2+n+1] = r.ArmRate*at.tip, r.ArmRate
		s.rigid(a, n+2, r.ArmRate*at.x, -r.ArmRate)
	} else if !e.rigidTips {
		// Fingers off the string plane pull the tips aside until they balance.
		s.y[n] = y0 * at.k / (at.k + 2*e.kt)
	}
	s.rigid(a, 0, y0, (yb-y0)/(at.x-e.xb))
}

// rigid sets the rigid amplitudes from offset: the line value + slope·s.
func (s *Simulator) rigid(a *Arrow, offset int, value, slope float64) {
	s.y[offset] = math.Sqrt(a.mass) * (value + slope*a.cg)
	s.y[offset+1] = math.Sqrt(a.inertia) * slope
}
