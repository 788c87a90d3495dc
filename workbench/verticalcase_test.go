package workbench

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"tautline/arrow"
	"tautline/bow"
	"tautline/flight"
	"tautline/shot"
	"tautline/unit"
)

// tallCase is one set-up of vertical.md section 4, with the sideways set-up of
// the same bow and arrow.
type tallCase struct {
	design  bow.Design
	set     bow.PairSetup
	brace   unit.Length
	cfg     shot.PairConfig
	arrow   arrow.Design
	bending int
	side    arrow.Setup
	wire    arrow.Wire
	check   arrow.UprightCheck
	links   int
	step    unit.Duration // of the arrow's vertical run
}

// randomTall varies everything over the spans of vertical.md section 4, and the
// sideways set-up over those that target.go calls plausible.
func randomTall(r *rand.Rand) tallCase {
	between := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	log := func(low, high float64) float64 { return low * math.Exp(r.Float64()*math.Log(high/low)) }
	d := bow.Generic()
	d.Limb.StiffnessScale *= between(0.85, 1.1)
	d.Riser.Mass = unit.Mass(between(2.2, 3.2))
	d.Riser.HandStiffness = unit.Stiffness(between(2000, 8000))
	c := tallCase{design: d, brace: unit.Length(between(0.208, 0.242)), arrow: arrow.Generic(), side: arrow.GenericSetup()}
	c.set = bow.PairSetup{
		LowerStiffness: between(0.98, 1.06), Tiller: unit.Length(between(0, 0.006)), Nock: unit.Length(between(0, 0.008)),
		Hook: unit.Length(between(0.002, 0.012)), RestY: 0.04, Pressure: unit.Length(between(-0.01, 0.01)),
	}
	c.cfg = shot.PairConfig{Config: shot.Config{ClipForce: 5}}
	c.cfg.PitchInertia, c.cfg.BalanceX = between(0.15, 0.4), unit.Length(between(-0.25, -0.05))
	c.cfg.LiftStiffness = unit.Stiffness(between(1000, 6000))
	c.cfg.Transfer, c.cfg.Lift = unit.Duration(between(0.5e-3, 2e-3)), between(-0.02, 0.02)
	c.arrow.Spine = unit.Spine(between(440, 620)) * unit.ThousandthInch
	c.arrow.Point.Mass = unit.Mass(between(100, 130)) * unit.Grain
	c.side.Button.Preload = unit.Force(between(0.75, 3))
	c.side.Button.Stiffness = unit.Stiffness(log(500, 2000))
	c.side.Release = arrow.HalfSine{Kappa: between(0.13, 0.30), Over: 0.003}
	c.side.Tips.Stiffness = unit.Stiffness(log(740, 1600))
	c.side.CentreShot = unit.Length(between(0, 0.002))
	c.wire = arrow.Wire{Stiffness: unit.Stiffness(log(800, 16000)), Reach: unit.Length(between(0.002, 0.004)), Until: unit.Duration(between(0.0085, 0.0115))}
	c.wire.Damping = 0.2 * math.Sqrt(float64(c.wire.Stiffness)*0.005)
	return c
}

// gates are the three rests of vertical.md section 4: A acts to the end, B
// loses the shaft at a random time, C asks this shot's sideways gap.
var gates = [3]arrow.Gate{arrow.GateAlways, arrow.GateUntil, arrow.GateAside}

// run strings, draws and looses the case's bow.
func (c *tallCase) run() (*pairRun, *arrow.Arrow, error) {
	c.cfg.ArrowMass = c.arrow.Mass()
	c.cfg.Links = c.links
	m, err := shot.NewModel(c.design, c.cfg.Config)
	if err != nil {
		return nil, nil, err
	}
	a, err := arrow.New(c.arrow, arrow.Resolution{Bending: c.bending})
	if err != nil {
		return nil, nil, err
	}
	r, err := newPairRun(m, c.set, c.brace, c.cfg)
	return r, a, err
}

// shoot is the case with each of the wanted gates.
func (c tallCase) shoot(want ...arrow.Gate) (out []heights, err error) {
	r, a, err := c.run()
	if err != nil {
		return nil, err
	}
	return c.fly(r, a, want...)
}

func (c tallCase) fly(r *pairRun, a *arrow.Arrow, want ...arrow.Gate) (out []heights, err error) {
	p, err := newPlanes()
	if err != nil {
		return nil, err
	}
	if c.step > 0 {
		if p.rise, err = arrow.NewRiseSimulator(c.step); err != nil {
			return nil, err
		}
	}
	f, err := newFlyers(c.arrow, flight.StandardAir())
	if err != nil {
		return nil, err
	}
	for _, g := range want {
		c.wire.Gate = g
		b, err := p.loose(r, a, c.side, c.wire, c.check)
		if err != nil {
			return nil, err
		}
		h, err := b.land(a, f)
		if err != nil {
			return nil, err
		}
		out = append(out, h)
	}
	return out, nil
}

// tallMove is one change of vertical.md section 4, by side of its half step.
type tallMove struct {
	name  string
	apply func(c *tallCase, side float64)
}

func mmOf(x float64) unit.Length { return unit.Length(x) * unit.Millimetre }

