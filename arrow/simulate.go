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
	end := len(d.t) - 1
	button, reach := float64(set.Button.Place), d.start-float64(set.Button.Place)
	length := float64(a.design.Length)
	switch {
	case reach > length:
		return &InputError{"Length", fmt.Sprintf("the shaft ends %.0f mm short of the button at full draw", (reach-length)*1e3), "a longer shaft or a shorter draw"}
	case !(d.nock.y[end] > button+0.01):
		return &InputError{"Button.Place", "the nock reaches the button before it leaves the string", "a place near the pivot"}
	case !(d.speed.y[end] < -5):
		return &InputError{"Drive.Speed", fmt.Sprintf("the arrow leaves at %.1f m/s", -d.speed.y[end]), "a drive that ends at separation, the speed negative toward the target"}
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

// lay computes the mode shapes at the button for the middle and the end of a
// step.
func (s *Simulator) lay(a *Arrow, at []instant) {
	for half := 1; half <= 2; half++ {
		a.fill(at[half].x-s.eq.xb, s.phi[half], s.slope[half])
	}
}

// next makes the end of a step the start of the next.
func (s *Simulator) next() {
	s.phi[0], s.phi[2] = s.phi[2], s.phi[0]
	s.slope[0], s.slope[2] = s.slope[2], s.slope[0]
}

// onString steps from release to separation.
func (s *Simulator) onString(r *recorder) {
	steps := (len(s.grid) - 1) / 2
	h := r.drive.separation / float64(steps)
	r.arrow.fill(s.grid[0].x-s.eq.xb, s.phi[0], s.slope[0])
	for i := range steps {
		at := s.grid[2*i : 2*i+3]
		s.lay(r.arrow, at)
		s.eq.rates(&at[0], s.phi[0], s.slope[0], s.y, s.k1)
		r.see(s, &at[0])
		s.advance(&at[1], &at[2], h)
		s.next()
	}
}

// offString steps from separation until the tail has passed the button. The
// nock keeps its speed.
func (s *Simulator) offString(r *recorder) instant {
	s.eq.attached = false
	sep := s.grid[len(s.grid)-1]
	sep.a, sep.k = 0, 0
	run := (sep.x - s.eq.xb) / -sep.v
	steps := max(1, int(math.Ceil(run/s.step(r.arrow, r.drive)-1e-9)))
	h := run / float64(steps)
	s.swing.set(r.arrow, s.eq.riser != nil, h/2)
	t0 := r.drive.separation
	var at [3]instant
	for i := range steps {
		for half := range 3 {
			at[half] = sep
			t := (float64(i) + float64(half)/2) * h
			at[half].x += sep.v * t
			at[half].t = t0 + t
		}
		s.lay(r.arrow, at[:])
		s.eq.loose(&at[0], s.phi[0], s.slope[0], s.y, s.k1)
		r.see(s, &at[0])
		s.coast(&at[1], &at[2], h)
		s.next()
	}
	s.eq.loose(&at[2], s.phi[0], s.slope[0], s.y, s.k1)
	r.see(s, &at[2])
	return at[2]
}

// advance completes one Runge–Kutta step whose first slope is in k1.
func (s *Simulator) advance(mid, end *instant, h float64) {
	e, y, z := &s.eq, s.y, s.z
	k1, k2, k3, k4 := s.k1[:len(y)], s.k2[:len(y)], s.k3[:len(y)], s.k4[:len(y)]
	z = z[:len(y)]
	for i, k := range k1 {
		z[i] = y[i] + 0.5*h*k
	}
	e.rates(mid, s.phi[1], s.slope[1], z, k2)
	for i, k := range k2 {
		z[i] = y[i] + 0.5*h*k
	}
	e.rates(mid, s.phi[1], s.slope[1], z, k3)
	for i, k := range k3 {
		z[i] = y[i] + h*k
	}
	e.rates(end, s.phi[2], s.slope[2], z, k4)
	for i := range y {
		y[i] += h / 6 * (k1[i] + 2*(k2[i]+k3[i]) + k4[i])
	}
}
