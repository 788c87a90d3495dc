package arrow

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"tautline/unit"
)

// checkLaws: what holds for any bow.
func checkLaws(t *testing.T) []row {
	return []row{
		below("energy of free vibration over 20 ms, 50 µs steps, every mode left over from a shot", freeVibration(t), 1e-6, "", "model.md section 9"),
		below("pressed on the button off the string, 50 µs against plain Runge–Kutta at 1 µs", coastError(t), 1e-3, "", "a tenth of a per cent of the largest modal speed"),
		below("energy balance on the string, random states", energyBalance(t), 1e-10, "", "rounding of sums over 14 modes"),
		below("angular momentum of riser, tips, string and arrow, no hand: rate over its largest part, random states", momentumRate(t), 1e-12, "", "model.md section 6"),
		below("the whole bow turned: accelerations turn with it, relative", turned(t), 1e-11, "", "rounding; the axes do not matter"),
		below("riser of 1e9 kg m² against a clamped one, yaw rate", endlessRiser(t), 1e-6, "rad/s", "forces of 1 to 1e3 N on 1e9 kg m²"),
	}
}

// freeVibration is the relative change of energy over 20 ms at the production
// step, undamped, starting from what a shot leaves in the shaft.
func freeVibration(t *testing.T) float64 {
	d := Generic()
	d.Damping = 0
	a := mustArrow(t, d, Resolution{})
	s, err := NewSimulator(Config{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Shoot(a, gridDrive(t), gridSetup()); err != nil {
		t.Fatal(err)
	}
	energy := func() float64 {
		e := 0.0
		for j := range a.n {
			e += s.y[a.n+2+j]*s.y[a.n+2+j]/2 + s.eq.stiff[j]*s.y[j]*s.y[j]/2
		}
		return e
	}
	before := energy()
	s.eq.yb = -1 // button out of reach
	s.swing.set(a, false, 25e-6)
	var at instant
	for range 400 {
		s.eq.loose(&at, s.phi[0], s.slope[0], s.y, s.k1)
		s.coast(&at, &at, 50e-6)
	}
	return math.Abs(energy()/before - 1)
}

// coastError lets the arrow press on the button for a millisecond after
// separation, by the steps used and by plain Runge–Kutta at 1 µs, and returns
// the difference of the states over the largest change.
func coastError(t *testing.T) float64 {
	a := mustArrow(t, Generic(), Resolution{})
	s := mustSim(t)
	if _, err := s.Shoot(a, gridDrive(t), gridSetup()); err != nil {
		t.Fatal(err)
	}
	n, m, e := a.n, a.n+2, &s.eq
	at := instant{v: -60}
	for i := range 3 {
		a.fill(0.15, s.phi[i], s.slope[i])
	}
	// Pressed in by a millimetre, coming at 0.4 m/s.
	clear(s.y)
	s.rigid(a, 0, -0.001, 0)
	s.rigid(a, m, -0.4, 0)
	e.yb = 0
	plain := append([]float64(nil), s.y...)
	s.swing.set(a, false, 25e-6)
	for range 20 {
		e.loose(&at, s.phi[0], s.slope[0], s.y, s.k1)
		s.coast(&at, &at, 50e-6)
	}
	slope := func(y []float64) []float64 {
		dy := make([]float64, len(y))
		copy(dy, y[m:])
		e.loose(&at, s.phi[0], s.slope[0], y, dy[m:])
		for j := range n {
			dy[m+j] -= e.stiff[j]*y[j] + e.damp[j]*y[m+j]
		}
		return dy
	}
	for range 1000 {
		rungeKutta(slope, plain, 1e-6)
	}
	off, size := 0.0, 0.0
	for j := range n {
		off = math.Max(off, math.Abs(plain[m+j]-s.y[m+j]))
		size = math.Max(size, math.Abs(plain[m+j]))
	}
	return off / size
}

func rungeKutta(f func([]float64) []float64, y []float64, h float64) {
	shifted := func(k []float64, by float64) []float64 {
		z := append([]float64(nil), y...)
		for i := range z {
			z[i] += by * k[i]
		}
		return z
	}
	k1 := f(y)
	k2 := f(shifted(k1, h/2))
	k3 := f(shifted(k2, h/2))
	k4 := f(shifted(k3, h))
	for i := range y {
		y[i] += h / 6 * (k1[i] + 2*k2[i] + 2*k3[i] + k4[i])
	}
}

// scene is a random instant of a shot with a random state, the drive obeying
// Newton's law along the shot: (m + m_s) a = k (X − x_t).
type scene struct {
	a          *Arrow
	e          equations
	at         instant
	tipAcc     float64
	phi, slope []float64
	y          []float64
}

func randomScene(a *Arrow, r *rand.Rand, riser *Riser) *scene {
	n := a.n
	sc := &scene{a: a, phi: make([]float64, n), slope: make([]float64, n), y: make([]float64, 2*(n+2))}
	uniform := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	e := &sc.e
	*e = equations{
		n: n, stiff: make([]float64, n), damp: make([]float64, n), g: a.g, nock: a.nock,
		carried: uniform(0.002, 0.005), kt: uniform(500, 3000), mt: uniform(0.01, 0.03), ct: 0,
		yb: uniform(0, 0.003), xb: uniform(-0.01, 0.05), riser: riser, attached: true,
		pl: newPlunger(Button{Preload: unit.Force(uniform(0, 3)), Stiffness: 1000, Travel: 0.004, Contact: 40000}),
	}
	sum := 0.0
	for j, w := range a.omega {
		e.stiff[j] = w * w
		sum += a.nock[j] * a.nock[j]
	}
	e.share = e.carried / (1 + e.carried*sum)
	at := &sc.at
	at.x, at.v, at.a = uniform(0.25, 0.69), uniform(-60, 0), uniform(1000, 8000)
	at.tip, at.tipV, sc.tipAcc = uniform(0.05, 0.2), uniform(-15, 0), uniform(-3000, 3000)
	at.k = (a.mass + e.carried) * at.a / (at.x - at.tip)
	at.limb = at.k*(at.x-at.tip) - 2*e.mt*sc.tipAcc
	a.fill(at.x-e.xb, sc.phi, sc.slope)
	for j := range n {
		// Half a millimetre in the lowest modes, as soft forces leave it in
		// the higher ones.
		size, w := 5e-4, a.omega[2]
		if j > 2 {
			size *= math.Pow(a.omega[2]/a.omega[j], 2)
			w = a.omega[j]
		}
		sc.y[j], sc.y[n+2+j] = size*r.NormFloat64(), w*size*r.NormFloat64()
	}
	sc.y[n], sc.y[n+2+n] = 0.003*r.NormFloat64(), r.NormFloat64()
	if riser != nil {
		sc.y[n+1], sc.y[n+2+n+1] = 0.003*r.NormFloat64(), 0.3*r.NormFloat64()
	}
	return sc
}

func (sc *scene) rates() []float64 {
	dy := make([]float64, len(sc.y))
	sc.e.rates(&sc.at, sc.phi, sc.slope, sc.y, dy)
	return dy
}

// energyBalance: the rate of the energy, with thrust and tension held, is the
// power of the button on the shaft.
func energyBalance(t *testing.T) float64 {
	a := mustArrow(t, Generic(), Resolution{})
	r := rand.New(rand.NewPCG(1, 2))
	worst := 0.0
	for range 200 {
		sc := randomScene(a, r, nil)
		n, e, y := a.n, &sc.e, sc.y
		m := n + 2
		dy := sc.rates()
		q, v, acc := y[:n], y[m:m+n], dy[m:m+n]
		yn, vn, an := inner(a.nock, q), inner(a.nock, v), inner(a.nock, acc)
		rate, size := 0.0, 0.0
		add := func(x float64) { rate += x; size += math.Abs(x) }
		for j := range n {
			add(v[j]*acc[j] + e.stiff[j]*q[j]*v[j])
			for l := range n {
				add(-sc.at.a * v[j] * a.g[j*n+l] * q[l])
			}
		}
		add(e.carried * vn * an)
		add(sc.at.k * (y[n] - yn) * (y[m+n] - vn))
		add(2*e.kt*y[n]*y[m+n] + 2*e.mt*y[m+n]*dy[m+n])
		add(-e.push * inner(sc.phi, v))
		worst = math.Max(worst, math.Abs(rate)/size)
	}
	return worst
}

// momentumRate: the angular momentum about the grip of everything that moves
// sideways, no hand on the riser, does not change (model.md section 6: 5e-15;
// 21 % wrong without the limbs' force turning with the riser).
func momentumRate(t *testing.T) float64 {
	a := mustArrow(t, Generic(), Resolution{})
	r := rand.New(rand.NewPCG(3, 4))
	worst := 0.0
	for range 200 {
		sc := randomScene(a, r, &Riser{Inertia: 0.1 + 0.3*r.Float64()})
		n, e, at, y := a.n, &sc.e, &sc.at, sc.y
		m := n + 2
		dy := sc.rates()
		root, turn := math.Sqrt(a.mass), math.Sqrt(a.inertia)
		rate, size := 0.0, 0.0
		add := func(x float64) { rate += x; size += math.Abs(x) }
		// Arrow: ∫ρ (x y'' − x'' y), x = X − s, X'' = −a.
		add((at.x - a.cg) * root * dy[m])
		add(-turn * dy[m+1])
		add(at.a * root * y[0])
		// String at the nock.
		add(e.carried * at.x * inner(a.nock, dy[m:m+n]))
		add(e.carried * at.a * inner(a.nock, y[:n]))
		// Tips and riser.
		add(2 * e.mt * at.tip * dy[m+n])
		add(-2 * e.mt * sc.tipAcc * y[n])
		add(e.riser.Inertia * dy[m+n+1])
		worst = math.Max(worst, math.Abs(rate)/size)
	}
	return worst
}

// turned: the whole bow, riser, tips, string and arrow, turned by a small angle
// has the same accelerations plus those of the turned path.
func turned(t *testing.T) float64 {
	a := mustArrow(t, Generic(), Resolution{})
	r := rand.New(rand.NewPCG(5, 6))
	worst := 0.0
	for range 200 {
		sc := randomScene(a, r, &Riser{Inertia: 0.1 + 0.3*r.Float64()})
		sc.e.yb = -1 // the button in reach is turned too, but its switch is not linear
		n, at, m := a.n, &sc.at, a.n+2
		before := sc.rates()
		const angle = 0.01
		root, turn := math.Sqrt(a.mass), math.Sqrt(a.inertia)
		sc.y[0] += root * (at.x - a.cg) * angle
		sc.y[1] -= turn * angle
		sc.y[m] += root * at.v * angle
		sc.y[n] += at.tip * angle
		sc.y[m+n] += at.tipV * angle
		sc.y[n+1] += angle
		after := sc.rates()
		want := make([]float64, len(after))
		want[m], want[m+n] = -root*at.a*angle, sc.tipAcc*angle
		size := 0.0
		for j := m; j < len(after); j++ {
			size = math.Max(size, math.Abs(before[j]))
		}
		for j := m; j < len(after); j++ {
			worst = math.Max(worst, math.Abs(after[j]-before[j]-want[j])/size)
		}
	}
	return worst
}

// withTips adds tips that come forward by 120 mm to the grid drive.
func withTips(t testing.TB) *Drive {
	t.Helper()
	table := gridTable(t)
	first, last := table.Nock[0], table.Nock[len(table.Nock)-1]
	for _, x := range table.Nock {
		table.TipX = append(table.TipX, 0.08+0.12*(x-last)/(first-last))
	}
	d, err := NewDrive(table)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func endlessRiser(t *testing.T) float64 {
	a, d, set := mustArrow(t, Generic(), Resolution{}), withTips(t), gridSetup()
	clamped := mustShoot(t, Config{}, a, d, set)
	set.Riser = &Riser{Inertia: 1e9}
	free := mustShoot(t, Config{}, a, d, set)
	return math.Abs(free.Clear.YawRate - clamped.Clear.YawRate)
}

// TestRiser: a real riser turns a little, torque turns it the right way.
func TestRiser(t *testing.T) {
	a, d, set := mustArrow(t, Generic(), Resolution{}), withTips(t), gridSetup()
	set.Riser = &Riser{Inertia: 0.25}
	still := mustShoot(t, Config{}, a, d, set)
	if turn := math.Abs(float64(still.RiserYawExit)); !(turn > 1e-6 && turn < 0.01) {
		t.Errorf("riser turned %g rad in a shot, want a fraction of a degree", turn)
	}
	// A torque that turns the archer's side outward points a right-handed bow
	// to the right: at rest on the held string, and on release.
	set.Riser.ReleaseTorque = 0.2
	pushed := mustShoot(t, Config{}, a, d, set)
	if !(pushed.RiserYawExit > still.RiserYawExit) {
		t.Errorf("outward torque on release: bow points %g rad, without %g", pushed.RiserYawExit, still.RiserYawExit)
	}
	set.Riser.ReleaseTorque, set.Riser.HeldTorque = 0, 0.2
	held := mustShoot(t, Config{}, a, d, set)
	if !(held.RiserYawStart > 0) {
		t.Errorf("outward torque held at full draw: bow points %g rad, want right", held.RiserYawStart)
	}
	// Torque × time / inertia, roughly: the string hardly resists.
	want := 0.2 / 0.25 * math.Pow(float64(d.Separation()), 2) / 2
	if got := float64(pushed.RiserYawExit - still.RiserYawExit); got < 0.2*want || got > 1.5*want {
		t.Errorf("0.2 N m turned the riser by %g rad, expected about %g", got, want)
	}
	// A bow arm that turns carries everything: led rigidly the centre of mass
	// would leave with Ω·(s_cg + v·t) to the side the bow turns to.
	set.Riser = &Riser{Inertia: 1e6, ArmRate: 0.05}
	swung := mustShoot(t, Config{}, a, d, set)
	set.Riser.ArmRate = 0
	steady := mustShoot(t, Config{}, a, d, set)
	led := 0.05 * (a.cg + float64(steady.Speed)*float64(d.Separation()))
	if got := float64(swung.Clear.RightSpeed - steady.Clear.RightSpeed); got < 0.3*led || got > 1.5*led {
		t.Errorf("a bow arm turning at 0.05 rad/s moves the arrow aside with %g m/s, led rigidly %g", got, led)
	}
	set.Riser = &Riser{Inertia: 0.25}
	if _, err := mustSim(t).Shoot(a, gridDrive(t), set); err == nil {
		t.Error("a turning riser without the tips' places was accepted")
	}
}

// TestHeldStance: fingers and held torque in balance stay in balance while
// nothing moves: the first accelerations of tips and riser vanish.
func TestHeldStance(t *testing.T) {
	a := mustArrow(t, Generic(), Resolution{})
	r := rand.New(rand.NewPCG(7, 8))
	for range 50 {
		sc := randomScene(a, r, &Riser{Inertia: 0.2, HeldTorque: r.NormFloat64() * 0.2})
		sc.e.release, sc.at.v, sc.at.tipV = nil, 0, 0
		sc.at.limb = sc.at.k * (sc.at.x - sc.at.tip)
		y0 := 0.001 * r.NormFloat64()
		st := sc.e.riser.hold(&sc.at, sc.e.kt, y0)
		clear(sc.y)
		n, m := a.n, a.n+2
		sc.e.turn0, sc.e.yb = st.turn, -1
		sc.y[n], sc.y[n+1] = st.tip+sc.at.tip*st.turn, st.turn
		// Nock at y0, held: the shaft points anywhere.
		sc.y[0] = math.Sqrt(a.mass) * y0
		dy := sc.rates()
		if tip, riser := dy[m+n]*2*sc.e.mt, dy[m+n+1]*0.2; math.Abs(tip) > 1e-9 || math.Abs(riser) > 1e-9 {
			t.Fatalf("unbalanced: %g N on the tips, %g N m on the riser", tip, riser)
		}
	}
}

func mustSim(t testing.TB) *Simulator {
	t.Helper()
	s, err := NewSimulator(Config{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestMirror: the left-handed shot is the exact mirror, for any set-up.
func TestMirror(t *testing.T) {
	d, s := withTips(t), mustSim(t)
	base := mustArrow(t, Generic(), Resolution{Elements: 16, Bending: 6})
	rapid.Check(t, func(rt *rapid.T) {
		set := randomSetup(rt)
		a, err := base.WithSpine(unit.Spine(rapid.Float64Range(350, 900).Draw(rt, "spine")) * unit.ThousandthInch)
		if err != nil {
			rt.Fatal(err)
		}
		right, err := s.Shoot(a, d, set)
		if err != nil {
			rt.Fatal(err)
		}
		set.Hand = LeftHanded
		left, err := s.Shoot(a, d, set)
		if err != nil {
			rt.Fatal(err)
		}
		for _, pair := range [][2]float64{
			{float64(right.Clear.Right), float64(left.Clear.Right)}, {float64(right.Clear.RightSpeed), float64(left.Clear.RightSpeed)},
			{float64(right.Clear.YawRight), float64(left.Clear.YawRight)}, {right.Clear.YawRate, left.Clear.YawRate},
			{float64(right.RiserYawExit), float64(left.RiserYawExit)},
		} {
			if pair[0] != -pair[1] {
				rt.Fatalf("right-handed %g, left-handed %g", pair[0], pair[1])
			}
		}
		if right.TailGap != left.TailGap || right.NockMax != left.NockMax || right.LastContact != left.LastContact {
			rt.Fatal("outward values differ between the hands")
		}
	})
}

func randomSetup(rt *rapid.T) Setup {
	set := GenericSetup()
	set.Button.Preload = unit.Force(rapid.Float64Range(0, 5).Draw(rt, "preload"))
	set.Button.Stiffness = unit.Stiffness(rapid.Float64Range(300, 3000).Draw(rt, "stiffness"))
	set.CentreShot = unit.Length(rapid.Float64Range(-0.002, 0.004).Draw(rt, "centre shot"))
	set.NockAside = unit.Length(rapid.Float64Range(-0.002, 0.002).Draw(rt, "aside"))
	set.Release = HalfSine{rapid.Float64Range(-0.1, 0.4).Draw(rt, "kappa"), 0.003}
	if rapid.Bool().Draw(rt, "riser") {
		set.Riser = &Riser{
			Inertia:    rapid.Float64Range(0.1, 0.4).Draw(rt, "inertia"),
			HeldTorque: rapid.Float64Range(-0.2, 0.2).Draw(rt, "torque"),
			ArmRate:    rapid.Float64Range(-0.1, 0.1).Draw(rt, "arm"),
		}
	}
	return set
}

// TestNoAsymmetryNoMotion: straight fingers, the arrow in the string plane, a
// button just touching: nothing moves sideways.
func TestNoAsymmetryNoMotion(t *testing.T) {
	a := mustArrow(t, Generic(), Resolution{})
	set := gridSetup()
	set.CentreShot, set.Release = 0, nil
	r := mustShoot(t, Config{}, a, gridDrive(t), set)
	if r.Clear.RightSpeed != 0 || r.Clear.YawRate != 0 || r.Clear.YawRight != 0 || r.NockMax != 0 || r.ButtonPeak != 0 {
		t.Errorf("moved sideways: %+v, nock %v, button %v", r.Clear, r.NockMax, r.ButtonPeak)
	}
}

// TestRepeatable: a Simulator's memory does not leak into the next shot.
func TestRepeatable(t *testing.T) {
	a, b := mustArrow(t, Generic(), Resolution{}), mustArrow(t, Generic().Bare(), Resolution{Elements: 20, Bending: 7})
	d, s := gridDrive(t), mustSim(t)
	first, err := s.Shoot(a, d, gridSetup())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Shoot(b, withTips(t), GenericSetup()); err != nil {
		t.Fatal(err)
	}
	again, err := s.Shoot(a, d, gridSetup())
	if err != nil {
		t.Fatal(err)
	}
	fresh := mustShoot(t, Config{}, a, d, gridSetup())
	if first.Clear != again.Clear || fresh.Clear != first.Clear || first.TailGap != fresh.TailGap {
		t.Errorf("shots differ: %+v, %+v, %+v", first.Clear, again.Clear, fresh.Clear)
	}
}

// TestNoAllocationPerStep: halving the step does not allocate more.
func TestNoAllocationPerStep(t *testing.T) {
	a, d, set := mustArrow(t, Generic(), Resolution{}), gridDrive(t), gridSetup()
	count := func(step unit.Duration) float64 {
		s, err := NewSimulator(Config{Step: step})
		if err != nil {
			t.Fatal(err)
		}
		return testing.AllocsPerRun(5, func() {
			if _, err := s.Shoot(a, d, set); err != nil {
				t.Fatal(err)
			}
		})
	}
	if coarse, fine := count(50e-6), count(5e-6); fine > coarse {
		t.Errorf("%g allocations at 50 µs, %g at 5 µs", coarse, fine)
	}
}
