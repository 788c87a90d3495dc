package arrow

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"tautline/unit"
)

// change is one thing an archer can change, as a central difference.
type change struct {
	name  string
	sign  float64 // of the bare shaft's move to the right at 30 m; 0: reported only
	share float64 // of set-ups that must show it
	apply func(s *situation, side float64)
}

// changes are those of model.md section 5, with its shares of section 9. Brace
// height is only reported here: the scaled drive knows of it no more than the
// shorter stroke. The workbench asks 80 % of the bow's own drives.
var changes = []change{
	{"static spine +50", 1, 0.95, func(s *situation, side float64) { s.arrow.Spine += unit.Spine(25*side) * unit.ThousandthInch }},
	{"draw weight +1 lbf", 1, 0.95, func(s *situation, side float64) { s.bow.weight *= 1 + 0.5*side/44 }},
	{"shaft +20 mm", 1, 0.95, func(s *situation, side float64) { s.arrow.Length += unit.Length(0.01 * side) }},
	{"button preload +1 N", -1, 0.95, func(s *situation, side float64) { s.set.Button.Preload += unit.Force(0.5 * side) }},
	{"button stiffness +0.3 N/mm", -1, 0.95, func(s *situation, side float64) { s.set.Button.Stiffness += unit.Stiffness(150 * side) }},
	{"brace height +20 mm", 0, 0, func(s *situation, side float64) { s.bow.brace += unit.Length(0.01 * side) }},
	{"point +10 gr", 0, 0, func(s *situation, side float64) { s.arrow.Point.Mass += unit.Mass(5*side) * unit.Grain }},
	{"centre shot +1 mm", 0, 0, func(s *situation, side float64) { s.set.CentreShot += unit.Length(0.0005 * side) }},
}

// The lower half of the range of thrust over buckling load in which ordinary
// shafts lie, 0.8 to 1.2, in which signs are demanded (model.md section 9).
const lowRatio, halfRatio = 0.8, 1.0

// randomSituation is an ordinary recurve near the generic one: 33 to 48 lbf.
func randomSituation(r *rand.Rand) situation {
	u := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	s := base()
	s.arrow.Spine = unit.Spine(u(400, 750)) * unit.ThousandthInch
	s.arrow.Point.Mass = unit.Mass(u(100, 140)) * unit.Grain
	s.arrow.Length = unit.Length(u(0.71, 0.76))
	s.bow = bowChange{weight: u(0.75, 1.1), brace: unit.Length(u(-0.02, 0.02))}
	s.set.Button.Preload = unit.Force(u(0.5, 3))
	s.set.Button.Stiffness = unit.Stiffness(u(500, 2000))
	s.set.Release = HalfSine{u(0.12, 0.28), 0.003}
	s.set.Tips.Stiffness = unit.Stiffness(u(700, 1600))
	s.set.CentreShot = unit.Length(u(0, 0.0015))
	return s
}

// signTable measures every change on set-ups chosen by their inputs (the
// ratio) and by clearance, never by a sensitivity. It returns the moves of the
// bare shaft against the fletched one at 30 m, one slice a change, and how many
// set-ups of the right ratio were left out for touching.
func signTable(t *testing.T, c *chain, count int, low, high float64) (moves [][]float64, excluded int) {
	t.Helper()
	r := rand.New(rand.NewPCG(21, 22))
	moves = make([][]float64, len(changes))
	for len(moves[0]) < count {
		s := randomSituation(r)
		ratio, gap := glance(t, c, s)
		switch {
		case ratio < low || ratio >= high:
			continue
		case gap < LeastGap:
			excluded++
			continue
		}
		for i, change := range changes {
			less, more := s, s
			change.apply(&less, -1)
			change.apply(&more, 1)
			moves[i] = append(moves[i], mustRun(t, c, more).d30-mustRun(t, c, less).d30)
		}
	}
	return moves, excluded
}

// glance is the ratio and the tail gap, without a flight.
func glance(t *testing.T, c *chain, s situation) (ratio float64, gap unit.Length) {
	t.Helper()
	o := mustRun(t, c, s)
	return o.res.ThrustRatio, o.res.TailGap
}

// checkSigns: model.md sections 5 and 9.
func checkSigns(t *testing.T) []row {
	const count = 200
	moves, excluded := signTable(t, newChain(t, Config{}, Resolution{}), count, lowRatio, halfRatio)
	rows := []row{info("set-ups left out for a tail gap below 1.5 mm", float64(excluded)/float64(count+excluded)*100, "%", "chosen by ratio and clearance only")}
	for i, change := range changes {
		all := moves[i]
		slices.Sort(all)
		right := 0
		for _, d := range all {
			if d > 0 {
				right++
			}
		}
		share := float64(right) / count * 100
		span := fmt.Sprintf("median %+.1f cm at 30 m, 10–90 %% %+.1f to %+.1f", all[count/2]*100, all[count/10]*100, all[count*9/10]*100)
		switch {
		case change.sign > 0 && change.share > 0:
			rows = append(rows, within(change.name+": bare shaft goes right", change.share*100, 100, share, "%", span))
		case change.sign < 0:
			rows = append(rows, within(change.name+": bare shaft goes left", change.share*100, 100, 100-share, "%", span))
		default:
			rows = append(rows, info(change.name+": bare shaft goes right", share, "%", span))
		}
	}
	return rows
}

