package bow

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"tautline/unit"
)

func checkTwist(t *testing.T) (rows []row) {
	for _, ref := range table(t, "twist_shortening.csv") {
		l0, r, n := unit.Length(ref["L0_m"]), unit.Length(ref["r_mm"]/1e3), ref["turns"]
		name := fmt.Sprintf("L0 %.2f m, r %.1f mm, %g turns", ref["L0_m"], ref["r_mm"], n)
		// half a unit of the last printed digit
		add := func(key string, ours, half float64, unit string) {
			rows = append(rows, row{what: name + ", " + key, expected: ref[key], ours: ours, tol: half, unit: unit, why: "printed digits"})
		}
		rigid, err1 := ShorteningRigid(l0, r, n)
		vol, err2 := ShorteningVolume(l0, r, n)
		lay, err3 := HelixAngle(l0, r, n)
		torque, err4 := TorquePerForce(l0, r, n)
		if err := errors.Join(err1, err2, err3, err4); err != nil {
			t.Fatal(err)
		}
		add("short_const_r_mm", 1e3*float64(rigid), 5.1e-5, "mm")
		add("short_vol_mm", 1e3*float64(vol), 5.1e-5, "mm")
		add("short_quadratic_mm", 1e3*float64(ShorteningSmall(l0, r, n)), 5.1e-5, "mm")
		add("torque_per_load_mm", 1e3*float64(torque), 5.1e-6, "mm")
		add("helix_angle_deg", float64(lay)*180/math.Pi, 5.1e-4, "deg")
	}
	return rows
}

// B11 (computed): packing limit α_max 57.518°, greatest shortening 46.297 %.
func TestPackingLimit(t *testing.T) {
	const l0, r = 1.0, 0.001
	limit := math.Sin(57.518*math.Pi/180) * l0 / (2 * math.Pi * r)
	if _, err := ShorteningRigid(l0, r, limit*1.0001); err == nil {
		t.Error("a twist past the packing limit is accepted")
	}
	s, err := ShorteningRigid(l0, r, limit*0.9999)
	// tolerance: the limit angle is printed to 0.001°
	if err != nil || math.Abs(float64(s)-0.46297) > 2e-4 {
		t.Errorf("greatest shortening %.5f, expected 0.46297: %v", float64(s), err)
	}
}

func testBundle() Bundle { return Bundle{Strand: 1.705, Radius: 1.12e-3, EA: 198000} }

// The bundle's law: no twist gives the untwisted string, small twist shortens
// by 2π²N²r²/L with r² = R²/2 (model.md section 1, "Twist").
func TestBundleLimits(t *testing.T) {
	b := testBundle()
	c, err := b.At(0, 400)
	if err != nil || math.Abs(float64(c.Rest-b.Strand)) > 1e-12 || math.Abs(float64(c.EA/b.EA)-1) > 1e-12 || c.Slack != 0 {
		t.Errorf("no twist: %+v, %v", c, err)
	}
	for _, n := range []float64{1, 2, 4, 8} {
		c, err := b.At(n, 2000)
		if err != nil {
			t.Fatal(err)
		}
		want := ShorteningSmall(b.Strand, b.Radius/math.Sqrt2, n)
		// next order of the small-twist series: (θR/L)²
		next := math.Pow(2*math.Pi*n*float64(b.Radius/b.Strand), 2) + 2000/float64(b.EA)
		if got := b.Strand - c.Rest; math.Abs(float64(got/want)-1) > 2*next {
			t.Errorf("%g turns: shortened by %.6g mm, small-twist law %.6g mm", n, got*1e3, want*1e3)
		}
	}
}

// The string's tension comes out of the strands one by one: a sum over 4000
// strands, each pulling along its own helix, must agree with the closed form.
func TestBundleAgainstItsStrands(t *testing.T) {
	w := bundleLaw{l0: 1.705, ea: 198000}
	for _, turns := range []float64{5, 20, 40, 60} {
		w.tr = 2 * math.Pi * turns * 1.12e-3
		for _, pull := range []float64{50, 250, 500, 1500} {
			p := w.length(pull)
			const n = 4000
			var sum float64
			slack := 0
			for i := range n {
				x := (float64(i) + 0.5) / n
				l := math.Sqrt(p*p + w.tr*w.tr*x)
				if e := l/w.l0 - 1; e > 0 {
					sum += w.ea / n * e * p / l
				} else {
					slack++
				}
			}
			// midpoint rule with a kink: (1/n)² of the curvature, 1e-6
			if math.Abs(sum/pull-1) > 2e-6 || math.Abs(float64(slack)/n-w.slack(p)) > 1.0/n {
				t.Errorf("%g turns, %g N: strands give %.6f N, slack %.4f against %.4f", turns, pull, sum, float64(slack)/n, w.slack(p))
			}
			const h = 1e-7
			up, _ := w.tension(p + h)
			down, _ := w.tension(p - h)
			if _, k := w.tension(p); math.Abs((up-down)/(2*h)/k-1) > 1e-6 {
				t.Errorf("%g turns, %g N: slope %.6g, differences %.6g", turns, pull, k, (up-down)/(2*h))
			}
		}
	}
}