// tallMoves are the rows of section 4, central differences over half steps.
var tallMoves = []tallMove{
	{"nocking point +2 mm", func(c *tallCase, s float64) { c.set.Nock += mmOf(s) }},
	{"rest +2 mm, nock not moved", func(c *tallCase, s float64) { c.set.RestY += mmOf(s); c.set.Nock -= mmOf(s) }},
	{"rest and nock +2 mm", func(c *tallCase, s float64) { c.set.RestY += mmOf(s) }},
	{"tiller +2 mm, same brace and square", func(c *tallCase, s float64) { c.set.Tiller += mmOf(s) }},
	{"hook 2 mm lower", func(c *tallCase, s float64) { c.set.Hook += mmOf(s) }},
	{"hand presses 2 mm higher", func(c *tallCase, s float64) { c.set.Pressure += mmOf(s) }},
	{"brace +20 mm", func(c *tallCase, s float64) { c.brace += mmOf(10 * s) }},
	{"lower limb +1 %", func(c *tallCase, s float64) { c.set.LowerStiffness *= 1 + 0.005*s }},
	{"spine +50", func(c *tallCase, s float64) { c.arrow.Spine += unit.Spine(25*s) * unit.ThousandthInch }},
	{"point +10 gr", func(c *tallCase, s float64) { c.arrow.Point.Mass += unit.Mass(5*s) * unit.Grain }},
	{"rest stiffness x 1.5", func(c *tallCase, s float64) { c.wire.Stiffness *= unit.Stiffness(math.Pow(1.5, s/2)) }},
	{"release +1 % of draw force up", func(c *tallCase, s float64) { c.cfg.Lift += 0.005 * s }},
	{"hook transfer +0.5 ms", func(c *tallCase, s float64) { c.cfg.Transfer += unit.Duration(0.25e-3 * s) }},
}

// tallStep is one set-up's answer to one move: cm, whole step; gap the smaller
// tail gap of both ends, mm.
type tallStep struct {
	d18, d30, fletched, gap float64
	base                    float64
	reach                   float64
	sided                   bool // one-sided differences disagree
	ok                      bool
}

// between is the difference over a move, for each gate.
func (c tallCase) between(m tallMove, gate ...arrow.Gate) []tallStep {
	out := make([]tallStep, len(gate))
	low, middle, high := c, c, c
	m.apply(&low, -1)
	m.apply(&high, 1)
	a, err1 := low.shoot(gate...)
	b, err2 := middle.shoot(gate...)
	d, err3 := high.shoot(gate...)
	if err1 != nil || err2 != nil || err3 != nil {
		return out
	}
	for i := range gate {
		out[i] = tallStep{
			d18: 100 * (d[i].bare18 - a[i].bare18), d30: 100 * (d[i].bare30 - a[i].bare30), fletched: 100 * (d[i].fletched30 - a[i].fletched30),
			gap:  1e3 * math.Min(float64(a[i].both.rise.TailGap), float64(d[i].both.rise.TailGap)),
			base: 100 * b[i].bare30, reach: c.wire.Reach.Millimetres(), ok: true,
			sided: (b[i].bare30-a[i].bare30)*(d[i].bare30-b[i].bare30) <= 0,
		}
	}
	return out
}

// tallCount is how many set-ups a short test takes; TAUTLINE_VERTICAL sets
// another count.
func tallCount(short int) int {
	if n, err := strconv.Atoi(os.Getenv("TAUTLINE_VERTICAL")); err == nil {
		return n
	}
	return short
}

// tallCases are the first n set-ups of a seed.
func tallCases(n int, seed uint64) []tallCase {
	r := rand.New(rand.NewPCG(seed, 4))
	out := make([]tallCase, n)
	for i := range out {
		out[i] = randomTall(r)
	}
	return out
}

// overCases runs work on all cores.
func overCases(t testing.TB, n int, work func(i int)) {
	t.Helper()
	if err := each(context.Background(), n, work); err != nil {
		t.Fatal(err)
	}
}

// cleanCases are set-ups whose tail passes the rest with more than a
// millimetre, nothing else asked.
func cleanCases(t testing.TB, n int, seed uint64) []tallCase {
	t.Helper()
	all := tallCases(4*n, seed)
	keep := make([]bool, len(all))
	overCases(t, len(all), func(i int) {
		h, err := all[i].shoot(arrow.GateAside)
		keep[i] = err == nil && h[0].both.rise.TailGap > LeastTailGap
	})
	var out []tallCase
	for i, c := range all {
		if keep[i] && len(out) < n {
			out = append(out, c)
		}
	}
	if len(out) < n {
		t.Fatalf("only %d of %d set-ups pass the rest clean", len(out), len(all))
	}
	return out
}

// quantiles are the 10, 50 and 90 % points.
func quantiles(v []float64) (low, mid, high float64) {
	w := slices.Clone(v)
	slices.Sort(w)
	n := len(w)
	if n == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	at := func(q float64) float64 { return w[min(n-1, int(q*float64(n)))] }
	return at(0.1), at(0.5), at(0.9)
}

// share is the percentage for which yes holds, NaN of none.
func share[T any](v []T, yes func(T) bool) float64 {
	n := 0
	for _, x := range v {
		if yes(x) {
			n++
		}
	}
	return 100 * float64(n) / float64(len(v))
}