// checkControls: what the ingredients are for.
func checkControls(t *testing.T) []row {
	with, without := tunedAndClean(t, Config{}), tunedAndClean(t, Config{WithoutCompression: true})
	soft, rigid := touching(t, false), touching(t, true)
	return []row{
		within("tuned (18 m within 6 cm) and clean set-ups in a scan of spine, preload and release", 1, 1000, float64(with), "", "the model can be tuned"),
		{what: "the same without the thrust's compression", ours: float64(without), tol: 0, why: "model.md section 9: none"},
		info("random set-ups in the lower half whose tail touches or comes within 1.5 mm", soft, "%", ""),
		within("the same with rigid limb tips", 2*soft, 100, rigid, "%", "model.md section 9: tail contact; at least twice as many"),
	}
}

// tunedAndClean counts in a scan those that are near tuned and do not touch.
func tunedAndClean(t *testing.T, cfg Config) int {
	t.Helper()
	c := newChain(t, cfg, Resolution{})
	n := 0
	for spine := 300.; spine <= 1200; spine *= 1.07 {
		for _, preload := range []unit.Force{0.5, 1.5, 3} {
			for _, kappa := range []float64{0.12, 0.2, 0.28} {
				s := base()
				s.arrow.Spine = unit.Spine(spine) * unit.ThousandthInch
				s.set.Button.Preload, s.set.Release = preload, HalfSine{kappa, 0.003}
				o := mustRun(t, c, s)
				if o.d18 > -0.06 && o.d18 < 0.06 && o.res.Window().In {
					n++
				}
			}
		}
	}
	return n
}

// touching is the share in per cent of random set-ups of the lower half whose
// tail comes too close.
func touching(t *testing.T, rigid bool) float64 {
	t.Helper()
	c, r := newChain(t, Config{}, Resolution{}), rand.New(rand.NewPCG(23, 24))
	bad, n := 0, 0
	for n < 200 {
		s := randomSituation(r)
		s.set.Tips.Rigid = rigid
		ratio, gap := glance(t, c, s)
		if ratio < lowRatio || ratio >= halfRatio {
			continue
		}
		n++
		if gap < LeastGap {
			bad++
		}
	}
	return float64(bad) / float64(n) * 100
}

// checkOrdinary: model.md section 5 asks that the spines people ordinarily
// shoot lie inside the window for at least 80 % of plausible buttons and
// releases. Spines and masses by draw weight are recalled (common practice, no
// source).
func checkOrdinary(t *testing.T) []row {
	c, r := newChain(t, Config{}, Resolution{}), rand.New(rand.NewPCG(31, 32))
	u := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	var rows []row
	const count = 100
	all := 0
	ordinary := []struct{ lbf, low, high, density, point float64 }{
		{24, 900, 1200, 4.8, 80}, {30, 750, 900, 5.2, 90}, {36, 600, 700, 5.8, 100}, {40, 530, 600, 6.2, 110}, {44, 450, 540, 6.6, 120},
	}
	for _, o := range ordinary {
		in := 0
		for range count {
			s := base()
			s.arrow.LinearDensity, s.arrow.Point.Mass = GrainsPerInch(o.density), unit.Mass(o.point)*unit.Grain
			s.arrow.Spine = unit.Spine(u(o.low, o.high)) * unit.ThousandthInch
			s.bow.weight = o.lbf / 44
			s.set.Button.Preload = unit.Force(u(0.5, 3) * s.bow.weight)
			s.set.Button.Stiffness = unit.Stiffness(u(500, 2000))
			s.set.Release = HalfSine{u(0.12, 0.28), 0.003}
			s.set.Tips.Stiffness = unit.Stiffness(u(700, 1600) * s.bow.weight)
			s.set.CentreShot = unit.Length(u(0, 0.0015))
			if judged(t, c, s).Window.In {
				in++
			}
		}
		all += in
		rows = append(rows, info(fmt.Sprintf("%g lbf, spine %g to %g: inside", o.lbf, o.low, o.high), float64(in)*100/count, "%", "random button, release, limb tips"))
	}
	return append(rows, within("all draw weights together: inside", 80, 100, float64(all)*100/float64(count*len(ordinary)), "%", "model.md section 5"))
}

func judged(t *testing.T, c *chain, s situation) Judgement {
	t.Helper()
	a, err := c.arrow(s.arrow)
	if err != nil {
		t.Fatal(err)
	}
	d, err := c.source(s.bow, s.arrow.Mass())
	if err != nil {
		t.Fatal(err)
	}
	j, err := c.sim.Judge(a, d, s.set)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// TestJudge: inside for an ordinary shaft, outside beyond the window's end
// though nothing touches yet, and the mirror agrees.
func TestJudge(t *testing.T) {
	c := newChain(t, Config{}, Resolution{})
	s := base()
	j := judged(t, c, s)
	if !j.Window.In || j.Slope < 0.3 {
		t.Errorf("spine 540: %+v, slope %g", j.Window, j.Slope)
	}
	s.set.Hand = LeftHanded
	if left := judged(t, c, s); left.Slope != j.Slope || left.Window.In != j.Window.In {
		t.Errorf("left-handed: slope %g, right-handed %g", left.Slope, j.Slope)
	}
	s.arrow.Spine = 630 * unit.ThousandthInch
	soft := judged(t, c, s)
	if soft.Window.In || soft.Window.Reason == "" {
		t.Errorf("spine 630: inside, slope %g, ratio %g", soft.Slope, soft.Result.ThrustRatio)
	}
	s.arrow.Spine = 720 * unit.ThousandthInch
	if hit := judged(t, c, s); hit.Window.In || !hit.Result.TailStrike {
		t.Errorf("spine 720: %+v, tail gap %v", hit.Window, hit.Result.TailGap)
	}
}