// T26: a string that nothing pulls has no length to give, and is refused; a
// tension that strains it by more than rounding does gives one.
func TestBundleUnderNoTension(t *testing.T) {
	for _, b := range []Bundle{{Strand: 2, Radius: 0.001, EA: 200_000}, {Strand: 2.696, Radius: 0.001, EA: 200_000}} {
		for _, turns := range []float64{0, 0.077, 0.07715712571760956, 20} {
			for _, tension := range []unit.Force{0, 5e-324, 1e-300, 1e-30, 1e-9} {
				if c, err := b.At(turns, tension); !errors.As(err, new(*InputError)) {
					t.Errorf("%g turns under %g N: rest %v of strands of %v, %v", turns, float64(tension), c.Rest, b.Strand, err)
				}
			}
			const little = 1e-6
			c, err := b.At(turns, little)
			taut, err2 := b.At(turns, 1)
			if err != nil || err2 != nil || !(c.Rest > 0 && c.Rest < b.Strand*(1+1e-15)) || math.Abs(float64(c.Rest-taut.Rest)) > 5e-4 { // the inner strands take none of it
				t.Errorf("%g turns under %g N: rest %.17g of strands of %v, %.17g under 1 N; %v, %v", turns, little, float64(c.Rest), b.Strand, float64(taut.Rest), err, err2)
			}
		}
	}
}

// model.md section 1: the step grows with the count, the stiffness falls once
// the inner strands go slack.
func TestTwistTrends(t *testing.T) {
	b := testBundle()
	var last Cord
	var lastStep unit.Length
	for n := 2.0; n <= 45; n++ {
		c, err := b.At(n, 450)
		if err != nil {
			t.Fatal(err)
		}
		step, err := b.PerTurn(n, 450)
		if err != nil {
			t.Fatal(err)
		}
		if n > 2 && !(c.Rest < last.Rest && c.EA < last.EA && c.Slack >= last.Slack && step > lastStep) {
			t.Errorf("%g turns: %+v after %+v, step %.4g after %.4g mm", n, c, last, step*1e3, lastStep*1e3)
		}
		last, lastStep = c, step
	}
	if last.Slack == 0 {
		t.Error("45 turns leave no strand slack")
	}
}

// model.md section 1 (prototype): 3 twists ≈ 1.5 mm of brace height at 20
// twists and 2–3 mm at 30; dBrace/dString ≈ −1.5.
func TestTwistMovesBraceHeight(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	b := testBundle()
	three := func(n float64) float64 {
		a, err := m.BraceTwisted(b, n)
		if err != nil {
			t.Fatal(err)
		}
		c, err := m.BraceTwisted(b, n+3)
		if err != nil {
			t.Fatal(err)
		}
		return 1e3 * float64(c.Brace.Nock-a.Brace.Nock)
	}
	if got := three(20); got < 1.2 || got > 1.8 {
		t.Errorf("three turns at 20 move the brace height by %.2f mm, expected about 1.5", got)
	}
	if got := three(30); got < 2 || got > 3 {
		t.Errorf("three turns at 30 move the brace height by %.2f mm, expected 2 to 3", got)
	}
	lo, hi := mustBrace(t, m, 0.21), mustBrace(t, m, 0.23)
	if got := 0.02 / float64(2*(hi.HalfRest-lo.HalfRest)); got < -1.65 || got > -1.35 {
		t.Errorf("dBrace/dString = %.2f, expected about −1.5", got)
	}
}

func TestTwistThereAndBack(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	b := testBundle()
	for _, n := range []float64{9, 15, 22, 31, 44} {
		there, err := m.BraceTwisted(b, n)
		if err != nil {
			t.Fatal(err)
		}
		back, err := m.TwistFor(b, there.Brace.Nock)
		// both settle the tension to 1e-9
		if err != nil || math.Abs(back.Turns-n) > 1e-5 {
			t.Errorf("%g turns brace at %.4f, which takes %.6f turns: %v", n, float64(there.Brace.Nock), back.Turns, err)
		}
	}
}

// One string spans only part of a limb's range; beyond it the error says by
// how much the string is too long or short.
func TestReach(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	b := testBundle()
	r, err := m.Reach(b)
	if err != nil {
		t.Fatal(err)
	}
	if !(r.Low.Brace.Nock < r.High.Brace.Nock && r.Low.Turns == 8 && r.High.Turns == 45) {
		t.Errorf("reach %+v", r)
	}
	short, err := m.Beyond(b, r.High.Brace.Nock+0.005)
	if err != nil || short >= 0 {
		t.Errorf("5 mm above the reach the string must be shorter, got %v, %v", short, err)
	}
	long, err := m.Beyond(b, r.Low.Brace.Nock-0.005)
	if err != nil || long <= 0 {
		t.Errorf("5 mm below the reach the string must be longer, got %v, %v", long, err)
	}
	// the advice works: a string that much longer braces there at its fewest turns
	b.Strand += long
	low, err := m.BraceTwisted(b, 8)
	// the lengthening is reckoned at the old string's stiffness per length: 0.1 mm
	if err != nil || math.Abs(float64(low.Brace.Nock-(r.Low.Brace.Nock-0.005))) > 1e-4 {
		t.Errorf("the longer string braces at %.5f, expected %.5f: %v", float64(low.Brace.Nock), float64(r.Low.Brace.Nock-0.005), err)
	}
	if inside, err := m.Beyond(testBundle(), 0.22); err != nil || inside != 0 {
		t.Errorf("inside the reach: %v, %v", inside, err)
	}
}

// Readings made by the model itself give back its rate and total.
func TestLearnTwist(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	b := testBundle()
	var rs []TwistReading
	for _, added := range []float64{0, 3, 6} {
		w, err := m.BraceTwisted(b, 14+added)
		if err != nil {
			t.Fatal(err)
		}
		rs = append(rs, TwistReading{added, w.Brace.Nock})
	}
	got, err := m.LearnTwist(b, rs, 0.001)
	if err != nil {
		t.Fatal(err)
	}
	rate := float64(rs[2].Brace-rs[0].Brace) / 6
	if math.Abs(float64(got.PerTurn)-rate) > 0.02*rate {
		t.Errorf("rate %.4g, readings say %.4g", float64(got.PerTurn), rate)
	}
	// small-twist law at 20 turns: next order a few per cent
	if math.Abs(got.Total-14) > 1 {
		t.Errorf("total %.2f turns, made with 14", got.Total)
	}
	// least squares: sd/√Σ(n−n̄)² = 1 mm/√18
	if math.Abs(float64(got.Doubt)-0.001/math.Sqrt(18)) > 1e-9 || got.TotalDoubt <= 0 {
		t.Errorf("doubt %v, of the total %v", got.Doubt, got.TotalDoubt)
	}
	for _, bad := range [][]TwistReading{nil, rs[:1], {{2, 0.21}, {2, 0.22}}} {
		var input *InputError
		if _, err := m.LearnTwist(b, bad, 0.001); !errors.As(err, &input) {
			t.Errorf("%v gave %v", bad, err)
		}
	}
}

// B10: strength per strand 221, 312, 446 N (read, informal) with the recalled
// masses per length gives the usual tenacities: 1.1, 2.9 and 2.9 GPa within a
// quarter (recalled).
func TestFibreTable(t *testing.T) {
	for _, c := range []struct {
		m                  Material
		strength, tenacity float64
	}{{Polyester, 221, 1.1e9}, {LCP, 312, 2.9e9}, {HMPE, 446, 2.9e9}} {
		f := fibres[c.m]
		if got := c.strength / (f.linear / f.density); math.Abs(got/c.tenacity-1) > 0.25 {
			t.Errorf("%s: %.2g Pa from strength and mass, usual %.2g", c.m, got, c.tenacity)
		}
	}
}

func TestStringGuess(t *testing.T) {
	g, err := StringSpec{Material: HMPE, Strands: 18, Length: 1.71}.Guess()
	if err != nil {
		t.Fatal(err)
	}
	// the generic bow's string: EA by construction of the factor, mass 7 g
	// within the stated doubt
	gen := Generic().String
	if math.Abs(float64(g.String.EA/gen.EA)-1) > 0.01 || math.Abs(float64(g.String.Mass/gen.Mass)-1) > g.MassDoubt {
		t.Errorf("18 strands of HMPE: %+v, generic %+v", g.String, gen)
	}
	more, err := StringSpec{Material: HMPE, Strands: 20, Length: 1.71}.Guess()
	if err != nil || more.String.EA <= g.String.EA || more.String.Mass <= g.String.Mass || more.Bundle.Radius <= g.Bundle.Radius {
		t.Errorf("more strands: %+v, %v", more, err)
	}
	soft, err := StringSpec{Material: Polyester, Strands: 12, Length: 1.71}.Guess()
	if err != nil || soft.String.EA > g.String.EA/4 {
		t.Errorf("polyester is not soft: %+v, %v", soft.String, err)
	}
	for _, bad := range []StringSpec{{Material: "gut", Strands: 18, Length: 1.7}, {Material: HMPE, Strands: 0, Length: 1.7}, {Material: HMPE, Strands: 18}, {Material: HMPE, Strands: 18, Length: 1.7, Factor: -1}} {
		var input *InputError
		if _, err := bad.Guess(); !errors.As(err, &input) {
			t.Errorf("%+v gave %v", bad, err)
		}
	}
}
